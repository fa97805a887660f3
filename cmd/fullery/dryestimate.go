package main

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
	"fullery/recipe/quantity"

	"github.com/spf13/cobra"
)

// estimateFlags are those that are not read by their name.
type estimateFlags struct {
	liquid, bench, record, plot string
	force, json                 bool
}

func newDryEstimate() *cobra.Command {
	var f estimateFlags
	c := &cobra.Command{
		Use:   "estimate",
		Short: "Estimate how long a liner takes to dry; changes nothing",
		Long: "Estimate how long a liner takes to dry on a bench, as a median with an 80 % interval. What is not given is\n" +
			"taken from the bench file and from what was learned of that bench (see: fullery dry fit).",
		Example: "  fullery dry estimate --liquid isopropanol-91 --humidity 65%\n" +
			"  fullery dry estimate --warm 36°C --plot drying.svg",
		Args: wants(0, 0, "flags only"),
		RunE: func(c *cobra.Command, _ []string) error { return dryEstimate(c, f) },
	}
	flags := c.Flags()
	flags.StringVar(&f.liquid, "liquid", usualLiquid, "what wets the liner")
	flags.String("kept", "", "liquid kept in the liner, as in 2mL (default: what was learned or is usual)")
	flags.String("air", "", "temperature of the room's air, as in 21°C (default: the bench file's)")
	flags.String("humidity", "", "relative humidity of the room's air, as in 50% (default: the bench file's)")
	flags.String("warm", "", "temperature of the air once warmed, as in 36°C (default: unwarmed)")
	flags.String("film", "", "film conductance h·A of the liner, as in 0.3W/K (default: the bench file's)")
	flags.String("flow", "", "air that passes through the cell, as in 3L/s (default: the bench's fan at full speed)")
	flags.String("until", "1%", "share of the liquid that counts as dry")
	flags.StringVar(&f.bench, "bench", "", "bench file (default: the shipped simulated one)")
	flags.StringVar(&f.record, "record", "", "record file (default: fullery.db in the user's data folder)")
	flags.StringVar(&f.plot, "plot", "", "draw the drying into this file, as in drying.svg")
	flags.BoolVar(&f.force, "force", false, "let --plot replace a file that is there already")
	flags.BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

// estimate is one drying that was asked for, and its answer.
type estimate struct {
	bench    recipe.Bench
	of       drying.Case
	belief   drying.Belief
	known    *record.Belief
	given    map[string]bool // flags
	expected drying.Expected
}

func dryEstimate(c *cobra.Command, f estimateFlags) error {
	e, err := askedEstimate(c, f)
	if err != nil {
		return err
	}
	if err := toBeDrawn(f.plot, f.force); err != nil {
		return err
	}
	if e.expected, err = drying.Estimate(e.belief, e.of, drying.Options{}); err != nil {
		return bad(err)
	}
	if f.plot != "" {
		picture, err := e.picture()
		if err == nil {
			err = writeWhole(f.plot, picture, f.force)
		}
		if err != nil {
			return bad(err)
		}
	}
	if f.json {
		err = writeJSON(c.OutOrStdout(), e.json())
	} else {
		e.print(c.OutOrStdout(), f.plot)
	}
	if e.expected.Never {
		return errors.Join(withStatus(statusNo, nil), err)
	}
	return err
}

// askedEstimate reads the flags and what they leave open.
func askedEstimate(c *cobra.Command, f estimateFlags) (*estimate, error) {
	e := &estimate{given: map[string]bool{}}
	var err error
	if e.bench, err = readBench(f.bench); err != nil {
		return nil, err
	}
	e.of = caseOf(e.bench)
	if e.of.Liquid, err = parseLiquid(f.liquid); err != nil {
		return nil, err
	}
	e.of.Until = drying.DefaultDry
	for _, q := range []struct {
		flag string
		dim  quantity.Dimension
		to   *float64
	}{
		{"kept", quantity.Volume, &e.of.Kept}, {"air", quantity.Temperature, &e.of.Air},
		{"humidity", quantity.Share, &e.of.Humidity}, {"warm", quantity.Temperature, &e.of.Warm},
		{"film", quantity.Conductance, &e.of.Film}, {"flow", quantity.Flow, &e.of.Flow},
		{"until", quantity.Share, &e.of.Until},
	} {
		given, err := measured(c, q.flag, q.dim, q.to)
		if err != nil {
			return nil, err
		}
		e.given[q.flag] = given
		// A zero stands for "not given" further down; one that was typed is a mistake.
		if given && *q.to == 0 && slices.Contains([]string{"kept", "warm", "until"}, q.flag) {
			return nil, said(statusUsage, "--%s of %s cannot be used; give more, or leave it out", q.flag,
				c.Flags().Lookup(q.flag).Value)
		}
	}
	path, err := recordToRead(f.record)
	if err != nil {
		return nil, err
	}
	if e.known, err = believed(contextOf(c), path, e.bench); err != nil {
		return nil, err
	}
	e.belief = beliefOf(e.known)
	return e, nil
}

// keptNow is what the estimate took the liner to keep, m³.
func (e *estimate) keptNow() drying.Spread {
	kept := e.belief.Kept(e.of.Liquid)
	if e.of.Kept > 0 { // a volume that is given moves the median and leaves the width
		by := e.of.Kept / kept.Median
		kept = drying.Spread{Median: e.of.Kept, Low: kept.Low * by, High: kept.High * by}
	}
	return kept
}

// origin says where a figure comes from.
func (e *estimate) origin(flag string) string {
	_, learned := e.learned()
	switch {
	case e.given[flag]:
		return "as given"
	case flag == "kept" && learned:
		return fmt.Sprintf("learned, fit %d", e.known.Number)
	case flag == "kept":
		return "assumed, not measured"
	case flag == "film" && e.bench.Simulated:
		return "bench file, assumed there"
	case flag == "film":
		return "assumed: the bench file states none"
	case flag == "flow":
		return "bench file, fan at full speed"
	case flag == "until":
		return "usual"
	}
	return "bench file"
}

// learned tells whether something was fitted for this bench, and for this liquid.
func (e *estimate) learned() (bench, liquid bool) {
	return e.known != nil, e.known != nil && slices.Contains(e.known.Liquids, e.of.Liquid.Name)
}

// figureUsed is one figure that the estimate rests on.
type figureUsed struct{ name, value, origin string }

func (e *estimate) basis() []figureUsed {
	c, kept := e.of, e.keptNow()
	warm := figureUsed{"Warmed", "no", "nothing given"}
	if c.Warm > 0 {
		warm.value, warm.origin = "to "+recipe.SayTemperature(c.Warm), "as given"
	}
	return []figureUsed{
		{"Kept in the liner", fmt.Sprintf("%.2f mL (%.2f to %.2f)", kept.Median*1e6, kept.Low*1e6, kept.High*1e6), e.origin("kept")},
		{"Room air", recipe.SayTemperature(c.Air), e.origin("air")},
		{"Humidity", recipe.SayShare(c.Humidity), e.origin("humidity")},
		warm,
		{"Film conductance", quantity.Conductance.Say(c.Film), e.origin("film")},
		{"Flow", fmt.Sprintf("%.3g L/s", c.Flow*1e3), e.origin("flow")},
		{"Counts as dry", recipe.SayShare(c.Until) + " left", e.origin("until")},
	}
}

// notes says what a person should know first, and then where the figures come from.
func (e *estimate) notes() []string {
	notes := append(e.warnings(), e.experience())
	if e.bench.Simulated {
		notes = append(notes, fmt.Sprintf("Bench %q is simulated: none of its figures was measured.", e.bench.Name))
	}
	return notes
}

// experience says what was learned of the bench so far.
func (e *estimate) experience() string {
	x := e.belief.Exposure()
	exposure := fmt.Sprintf("Exposure %.2f (80 %%: %.2f to %.2f), ", x.Median, x.Low, x.High)
	switch bench, liquid := e.learned(); {
	case !bench:
		return fmt.Sprintf("Nothing was learned of bench %q yet: the interval is an assumption that spans about a factor of two. "+
			"Log dryings (fullery dry log), then learn from them (fullery dry fit).", e.bench.Name)
	case !liquid:
		return exposure + fmt.Sprintf("learned: fit %d of bench %q. No drying of %s was logged on it, so what the liner keeps of "+
			"it is assumed.", e.known.Number, e.bench.Name, e.of.Liquid.Name)
	}
	dryings := fmt.Sprintf("%d logged dryings", e.known.Used)
	if e.known.Used == 1 {
		dryings = "1 logged drying"
	}
	return exposure + fmt.Sprintf("learned: fit %d of bench %q, from %s.", e.known.Number, e.bench.Name, dryings)
}

// warnings are the notes about this drying itself.
func (e *estimate) warnings() (out []string) {
	c, m := e.of, e.expected.Middle
	if x := e.expected; !x.Never && x.Reason != "" {
		out = append(out, "The upper end of the interval is only as far as was looked: "+x.Reason+".")
	}
	if m.Blushing {
		out = append(out, fmt.Sprintf("Blushing: the cold film takes water from the damp air, %.2g g of it. Without that it would "+
			"be dry after %s: drier air helps.", m.WaterGained*1e3, minutesWord(m.WithoutUptake)))
	}
	if m.Coldest < 273.15 && m.KeptMass > 0 {
		out = append(out, "The liner gets colder than 0 °C, where water would freeze; the model leaves freezing out.")
	}
	if !c.Liquid.Flammable {
		return out
	}
	if c.Warm > 0 {
		out = append(out, "Warmed air after a flammable liquid is refused on a bench: this is a calculation, not a plan.")
	}
	return append(out, fmt.Sprintf("The air that leaves reaches %.0f %% of the lower flammable limit at this flow, at the most. "+
		"The safety data sheet of your product, local rules and qualified people come first.", m.PeakOfLimit*100))
}

// estimateJSON is the answer. Minutes is null when it does not get dry; then reason says why.
type estimateJSON struct {
	Minutes      *spreadJSON `json:"minutes"`
	ColdestC     float64     `json:"coldest_c"`
	PeakGPerMin  float64     `json:"peak_g_per_min"`
	WaterGainedG float64     `json:"water_gained_g"`
	Blushing     bool        `json:"blushing"`
	Notes        []string    `json:"notes"`
	Never        bool        `json:"never,omitempty"`
	Reason       string      `json:"reason,omitempty"`
}

func (e *estimate) json() estimateJSON {
	x, m := e.expected, e.expected.Middle
	out := estimateJSON{ColdestC: roundTo(celsiusOf(m.Coldest), 0.01), PeakGPerMin: roundTo(m.PeakRate*60e3, 1e-4),
		WaterGainedG: roundTo(m.WaterGained*1e3, 1e-4), Blushing: m.Blushing, Notes: e.notes()}
	for _, f := range e.basis() {
		out.Notes = append(out.Notes, fmt.Sprintf("%s: %s (%s).", f.name, f.value, f.origin))
	}
	if x.Never {
		out.Never, out.Reason = true, x.Reason
		return out
	}
	minutes := spreadOf(x.Minutes, 1, 0.01)
	out.Minutes = &minutes
	return out
}

// title names the liquid and the bench.
func (e *estimate) title() string { return titleCase(e.of.Liquid) + ", bench " + e.bench.Name }

func titleCase(l liquid.Liquid) string { return string(l.Title[0]-'a'+'A') + l.Title[1:] }

// answer is the one line that matters.
func (e *estimate) answer() string {
	x := e.expected
	if x.Never {
		return "does not get dry: " + x.Reason + "."
	}
	return fmt.Sprintf("dry after about %s, 80 %% between %s.", minutesWord(x.Minutes.Median), between(x.Minutes, " and "))
}

func (e *estimate) print(w io.Writer, plot string) {
	m := e.expected.Middle
	fmt.Fprintln(w, wrap(e.title()+": "+e.answer(), 96, ""))
	fmt.Fprintf(w, "\n  %s %.1f °C\n", pad("Coldest liner", 18), celsiusOf(m.Coldest))
	fmt.Fprintf(w, "  %s %.2f g/min\n", pad("Peak rate", 18), m.PeakRate*60e3)
	fmt.Fprintf(w, "  %s %.2f g%s\n\n", pad("Water taken up", 18), m.WaterGained*1e3,
		map[bool]string{true: ", blushing: see below"}[m.Blushing])
	for _, f := range e.basis() {
		fmt.Fprintf(w, "  %s %s %s\n", pad(f.name, 18), pad(f.value, 22), f.origin)
	}
	fmt.Fprintln(w)
	for _, note := range e.notes() {
		fmt.Fprintln(w, wrap(note, 96, ""))
	}
	if plot != "" {
		fmt.Fprintf(w, "The curve is drawn in %s.\n", plot)
	}
}
