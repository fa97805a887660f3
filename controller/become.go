package controller

import (
	"math"
	"time"

	"fullery/recipe/endpoint"
)

// The arrivals: one function a change of state or stage, which sets everything that belongs to what is entered.

// enter changes the state of the cycle and says so.
func (p *Program) enter(s *State, to CycleState, ev *Events) {
	ev.add(Event{Kind: StateChanged, From: s.Cycle, To: to, Stage: s.Stage, Guard: s.Cause})
	s.Cycle, s.InState = to, 0
}

// begin starts a cycle on a dry, unwetted disk: the only moment at which the jacket's own offset can be read.
func (p *Program) begin(s *State, v *view, ev *Events) {
	next := s.afresh()
	next.Drying.Seen = s.Drying.Seen
	*s = next
	p.zero(s, v, ev)
	p.enter(s, Running, ev)
	p.beginStage(s, v, 0, ev)
}

// afresh is the state of a bench whose cycle is forgotten: what was driven last, how long its parts must still rest, and
// what would tell of a heater that stays on.
func (s *State) afresh() State {
	return State{Last: s.Last, Ticking: true, Drove: s.Drove, HeaterOff: s.HeaterOff, AirLow: s.AirLow,
		PadsRest: s.PadsRest, PumpRest: s.PumpRest, HeaterRest: s.HeaterRest}
}

// zeroMost is how far (K) a dry jacket, or the air leaving, may be from the air for the difference to be its sensor's
// offset. A disk that comes cold from a cellar is further off; its difference would fade, and be taken for dryness.
const zeroMost = 0.3

// zeroing reads the dry disk while a bench waits for its cycle to start.
func (p *Program) zeroing(s *State, v *view) {
	d, end := &s.Drying, p.lastEnd()
	if end == nil || p.arrives {
		return
	}
	if d.Unseen += v.dt; d.Unseen >= p.timing.ask {
		end.Zero(&d.Seen, v.dryness(), d.Unseen.Seconds())
		d.Unseen = 0
	}
}

// lastEnd is the end point of the drying that the recipe ends with; nil when it has none, or nothing is known of it.
func (p *Program) lastEnd() *endpoint.Plan {
	if p.lastDry < 0 {
		return nil
	}
	return p.stages[p.lastDry].end
}

// ReadsDry returns how long the dry disk is best read yet before the cycle is started: what is read now is what dryness
// will be told by. It is 0 once that is known well enough, and where nothing will need it.
func (p *Program) ReadsDry(s *State) time.Duration {
	end := p.lastEnd()
	if end == nil || p.arrives || s.Cycle != Idle || !p.stages[p.lastDry].evidence.Proven() {
		return 0
	}
	read := s.Drying.Seen.Tracks[p.stages[p.lastDry].evidence-1].Read
	return max(seconds(end.Reading()-read), 0)
}

// zero takes what the dry disk read as the sensors' own offsets, or says that it cannot be trusted to tell dryness later.
func (p *Program) zero(s *State, v *view, ev *Events) {
	seen := &s.Drying.Seen
	end := p.lastEnd()
	if end == nil || p.arrives {
		*seen = endpoint.State{}
		return
	}
	if seen.Nothing() { // started at once: better one reading than none
		end.Zero(seen, v.dryness(), p.timing.ask.Seconds())
	}
	seen.Begin()
	for _, e := range [...]Evidence{BySurface, ByAir} {
		offset := seen.Tracks[e-1].Zero
		if !seen.Zeroed(e) || math.Abs(offset) <= zeroMost {
			continue
		}
		seen.Forget(e)
		if e == p.stages[p.lastDry].evidence {
			ev.add(Event{Kind: ZeroRefused, Value: offset, Evidence: e})
		}
	}
}

// beginStage begins a stage from its start.
func (p *Program) beginStage(s *State, v *view, i int8, ev *Events) {
	s.Stage, s.InStage, s.Worked, s.Warmth = i, 0, 0, 0
	goesOn := v.stage.isDry() && p.stages[i].isDry() // several in a row share one drying
	if !goesOn {
		s.Drying.Seen.Begin()
	}
	s.Drying = Drying{Seen: s.Drying.Seen}
	v.stage = &p.stages[i]
	ev.add(Event{Kind: StageBegun, Stage: i})
}

// endStage says how a stage ended.
func (p *Program) endStage(s *State, how Ending, ev *Events) {
	ev.add(Event{Kind: StageEnded, Stage: s.Stage, Ending: how, Value: s.InStage.Seconds()})
}

// nextStage goes on to the next stage, or completes the cycle.
func (p *Program) nextStage(s *State, v *view, how Ending, ev *Events) {
	if v.stage.isDry() {
		s.Drying.Took = s.Worked
		ev.add(Event{Kind: LiquidDried, Stage: s.Stage, Value: s.Worked.Minutes(), Evidence: s.Drying.Evidence})
	}
	p.endStage(s, how, ev)
	if int(s.Stage)+1 == len(p.stages) {
		p.enter(s, Complete, ev)
		return
	}
	p.beginStage(s, v, s.Stage+1, ev)
}

// leave takes a cycle out of its work, towards held, stopped or aborted. Where IEC 61512-1 has no such transition
// nothing happens.
func (p *Program) leave(s *State, v *view, to CycleState, cause Guard, ev *Events) {
	if !allowed(s.Cycle, to) {
		return
	}
	if to != Holding && s.Cycle != Stopping {
		how := CutByOrder
		if cause != noGuard || s.Cause != noGuard { // a guard ends it now, or held it before
			how = CutByGuard
		}
		p.endStage(s, how, ev)
	}
	s.Cause = cause
	s.MustLook = s.MustLook || guards[cause].look
	s.Drying.Seen.Pause()
	if p.stages[s.Stage].isDry() {
		s.Drying.Broken, s.Drying.Resumed = true, s.Worked
	}
	if p.wetWithFlammable(s) {
		s.PurgeLeft = p.timing.purge
	}
	p.enter(s, to, ev)
}

// restart lets a held cycle run again, from where its stage was left; a stage that ran out of time gets its time once
// more, and so does one that was cut short.
func (p *Program) restart(s *State, v *view, ev *Events) {
	if p.stageOvertime(s, v) || s.Cause == CutShort {
		s.InStage, s.Worked = 0, 0
	}
	s.MustLook, s.FanBad, s.Cause = false, false, noGuard
	s.Tripped, s.Waiting, s.Held = 0, 0, [numGuards]time.Duration{} // every guard may trip anew
	p.enter(s, Restarting, ev)
}

// Interrupted is the state in which a bench comes up after power or program failed in the middle of a cycle: held,
// everything off, at the start of the stage that was cut short. Dosed is what the record knows to have been given, in
// m³. Nothing but an operator's order leaves it.
func (p *Program) Interrupted(stage int, dosed float64) State {
	s := State{Cycle: Held, Cause: CutShort, MustLook: true, Dosed: dosed}
	s.Stage = int8(min(max(stage, 0), len(p.stages)-1))
	if p.flammable {
		s.PurgeLeft = p.timing.purge
	}
	s.Heated = p.stages[s.Stage].Warm > 0 // what was warm then may be warm now: the fan cools it
	return s
}

// wetWithFlammable tells whether something flammable is, or may be, evaporating in the bench: from the disk, from pads
// that still hold what an earlier cycle gave them, or from a bottle that stands open beside a cycle with water.
func (p *Program) wetWithFlammable(s *State) bool {
	return p.flammable && s.Cycle != Idle || s.Cause == VapourHigh
}

// allowed tells whether Transitions holds a change of state.
func allowed(from, to CycleState) bool { return exits[from].has(to) }

var exits = func() (table [numStates]stateSet) {
	for _, t := range Transitions() {
		table[t.From] |= states(t.To)
	}
	return table
}()
