package sensors

import (
	"fmt"
	"math"
	"time"
)

// Steady asks whether a series of readings is steady enough to be called a weight or a force. With a motor running
// beside the cell it is not, and its mean is then no better for being a mean.
type Steady struct {
	SD    float64 // largest standard deviation of the readings that is accepted, in their unit
	Least int     // fewest readings; below 3 counts as 3
	Drift float64 // largest change from the first half to the second; 0: SD
}

// Mean is a steady series in short.
type Mean struct {
	Value float64
	SD    float64 // of one reading
	N     int
}

// SE returns the standard uncertainty of the mean, if the readings are independent.
func (m Mean) SE() float64 { return m.SD / math.Sqrt(float64(max(m.N, 1))) }

// Of returns mean and standard deviation of a series, or why it must not be used.
func (s Steady) Of(values []float64) (Mean, error) {
	n := len(values)
	if n < max(s.Least, 3) {
		return Mean{}, fmt.Errorf("%d readings are too few: take at least %d", n, max(s.Least, 3))
	}
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Mean{}, fmt.Errorf("a reading is missing or is no number: take the series again")
		}
	}
	m := Mean{N: n, Value: mean(values)}
	for _, v := range values {
		m.SD += (v - m.Value) * (v - m.Value) / float64(n-1)
	}
	m.SD = math.Sqrt(m.SD)
	if !(m.SD <= s.SD) {
		return Mean{}, fmt.Errorf("not stable: the readings scatter by %.3g (standard deviation), %.3g is allowed; switch pads, hub and fan off and wait", m.SD, s.SD)
	}
	allowed := s.Drift
	if allowed == 0 {
		allowed = s.SD
	}
	if d := mean(values[n-n/2:]) - mean(values[:n/2]); !(math.Abs(d) <= allowed) {
		return Mean{}, fmt.Errorf("still moving: the second half of the readings lies %.3g from the first, %.3g is allowed; wait longer", d, allowed)
	}
	return m, nil
}

func mean(values []float64) (m float64) {
	for _, v := range values {
		m += v / float64(len(values))
	}
	return m
}

// Zero is what a scale or cell showed with nothing on it.
type Zero struct {
	At    time.Duration
	Value float64
	SE    float64 // its standard uncertainty
}

// DriftGuard decides whether a change of weight may be believed. A cell warms, its amplifier warms, and it creeps under
// load; all three look like a mass that comes or goes, and no filter takes them out, since they are slow and smooth. Only
// an empty cell shows them.
type DriftGuard struct {
	Tolerance float64       // most that the zero may move between before and after, in the unit of the weight
	WarmUp    time.Duration // powered for so long before a change means anything
}

// Trust returns nil when a change of the given size within the given span may be decided on by a cell whose zero was
// looked at before and after, and otherwise why not. powered is how long the cell had its power at the first zero.
func (g DriftGuard) Trust(powered time.Duration, before, after Zero, change float64, within time.Duration) error {
	drift, span := after.Value-before.Value, after.At-before.At
	doubt := 2 * math.Hypot(before.SE, after.SE) // about 95 %
	switch {
	case powered < g.WarmUp:
		return fmt.Errorf("weight not trusted: the cell has been on for %v only and warms up for %v", powered.Round(time.Second), g.WarmUp)
	case span <= 0:
		return fmt.Errorf("weight not trusted: its zero was not looked at both before and after")
	case !(math.Abs(drift)+doubt <= g.Tolerance):
		return fmt.Errorf("weight not trusted: its zero moved by %.3g ± %.2g in %v, %.3g is allowed", drift, doubt, span.Round(time.Second), g.Tolerance)
	}
	// Half, so that drift alone can never make a change that stands or falls by it.
	moves := (math.Abs(drift) + doubt) * within.Seconds() / span.Seconds()
	if !(moves <= math.Abs(change)/2) {
		return fmt.Errorf("weight not trusted: its zero alone may move by %.3g in %v, too much to tell a change of %.3g", moves, within, math.Abs(change))
	}
	return nil
}
