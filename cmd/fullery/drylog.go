package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
	"fullery/recipe/quantity"

	"github.com/spf13/cobra"
)

// logFlags are those that are not read by their name.
type logFlags struct {
	liquid, start, end, minutes, evidence, bound, bench, disk, record string
	rack, json                                                        bool
}

func newDryLog() *cobra.Command {
	var f logFlags
	c := &cobra.Command{
		Use:   "log",
		Short: "Log a drying that you timed: on a bench, by hand, or on a rack",
		Long: "Log a drying that you timed, so that estimates of the bench can learn from it (see: fullery dry fit). What a\n" +
			"cycle of fullery run timed is in the record already. Give two of --start, --end and --minutes, or --minutes\n" +
			"alone. If you can, weigh the disk wet and dried: nothing tells better what its liner keeps.",
		Example: "  fullery dry log --liquid water-detergent --minutes 48 --evidence surface\n" +
			"  fullery dry log --liquid isopropanol-91 --start 14:05 --end 14:21 --weight-before 22.6g --weight-after 21.1g",
		Args: wants(0, 0, "flags only"),
		RunE: func(c *cobra.Command, _ []string) error { return dryLog(c, f, time.Now()) },
	}
	flags := c.Flags()
	flags.StringVar(&f.liquid, "liquid", "", "what the disk was wet with last, as in isopropanol-91")
	flags.StringVar(&f.start, "start", "", "when the drying began: 14:05 (today) or 2026-05-04T14:05:00+02:00")
	flags.StringVar(&f.end, "end", "", "when it ended, likewise")
	flags.StringVar(&f.minutes, "minutes", "", "how long it took, as in 48")
	flags.StringVar(&f.evidence, "evidence", "", "what \"dry\" rests on: weighed, surface, air, drag or timed (default: weighed with\nweights, else timed)")
	flags.String("weight-before", "", "weight of the wet disk, as in 22.6g")
	flags.String("weight-after", "", "its weight when dried, as in 21.1g")
	flags.String("air", "", "temperature of the room's air, as in 21°C (left out: not known, a fit takes the bench file's)")
	flags.String("humidity", "", "relative humidity of the room's air, as in 50% (left out: likewise)")
	flags.String("warm", "", "temperature of the air once warmed, as in 36°C (left out: unwarmed)")
	flags.StringVar(&f.bound, "bound", "exact", "what the time says: exact, at-least (still damp then) or at-most (found dry then)")
	flags.BoolVar(&f.rack, "rack", false, "dried on a rack, not in the bench's air: only its weights are learned from")
	flags.StringVar(&f.disk, "disk", "", "label of the disk, as in SB-0147")
	flags.StringVar(&f.bench, "bench", "", "bench file (default: the shipped simulated one)")
	flags.StringVar(&f.record, "record", "", "record file (default: fullery.db in the user's data folder)")
	flags.BoolVar(&f.json, "json", false, "print what was stored as JSON")
	return c
}

// dryLog checks everything before the record is even opened, then writes one row.
func dryLog(c *cobra.Command, f logFlags, now time.Time) error {
	bench, err := readBench(f.bench)
	if err != nil {
		return err
	}
	d, err := handDrying(c, f, bench, now)
	if err != nil {
		return err
	}
	path := recordPath(f.record)
	rec, err := record.Open(contextOf(c), path)
	if err != nil {
		return bad(err)
	}
	n, err := putOnce(c, rec, d)
	if err = errors.Join(err, rec.Close()); err != nil {
		return bad(err)
	}
	if f.json {
		return writeJSON(c.OutOrStdout(), loggedJSONOf(n, d, bench, path))
	}
	printLogged(c.OutOrStdout(), n, d, bench)
	return nil
}

// putOnce writes the drying down unless the very same one is there: a command repeated by mistake must not count twice.
func putOnce(c *cobra.Command, rec *record.Record, d record.HandDrying) (int64, error) {
	all, err := rec.HandDryings(contextOf(c))
	if err != nil {
		return 0, err
	}
	for _, other := range all {
		if !d.Started.IsZero() && other.Started.Equal(d.Started) && other.Time == d.Time && other.Disk == d.Disk &&
			other.Bench == d.Bench && other.Liquid == d.Liquid {
			return 0, said(statusNo, "this drying is in the record already, as log %d: nothing was written", other.Number)
		}
	}
	return rec.PutHandDrying(contextOf(c), d)
}

// handDrying reads the flags. The error is one sentence about the first thing that is wrong.
func handDrying(c *cobra.Command, f logFlags, b recipe.Bench, now time.Time) (d record.HandDrying, err error) {
	d = record.HandDrying{Logged: now, Bench: b.Name, BenchText: b.Text, Simulated: b.Simulated, Rack: f.rack, Disk: f.disk,
		Says: f.bound, Evidence: f.evidence}
	if f.liquid == "" {
		return d, said(statusUsage, "say with --liquid what the disk was wet with last, as in --liquid water-detergent")
	}
	l, err := parseLiquid(f.liquid)
	if err != nil {
		return d, err
	}
	d.Liquid = l.Name
	if err := checkLabel(f.disk); err != nil {
		return d, err
	}
	if d.Started, d.Ended, d.Time, err = span(f.start, f.end, f.minutes, now); err != nil {
		return d, err
	}
	if err := circumstances(c, &d); err != nil {
		return d, err
	}
	if d.Evidence == "" {
		d.Evidence = string(drying.ByClock)
		if d.WeightBeforeG != nil {
			d.Evidence = string(drying.ByWeight)
		}
	}
	if _, ok := bounds[d.Says]; !ok {
		return d, said(statusUsage, "--bound %s is not known: exact, at-least (it was still damp then) or at-most (it was found "+
			"dry then)", d.Says)
	}
	if !slices.Contains(evidences, drying.Evidence(d.Evidence)) {
		return d, said(statusUsage, "--evidence %s is not known: weighed, surface, air, drag or timed", d.Evidence)
	}
	return d, bad(checkLog(d, l, b))
}

var (
	evidences = []drying.Evidence{drying.ByWeight, drying.BySurface, drying.ByAir, drying.ByDrag, drying.ByClock}
	bounds    = map[string]drying.Bound{"exact": drying.Exact, "at-least": drying.AtLeast, "at-most": drying.AtMost}
)

// circumstances reads weights and air, in the units in which the record keeps them.
func circumstances(c *cobra.Command, d *record.HandDrying) error {
	for _, q := range []struct {
		flag        string
		dim         quantity.Dimension
		plus, times float64
		to          **float64
	}{
		{"weight-before", quantity.Mass, 0, 1e3, &d.WeightBeforeG}, {"weight-after", quantity.Mass, 0, 1e3, &d.WeightAfterG},
		{"air", quantity.Temperature, -273.15, 1, &d.AirC}, {"humidity", quantity.Share, 0, 100, &d.AirPct},
		{"warm", quantity.Temperature, -273.15, 1, &d.WarmC},
	} {
		var si float64
		given, err := measured(c, q.flag, q.dim, &si)
		if err != nil {
			return err
		}
		if given {
			x := roundTo((si+q.plus)*q.times, 1e-9) // 21.1 g, not 21.099999999999998
			*q.to = &x
		}
	}
	before, after := d.WeightBeforeG, d.WeightAfterG
	switch {
	case (before == nil) != (after == nil):
		return said(statusUsage, "one weight alone says nothing: give --weight-before of the wet disk and --weight-after of the dried one")
	case before == nil:
		return nil
	case !(*after > 0):
		return said(statusUsage, "a disk of %.4g g cannot be: give --weight-after as the scale shows it", *after)
	case !(*before > *after):
		return said(statusUsage, "the wet disk, %.5g g, must be heavier than the dried one, %.5g g: are the two weights swapped?",
			*before, *after)
	}
	return nil
}

// checkLog says what makes a drying useless for every fit, so that it is never written down.
func checkLog(d record.HandDrying, l liquid.Liquid, b recipe.Bench) error {
	if d.Time <= 0 || d.Time > longestDrying {
		return fmt.Errorf("a drying of %s cannot be logged: give more than nothing and at most a week", minutesWord(d.Time.Minutes()))
	}
	if d.Evidence == string(drying.ByWeight) && d.WeightBeforeG == nil && d.Says == "exact" {
		return errors.New("dry by weight wants the weights: give --weight-before and --weight-after, or another --evidence")
	}
	return checkCase(logCase(d, l, b))
}

// longestDrying is the longest time that a fit takes.
const longestDrying = 7 * 24 * time.Hour

// checkCase is the check of a case whose kept volume may be open.
func checkCase(c drying.Case) error {
	if c.Kept == 0 {
		c.Kept = drying.DefaultKept
	}
	return c.Check()
}

// logCase is the case of a logged drying. What nobody looked at is taken from the bench file.
func logCase(d record.HandDrying, l liquid.Liquid, b recipe.Bench) drying.Case {
	c := caseOf(b)
	c.Liquid = l
	if d.AirC != nil {
		c.Air = *d.AirC + 273.15
	}
	if d.AirPct != nil {
		c.Humidity = *d.AirPct / 100
	}
	if d.WarmC != nil {
		c.Warm = *d.WarmC + 273.15
	}
	// While the disk is still damp its weights tell what went, not what was kept.
	if d.WeightBeforeG != nil && d.WeightAfterG != nil && d.Says != "at-least" {
		c.Kept = (*d.WeightBeforeG - *d.WeightAfterG) / 1e3 / liquid.Density(l.Composition(), c.Air)
	}
	return c
}

// span works out when a drying began and ended from what was given of start, end and length.
func span(start, end, minutes string, now time.Time) (from, to time.Time, took time.Duration, err error) {
	fail := func(err error) (time.Time, time.Time, time.Duration, error) { return from, to, 0, err }
	if start != "" && end != "" && minutes != "" {
		return fail(said(statusUsage, "--start, --end and --minutes are one too many: give two of them"))
	}
	if minutes == "" && (start == "" || end == "") {
		return fail(said(statusUsage, "how long did it take? Give --minutes, or --start and --end"))
	}
	if from, err = parseWhen("start", start, now); err != nil {
		return fail(err)
	}
	if to, err = parseWhen("end", end, now); err != nil {
		return fail(err)
	}
	if minutes != "" {
		if took, err = parseMinutes(minutes); err != nil {
			return fail(err)
		}
		if start != "" {
			to = from.Add(took)
		} else if end != "" {
			from = to.Add(-took)
		}
	}
	switch {
	case minutes == "" && !to.After(from):
		return fail(said(statusUsage, "the end (%s) is not after the start (%s): for a drying over midnight give dates too, as in "+
			"2026-05-04T23:40:00Z", end, start))
	case clockSet(now) && to.After(now):
		return fail(said(statusUsage, "a drying that ends at %s has not happened yet: log it when it is over",
			to.Format(time.RFC3339)))
	case minutes == "":
		took = to.Sub(from)
	}
	return from, to, took, nil
}

// parseWhen reads a moment: with its date, or a time of today. An empty text gives the zero time.
func parseWhen(flag, text string, now time.Time) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	if t, err := time.Parse(time.RFC3339, text); err == nil {
		return t, nil
	}
	t, err := time.Parse("15:04", text)
	switch {
	case err != nil:
		return time.Time{}, said(statusUsage, "--%s %s is no time: write 14:05 for today, or 2026-05-04T14:05:00+02:00", flag,
			strconv.Quote(text))
	case !clockSet(now):
		return time.Time{}, said(statusUsage, "--%s %s is a time of today, and the clock of this machine is not set: give the date "+
			"too, or --minutes", flag, text)
	}
	y, m, d := now.Date()
	return time.Date(y, m, d, t.Hour(), t.Minute(), 0, 0, now.Location()), nil
}

// parseMinutes reads a number of minutes, or a time with its unit.
func parseMinutes(text string) (time.Duration, error) {
	s, err := quantity.Duration.Parse(text)
	if _, bare := strconv.ParseFloat(text, 64); bare == nil {
		s, err = quantity.Duration.Parse(text + " min")
	}
	if err != nil {
		return 0, said(statusUsage, "--minutes: %v", err)
	}
	if !(s > 0) || s > longestDrying.Seconds() {
		return 0, said(statusUsage, "--minutes %s cannot be used: give more than 0 and at most a week", text)
	}
	return time.Duration(s * float64(time.Second)), nil
}
