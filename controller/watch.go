package controller

import "fullery/recipe"

// watch asks every guard its question and carries out the response of those that trip.
func (p *Program) watch(s *State, v *view, ev *Events) {
	kind := v.stage.Do
	for rest := lookouts[s.Cycle][kind] | s.Waiting; rest != 0; rest &= rest - 1 {
		g := rest.first()
		if lookouts[s.Cycle][kind].Has(g) && p.present(g, s, v) {
			r := &guards[g]
			s.Held[g] = min(s.Held[g]+v.dt, max(r.debounce, p.timing.clear))
			s.Waiting.put(g)
			if !s.Tripped.Has(g) && s.Held[g] >= r.debounce {
				p.trip(s, v, g, ev)
			}
			continue
		}
		p.release(s, v, g, ev)
	}
}

// lookouts is the guard table's states and stages turned round: which guards look in a state and a stage.
var lookouts = func() (table [numStates][recipe.Dry + 1]GuardSet) {
	for g := noGuard + 1; g < numGuards; g++ {
		for c := range numStates {
			for k := recipe.Wet; k <= recipe.Dry; k++ {
				if guards[g].states.has(c) && guards[g].stages.has(k) {
					table[c][k].put(g)
				}
			}
		}
	}
	return table
}()

// trip records that a guard tripped and carries out its response.
func (p *Program) trip(s *State, v *view, g Guard, ev *Events) {
	r := &guards[g]
	s.Tripped.put(g)
	s.Held[g] = max(r.debounce, p.timing.clear)
	ev.add(Event{Kind: GuardTripped, Guard: g, Stage: s.Stage, Sensor: v.suspect(g), From: s.Cycle})
	switch g {
	case FanUnproven:
		s.FanBad = true
	case VapourHigh: // whatever else ended the cycle, and whatever its liquid is
		s.Blow, s.PurgeLeft = true, p.timing.purge
	case AirTooHot, HeaterStuck:
		s.Blow = true
	}
	switch r.response {
	case ToAbort:
		p.leave(s, v, Aborting, g, ev)
	case ToHold:
		if working.has(s.Cycle) {
			p.leave(s, v, Holding, g, ev)
		}
	case Warn:
	}
}

// release counts how long a cause has been gone. A guard that has not tripped forgets at once; one that has takes
// p.timing.clear to do so, so that a cause at its edge is told once and not twenty times a second.
func (p *Program) release(s *State, v *view, g Guard, ev *Events) {
	if !s.Tripped.Has(g) {
		s.Held[g] = 0
		s.Waiting.drop(g)
		return
	}
	if p.present(g, s, v) { // still there, though the cycle has left where the guard acts
		return
	}
	s.Held[g] = max(s.Held[g]-v.dt, 0)
	if s.Held[g] == 0 {
		s.Tripped.drop(g)
		s.Waiting.drop(g)
		ev.add(Event{Kind: GuardCleared, Guard: g, Stage: s.Stage})
	}
}

// suspect names the sensor behind a guard that watches readings; NumSensors for the others.
func (v *view) suspect(g Guard) recipe.Sensor {
	switch g {
	case ReadingStale:
		return (v.stage.needs & v.stale).first()
	case ReadingImplausible:
		return (v.stage.needs & v.implausible).first()
	default:
		return recipe.NumSensors
	}
}

// causeRemains returns the most urgent guard that would hold or abort the cycle if it ran its stage now, without
// waiting for any debounce; noGuard when there is none, or none that the order itself removes.
func (p *Program) causeRemains(s *State, v *view) Guard {
	for g := noGuard + 1; g < numGuards; g++ {
		r := &guards[g]
		if r.response != Warn && (r.states.has(Running)) && r.stages.has(v.stage.Do) && !forgives(v.in.Command.Order, g) && p.present(g, s, v) {
			return g
		}
	}
	return noGuard
}
