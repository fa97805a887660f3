package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
	"fullery/recipe/quantity"

	"github.com/spf13/cobra"
)

func newDry() *cobra.Command {
	c := &cobra.Command{
		Use:   "dry",
		Short: "How long a liner dries: estimate it, log a drying, learn from what was logged",
		Long: "Drying is most of the time that a disk takes. Estimate how long it will be, log how long it was (also for\n" +
			"disks that were washed by hand), and fit: estimates of that bench are better from then on.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newDryEstimate(), newDryLog(), newDryFit(), newDryTrace())
	return c
}

const (
	usualLiquid = "water-detergent"
	// usualFilm is the film conductance in the middle of what is believed before anything was logged, W/K: the one of
	// the shipped simulated bench. A bench file of a real bench states none, because nobody can read it off.
	usualFilm = 0.3
)

// recordPath is the record that a person named, or the usual one.
func recordPath(named string) string {
	if named != "" {
		return named
	}
	return filepath.Join(dataFolder(), "fullery.db")
}

// recordToRead is recordPath for a command that only reads: a record that was named and is not there is a mistake, while
// the usual one need not be there yet.
func recordToRead(named string) (string, error) {
	if named != "" {
		if _, err := os.Stat(named); errors.Is(err, fs.ErrNotExist) {
			return "", said(statusUsage, "there is no record %s: give --record a file that fullery run or fullery dry log wrote, or "+
				"leave it out", named)
		}
	}
	return recordPath(named), nil
}

// parseLiquid reads the name of a liquid; one that is unknown or must never be used is refused with the reason.
func parseLiquid(name string) (liquid.Liquid, error) {
	l, err := liquid.Parse(name)
	if forbidden := (*liquid.ForbiddenError)(nil); err == nil || errors.As(err, &forbidden) {
		return l, bad(err)
	}
	if strings.Contains(err.Error(), "not a known liquid") {
		err = fmt.Errorf("%w; give one of %s, or isopropanol or ethanol of any strength", err,
			strings.Join(liquid.Usual(), ", "))
	}
	return l, bad(err)
}

// bad is a sentence about input that cannot be used, unless it has its own status already.
func bad(err error) error {
	if s := (*statusError)(nil); err == nil || errors.As(err, &s) {
		return err
	}
	return withStatus(statusUsage, err)
}

// measured reads a quantity that a flag gives, where it is given, and tells whether it was.
func measured(c *cobra.Command, flag string, d quantity.Dimension, to *float64) (bool, error) {
	f := c.Flags().Lookup(flag)
	if f == nil || !f.Changed {
		return false, nil
	}
	x, err := d.Parse(f.Value.String())
	if err != nil {
		return false, said(statusUsage, "--%s: %v", flag, err)
	}
	*to = x
	return true, nil
}

// caseOf is a drying in a bench's air as its file states it: the room's air, the fan at full speed, nothing warmed.
func caseOf(b recipe.Bench) drying.Case {
	c := drying.Case{Air: b.Room.Air, Humidity: b.Room.Humidity, Film: usualFilm, Flow: b.Fan.Through}
	if b.Simulated && b.Sim.Film > 0 {
		c.Film = b.Sim.Film
	}
	return c
}

// believed returns what was learned of a bench, nil when nothing was. A record that is not there yet knows nothing; one
// of an older version is brought up to date first.
func believed(ctx context.Context, path string, b recipe.Bench) (_ *record.Belief, err error) {
	rec, err := record.OpenReadOnly(ctx, path)
	if errors.Is(err, record.ErrOlder) {
		rec, err = record.Open(ctx, path)
	}
	if errors.Is(err, record.ErrMissing) {
		return nil, nil
	}
	if err != nil {
		return nil, bad(err)
	}
	defer func() { err = errors.Join(err, rec.Close()) }()
	known, err := rec.LatestBelief(ctx, b.Name, b.Simulated)
	return known, bad(err)
}

// beliefOf is a stored fit as the estimate takes it; the prior when there is none.
func beliefOf(known *record.Belief) drying.Belief {
	if known == nil {
		return drying.Prior()
	}
	return drying.Belief{Liquids: known.Liquids, Mean: known.Mean, Cov: known.Cov, Jitter: known.Jitter}
}

func contextOf(c *cobra.Command) context.Context {
	if ctx := c.Context(); ctx != nil {
		return ctx
	}
	return context.Background()
}

// spreadOf scales a spread and rounds it to a step.
func spreadOf(s drying.Spread, scale, step float64) spreadJSON {
	return spreadJSON{roundTo(s.Median*scale, step), roundTo(s.Low*scale, step), roundTo(s.High*scale, step)}
}

// roundTo rounds to a step that is a power of ten, negative numbers as well.
func roundTo(x, step float64) float64 {
	per := math.Round(1 / step)
	return math.Round(x*per)/per + 0 // +0: never a negative zero
}

// minutesWord writes minutes with the digits that mean something: tenths only below ten, hours from three hours up.
func minutesWord(m float64) string {
	switch {
	case m >= 180:
		return fmt.Sprintf("%.1f h", m/60)
	case m >= 9.95:
		return fmt.Sprintf("%.0f min", m)
	}
	return fmt.Sprintf("%.1f min", m)
}

// between writes the ends of an interval, the unit once if it is the same.
func between(s drying.Spread, and string) string {
	low, high := minutesWord(s.Low), minutesWord(s.High)
	if unit := low[strings.LastIndex(low, " "):]; strings.HasSuffix(high, unit) {
		low = strings.TrimSuffix(low, unit)
	}
	return low + and + high
}

func celsiusOf(k float64) float64 { return k - 273.15 }
