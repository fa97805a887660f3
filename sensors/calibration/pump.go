package calibration

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"
)

// Run is one volume caught from a pump that ran for a time at one duty.
type Run struct {
	Duty   float64 // fraction of full, above 0 to 1
	Volume float64 // m³
	Time   time.Duration
}

// FlowPoint is what a pump gives at one duty.
type FlowPoint struct {
	Duty float64 // fraction of full
	Flow float64 // m³/s
	SE   float64 // standard uncertainty of Flow, m³/s
	Runs int
}

// Curve is what a pump gives at several duties, rising in both. It holds for one pump, one tube and one liquid. Between
// its points it is drawn straight; outside of them it says nothing, because a pump is not proportional to its power.
type Curve struct {
	Points []FlowPoint
	DF     int      // degrees of freedom of the uncertainties
	Notes  []string // what a person should know of it, one sentence each
}

// PumpCurve makes a pump's curve of runs in any order, at least two at each of at least two duties. All runs together
// tell the scatter, as a share of the flow, since two runs alone tell hardly any. Flow that falls by more than the scatter
// while the duty rises is refused; where more duty gives no more flow that could be told, the curve keeps the lower duty.
func PumpCurve(runs []Run) (Curve, error) {
	flows := map[float64][]float64{}
	for i, r := range runs {
		if err := r.usable(); err != nil {
			return Curve{}, fmt.Errorf("run %d: %w", i+1, err)
		}
		flows[r.Duty] = append(flows[r.Duty], r.flow())
	}
	if len(flows) < 2 {
		return Curve{}, errors.New("one duty makes no curve: catch the volume at two duties at least, the lowest and the highest that will be used")
	}
	c := Curve{}
	var squares float64 // of the distances from the means, as shares of them: a pump's scatter grows with its flow
	for _, duty := range slices.Sorted(maps.Keys(flows)) {
		at := flows[duty]
		if len(at) < 2 {
			return Curve{}, fmt.Errorf("at %s there is only one run, which tells nothing of the scatter: catch the volume twice at least", percent(duty))
		}
		slices.Sort(at) // so that the order of the runs changes nothing
		p := FlowPoint{Duty: duty, Runs: len(at)}
		for _, f := range at {
			p.Flow += f / float64(len(at))
		}
		c.Points = append(c.Points, p)
		c.DF += len(at) - 1
	}
	for _, p := range c.Points {
		for _, f := range flows[p.Duty] {
			squares += (f/p.Flow - 1) * (f/p.Flow - 1)
		}
	}
	scatter := math.Sqrt(squares / float64(c.DF))
	for i := range c.Points {
		p := &c.Points[i]
		p.SE = scatter * p.Flow / math.Sqrt(float64(p.Runs))
	}
	return c.rising(scatter)
}

func (r Run) flow() float64 { return r.Volume / r.Time.Seconds() }

// usable refuses a run that would make a flow of nothing, or of everything.
func (r Run) usable() error {
	switch {
	case !(r.Duty > 0 && r.Duty <= 1):
		return errors.New("the duty must be above 0 % and at most 100 %")
	case !(r.Volume > 0) || !finite(r.Volume):
		return fmt.Errorf("nothing was caught at %s: prime the tube, look whether the pump turns, and catch it again", percent(r.Duty))
	case r.Time <= 0:
		return fmt.Errorf("the time at %s must be more than nothing", percent(r.Duty))
	case !(r.flow() > 0) || !finite(r.flow()):
		return fmt.Errorf("what was caught at %s makes no flow: look at volume and time", percent(r.Duty))
	}
	return nil
}

// rising joins neighbours that cannot be told apart until the flow rises everywhere, and refuses a flow that truly falls.
func (c Curve) rising(scatter float64) (Curve, error) {
	var kept []FlowPoint
	for _, p := range c.Points {
		// What is joined may lie below the one before it in turn.
		for len(kept) > 0 && p.Flow <= kept[len(kept)-1].Flow {
			below := kept[len(kept)-1]
			// The second question is for catches that agree to the last digit: rounding is no fall.
			if below.Flow-p.Flow > Student95(c.DF)*math.Hypot(below.SE, p.SE) && below.Flow > p.Flow*(1+1e-9) {
				return Curve{}, fmt.Errorf("the pump gives less at %s (%s) than at %s (%s): look for air in the tube or a slipping head, and measure again",
					percent(p.Duty), perMinute(p.Flow), percent(below.Duty), perMinute(below.Flow))
			}
			c.Notes = append(c.Notes, fmt.Sprintf("%s gives no more than %s that could be told, so the curve leaves it out", percent(p.Duty), percent(below.Duty)))
			n := float64(below.Runs + p.Runs)
			p = FlowPoint{Duty: below.Duty, Flow: (below.Flow*float64(below.Runs) + p.Flow*float64(p.Runs)) / n, Runs: below.Runs + p.Runs}
			p.SE = scatter * p.Flow / math.Sqrt(n)
			kept = kept[:len(kept)-1]
		}
		kept = append(kept, p)
	}
	if len(kept) < 2 {
		return Curve{}, errors.New("more duty gives no more flow: look whether the duty reaches the pump, and choose duties farther apart")
	}
	c.Points = kept
	return c, nil
}

// Flow returns the flow (m³/s) at a duty with its standard uncertainty; nothing at duty 0. It refuses a duty below or above
// those that were measured.
func (c Curve) Flow(duty float64) (flow, uncertainty float64, err error) {
	if duty == 0 {
		return 0, 0, nil
	}
	a, b, w, ok := c.around(duty, func(p FlowPoint) float64 { return p.Duty })
	if !ok {
		return math.NaN(), math.NaN(), c.outside(percent(duty), func(p FlowPoint) string { return percent(p.Duty) })
	}
	return a.Flow + w*(b.Flow-a.Flow), math.Hypot((1-w)*a.SE, w*b.SE), nil
}

// Duty returns the duty that gives a flow (m³/s). It refuses a flow below or above those that were measured, and one that
// is not above nothing.
func (c Curve) Duty(flow float64) (float64, error) {
	a, b, w, ok := c.around(flow, func(p FlowPoint) float64 { return p.Flow })
	if !ok || !(flow > 0) {
		return math.NaN(), c.outside(perMinute(flow), func(p FlowPoint) string { return perMinute(p.Flow) })
	}
	return a.Duty + w*(b.Duty-a.Duty), nil
}

// Time returns how long the pump must run at a duty to give a volume (m³). longest is the most that is allowed: a flow
// that is wrong must not become a pump that never stops.
func (c Curve) Time(volume, duty float64, longest time.Duration) (time.Duration, error) {
	flow, _, err := c.Flow(duty)
	switch {
	case err != nil:
		return 0, err
	case !(volume > 0) || !finite(volume):
		return 0, errors.New("the volume must be more than nothing")
	case !(flow > 0) || !finite(flow):
		return 0, fmt.Errorf("the pump gives nothing at %s: calibrate it", percent(duty))
	}
	// Compared as a float: a time that does not fit a Duration would wrap to a short one.
	takes := volume / flow
	if !(takes <= longest.Seconds()) {
		return 0, fmt.Errorf("%.3g mL would take %.0f s at %s, and %.0f s is the most: more duty, or less liquid", 1e6*volume, takes, perMinute(flow), longest.Seconds())
	}
	return time.Duration(takes * float64(time.Second)), nil
}

// rounding is the share by which a value may lie past an end of the curve and still mean it: units are converted on the way.
const rounding = 1e-9

// around returns the two points around a value and how far it lies from the first to the second.
func (c Curve) around(v float64, of func(FlowPoint) float64) (a, b FlowPoint, w float64, ok bool) {
	for i, p := range c.Points {
		end := i == 0 && v < of(p) || i == len(c.Points)-1 && v > of(p)
		if of(p) == v || end && math.Abs(of(p)-v) <= rounding*of(p) {
			return p, p, 0, true
		}
		if i > 0 && of(c.Points[i-1]) < v && v < of(p) {
			a := c.Points[i-1]
			return a, p, (v - of(a)) / (of(p) - of(a)), true
		}
	}
	return a, b, 0, false
}

// outside says where the curve ends, in the unit that was asked in.
func (c Curve) outside(what string, of func(FlowPoint) string) error {
	if len(c.Points) == 0 {
		return errors.New("the pump is not calibrated: run fullery bench pump calibrate")
	}
	low, high := of(c.Points[0]), of(c.Points[len(c.Points)-1])
	if len(c.Points) == 1 {
		return fmt.Errorf("%s was not measured, only %s was: a pump is not proportional to its power, so calibrate it there too", what, low)
	}
	return fmt.Errorf("%s was not measured, only %s to %s: a pump is not proportional to its power, so calibrate it there too", what, low, high)
}

// percent writes a share as a duty is written in a bench file.
func percent(share float64) string { return fmt.Sprintf("%.4g %%", 100*share) }

// perMinute writes a flow as one reads it off a cylinder.
func perMinute(flow float64) string { return fmt.Sprintf("%.3g mL/min", 60e6*flow) }
