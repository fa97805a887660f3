package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"slices"
	"strings"
	"time"

	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
	"fullery/recipe/liquid"

	"github.com/spf13/cobra"
)

func newDryFit() *cobra.Command {
	var bench, path string
	var asJSON bool
	c := &cobra.Command{
		Use:   "fit",
		Short: "Learn from the logged dryings of a bench what its liners keep and how exposed they are",
		Long: "Learn from all dryings of a bench that the record has, by hand and by run, what its liners keep of each liquid\n" +
			"and how exposed they are. Every fit begins anew from what is assumed before any log, and is kept as a new row;\n" +
			"estimates of that bench use the newest.",
		Args: wants(0, 0, "flags only"),
		RunE: func(c *cobra.Command, _ []string) error {
			b, err := readBench(bench)
			if err != nil {
				return err
			}
			if path, err = recordToRead(path); err != nil {
				return err
			}
			return dryFit(c, b, path, asJSON)
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file (default: the shipped simulated one)")
	c.Flags().StringVar(&path, "record", "", "record file (default: fullery.db in the user's data folder)")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return c
}

// fit is one fit: what went in, and what came of it.
type fit struct {
	bench  recipe.Bench
	logs   []drying.Log
	marks  []string // what to know of each log: "simulated"
	out    []leftOut
	others map[string]int // how many dryings other benches have
	belief drying.Belief
	report drying.Report
	number int64 // of its row
	path   string
}

// leftOut is a drying that the fit cannot use, and why.
type leftOut struct {
	Name string `json:"name"`
	Why  string `json:"why"`
}

func dryFit(c *cobra.Command, b recipe.Bench, path string, asJSON bool) (err error) {
	ctx := contextOf(c)
	f := &fit{bench: b, path: path, others: map[string]int{}}
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		_, _, err := drying.Fit(drying.Prior(), nil)
		return said(statusNo, "%w (there is no record at %s)", err, path)
	}
	rec, err := record.Open(ctx, path)
	if err != nil {
		return bad(err)
	}
	defer func() { err = errors.Join(err, bad(rec.Close())) }()
	if err := f.gather(ctx, rec); err != nil {
		return bad(err)
	}
	if f.belief, f.report, err = drying.Fit(drying.Prior(), f.logs); err != nil {
		return withStatus(statusNo, f.because(err))
	}
	f.number, err = rec.PutBelief(ctx, record.Belief{Bench: b.Name, Simulated: b.Simulated, Fitted: time.Now(), Program: version(),
		Used: f.report.Used, Outliers: f.report.Outliers, Liquids: f.belief.Liquids, Mean: f.belief.Mean, Cov: f.belief.Cov,
		Jitter: f.belief.Jitter})
	if err != nil {
		return bad(err)
	}
	if asJSON {
		return writeJSON(c.OutOrStdout(), f.json())
	}
	f.print(c.OutOrStdout())
	return nil
}

// because adds to a refusal what was left out: without it "nothing was logged yet" would puzzle who logged something.
func (f *fit) because(err error) error {
	for _, o := range f.out {
		err = fmt.Errorf("%w\n  left out: %s: %s", err, o.Name, o.Why)
	}
	return fmt.Errorf("%w\n  nothing was written", err)
}

// gather takes what the record has of this bench, by hand and by run.
func (f *fit) gather(ctx context.Context, rec *record.Record) error {
	byHand, err := rec.HandDryings(ctx)
	if err != nil {
		return err
	}
	byRun, err := rec.CycleDryings(ctx)
	if err != nil {
		return err
	}
	for _, d := range byHand {
		name := fmt.Sprintf("log %d", d.Number) + diskWord(d.Disk)
		f.take(name, d.Bench, d.Simulated, func() (drying.Log, string, error) { return f.fromHand(d.HandDrying) })
	}
	for _, d := range byRun {
		name := fmt.Sprintf("cycle %d", d.Cycle) + diskWord(d.Disk)
		f.take(name, d.Bench, d.Simulated, func() (drying.Log, string, error) { return f.fromCycle(d) })
	}
	for _, why := range slices.Sorted(maps.Keys(f.others)) {
		name := "one drying"
		if n := f.others[why]; n > 1 {
			name, why = fmt.Sprintf("%d dryings", n), strings.Replace(why, "it is", "they are", 1)
		}
		f.out = append(f.out, leftOut{name, why})
	}
	return nil
}

// take takes one drying if it is of this bench and can be used.
func (f *fit) take(name, bench string, simulated bool, read func() (drying.Log, string, error)) {
	switch {
	case bench != f.bench.Name:
		f.others[fmt.Sprintf("it is of bench %q", bench)]++
		return
	case simulated != f.bench.Simulated:
		f.others[fmt.Sprintf("it is of a %s bench of the same name", map[bool]string{true: "simulated", false: "real"}[simulated])]++
		return
	}
	log, mark, err := read()
	if err == nil {
		err = checkCase(log.Case)
	}
	if err == nil && !(log.Minutes > 0 && log.Minutes <= longestDrying.Minutes()) {
		err = fmt.Errorf("it took %s", minutesWord(log.Minutes))
	}
	if err != nil {
		f.out = append(f.out, leftOut{name, err.Error()})
		return
	}
	log.Name = name
	f.logs, f.marks = append(f.logs, log), append(f.marks, mark)
}

// fromHand is a drying that a person logged. On a rack only the weights tell something of the bench's liners.
func (f *fit) fromHand(d record.HandDrying) (drying.Log, string, error) {
	l, bench, err := circumstancesOf(d.Liquid, d.Bench, d.BenchText)
	if err != nil {
		return drying.Log{}, "", err
	}
	log := drying.Log{Case: logCase(d, l, bench), Minutes: d.Time.Minutes(), Evidence: drying.Evidence(d.Evidence),
		Bound: bounds[d.Says]}
	if d.Rack {
		log.Evidence, log.Bound = drying.ByClock, drying.Exact
		if log.Kept == 0 {
			return log, "", errors.New("dried on a rack and not weighed")
		}
		return log, "rack", nil
	}
	return log, "", nil
}

// fromCycle is a drying that a cycle timed, in the air of its dry stage.
func (f *fit) fromCycle(d record.CycleDrying) (drying.Log, string, error) {
	_, bench, err := circumstancesOf(d.Liquid, d.Bench, d.BenchText)
	if err != nil {
		return drying.Log{}, "", err
	}
	r, problems := recipe.Read(d.RecipeName+".toml", []byte(d.RecipeText))
	stages := r.Unrolled()
	switch {
	case len(problems.Errors()) > 0 || d.Stage < 0 || d.Stage >= len(stages):
		return drying.Log{}, "", errors.New("its recipe of that day cannot be read any more")
	case d.Evidence == string(drying.ByClock):
		// The fit itself says so, among the residuals.
	case !d.Dry:
		return drying.Log{}, "", errors.New("it was held meanwhile, so its time is not the whole drying")
	}
	switch {
	case d.Continues > 0:
		return drying.Log{}, "", fmt.Errorf("it went on with cycle %d that was cut short, so its time is not the whole drying",
			d.Continues)
	case !wetted(stages[:d.Stage]):
		return drying.Log{}, "", errors.New("the disk arrived wet, so nobody knows when its drying began")
	}
	if d.AirC != nil {
		bench.Room.Air = *d.AirC + 273.15
	}
	if d.AirPct != nil {
		bench.Room.Humidity = *d.AirPct / 100
	}
	c, err := endpoint.CaseOf(drying.Prior(), r, &bench, stages[d.Stage])
	if err != nil {
		return drying.Log{}, "", err
	}
	c.Kept = 0 // in a log that is what was weighed
	if d.KeptG != nil {
		c.Kept = *d.KeptG / 1e3 / liquid.Density(c.Liquid.Composition(), c.Air)
	}
	mark := ""
	if d.Simulated {
		mark = "simulated"
	}
	return drying.Log{Case: c, Minutes: d.Time.Minutes(), Evidence: drying.Evidence(d.Evidence)}, mark, nil
}

// wetted tells whether any of the stages wets the disk.
func wetted(stages []recipe.Stage) bool {
	for _, s := range stages {
		if s.Do == recipe.Wet || s.Do == recipe.Rinse {
			return true
		}
	}
	return false
}

// print prints the fit for a person.
func (f *fit) print(w io.Writer) {
	fmt.Fprintf(w, "%s %q: fitted from %d of %d logged dryings.\n\n", benchWord(f.bench.Simulated), f.bench.Name,
		f.report.Used, len(f.logs)+len(f.out)-len(f.others))
	row := func(a, b, c, d string) {
		fmt.Fprintln(w, strings.TrimRight(fmt.Sprintf("  %s %s %s %s", pad(a, 27), pad(b, 24), pad(c, 24), d), " "))
	}
	row("", "before any log", "now", "interval")
	for _, x := range f.report.Figures {
		row(figureName(x), figureWord(x, x.Before), figureWord(x, x.After), fmt.Sprintf("%.2f × as wide", x.Narrowed))
	}
	row("scatter of one drying", fmt.Sprintf("%.0f %%", drying.Prior().Jitter*100), fmt.Sprintf("%.0f %%", f.belief.Jitter*100), "")
	fmt.Fprint(w, "\n  So a drying in the air of the bench file takes, with its 80 % interval:\n")
	for _, x := range f.times() {
		row(x.Liquid, timeWord(x.Before), timeWord(x.After), narrowedWord(x))
	}
	f.printLogs(w)
	for _, note := range f.report.Notes {
		fmt.Fprintln(w, wrap(note, 96, ""))
	}
	fmt.Fprintf(w, "Kept in the record as fit %d: estimates of bench %q use it from now on.\n", f.number, f.bench.Name)
}

func benchWord(simulated bool) string {
	if simulated {
		return "Simulated bench"
	}
	return "Bench"
}
