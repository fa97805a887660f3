package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	"time"

	"fullery/controller/piobench"
	"fullery/disks/record"
	"fullery/sensors/calibration"

	"github.com/spf13/cobra"
)

// weighed is a reading of one cell: from the bench, or as a person gives it with --counts.
func (x *cell) weighed(ctx context.Context, c *cobra.Command, counts float64, given bool, what string) (r calibration.Reading, err error) {
	if given {
		return calibration.Reading{Counts: calibration.Counts(counts), N: 1}, nil
	}
	bench, _, done, err := takeBoard(x.bench, piobench.System("/"), true, restsOff(x.bench))
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, done()) }()
	ask := newAsker(c.InOrStdin(), c.ErrOrStderr(), nil)
	defer ask.end()
	if _, err := ask.ask(ctx, "%s, let it rest, and press enter.", what); err != nil {
		return r, err
	}
	return boardScale{bench, x.sensor}.read(ctx, weighs)
}

func newPadsVerify() *cobra.Command {
	var f cellFlags
	var mass string
	var counts float64
	c := &cobra.Command{
		Use:     "verify FILE",
		Short:   "Check a cell's calibration with one known mass",
		Example: "  fullery pads verify my-bench.toml --cell pad-front --mass 200g",
		Args:    wants(1, 1, "one bench file"),
		RunE: func(c *cobra.Command, args []string) error {
			return padsVerify(c, args[0], f, mass, counts)
		},
	}
	f.add(c)
	c.Flags().StringVar(&mass, "mass", "", "the mass on the cell, as in 200g")
	c.Flags().Float64Var(&counts, "counts", 0, "what it read, instead of reading it now")
	_ = c.MarkFlagRequired("mass")
	return c
}

func padsVerify(c *cobra.Command, name string, f cellFlags, mass string, counts float64) (err error) {
	ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM)
	defer stop()
	x, done, err := openCell(ctx, name, f)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, bad(done())) }()
	kg, err := parseMass(mass)
	if err != nil {
		return err
	}
	line, made, known, err := x.latest(ctx)
	if err != nil {
		return err
	}
	if !known {
		return said(statusPersonal, "%s of bench %q was never calibrated: fullery pads calibrate", x.sensor, x.bench.Name)
	}
	tare, err := x.tare(ctx, made)
	if err != nil {
		return err
	}
	r, err := x.weighed(ctx, c, counts, c.Flags().Changed("counts"), fmt.Sprintf("Put %s on %s", sayMass(kg), x.sensor))
	if err != nil {
		return err
	}
	v, err := calibration.Verify(line, kg, r, tare, 0)
	if err != nil {
		return bad(err)
	}
	if f.json {
		err = writeJSON(c.OutOrStdout(), map[string]any{"cell": x.sensor.String(), "finding": v.Finding.String(), "force_n": v.Force,
			"expected_n": v.Expected, "deviation_n": v.Deviation, "interval_n": v.Interval, "limit_n": v.Limit, "said": v.String()})
	} else {
		fmt.Fprintln(c.OutOrStdout(), wrap(v.String(), 96, ""))
	}
	if err == nil && v.Finding != calibration.Holds {
		err = withStatus(statusNo, errNothingMore)
	}
	return err
}

// errNothingMore ends a command whose answer is no and was printed already.
var errNothingMore = errors.New("")

func newPadsTare() *cobra.Command {
	var f cellFlags
	var counts float64
	var yes bool
	c := &cobra.Command{
		Use:   "tare FILE",
		Short: "Let what a cell reads now count as nothing",
		Long: "Let what a cell reads now count as nothing: a pad's own weight, the holder of a cartridge. It is kept with its date\n" +
			"and counts until the next tare or calibration. Nothing else ever sets one.",
		Args: wants(1, 1, "one bench file"),
		RunE: func(c *cobra.Command, args []string) error { return padsTare(c, args[0], f, counts, yes) },
	}
	f.add(c)
	c.Flags().Float64Var(&counts, "counts", 0, "what it read, instead of reading it now")
	c.Flags().BoolVar(&yes, "yes", false, "keep it although much lies on the cell")
	return c
}

func padsTare(c *cobra.Command, name string, f cellFlags, counts float64, yes bool) (err error) {
	ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM)
	defer stop()
	x, done, err := openCell(ctx, name, f)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, bad(done())) }()
	line, _, known, err := x.latest(ctx)
	if err != nil {
		return err
	}
	if !known {
		return said(statusPersonal, "%s of bench %q was never calibrated: fullery pads calibrate", x.sensor, x.bench.Name)
	}
	r, err := x.weighed(ctx, c, counts, c.Flags().Changed("counts"), fmt.Sprintf("Leave on %s only what is to count as nothing", x.sensor))
	if err != nil {
		return err
	}
	t, question, err := calibration.NewTare(line, r, time.Now(), "operator")
	if err != nil {
		return withStatus(statusNo, err)
	}
	if question != "" && !yes {
		return said(statusPersonal, "%s Nothing was kept; if it is so, add --yes", question)
	}
	kept := record.Tare{Bench: x.bench.Name, Part: x.sensor.String(), Made: t.When, Counts: float64(t.Counts), Readings: t.N, By: t.By}
	if t.N > 1 {
		kept.SDCounts = &t.SD
	}
	n, err := x.rec.PutTare(ctx, kept)
	if err != nil {
		return bad(err)
	}
	if f.json {
		return writeJSON(c.OutOrStdout(), map[string]any{"tare": n, "cell": x.sensor.String(), "counts": float64(t.Counts), "record": x.path})
	}
	fmt.Fprintf(c.OutOrStdout(), "%s: %.1f counts are nothing from now on (tare %d in %s).\n", x.sensor, float64(t.Counts), n, x.path)
	return nil
}

func newPadsLife() *cobra.Command {
	var path string
	var changed bool
	var cover, asJSON bool
	c := &cobra.Command{
		Use:   "life FILE",
		Short: "How much the pads and their covers have done; say when they were changed",
		Args:  wants(1, 1, "one bench file"),
		RunE: func(c *cobra.Command, args []string) error {
			return padsLife(c, args[0], path, changed, cover, asJSON)
		},
	}
	c.Flags().StringVar(&path, "record", "", "record file (default: fullery.db in the user's data folder)")
	c.Flags().BoolVar(&changed, "new-pads", false, "say that the pads were changed, covers with them")
	c.Flags().BoolVar(&cover, "new-covers", false, "say that the covers were changed")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return c
}

// lifeJSON is the life of pads or covers.
type lifeJSON struct {
	What     string  `json:"what"`
	Since    *string `json:"since"` // null when no change was told
	Cycles   int     `json:"cycles"`
	Disks    int     `json:"disks"`
	LiquidML float64 `json:"liquid_ml"`
}

func padsLife(c *cobra.Command, name, path string, pads, covers, asJSON bool) (err error) {
	ctx := contextOf(c)
	b, err := readBench(name)
	if err != nil {
		return err
	}
	rec, err := record.Open(ctx, recordPath(path))
	if err != nil {
		return bad(err)
	}
	defer func() { err = errors.Join(err, bad(rec.Close())) }()
	for what, told := range map[string]bool{record.Pads: pads, record.Cover: covers} {
		if told {
			if err := rec.PutPadsChange(ctx, record.PadsChange{Bench: b.Name, Simulated: b.Simulated, What: what, Made: time.Now()}); err != nil {
				return bad(err)
			}
		}
	}
	var list []lifeJSON
	for _, what := range []string{record.Pads, record.Cover} {
		l, err := rec.PadsLife(ctx, b.Name, b.Simulated, what)
		if err != nil {
			return bad(err)
		}
		list = append(list, lifeJSON{what, moment(l.Since), l.Cycles, l.Disks, roundTo(l.LiquidML, 1e-3)})
	}
	if asJSON {
		return writeJSON(c.OutOrStdout(), list)
	}
	for _, l := range list {
		since := "since the record began"
		if l.Since != nil {
			since = "since " + *l.Since
		}
		fmt.Fprintf(c.OutOrStdout(), "%s %d disks in %d cycles, %.1f mL, %s\n", pad(l.What, 6), l.Disks, l.Cycles, l.LiquidML, since)
	}
	return nil
}
