package controller

import (
	"math"
	"math/bits"
	"time"

	"fullery/recipe"
)

// view is what one step sees: the inputs with every reading judged once.
type view struct {
	in          *Inputs
	stage       *stage
	dt          time.Duration // since the step before
	usable      SensorSet     // good, fresh and possible
	stale       SensorSet     // absent, failed or too old
	implausible SensorSet     // refused by a filter, or impossible
}

// plausible is the range outside which a reading is impossible, in the sensor's unit. It is as wide as the
// instruments of this trade can honestly read, wider than anything a cycle meets: its work is to catch nonsense.
var plausible = [recipe.NumSensors]struct{ low, high float64 }{
	recipe.Lid: {0, 1}, recipe.EStop: {0, 1}, recipe.TrayFloat: {0, 1}, recipe.TankFloat: {0, 1},
	recipe.RinseFloat: {0, 1},
	recipe.PadFront:   {-5, 200}, recipe.PadBack: {-5, 200},
	recipe.PadsSpeed: {-100, 100}, recipe.HubSpeed: {-100, 100}, recipe.FanSpeed: {0, 1000},
	recipe.AirIn: {233, 358}, recipe.Air: {233, 393}, recipe.AirOut: {233, 393}, recipe.Surface: {233, 393},
	recipe.AirInRH: {0, 1}, recipe.AirOutRH: {0, 1},
	recipe.Vapour: {-0.05, 10}, recipe.Weight: {-0.1, 5},
}

// see judges every reading. A reading that is not both fresh and plausible is worth nothing to any rule.
func (p *Program) see(s *State, in *Inputs) view {
	v := view{in: in, stage: &p.stages[p.within(s)]}
	for i := range in.Readings {
		r, bit := &in.Readings[i], SensorSet(1)<<i
		switch {
		case r.Quality == Implausible:
			v.implausible |= bit
		case r.Quality != Good || r.Age > p.stale[i] || r.Age < 0:
			v.stale |= bit
		case r.Value >= plausible[i].low && r.Value <= plausible[i].high && !between(recipe.Sensor(i), r.Value):
			v.usable |= bit
		default: // out of range, not a number, or a contact that is neither open nor closed
			v.implausible |= bit
		}
	}
	return v
}

// between tells whether a contact reads what no contact can: neither open nor closed.
func between(s recipe.Sensor, value float64) bool { return s.Contact() && value != 0 && value != 1 }

// within keeps a state that was not made by this program from naming a stage that it has not.
func (p *Program) within(s *State) int8 {
	s.Stage = min(max(s.Stage, 0), int8(len(p.stages)-1))
	return s.Stage
}

// value returns a reading's value, or NaN when it is not usable: every comparison with it is then false.
func (v *view) value(s recipe.Sensor) float64 {
	if !v.usable.Has(s) {
		return math.NaN()
	}
	return v.in.Readings[s].Value
}

// well tells whether a contact surely reads that all is well.
func (v *view) well(s recipe.Sensor) bool { return v.value(s) == 1 }

// tripped tells whether a contact surely reads trouble.
func (v *view) tripped(s recipe.Sensor) bool { return v.value(s) == 0 }

// first returns the first sensor of a set.
func (set SensorSet) first() recipe.Sensor { return recipe.Sensor(bits.TrailingZeros32(uint32(set))) }
