package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// circumstancesOf reads again what a log was made with: its liquid, and the bench file of that day.
func circumstancesOf(name, bench, text string) (liquid.Liquid, recipe.Bench, error) {
	l, err := liquid.Parse(name)
	if err != nil {
		return l, recipe.Bench{}, err
	}
	b, problems := recipe.ReadBench(bench+".toml", []byte(text))
	if len(problems.Errors()) > 0 {
		return l, b, errors.New("its bench file of that day cannot be read any more")
	}
	return l, b, nil
}

// timeOf is what a liquid takes in the air of the bench file, before any log and now.
type timeOf struct {
	Liquid        string
	Before, After drying.Spread // min; zero when it does not get dry
}

func (f *fit) times() (out []timeOf) {
	c := caseOf(f.bench)
	for _, name := range f.belief.Liquids {
		l, err := liquid.Parse(name)
		if err != nil {
			continue
		}
		c.Liquid = l
		before, err1 := drying.Estimate(drying.Prior(), c, drying.Options{})
		after, err2 := drying.Estimate(f.belief, c, drying.Options{})
		if errors.Join(err1, err2) == nil {
			out = append(out, timeOf{name, before.Minutes, after.Minutes})
		}
	}
	return out
}

func timeWord(s drying.Spread) string {
	if s.Median == 0 {
		return "does not get dry"
	}
	return fmt.Sprintf("%s (%s)", minutesWord(s.Median), between(s, " to "))
}

// narrowedWord compares the widths of two intervals on the logarithmic scale.
func narrowedWord(x timeOf) string {
	before, after := math.Log(x.Before.High/x.Before.Low), math.Log(x.After.High/x.After.Low)
	if !(before > 0) || !(after > 0) {
		return ""
	}
	return fmt.Sprintf("%.2f × as wide", after/before)
}

func figureName(x drying.Figure) string {
	if x.Liquid == "" {
		return "exposure, factor on h·A"
	}
	return "kept of " + x.Liquid
}

func figureWord(x drying.Figure, s drying.Spread) string {
	if x.Liquid == "" {
		return fmt.Sprintf("%.2f (%.2f to %.2f)", s.Median, s.Low, s.High)
	}
	return fmt.Sprintf("%.2f mL (%.2f to %.2f)", s.Median*1e6, s.Low*1e6, s.High*1e6)
}

// printLogs lists each log against the fit, then what was left out.
func (f *fit) printLogs(w io.Writer) {
	fmt.Fprintf(w, "\n  %s %10s %10s   off by\n", pad("drying", 27), "logged", "expected")
	for i, x := range f.report.Residuals {
		logged, expected := boundSign(f.logs[i].Bound)+minutesWord(x.Logged), minutesWord(x.Expected)
		if f.weightsOnly(i) {
			expected = "–"
		}
		fmt.Fprintf(w, "  %s %10s %10s   %s\n", pad(x.Name, 27), logged, expected, f.offWord(i))
	}
	if len(f.out) > 0 {
		fmt.Fprintln(w, "\n  Left out:")
	}
	for _, o := range f.out {
		fmt.Fprintln(w, wrap(o.Name+": "+o.Why, 96, "  "))
	}
	fmt.Fprintln(w)
}

// offWord says how far a log is off, in standard deviations, and what to know of it.
func (f *fit) offWord(i int) string {
	x := f.report.Residuals[i]
	if x.Unused != "" {
		return "not used: " + x.Unused
	}
	words := []string{strings.Replace(fmt.Sprintf("%+.1f s.d.", x.Sigmas+0), "-", "−", 1)}
	if x.Sigmas == 0 && f.logs[i].Bound != drying.Exact {
		words[0] = "agrees"
	}
	if x.Outlier {
		words = append(words, "outlier, left out")
	}
	if kept := f.logs[i].Kept; kept > 0 {
		words = append(words, fmt.Sprintf("kept %.2f mL by weight", kept*1e6))
	}
	if f.weightsOnly(i) {
		words = append(words, "time not used")
	}
	if f.marks[i] != "" {
		words = append(words, f.marks[i])
	}
	return strings.Join(words, ", ")
}

// weightsOnly tells whether a log bears on the fit by its weights, and its time says nothing.
func (f *fit) weightsOnly(i int) bool {
	l := f.logs[i]
	return l.Kept > 0 && l.Evidence == drying.ByClock && l.Bound == drying.Exact
}

func boundSign(b drying.Bound) string {
	return map[drying.Bound]string{drying.AtLeast: "> ", drying.AtMost: "< "}[b]
}

// pad fills a text with blanks to a width in characters.
func pad(text string, width int) string {
	return text + strings.Repeat(" ", max(width-utf8.RuneCountInString(text), 0))
}

type figureJSON struct {
	Name     string     `json:"name"`
	Liquid   string     `json:"liquid,omitempty"`
	Unit     string     `json:"unit"`
	Before   spreadJSON `json:"before"`
	After    spreadJSON `json:"after"`
	Narrowed float64    `json:"narrowed"`
}

type residualJSON struct {
	Name        string  `json:"name"`
	LoggedMin   float64 `json:"logged_min"`
	ExpectedMin float64 `json:"expected_min"`
	Sigmas      float64 `json:"sigmas"`
	Bound       string  `json:"bound"`
	Outlier     bool    `json:"outlier,omitempty"`
	Unused      string  `json:"unused,omitempty"`
	Mark        string  `json:"mark,omitempty"`
}

type timeJSON struct {
	Liquid string     `json:"liquid"`
	Before spreadJSON `json:"before"`
	After  spreadJSON `json:"after"`
}

type fitJSON struct {
	Fit       int64          `json:"fit"`
	Bench     string         `json:"bench"`
	Simulated bool           `json:"simulated"`
	Used      int            `json:"used"`
	Outliers  int            `json:"outliers"`
	Figures   []figureJSON   `json:"figures"`
	Minutes   []timeJSON     `json:"minutes"`
	Scatter   [2]float64     `json:"scatter"` // before and after, as a share of a drying's time
	Residuals []residualJSON `json:"residuals"`
	LeftOut   []leftOut      `json:"left_out"`
	Notes     []string       `json:"notes"`
	Record    string         `json:"record"`
}

func (f *fit) json() fitJSON {
	out := fitJSON{Fit: f.number, Bench: f.bench.Name, Simulated: f.bench.Simulated, Used: f.report.Used,
		Outliers: f.report.Outliers, Scatter: [2]float64{drying.Prior().Jitter, roundTo(f.belief.Jitter, 1e-4)},
		LeftOut: append([]leftOut{}, f.out...), Notes: append([]string{}, f.report.Notes...), Record: f.path}
	for _, x := range f.report.Figures {
		j := figureJSON{Name: "exposure", Unit: "1", Before: spreadOf(x.Before, 1, 1e-4), After: spreadOf(x.After, 1, 1e-4),
			Narrowed: roundTo(x.Narrowed, 1e-4)}
		if x.Liquid != "" {
			j.Name, j.Liquid, j.Unit = "kept", x.Liquid, "mL"
			j.Before, j.After = spreadOf(x.Before, 1e6, 1e-4), spreadOf(x.After, 1e6, 1e-4)
		}
		out.Figures = append(out.Figures, j)
	}
	for _, x := range f.times() {
		out.Minutes = append(out.Minutes, timeJSON{x.Liquid, spreadOf(x.Before, 1, 0.01), spreadOf(x.After, 1, 0.01)})
	}
	for i, x := range f.report.Residuals {
		out.Residuals = append(out.Residuals, residualJSON{Name: x.Name, LoggedMin: roundTo(x.Logged, 0.01),
			ExpectedMin: roundTo(x.Expected, 0.01), Sigmas: roundTo(x.Sigmas, 0.01), Outlier: x.Outlier, Unused: x.Unused,
			Bound: map[drying.Bound]string{drying.Exact: "exact", drying.AtLeast: "at-least", drying.AtMost: "at-most"}[f.logs[i].Bound],
			Mark:  f.marks[i]})
	}
	return out
}
