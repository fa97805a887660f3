package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strconv"
	"strings"
	"syscall"
	"time"

	"fullery/controller/piobench"
	"fullery/disks/record"
	"fullery/sensors/calibration"

	"github.com/spf13/cobra"
)

func newPadsCalibrate() *cobra.Command {
	var f cellFlags
	var masses, from string
	c := &cobra.Command{
		Use:   "calibrate FILE",
		Short: "Calibrate a load cell with known masses, put on and taken off again",
		Long: "Leads through known masses, up and down again, reads each for some seconds with every output off, and fits counts\n" +
			"over force by least squares. Points that cannot be used are refused with the reason, and the old calibration\n" +
			"stays. What is accepted counts from the next cycle on, instead of zero and gain in the bench file.\n" +
			"Stand each mass so that it rests on the pad alone. With --from the points come from a file:\n" +
			"mass_g,counts,sd,readings,way with way up or down.",
		Example: "  fullery pads calibrate my-bench.toml --cell pad-front --masses \"0 g, 100 g, 200 g, 500 g\"",
		Args:    wants(1, 1, "one bench file"),
		RunE: func(c *cobra.Command, args []string) error {
			return padsCalibrate(c, args[0], f, masses, from)
		},
	}
	f.add(c)
	c.Flags().StringVar(&masses, "masses", "0 g, 100 g, 200 g, 500 g", "the masses, from none upwards")
	c.Flags().StringVar(&from, "from", "", "take the points from this CSV file instead of asking for them")
	return c
}

func padsCalibrate(c *cobra.Command, name string, f cellFlags, masses, from string) (err error) {
	ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM)
	defer stop()
	x, done, err := openCell(ctx, name, f)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, bad(done())) }()
	var points []calibration.Point
	if from != "" {
		points, err = readPoints(from)
	} else {
		points, err = x.askPoints(ctx, c, masses)
	}
	if err != nil {
		return err
	}
	before, _, had, err := x.latest(ctx)
	if err != nil {
		return err
	}
	line, why := calibration.Load(points, x.rating())
	if _, err := x.rec.PutCellCalibration(ctx, x.entry(points, line, why)); err != nil {
		return bad(err)
	}
	if why != nil {
		return said(statusNo, "%v\nThe points were kept in the record; %s", why, map[bool]string{true: "the calibration before it stays.",
			false: "the cell is not calibrated."}[had])
	}
	if f.json {
		return writeJSON(c.OutOrStdout(), x.json(line))
	}
	x.print(c.OutOrStdout(), line)
	if had {
		fmt.Fprintf(c.OutOrStdout(), "Before it: zero %.1f counts, %.1f counts/N.\n", before.Zero, before.Gain)
	}
	return nil
}

// askPoints leads through the masses on the bench itself, up and down.
func (x *cell) askPoints(ctx context.Context, c *cobra.Command, masses string) (points []calibration.Point, err error) {
	var list []float64
	for _, text := range strings.Split(masses, ",") {
		m, err := parseMass(text)
		if err != nil {
			return nil, err
		}
		list = append(list, m)
	}
	bench, _, done, err := takeBoard(x.bench, piobench.System("/"), true, restsOff(x.bench))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, done()) }()
	out := c.ErrOrStderr()
	ask := newAsker(c.InOrStdin(), out, nil)
	defer ask.end()
	for i := range 2*len(list) - 1 {
		mass, rising := list[min(i, 2*len(list)-2-i)], i < len(list)
		what := "Take everything off " + x.sensor.String()
		if mass != 0 {
			what = fmt.Sprintf("Put %s on %s", sayMass(mass), x.sensor)
		}
		answer, err := ask.ask(ctx, "%s, let it rest, and press enter (s skips it, q gives up).", what)
		switch {
		case err != nil:
			return nil, err
		case answer == "q":
			return nil, withStatus(statusNo, errGaveUp)
		case answer == "s":
			continue
		}
		r, err := boardScale{bench, x.sensor}.read(ctx, weighs)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(out, "  %s\n", sayCounts(r))
		points = append(points, calibration.Point{Mass: mass, Counts: r.Counts, SD: r.SD, N: r.N, Rising: rising})
	}
	return points, nil
}

// readPoints reads points from a file. Each trouble is told with its line.
func readPoints(path string) ([]calibration.Point, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, said(statusUsage, "cannot read %s: %v", path, plain(err))
	}
	defer file.Close()
	from := csv.NewReader(file)
	from.FieldsPerRecord = 5
	var points []calibration.Point
	for {
		row, err := from.Read()
		line, _ := from.FieldPos(0)
		switch {
		case errors.Is(err, io.EOF) && len(points) == 0:
			return nil, said(statusUsage, "%s has no points", path)
		case errors.Is(err, io.EOF):
			return points, nil
		case err != nil:
			return nil, said(statusUsage, "%s: %v; a row is mass_g,counts,sd,readings,way", path, err)
		case line == 1 && row[0] == "mass_g":
			continue
		}
		p, err := point(row)
		if err != nil {
			return nil, said(statusUsage, "%s:%d: %v", path, line, err)
		}
		points = append(points, p)
	}
}

// point reads one row.
func point(row []string) (p calibration.Point, err error) {
	var numbers [4]float64
	for i, name := range []string{"mass_g", "counts", "sd", "readings"} {
		if numbers[i], err = strconv.ParseFloat(strings.TrimSpace(row[i]), 64); err != nil {
			return p, fmt.Errorf("%s is %q, and should be a number with a point, as in 1.5", name, row[i])
		}
	}
	p = calibration.Point{Mass: numbers[0] / 1e3, Counts: calibration.Counts(numbers[1]), SD: numbers[2], N: int(numbers[3])}
	switch strings.TrimSpace(row[4]) {
	case "up":
		p.Rising = true
	case "down":
	default:
		return p, fmt.Errorf("way is %q, and should be up or down", row[4])
	}
	return p, nil
}

// entry is what the record keeps of it.
func (x *cell) entry(points []calibration.Point, line calibration.Cell, why error) record.CellCalibration {
	k := record.CellCalibration{Bench: x.bench.Name, Part: x.sensor.String(), Made: time.Now(), Program: version(), Accepted: why == nil,
		Said: strings.Join(line.Notes(), " "), ZeroCounts: line.Zero, GainPerN: line.Gain, ZeroSECounts: line.ZeroSE, GainSEPerN: line.GainSE,
		Cov: line.Cov, ResidualCounts: line.Residual, Linearity: line.Linearity, Hysteresis: line.Hysteresis,
		Repeatability: line.Repeatability, SpanN: line.Span}
	if why != nil {
		k.Said = why.Error()
	}
	for _, p := range points {
		kept := record.CellPoint{MassG: p.Mass * 1e3, Counts: float64(p.Counts), Readings: p.N, Rising: p.Rising}
		if p.N > 1 {
			sd := p.SD
			kept.SDCounts = &sd
		}
		k.Points = append(k.Points, kept)
	}
	return k
}

// cellJSON is a calibration as it is printed.
type cellJSON struct {
	Bench         string   `json:"bench"`
	Cell          string   `json:"cell"`
	ZeroCounts    float64  `json:"zero_counts"`
	ZeroSE        float64  `json:"zero_se_counts"`
	GainPerN      float64  `json:"gain_counts_per_n"`
	GainSE        float64  `json:"gain_se_counts_per_n"`
	Residual      float64  `json:"residual_counts"`
	Linearity     float64  `json:"linearity_percent"`
	Hysteresis    float64  `json:"hysteresis_percent"`
	Repeatability *float64 `json:"repeatability_percent"` // null when no mass was put on twice the same way
	SpanN         float64  `json:"span_n"`
	Notes         []string `json:"notes"`
	Record        string   `json:"record"`
}

func (x *cell) json(c calibration.Cell) cellJSON {
	out := cellJSON{Bench: x.bench.Name, Cell: x.sensor.String(), ZeroCounts: c.Zero, ZeroSE: c.ZeroSE, GainPerN: c.Gain, GainSE: c.GainSE,
		Residual: c.Residual, Linearity: c.Linearity * 100, Hysteresis: c.Hysteresis * 100, SpanN: c.Span,
		Notes: append([]string{}, c.Notes()...), Record: x.path}
	if c.Repeats > 0 {
		share := c.Repeatability * 100
		out.Repeatability = &share
	}
	return out
}

// print prints a calibration for a person.
func (x *cell) print(w io.Writer, c calibration.Cell) {
	fmt.Fprintf(w, "%s of bench %q\n", x.sensor, x.bench.Name)
	half := calibration.Student95(c.DF)
	fmt.Fprintf(w, "  zero           %.1f counts, ± %.1f\n", c.Zero, half*c.ZeroSE)
	fmt.Fprintf(w, "  gain           %.1f counts/N, ± %.1f (95 %%)\n", c.Gain, half*c.GainSE)
	fmt.Fprintf(w, "  linear within  %.2f %% of %.2f N\n", c.Linearity*100, c.Span)
	fmt.Fprintf(w, "  hysteresis     %.2f %%\n", c.Hysteresis*100)
	if c.Repeats > 0 {
		fmt.Fprintf(w, "  repeats within %.2f %%\n", c.Repeatability*100)
	}
	for _, note := range c.Notes() {
		fmt.Fprintln(w, wrap(note, 96, "  "))
	}
	fmt.Fprintf(w, "Kept in %s; it counts from the next cycle on.\n", x.path)
}
