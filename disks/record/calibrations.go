package record

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"time"
)

// CellCalibration is one calibration of a load cell with known masses, accepted or refused.
type CellCalibration struct {
	Number    int64 // given by PutCellCalibration
	Bench     string
	Simulated bool
	Part      string // pad-front, pad-back or weight
	Made      time.Time
	Program   string
	Accepted  bool
	Said      string // why refused, or what to know of it

	// The line, and how well it is known. All zero when refused.
	ZeroCounts     float64
	GainPerN       float64 // counts for each newton; negative for a bridge wired the other way round
	ZeroSECounts   float64
	GainSEPerN     float64
	Cov            float64 // of zero and gain
	ResidualCounts float64
	Linearity      float64 // of the span, as the others below
	Hysteresis     float64
	Repeatability  float64
	SpanN          float64 // largest force that was put on

	Points []CellPoint
}

// CellPoint is a mass as it was read.
type CellPoint struct {
	MassG    float64
	Counts   float64  // mean
	SDCounts *float64 // of one reading; nil for a single one
	Readings int
	Rising   bool
}

// PutCellCalibration writes a calibration down as a new row, with its points. A line that is accepted must be made of
// numbers. It is durable when it returns.
func (r *Record) PutCellCalibration(ctx context.Context, c CellCalibration) (n int64, err error) {
	line := []float64{c.ZeroCounts, c.GainPerN, c.ZeroSECounts, c.GainSEPerN, c.Cov, c.ResidualCounts, c.Linearity, c.Hysteresis,
		c.Repeatability, c.SpanN}
	kept := make([]any, len(line))
	for i, x := range line {
		if c.Accepted && (math.IsNaN(x) || math.IsInf(x, 0)) {
			return 0, fmt.Errorf("the calibration of %s cannot be kept: one of its figures is not a number", c.Part)
		}
		if c.Accepted {
			kept[i] = x
		}
	}
	err = r.update(ctx, func(tx *sql.Tx) error {
		if n, err = next(ctx, tx, "cell_calibration"); err != nil {
			return err
		}
		args := append([]any{n, c.Bench, c.Simulated, c.Part, wallText(c.Made), c.Program, c.Accepted, c.Said}, kept...)
		if _, err := tx.ExecContext(ctx, `insert into cell_calibration (number, bench, simulated, part, made_wall, program, accepted,
			said, zero_counts, gain_per_n, zero_se_counts, gain_se_per_n, zero_gain_cov, residual_counts, linearity, hysteresis,
			repeatability, span_n) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, args...); err != nil {
			return err
		}
		for i, p := range c.Points {
			if _, err := tx.ExecContext(ctx, `insert into cell_point (calibration, seq, mass_g, counts, sd_counts, readings, rising)
				values (?, ?, ?, ?, ?, ?, ?)`, n, i, number(p.MassG), number(p.Counts), optional(p.SDCounts), p.Readings, p.Rising); err != nil {
				return err
			}
		}
		return nil
	})
	return n, err
}

// next returns the number of a new row of a table of ours.
func next(ctx context.Context, tx *sql.Tx, table string) (n int64, err error) {
	err = tx.QueryRowContext(ctx, `select coalesce(max(number), 0) + 1 from `+table).Scan(&n)
	return n, err
}

// LatestCellCalibration returns the newest accepted calibration of a part of a bench, with its points; nil when there is
// none. A simulated bench and a real one of the same name are two benches.
func (r *Record) LatestCellCalibration(ctx context.Context, bench string, simulated bool, part string) (*CellCalibration, error) {
	all, err := r.CellCalibrations(ctx, bench, simulated, part)
	for i := len(all) - 1; i >= 0; i-- {
		if all[i].Accepted {
			return &all[i], err
		}
	}
	return nil, err
}

// CellCalibrations returns every calibration of a part of a bench, refused ones as well, oldest first.
func (r *Record) CellCalibrations(ctx context.Context, bench string, simulated bool, part string) ([]CellCalibration, error) {
	all, err := list(ctx, r, `select number, bench, simulated, part, made_wall, program, accepted, said, coalesce(zero_counts, 0),
		coalesce(gain_per_n, 0), coalesce(zero_se_counts, 0), coalesce(gain_se_per_n, 0), coalesce(zero_gain_cov, 0),
		coalesce(residual_counts, 0), coalesce(linearity, 0), coalesce(hysteresis, 0), coalesce(repeatability, 0),
		coalesce(span_n, 0) from cell_calibration where bench = ? and simulated = ? and part = ? order by number`,
		func(c *CellCalibration) []any {
			return []any{&c.Number, &c.Bench, &c.Simulated, &c.Part, intoWall{&c.Made}, &c.Program, &c.Accepted, &c.Said,
				&c.ZeroCounts, &c.GainPerN, &c.ZeroSECounts, &c.GainSEPerN, &c.Cov, &c.ResidualCounts, &c.Linearity, &c.Hysteresis,
				&c.Repeatability, &c.SpanN}
		}, bench, simulated, part)
	if err != nil {
		return nil, err
	}
	for i := range all {
		all[i].Points, err = list(ctx, r, `select mass_g, counts, sd_counts, readings, rising from cell_point where calibration = ?
			order by seq`, func(p *CellPoint) []any { return []any{&p.MassG, &p.Counts, &p.SDCounts, &p.Readings, &p.Rising} },
			all[i].Number)
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}

// Tare is what a cell read with nothing on it, when somebody asked for it.
type Tare struct {
	Number    int64 // given by PutTare
	Bench     string
	Simulated bool
	Part      string
	Made      time.Time
	Counts    float64 // mean
	SDCounts  *float64
	Readings  int
	By        string
}

// PutTare writes a tare down as a new row. It is durable when it returns.
func (r *Record) PutTare(ctx context.Context, t Tare) (n int64, err error) {
	if math.IsNaN(t.Counts) || math.IsInf(t.Counts, 0) {
		return 0, fmt.Errorf("the tare of %s cannot be kept: it is not a number", t.Part)
	}
	err = r.update(ctx, func(tx *sql.Tx) error {
		if n, err = next(ctx, tx, "tare"); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `insert into tare (number, bench, simulated, part, made_wall, counts, sd_counts, readings, made_by)
			values (?, ?, ?, ?, ?, ?, ?, ?, ?)`, n, t.Bench, t.Simulated, t.Part, wallText(t.Made), t.Counts, optional(t.SDCounts),
			t.Readings, t.By)
		return err
	})
	return n, err
}

// LatestTare returns the newest tare of a part of a bench; nil when there is none.
func (r *Record) LatestTare(ctx context.Context, bench string, simulated bool, part string) (*Tare, error) {
	var t Tare
	found, err := r.one(ctx, []any{&t.Number, &t.Bench, &t.Simulated, &t.Part, intoWall{&t.Made}, &t.Counts, &t.SDCounts, &t.Readings, &t.By},
		`select number, bench, simulated, part, made_wall, counts, sd_counts, readings, made_by from tare
		where bench = ? and simulated = ? and part = ? order by number desc limit 1`, bench, simulated, part)
	if err != nil || !found {
		return nil, err
	}
	return &t, nil
}

// PumpCalibration is one calibration of a pump: volumes caught at several duties, accepted or refused.
type PumpCalibration struct {
	Number     int64 // given by PutPumpCalibration
	Bench      string
	Simulated  bool
	Part       string // pump or rinse-pump
	Made       time.Time
	Program    string
	Liquid     string
	Accepted   bool
	Said       string
	CreepMLMin *float64 // flow with the pump off; nil when nobody looked
	Points     []PumpPoint
}

// PumpPoint is a volume caught in a time at a duty.
type PumpPoint struct {
	DutyPct  float64
	VolumeML float64
	Time     time.Duration
}

// PutPumpCalibration writes a calibration down as a new row, with its points. It is durable when it returns.
func (r *Record) PutPumpCalibration(ctx context.Context, c PumpCalibration) (n int64, err error) {
	err = r.update(ctx, func(tx *sql.Tx) error {
		if n, err = next(ctx, tx, "pump_calibration"); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `insert into pump_calibration (number, bench, simulated, part, made_wall, program, liquid,
			accepted, said, creep_ml_min) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`, n, c.Bench, c.Simulated, c.Part, wallText(c.Made),
			c.Program, c.Liquid, c.Accepted, c.Said, optional(c.CreepMLMin)); err != nil {
			return err
		}
		for i, p := range c.Points {
			if _, err := tx.ExecContext(ctx, `insert into pump_point (calibration, seq, duty_pct, volume_ml, time_s)
				values (?, ?, ?, ?, ?)`, n, i, number(p.DutyPct), number(p.VolumeML), seconds(p.Time)); err != nil {
				return err
			}
		}
		return nil
	})
	return n, err
}

// PumpCalibrations returns every calibration of a pump of a bench, refused ones as well, oldest first.
func (r *Record) PumpCalibrations(ctx context.Context, bench string, simulated bool, part string) ([]PumpCalibration, error) {
	all, err := list(ctx, r, `select number, bench, simulated, part, made_wall, program, liquid, accepted, said, creep_ml_min
		from pump_calibration where bench = ? and simulated = ? and part = ? order by number`, func(c *PumpCalibration) []any {
		return []any{&c.Number, &c.Bench, &c.Simulated, &c.Part, intoWall{&c.Made}, &c.Program, &c.Liquid, &c.Accepted, &c.Said, &c.CreepMLMin}
	}, bench, simulated, part)
	if err != nil {
		return nil, err
	}
	for i := range all {
		all[i].Points, err = list(ctx, r, `select duty_pct, volume_ml, time_s from pump_point where calibration = ? order by seq`,
			func(p *PumpPoint) []any { return []any{&p.DutyPct, &p.VolumeML, intoSeconds{&p.Time}} }, all[i].Number)
		if err != nil {
			return nil, err
		}
	}
	return all, nil
}
