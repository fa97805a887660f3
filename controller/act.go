package controller

import (
	"time"

	"fullery/recipe"
)

// act asks for what the state wants. What it asks is a wish: clamp has the last word.
func (p *Program) act(s *State, v *view, out *Outputs) {
	switch s.Cycle {
	case Running:
		p.run(s, v, out)
	case Restarting:
		p.restarting(s, v, out)
	case Holding:
		if s.InState >= p.timing.rundown {
			p.enter(s, Held, &out.Events)
		}
	case Stopping:
		if p.cleared(s) {
			p.enter(s, Stopped, &out.Events)
		}
	case Aborting:
		if p.cleared(s) {
			p.enter(s, Aborted, &out.Events)
		}
	case Idle:
		p.zeroing(s, v)
	case Held, Stopped, Aborted, Complete: // at rest until an order comes
	}
	if s.Cycle != Running {
		p.air(s, &out.Levels)
	}
}

// run asks for the work of the stage, and goes on to the next when it is done.
func (p *Program) run(s *State, v *view, out *Outputs) {
	how := p.work(s, v, &out.Levels)
	if how == NotEnded {
		return
	}
	out.Levels = Levels{Fan: out.Levels.Fan} // one step of rest between stages; the fan is not switched for it
	p.nextStage(s, v, how, &out.Events)
	if s.Cycle != Running {
		out.Levels = Levels{}
	}
}

// work asks for what the stage wants, and tells when it is done.
func (p *Program) work(s *State, v *view, want *Levels) Ending {
	want.Fan, want.Hub = v.stage.Fan, v.stage.Hub
	switch v.stage.Do {
	case recipe.Wet:
		return p.wet(s, v, want)
	case recipe.Scrub:
		return p.scrub(s, v, want)
	case recipe.Rinse:
		return p.rinse(s, v, want)
	case recipe.SpinOut:
		return p.spinOut(s, v, want)
	case recipe.Soak:
		return p.soak(s, v, want)
	case recipe.Dry:
		return p.dry(s, v, want)
	default:
		return WorkDone
	}
}

// restarting brings the fan up where the stage needs it, and then runs again.
func (p *Program) restarting(s *State, v *view, out *Outputs) {
	ready := s.InState >= p.timing.restart && (v.stage.Fan == 0 || p.fanProven(s, v))
	if ready {
		p.enter(s, Running, &out.Events)
		out.Levels.Fan = v.stage.Fan
	}
}

// cleared tells whether everything has come to rest and the vapour is purged, or cannot be.
func (p *Program) cleared(s *State) bool {
	return s.InState >= p.timing.rundown && (s.PurgeLeft == 0 || s.FanBad || s.InState >= 3*p.timing.purge)
}

// air asks for the fan in the states that do no work: after a flammable liquid until a cycle is complete or a
// person resets, after the heater until it has cooled, and when heat was the trouble. Only a fan that failed is left off.
func (p *Program) air(s *State, want *Levels) {
	switch {
	case s.Cycle == Idle || s.FanBad || p.bench.Fan.Fastest == 0:
		return
	case s.Cycle == Restarting && p.stages[s.Stage].Fan > 0:
		want.Fan = p.stages[s.Stage].Fan
	case s.Cycle != Complete && p.wetWithFlammable(s),
		s.Blow, s.Cause == HeaterStuck || s.Cause == AirTooHot,
		s.Heated && s.HeaterOff < p.timing.cool:
		want.Fan = 1
	}
}

// lasts tells whether a timed stage's work is done: it ends with the last whole tick that fits, so that what a
// pump gives is not more than the recipe asks but by the lateness of that tick.
func (p *Program) lasts(s *State, v *view) Ending {
	if s.Worked+p.timing.tick > v.stage.For {
		return WorkDone
	}
	return NotEnded
}

// pours is lasts for a stage that gives liquid: it is done as well when the last drop of the dose is given.
func (p *Program) pours(s *State, v *view) Ending {
	if !p.doseLeft(s, v) {
		return WorkDone
	}
	return p.lasts(s, v)
}

// working tells whether a stage's work has really been going on since the step before. It is asked before this
// step decides anything, so it is about what was driven.
func (st *stage) working(s *State, v *view) bool {
	switch st.Do {
	case recipe.Wet:
		return s.Drove.Pump > 0
	case recipe.Scrub:
		return s.Drove.Pads != 0
	case recipe.Rinse:
		return s.Drove.RinsePump > 0
	case recipe.SpinOut:
		return s.Drove.Hub > 0
	case recipe.Dry:
		return s.Drove.Fan > 0 && s.FanProof > 0
	default:
		return true
	}
}

func (st *stage) isDry() bool { return st.Do == recipe.Dry }

// reversed tells whether the pads turn the other way now: they turn round after each span of work.
func (st *stage) reversed(worked time.Duration) bool {
	return st.Reverse > 0 && worked/st.Reverse%2 == 1
}
