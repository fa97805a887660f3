package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"sync/atomic"
	"syscall"
	"time"

	"fullery/controller"
	"fullery/controller/piobench"
	"fullery/disks/record"
	"fullery/recipe"

	"github.com/spf13/cobra"
)

func newBenchTest() *cobra.Command {
	var path string
	var asJSON bool
	c := &cobra.Command{
		Use:   "test FILE",
		Short: "Walk through every input and output of a real bench, one at a time, the fan first, and write down what came of it",
		Long: "Leads a person through the contacts, then through the outputs, one at a time, the fan first. Each asks before it\n" +
			"goes on, and goes off by itself after some seconds, at once when the lid opens or the emergency stop is pressed.\n" +
			"Both switches of the heater are proven to go off by themselves, without heating. What came of it is kept in the\n" +
			"record.\n" +
			"Before you begin: no flammable liquid on pads, disk or in the tanks; hands and hair away from what turns; the pumps'\n" +
			"hoses in a cup. Follow the data sheets of your parts, and let someone who is qualified look at mains and heat.",
		Args: wants(1, 1, "one bench file"),
		RunE: func(c *cobra.Command, args []string) error { return benchTest(c, args[0], path, asJSON) },
	}
	c.Flags().StringVar(&path, "record", "", "record file (default: fullery.db in the user's data folder)")
	c.Flags().BoolVar(&asJSON, "json", false, "print what came of it as JSON; questions go to the other stream")
	return c
}

// stepJSON is one step as it is printed.
type stepJSON struct {
	Part   string `json:"part"`
	Asked  string `json:"asked"`
	Seen   string `json:"seen"`
	Result string `json:"result"` // passed, failed or left-out
}

// walk is one walk through a bench.
type walk struct {
	spec  recipe.Bench
	bench *piobench.Bench
	vigil *vigil // nil where nobody watches
	burns bool   // something flammable may be on pads and bath, as far as the record knows
	ask   *asker
	out   io.Writer
	asked controller.Levels // driven at every tick
	last  controller.Readings
	began time.Time
	off   atomic.Bool // another process asks for everything off
	steps []record.BenchStep
}

func benchTest(c *cobra.Command, name, path string, asJSON bool) (err error) {
	ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM)
	defer stop()
	b, err := readBench(name)
	if err != nil {
		return err
	}
	w := &walk{spec: b, out: c.OutOrStdout(), began: time.Now()}
	if asJSON {
		w.out = c.ErrOrStderr()
	}
	bench, v, done, err := takeBoard(b, piobench.System("/"), true, func() string {
		w.off.Store(true)
		return fmt.Sprintf("Bench %s: the test ends, everything goes off.", b.Name)
	})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	w.bench, w.vigil = bench, v
	w.burns = true // until the record says otherwise
	w.ask = newAsker(c.InOrStdin(), w.out, w.tick)
	defer w.ask.end()
	rec, err := record.Open(ctx, recordPath(path))
	if err != nil {
		return bad(err)
	}
	defer func() { err = errors.Join(err, bad(rec.Close())) }()
	if w.burns, err = mayBurn(ctx, rec, b.Name); err != nil {
		return bad(err)
	}
	walked := w.walk(ctx)
	w.asked = controller.Levels{}
	w.tick()
	if len(w.steps) > 0 { // what was found is kept, even when the walk was broken off
		n, err := rec.PutBenchTest(ctx, record.BenchTest{Bench: b.Name, BenchText: b.Text, Simulated: b.Simulated, Made: time.Now(),
			Program: version(), Steps: w.steps})
		if err != nil {
			return bad(err)
		}
		fmt.Fprintf(w.out, "\nKept in the record as bench test %d.\n", n)
		if asJSON {
			if err := writeJSON(c.OutOrStdout(), w.json()); err != nil {
				return err
			}
		}
	}
	if walked != nil {
		return walked
	}
	return w.verdict()
}

func (w *walk) json() (list []stepJSON) {
	for _, s := range w.steps {
		word := map[record.StepResult]string{record.StepFailed: "failed", record.StepPassed: "passed", record.StepLeftOut: "left-out"}[s.Result]
		list = append(list, stepJSON{s.Part, s.Asked, s.Seen, word})
	}
	return list
}

// verdict says what did not go well.
func (w *walk) verdict() error {
	failed := 0
	for _, s := range w.steps {
		if s.Result == record.StepFailed {
			failed++
		}
	}
	if failed > 0 {
		return said(statusNo, "%d of %d steps did not go well: look at the wiring (fullery bench wiring) and at the readings "+
			"(fullery bench watch)", failed, len(w.steps))
	}
	fmt.Fprintln(w.out, "Every step that was done went well.")
	return nil
}

// tick reads and drives once, as the loop would. Whatever was asked goes off while the lid is open or the stop is pressed.
func (w *walk) tick() {
	w.last, _ = w.bench.Read(time.Since(w.began))
	if !closedAndFree(&w.last) || w.off.Load() {
		w.asked = controller.Levels{}
	}
	if w.bench.Drive(time.Since(w.began), allowed(w.asked, &w.last, &w.spec, w.burns)) != nil {
		w.asked = controller.Levels{}
		_ = w.bench.Drive(time.Since(w.began), w.asked) // what cannot be driven is told by the step's failure
	}
}

// allowed takes away what must not be on now, as the controller's clamp does in a cycle: pumps with a wet tray, and with what
// may burn also without a fan that is seen to turn; the heater without such a fan, or with air at the cartridge that is not
// read or too warm.
func allowed(l controller.Levels, last *controller.Readings, b *recipe.Bench, burns bool) controller.Levels {
	good := func(s recipe.Sensor) bool { return last[s].Quality == controller.Good }
	turns := good(recipe.FanSpeed) && last[recipe.FanSpeed].Value >= 0.3*b.Fan.Fastest && b.Fan.Fastest > 0
	if !good(recipe.TrayFloat) || last[recipe.TrayFloat].Value != 1 || burns && !turns {
		l.Pump, l.RinsePump = 0, 0
	}
	cool := good(recipe.Air) && last[recipe.Air].Value < b.Heater.AirLimit
	if !turns || !cool {
		l.Heater, l.HeaterEnable = 0, false
	}
	return l
}

// mayBurn tells whether something flammable may be on a bench, as far as its record knows.
func mayBurn(ctx context.Context, rec *record.Record, bench string) (bool, error) {
	held, err := rec.LastLiquid(ctx, bench)
	return err != nil || !held.Known || held.Flammable != "", err
}

// note keeps a step and prints it.
func (w *walk) note(part, asked, seen string, result record.StepResult) {
	w.steps = append(w.steps, record.BenchStep{Part: part, Asked: asked, Seen: seen, Result: result})
	word := map[record.StepResult]string{record.StepFailed: "not well", record.StepPassed: "well", record.StepLeftOut: "left out"}[result]
	fmt.Fprintf(w.out, "  %s %s: %s\n", pad(part, 16), word, seen)
}

// errWalkEnded is a walk that was broken off.
var errWalkEnded = errors.New("the test was broken off; what came of it so far is kept")

// walk goes through everything.
func (w *walk) walk(ctx context.Context) error {
	fmt.Fprintln(w.out, "First what is read. Answer with enter when done, s to leave a step out, q to end.")
	for _, s := range []recipe.Sensor{recipe.EStop, recipe.Lid, recipe.TrayFloat, recipe.TankFloat, recipe.RinseFloat} {
		if w.spec.Sensors[s].Fitted {
			if err := w.contact(ctx, s); err != nil {
				return err
			}
		}
	}
	w.readings(ctx)
	fmt.Fprintln(w.out, "Now what is driven. Close the lid and release the emergency stop.")
	for _, p := range w.bench.ProveCutOffs(time.Sleep) {
		w.note(p.Part, p.Asked, p.Seen, map[bool]record.StepResult{true: record.StepPassed}[p.OK])
	}
	for _, l := range w.loads() {
		if l.part == recipe.OutHeater && w.burns {
			w.note(l.part.String(), l.warn, "something flammable may be on pads and bath, as far as the record knows: the heater stays off. "+
				"Change pads and bath, run a cycle with --changed-over, and test again", record.StepLeftOut)
			continue
		}
		if err := w.load(ctx, l); err != nil {
			return err
		}
	}
	return nil
}

// answer asks, and tells whether the step is to be left out.
func (w *walk) answer(ctx context.Context, format string, args ...any) (text string, leave bool, err error) {
	text, err = w.ask.ask(ctx, format, args...)
	switch {
	case err != nil || text == "q" || w.off.Load():
		return "", false, withStatus(statusNo, errWalkEnded)
	case text == "s":
		return text, true, nil
	}
	return text, false, nil
}

// opened is what a person does to a contact so that it opens, and closes again.
var opened = map[recipe.Sensor][2]string{
	recipe.EStop:      {"Press the emergency stop", "Release it"},
	recipe.Lid:        {"Open the lid", "Close it"},
	recipe.TrayFloat:  {"Lift the tray's float", "Let it down"},
	recipe.TankFloat:  {"Let the tank's float fall", "Lift it again"},
	recipe.RinseFloat: {"Let the rinse tank's float fall", "Lift it again"},
}

// contact sees a contact open and close.
func (w *walk) contact(ctx context.Context, s recipe.Sensor) error {
	for i, want := range []float64{0, 1} {
		_, leave, err := w.answer(ctx, "%s, and press enter.", opened[s][i])
		if err != nil {
			return err
		}
		if leave {
			w.note(s.String(), opened[s][i], "", record.StepLeftOut)
			return nil
		}
		for range 5 { // a contact that closes counts after a while
			w.tick()
			time.Sleep(20 * time.Millisecond)
		}
		r := w.last[s]
		seen := map[float64]string{0: "open", 1: "closed"}[r.Value]
		if r.Quality != controller.Good {
			seen = r.Quality.String()
		}
		w.note(s.String(), opened[s][i], seen, map[bool]record.StepResult{true: record.StepPassed}[r.Quality == controller.Good && r.Value == want])
	}
	return nil
}

// readings looks whether every other sensor reads.
func (w *walk) readings(ctx context.Context) {
	passes(ctx, w.bench, 2*time.Second)
	list, err := look(w.spec, w.bench)
	if err != nil {
		return
	}
	for _, x := range list {
		if x.Unit == "" {
			continue // a contact
		}
		if x.Value == nil {
			w.note(x.Sensor, "read it", x.Quality+" "+x.Trouble, record.StepFailed)
			continue
		}
		w.note(x.Sensor, "read it", fmt.Sprintf("%.2f %s", *x.Value, x.Unit), record.StepPassed)
	}
}
