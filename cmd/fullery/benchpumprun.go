package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"fullery/controller"
	"fullery/controller/piobench"
	"fullery/recipe"
	"fullery/recipe/quantity"

	"github.com/spf13/cobra"
)

// longestPump is the longest that a pump runs for one volume: a cylinder is soon full.
const longestPump = 5 * time.Minute

// pumping is a pump that is run by hand.
type pumping struct {
	bench *piobench.Bench
	vigil *vigil // nil where nobody watches
	spec  recipe.Bench
	of    string
	burns bool        // what is pumped may burn: in moving air only
	off   atomic.Bool // another process asks for everything off
}

// runPump leads through the duties, twice each, and returns what was caught as --caught would have it.
func runPump(c *cobra.Command, b recipe.Bench, f pumpFlags, burns bool) (caught []string, err error) {
	if f.each <= 0 || f.each > longestPump {
		return nil, said(statusUsage, "--each %v: give more than nothing, and at most %v", f.each, longestPump)
	}
	ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM)
	defer stop()
	p := &pumping{spec: b, of: f.pump, burns: burns}
	bench, v, done, err := takeBoard(b, piobench.System("/"), true, func() string {
		p.off.Store(true)
		return fmt.Sprintf("Bench %s: the pump goes off.", b.Name)
	})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, done()) }()
	p.bench, p.vigil = bench, v
	ask := newAsker(c.InOrStdin(), c.ErrOrStderr(), nil)
	defer ask.end()
	return p.lead(ctx, ask, strings.Split(f.duties, ","), f.each)
}

// lead goes through the duties, twice each.
func (p *pumping) lead(ctx context.Context, ask *asker, duties []string, each time.Duration) (caught []string, err error) {
	for _, text := range append(duties, duties...) {
		text = strings.TrimSpace(text)
		duty, err := quantity.Share.Parse(text)
		if err != nil || !(duty > 0 && duty <= 1) {
			return nil, said(statusUsage, "a duty of %q cannot be run: write a share, as in 60 %%", text)
		}
		answer, err := ask.ask(ctx, "Empty the cylinder, put the hose into it, and press enter: the %s runs for %v at %s (q gives up).", p.of, each, text)
		if err != nil || answer == "q" {
			return nil, withStatus(statusNo, errGaveUp)
		}
		ran, why := p.run(ctx, duty, each)
		if why != "" {
			return nil, said(statusPersonal, "the %s went off after %v: %s", p.of, ran.Round(time.Second), why)
		}
		if answer, err = ask.ask(ctx, "How much is in the cylinder? As in 7.5 mL:"); err != nil {
			return nil, err
		}
		caught = append(caught, fmt.Sprintf("%s, %s, %g s", text, strings.ReplaceAll(answer, "ml", "mL"), ran.Seconds()))
	}
	return caught, nil
}

// proves is how long the fan may take until it is seen to turn.
const proves = 10 * time.Second

// run drives the pump for a while. why says what ended it before. With what may burn the fan runs first, and all the while.
func (p *pumping) run(ctx context.Context, duty float64, each time.Duration) (ran time.Duration, why string) {
	defer func() {
		if p.bench.Drive(0, controller.Levels{}) != nil && why == "" {
			why = "it could not be switched off: cut the power of the bench by hand"
		}
		if p.vigil != nil {
			p.vigil.Rest()
		}
	}()
	want := controller.Levels{Pump: duty}
	if p.of == "rinse-pump" {
		want = controller.Levels{RinsePump: duty}
	}
	if p.burns {
		want.Fan = 1
	}
	asked, began := time.Now(), time.Time{} // of the pump, once it is let on
	for ; began.IsZero() || time.Since(began) < each; time.Sleep(50 * time.Millisecond) {
		last, err := p.bench.Read(0)
		if err == nil {
			why = p.ends(ctx, &last)
		} else {
			why = err.Error()
		}
		levels := allowed(want, &last, &p.spec, p.burns)
		on := levels.Pump+levels.RinsePump > 0
		switch {
		case why != "":
		case on && began.IsZero():
			began = time.Now()
		case !on && !began.IsZero() || !on && time.Since(asked) > proves:
			why = "the fan is not seen to turn, and what is pumped may burn"
		}
		if why == "" {
			if err := p.bench.Drive(0, levels); err != nil {
				why = err.Error()
			}
		}
		if why != "" {
			return sinceOr0(began), why
		}
		if p.vigil != nil {
			p.vigil.Beat()
		}
	}
	return time.Since(began), ""
}

// sinceOr0 is how long ago something began that may not have begun.
func sinceOr0(began time.Time) time.Duration {
	if began.IsZero() {
		return 0
	}
	return time.Since(began)
}

// ends says what must end the pumping now.
func (p *pumping) ends(ctx context.Context, last *controller.Readings) string {
	dry := last[recipe.TrayFloat]
	switch {
	case ctx.Err() != nil || p.off.Load():
		return "somebody ended it"
	case !closedAndFree(last):
		return "the lid is open or the emergency stop is pressed"
	case dry.Quality != controller.Good || dry.Value != 1:
		return "the tray's float has lifted, or is not read"
	}
	return ""
}
