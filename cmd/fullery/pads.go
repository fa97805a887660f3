package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/quantity"
	"fullery/sensors/calibration"

	"github.com/spf13/cobra"
)

func newPads() *cobra.Command {
	c := &cobra.Command{
		Use:   "pads",
		Short: "How hard the pads press: calibrate their cells, check them, balance them; and how old the pads are",
		Args:  cobra.NoArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newPadsCalibrate(), newPadsVerify(), newPadsTare(), newPadsBalance(), newPadsLife())
	return c
}

// cellFlags are what the commands about one cell have in common.
type cellFlags struct {
	cell, record string
	json         bool
}

func (f *cellFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.cell, "cell", "", "which cell: pad-front, pad-back or weight")
	c.Flags().StringVar(&f.record, "record", "", "record file (default: fullery.db in the user's data folder)")
	c.Flags().BoolVar(&f.json, "json", false, "print as JSON")
	_ = c.MarkFlagRequired("cell")
}

// cell is one load cell of a bench.
type cell struct {
	bench  recipe.Bench
	sensor recipe.Sensor
	rec    *record.Record
	path   string
}

// openCell reads the bench file and opens the record for one of its cells. done closes it.
func openCell(ctx context.Context, name string, f cellFlags) (*cell, func() error, error) {
	b, err := readBench(name)
	if err != nil {
		return nil, nil, err
	}
	x := &cell{bench: b, path: f.record}
	cells := []recipe.Sensor{recipe.PadFront, recipe.PadBack, recipe.Weight}
	at := slices.IndexFunc(cells, func(s recipe.Sensor) bool { return s.String() == f.cell })
	if at < 0 {
		return nil, nil, said(statusUsage, "--cell %s is no cell: pad-front, pad-back or weight", f.cell)
	}
	if x.sensor = cells[at]; !b.Sensors[x.sensor].Fitted {
		return nil, nil, said(statusUsage, "bench %q has no %s: add [sensors.%s] to its file", b.Name, x.sensor, x.sensor)
	}
	if b.Simulated {
		return nil, nil, said(statusUsage, "bench %q is simulated: its cells are right by their file, and there is nothing to calibrate", b.Name)
	}
	x.path = recordPath(f.record)
	if x.rec, err = record.Open(ctx, x.path); err != nil {
		return nil, nil, bad(err)
	}
	return x, x.rec.Close, nil
}

// latest returns the calibration in use and when it was made; one that is not in the record is the bench file's, of
// unknown age and uncertainty.
func (x *cell) latest(ctx context.Context) (c calibration.Cell, made time.Time, known bool, err error) {
	got, err := x.rec.LatestCellCalibration(ctx, x.bench.Name, x.bench.Simulated, x.sensor.String())
	if err != nil || got == nil {
		return calibration.Cell{}, time.Time{}, false, bad(err)
	}
	c, err = x.cellOf(got)
	return c, got.Made, true, err
}

// cellOf fits what the record keeps again: its points tell more than its line.
func (x *cell) cellOf(k *record.CellCalibration) (calibration.Cell, error) {
	points := make([]calibration.Point, len(k.Points))
	for i, p := range k.Points {
		points[i] = calibration.Point{Mass: p.MassG / 1e3, Counts: calibration.Counts(p.Counts), N: p.Readings, Rising: p.Rising}
		if p.SDCounts != nil {
			points[i].SD = *p.SDCounts
		}
	}
	return calibration.Load(points, x.rating())
}

// tare returns the tare in use, none when nobody set one since the calibration was made.
func (x *cell) tare(ctx context.Context, since time.Time) (calibration.Tare, error) {
	t, err := x.rec.LatestTare(ctx, x.bench.Name, x.bench.Simulated, x.sensor.String())
	if err != nil || t == nil || t.Made.Before(since) {
		return calibration.Tare{}, bad(err)
	}
	r := calibration.Reading{Counts: calibration.Counts(t.Counts), N: t.Readings}
	if t.SDCounts != nil {
		r.SD = *t.SDCounts
	}
	return calibration.Tare{Reading: r, When: t.Made, By: t.By}, nil
}

// rating is what is known of the cell before it is calibrated.
func (x *cell) rating() calibration.Rating {
	w := x.bench.Board.Inputs[x.sensor]
	r := calibration.Rating{Load: calibration.Mass(w.Rated), Low: -8388608, High: 8388607}
	if w.Chip == "ads1115" {
		r.Low, r.High = -32768, 32767
	}
	return r
}

// parseMass reads "200 g" into kg.
func parseMass(text string) (float64, error) {
	m, err := quantity.Mass.Parse(strings.TrimSpace(text))
	if err != nil {
		return 0, said(statusUsage, "%v", err)
	}
	return m, nil
}

// sayMass writes kg for people.
func sayMass(kg float64) string { return fmt.Sprintf("%g g", roundTo(kg*1e3, 1e-3)) }

// sayCounts writes counts with their scatter.
func sayCounts(r calibration.Reading) string {
	return fmt.Sprintf("%.1f counts (scatter %.1f, %d readings)", float64(r.Counts), r.SD, r.N)
}

// useCalibrations gives a real bench the newest calibrations that the record has of its cells. A tare that was set since
// moves the zero.
func useCalibrations(ctx context.Context, b recipe.Bench, bench cells, path string) (err error) {
	rec, err := record.Open(ctx, recordPath(path))
	if err != nil {
		return bad(err)
	}
	defer func() { err = errors.Join(err, bad(rec.Close())) }()
	_, _, err = calibrate(ctx, rec, b, bench)
	return err
}

// calibrate does it with an open record. It returns of which cells only the bench file tells, and which calibrations are
// not to be trusted any more: too old, or with a zero that moved. The zero is looked at where the pads rest away from the
// disk.
func calibrate(ctx context.Context, rec *record.Record, b recipe.Bench, bench cells) (unknown, doubts []string, err error) {
	for _, s := range []recipe.Sensor{recipe.PadFront, recipe.PadBack, recipe.Weight} {
		if !b.Sensors[s].Fitted {
			continue
		}
		x := &cell{bench: b, sensor: s, rec: rec}
		line, made, known, err := x.latest(ctx)
		if err != nil {
			return nil, nil, err
		}
		if !known {
			unknown = append(unknown, fmt.Sprintf("%s: zero and gain are those of the bench file, and nobody wrote down when they were "+
				"measured: fullery pads calibrate.", s))
			continue
		}
		tare, err := x.tare(ctx, made)
		if err != nil {
			return nil, nil, err
		}
		zero := line.Zero
		if tare.Set() {
			zero = float64(tare.Counts)
		}
		bench.Calibrate(s, zero, line.Gain*perUnit(s))
		now := calibration.Reading{}
		if b.Press && s != recipe.Weight {
			if now, err = (boardScale{bench, s}).read(ctx, glances); err != nil {
				return nil, nil, err
			}
		}
		if doubt := calibration.Trust(line, made, time.Now(), tare, now, calibration.Limits{}); doubt != "" {
			doubts = append(doubts, fmt.Sprintf("%s: %s", s, doubt))
		}
	}
	return unknown, doubts, nil
}

// perUnit turns counts for each newton into counts for each unit of a sensor: a scale reads kilograms.
func perUnit(s recipe.Sensor) float64 {
	if s == recipe.Weight {
		return calibration.Gravity
	}
	return 1
}
