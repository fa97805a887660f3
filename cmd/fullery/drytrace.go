package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
	"fullery/recipe/quantity"

	"github.com/spf13/cobra"
)

// traceFlags are those that are not read by their name.
type traceFlags struct {
	liquid, bench, record, plot string
	force, json                 bool
}

func newDryTrace() *cobra.Command {
	var f traceFlags
	c := &cobra.Command{
		Use:   "trace FILE.csv",
		Short: "Put a recorded drying through the end point: when would it have been called dry?",
		Long: "Put a drying that any data logger recorded through the same end point that ends a drying on a bench: when it\n" +
			"would have called the liner dry, on which evidence, and what it estimated along the way. Nothing is changed.\n\n" +
			"FILE is CSV in UTF-8 with a header, or - for the standard input: t_s,in_c,in_rh,out_c,out_rh, and if they were\n" +
			"read surface_c,weight_g,hub_coast_s, in any order, separated by commas, semicolons or tabs. t_s is in seconds\n" +
			"from the beginning of the drying; rows before 0 are of the dry disk in the same air, and give every signal its\n" +
			"zero and its noise. in and out are the air that comes to the cartridge and the air that leaves it, surface is\n" +
			"the jacket, weight that of cartridge and holder, hub_coast the time in which the hub coasts down. Leave a cell\n" +
			"empty where nothing was read. Humidities are per cent; if none in the file is above 1 and none has a % behind\n" +
			"it, all are taken as shares of one. With semicolons or tabs the decimal mark may be a comma. Lines that begin\n" +
			"with # are left out.\n\n" +
			"A trace is taken to be from a bench of which nothing is known, unless --bench or --record names what was learned.\n\n" +
			"Exit status: 0 when it would have been called dry, 1 when never.",
		Example: "  fullery dry trace logger.csv --liquid isopropanol-91 --flow 0.5L/s\n" +
			"  fullery dry trace logger.csv --json --plot trace.svg",
		Args: wants(1, 1, "one CSV file, or - for the standard input"),
		RunE: func(c *cobra.Command, args []string) error { return dryTrace(c, args[0], f) },
	}
	flags := c.Flags()
	flags.StringVar(&f.liquid, "liquid", usualLiquid, "what wetted the liner")
	flags.String("flow", "", "air that passed through the cell, as in 5L/s (default: the bench's fan at full speed, or as much as\n"+
		"the air that left shows)")
	flags.String("kept", "", "liquid kept in the liner, as in 2mL (default: as weighed in the trace, else what was learned or is usual)")
	flags.String("film", "", "film conductance h·A of the liner, as in 0.3W/K (default: the bench file's)")
	flags.String("air", "", "temperature of the room's air, as in 21°C (default: the median of in_c)")
	flags.String("humidity", "", "relative humidity of the room's air, as in 50% (default: the median of in_rh)")
	flags.String("warm", "", "temperature of the air at the cartridge, where it was warmed behind in_c, as in 36°C")
	flags.StringVar(&f.bench, "bench", "", "bench file of the bench that the trace is from (default: the shipped simulated one)")
	flags.StringVar(&f.record, "record", "", "record file with what was learned of that bench (default: fullery.db in the user's data folder)")
	flags.StringVar(&f.plot, "plot", "", "draw signals and estimates into this file, as in trace.svg")
	flags.BoolVar(&f.force, "force", false, "let --plot replace a file that is there already")
	flags.BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

// traced is one trace and what the end point made of it.
type traced struct {
	name   string // of the file, for a person
	trace  *endpoint.Trace
	of     drying.Case
	belief drying.Belief
	plan   *endpoint.Plan
	out    endpoint.Replayed
	notes  []string
}

// dryTrace is the command: read, plan, replay, draw, print. A picture that may not be written is refused before
// anything is worked out.
func dryTrace(c *cobra.Command, file string, f traceFlags) error {
	if f.plot != "" && !f.force {
		if _, err := os.Lstat(f.plot); err == nil {
			return said(statusUsage, "%s is there already: name another file, or add --force to replace it", f.plot)
		}
	}
	t, err := askedTrace(c, file, f)
	if err != nil {
		return bad(err)
	}
	plan, notes, err := endpoint.PlanTrace(t.belief, t.of, t.trace)
	if err != nil {
		return bad(err)
	}
	t.plan, t.out = plan, plan.Replay(t.trace)
	t.notes = slices.Concat(t.trace.Notes, notes, t.out.Notes, t.notes)
	if f.plot != "" {
		if err := writeWhole(f.plot, t.picture(), f.force); err != nil {
			return bad(err)
		}
	}
	if f.json {
		err = writeJSON(c.OutOrStdout(), t.json())
	} else {
		t.print(c.OutOrStdout(), f.plot)
	}
	if t.out.By == endpoint.NoEvidence {
		return errors.Join(withStatus(statusNo, nil), err)
	}
	return err
}

// askedTrace reads the file and the flags. What was learned of a bench counts only where a person says that the trace is
// from it: a logger may have stood anywhere.
func askedTrace(c *cobra.Command, file string, f traceFlags) (*traced, error) {
	t := &traced{name: filepath.Base(file)}
	bench, err := readBench(f.bench)
	if err != nil {
		return nil, err
	}
	t.of = caseOf(bench)
	if t.of.Liquid, err = parseLiquid(f.liquid); err != nil {
		return nil, err
	}
	if t.trace, err = readTrace(c, file); err != nil {
		return nil, err
	}
	if file == "-" {
		t.name = stdinName
	}
	given, err := t.flagged(c)
	if err != nil {
		return nil, err
	}
	t.belief = unknownBench(t.of)
	if f.bench != "" || f.record != "" {
		known, err := believed(contextOf(c), recordPath(f.record), bench)
		if err != nil {
			return nil, err
		}
		if known != nil {
			t.belief = beliefOf(known)
			t.note("What was learned of bench %q counts: fit %d.", bench.Name, known.Number)
		}
	}
	t.weighed(given["kept"])
	t.through(given["flow"])
	t.basis(given)
	return t, nil
}

// stdinName stands for the file in messages and in the picture.
const stdinName = "standard input"

// readTrace reads the file that a person named.
func readTrace(c *cobra.Command, file string) (*endpoint.Trace, error) {
	if file == "-" {
		return endpoint.ReadTrace(stdinName, c.InOrStdin())
	}
	from, err := os.Open(file)
	if err != nil {
		return nil, fmt.Errorf("cannot read %s: %w", file, plain(err))
	}
	defer from.Close()
	t, err := endpoint.ReadTrace(file, from)
	if p := (*os.PathError)(nil); errors.As(err, &p) { // as for a folder
		err = fmt.Errorf("cannot read %s: %w", file, p.Err)
	}
	return t, err
}

// flagged puts the air of the trace, and then what flags say, into the case. It tells which flags were given.
func (t *traced) flagged(c *cobra.Command) (given map[string]bool, err error) {
	k, humidity := t.trace.Air()
	if math.IsNaN(k) {
		t.note("in_c was never read while the disk dried: the bench file's room air counts.")
	} else {
		t.of.Air = k
	}
	if math.IsNaN(humidity) {
		t.note("in_rh was never read while the disk dried: the bench file's humidity counts.")
	} else {
		t.of.Humidity = humidity
	}
	given = map[string]bool{}
	for _, q := range []struct {
		flag string
		dim  quantity.Dimension
		to   *float64
	}{
		{"kept", quantity.Volume, &t.of.Kept}, {"air", quantity.Temperature, &t.of.Air},
		{"humidity", quantity.Share, &t.of.Humidity}, {"warm", quantity.Temperature, &t.of.Warm},
		{"film", quantity.Conductance, &t.of.Film}, {"flow", quantity.Flow, &t.of.Flow},
	} {
		if given[q.flag], err = measured(c, q.flag, q.dim, q.to); err != nil {
			return nil, err
		}
		// A zero stands for "not given" further down; one that was typed is a mistake.
		if given[q.flag] && *q.to == 0 && (q.flag == "kept" || q.flag == "warm") {
			return nil, said(statusUsage, "--%s of %s cannot be used; give more, or leave it out", q.flag, c.Flags().Lookup(q.flag).Value)
		}
	}
	return given, nil
}

// note keeps a sentence for the person.
func (t *traced) note(format string, args ...any) {
	t.notes = append(t.notes, fmt.Sprintf(format, args...))
}

// unsure is how wide the prior of a bench is taken of which nobody knows anything, as a standard deviation of the
// logarithm: each of what its liners keep and of its exposure. With the jitter they make 0.6 for the time, so that 80 %
// span more than a factor of four. Assumed.
const unsure = 0.42

// unknownBench is what is believed of such a bench.
func unknownBench(c drying.Case) drying.Belief {
	const square = unsure * unsure
	return drying.Belief{Liquids: []string{c.Liquid.Name}, Mean: []float64{0, math.Log(drying.DefaultKept)},
		Cov: [][]float64{{square, 0}, {0, square}}, Jitter: 0.1}
}

// weighed lets a scale say what the liner kept, unless a person did.
func (t *traced) weighed(given bool) {
	kept := t.trace.Kept(t.of.Liquid)
	switch {
	case kept == 0:
	case !given:
		t.belief = t.belief.Pin(t.of.Liquid, kept)
		t.note("The scale says that the liner kept %.2f mL.", kept*1e6)
	case math.Abs(math.Log(kept/t.of.Kept)) > 0.25:
		t.note("The scale says that the liner kept %.2f mL, and --kept %.2f mL: the flag counts.", kept*1e6, t.of.Kept*1e6)
	}
}

// through takes the flow from the trace where nobody gave it and the bench's cannot have been that of the trace.
func (t *traced) through(given bool) {
	if given {
		return
	}
	if flow, ok := t.trace.Through(t.belief, t.of); ok {
		t.note("The air left so cold that not %.3g L/s can have passed, but about %.2g L/s with this film: that counts.", t.of.Flow*1e3, flow*1e3)
		t.of.Flow = flow
	}
}

// basis notes what was not given and hence assumed.
func (t *traced) basis(given map[string]bool) {
	kept := t.of.Kept
	if kept == 0 {
		kept = t.belief.Kept(t.of.Liquid).Median
	}
	t.note("Reckoned with %.2f mL kept, air %.1f °C at %.0f %%, film %s, flow %.3g L/s%s.", kept*1e6, celsiusOf(t.of.Air),
		t.of.Humidity*100, quantity.Conductance.Say(t.of.Film), t.of.Flow*1e3, assumedOf(given))
}

// assumedOf names what of that nobody gave.
func assumedOf(given map[string]bool) string {
	switch {
	case !given["film"] && !given["flow"]:
		return " (give --film and --flow as they were)"
	case !given["flow"]:
		return " (give --flow as it was)"
	}
	return ""
}

// answer is the one line that matters.
func (t *traced) answer() string {
	o := t.out
	if o.By == endpoint.NoEvidence {
		return "would never have called it dry: " + o.Reason + "."
	}
	by := fmt.Sprintf("by %s", o.By)
	if o.By == endpoint.ByClock {
		by = o.By.String() + ": by the clock alone, which proves nothing"
	}
	return fmt.Sprintf("would have called it dry after %.1f min (%s s), %s.", o.Seconds/60, secondsOf(o.Seconds), by)
}

// secondsOf writes seconds with at most a tenth.
func secondsOf(x float64) string { return fmt.Sprintf("%g", roundTo(x, 0.1)) }

// print says the answer first, then what it rests on, then what was thought along the way.
func (t *traced) print(w io.Writer, plot string) {
	fmt.Fprintln(w, wrap(fmt.Sprintf("%s, %s: %s", t.name, t.of.Liquid.Title, t.answer()), 96, ""))
	fmt.Fprintln(w)
	for _, s := range t.plan.Sights {
		fmt.Fprintln(w, wrap(s.SayInFile(), 94, "  "))
	}
	t.table(w)
	fmt.Fprintln(w)
	for _, note := range t.notes {
		fmt.Fprintln(w, wrap(note, 96, ""))
	}
	if plot != "" {
		fmt.Fprintf(w, "Signals and estimates are drawn in %s.\n", plot)
	}
}

// table shows what was thought about every tenth of the way.
func (t *traced) table(w io.Writer) {
	fmt.Fprintf(w, "\n  %s %s %s %s %s\n", pad("After", 10), pad("Still needs", 12), pad("80 %", 18), pad("Liquid left", 12), "By")
	for _, m := range thinned(t.out.Moments, 11) {
		needs, span, left := "never", "", "unknown"
		if !m.Left.Never {
			needs, span = minutesWord(m.Left.Median), between(m.Left.Spread, " to ")
		}
		if !math.IsNaN(m.Share) {
			left = fmt.Sprintf("%.2g %%", m.Share*100)
		}
		fmt.Fprintf(w, "  %s %s %s %s %s\n", pad(minutesWord(m.Seconds/60), 10), pad(needs, 12), pad(span, 18), pad(left, 12), m.By)
	}
}

// thinned keeps a week of readings printable. It leaves so many moments, as evenly in time as the rows allow, the last
// one among them.
func thinned(all []endpoint.Moment, most int) (out []endpoint.Moment) {
	if len(all) == 0 {
		return nil
	}
	first, end := all[0].Seconds, all[len(all)-1].Seconds
	next := 0
	for k := range most {
		due := first + (end-first)*float64(k)/float64(most-1)
		i, _ := slices.BinarySearchFunc(all, due, func(m endpoint.Moment, s float64) int { return cmp.Compare(m.Seconds, s) })
		if i = min(i, len(all)-1); k == most-1 {
			i = len(all) - 1
		}
		if i >= next {
			out, next = append(out, all[i]), i+1
		}
	}
	return out
}
