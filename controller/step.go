package controller

import "time"

// Step is the whole controller: from what is remembered and what is seen to what is remembered next and what every
// actuator shall do. It is pure and deterministic: time comes in as in.Now, effects leave as data.
//
//  1. advance: count what ran since the last step (times, dose, proofs).
//  2. watch:   the guards. They look before anything else is decided, and a hold or abort takes effect in this step.
//  3. obey:    the operator's order, if the state and the guards allow it.
//  4. act:     what the state wants: a running cycle its stage's work, every other state rest and, after a flammable
//     liquid, the fan.
//  5. clamp:   the last word, straight from the readings, without debounce: what must not be on is not on.
//
// Nothing a stage asks for reaches an actuator except through clamp.
func (p *Program) Step(s State, in Inputs) (next State, out Outputs) {
	next = s
	p.step(&next, &in, &out)
	return next, out
}

// step is Step in place, for the loop: it changes the state and overwrites the outputs.
func (p *Program) step(s *State, in *Inputs, out *Outputs) {
	out.Levels, out.Events.n = Levels{}, 0
	v := p.see(s, in)
	v.dt = p.advance(s, &v)
	p.watch(s, &v, &out.Events)
	p.obey(s, &v, &out.Events)
	p.act(s, &v, out)
	p.clamp(s, &v, &out.Levels)
	s.Drove = out.Levels
	out.Next = in.Now + p.timing.tick
}

// advance counts the time since the step before, as what the bench was asked to do in it.
func (p *Program) advance(s *State, v *view) time.Duration {
	t := &p.timing
	dt := v.in.Now - s.Last
	if !s.Ticking || dt < 0 {
		dt = 0
	}
	s.Late = s.Ticking && (dt > t.late || v.in.Now < s.Last)
	s.Last, s.Ticking = v.in.Now, true

	s.InState = min(s.InState+dt, t.longest(s.Cycle))
	if s.Cycle == Running {
		s.InStage = min(s.InStage+dt, v.stage.AtMost)
		s.Total = min(s.Total+dt, p.recipe.Limits.Time)
		if v.stage.working(s, v) {
			s.Worked = min(s.Worked+dt, v.stage.AtMost)
		}
	}
	if s.Drove.Pump > 0 || s.Drove.RinsePump > 0 {
		s.Dosed += v.stage.Flow * dt.Seconds()
	}
	p.advanceFan(s, v, dt)
	p.advanceHeater(s, v, dt)
	s.PressedFor = countWhile(s.Drove.Press, s.PressedFor, dt, t.settle)
	s.AwayFor = countWhile(!s.Drove.Press, s.AwayFor, dt, t.settle)
	s.PadsFor = countWhile(s.Drove.Pads != 0, s.PadsFor, dt, t.padsSpin)
	s.HubFor = countWhile(s.Drove.Hub != 0, s.HubFor, dt, t.hubSpin)
	s.PadsRest = max(s.PadsRest-dt, 0)
	s.PumpRest = max(s.PumpRest-dt, 0)
	s.HeaterRest = max(s.HeaterRest-dt, 0)
	return dt
}

// advanceFan counts how long the fan has been asked, how long its tach has agreed, and what the vapour still needs.
func (p *Program) advanceFan(s *State, v *view, dt time.Duration) {
	t := &p.timing
	on := s.Drove.Fan > 0
	s.FanAsked = countWhile(on, s.FanAsked, dt, t.spinUp)
	s.FanProof = countWhile(on && p.fanTurns(s, v), s.FanProof, dt, t.proof)
	s.FanDoubt = countWhile(on && !p.fanProven(s, v), s.FanDoubt, dt, doubtFor*t.spinUp)
	if p.fanProven(s, v) {
		s.PurgeLeft = max(s.PurgeLeft-dt, 0)
	}
}

// advanceHeater counts how long the heater has been off and the coolest air since: a heater that is off must not
// warm.
func (p *Program) advanceHeater(s *State, v *view, dt time.Duration) {
	air := v.value(airSensor)
	if s.Drove.Heater > 0 {
		s.HeaterOff, s.AirLow, s.Heated = 0, 0, true
		return
	}
	s.HeaterOff = min(s.HeaterOff+dt, max(p.timing.stuck, p.timing.cool))
	if s.AirLow == 0 || air < s.AirLow {
		s.AirLow = orZero(air)
	}
}

// countWhile counts a span up to a cap while something is on, and forgets it when it is not.
func countWhile(on bool, span, dt, most time.Duration) time.Duration {
	if !on {
		return 0
	}
	return min(span+dt, most)
}

// orZero keeps a number that is not one out of the state, which must stay comparable.
func orZero(x float64) float64 {
	if x != x {
		return 0
	}
	return x
}
