package controller

import (
	"fmt"
	"slices"
	"time"

	"fullery/recipe"
)

// What a walk keeps account of beside the controller's state, from what was driven and what the clock said alone, so that a
// wrong count there does not hide here. As long as the controller counts right it is the same, and adds no state.
//
// The rests: a motor, a pump and the heater's switch that went off stay off for a stated time. Nothing else has a least
// time, and off is never delayed:
//   - the fan only does good by running, and what must be off with it is off on its own account;
//   - the hub, the press and the heater's second line go off for one tick between two stages; what their motors and relays
//     bear is the business of the bench, which shapes levels into what its wires do.
type account struct {
	pads, pumps, heater time.Duration // each is not to be on for so long yet
	ran, total          time.Duration // running time of the stage and of the cycle
	dosed               float64       // m³ that the pumps gave in the cycle
}

// after is the account after a step, and what was wrong with it, or "".
func (a account) after(e *edge) (account, string) {
	a.pass(e)
	said := a.broken(e)
	a.note(e)
	return a, said
}

// pass counts the time since the step before, as what was driven in it.
func (a *account) pass(e *edge) {
	dt, was := e.passed(), &e.before
	a.pads, a.pumps, a.heater = max(a.pads-dt, 0), max(a.pumps-dt, 0), max(a.heater-dt, 0)
	st := &e.p.stages[was.Stage]
	if was.Cycle == Running {
		a.ran, a.total = min(a.ran+dt, st.AtMost), min(a.total+dt, e.p.recipe.Limits.Time)
	}
	if was.Drove.Pump > 0 || was.Drove.RinsePump > 0 {
		a.dosed += st.Flow * dt.Seconds()
	}
	if e.before.Cycle == Idle && e.after.Cycle != Idle {
		a.total, a.dosed = 0, 0
	}
	begun := slices.ContainsFunc(e.out.Events.All(), func(ev Event) bool { return ev.Kind == StageBegun })
	again := e.after.Cycle == Restarting && was.Cycle == Held && (a.ran >= st.AtMost || was.Cause == CutShort)
	if begun || again { // a stage that ran out of time, or was cut short, gets its time once more
		a.ran = 0
	}
	if e.after.Cycle == Idle {
		a.ran, a.total, a.dosed = 0, 0, 0
	}
}

// broken tells what is on too early, or goes on too long.
func (a *account) broken(e *edge) string {
	was, is := &e.before.Drove, &e.out.Levels
	pumps := is.Pump > 0 || is.RinsePump > 0
	switch {
	case was.Pads*is.Pads < 0:
		return "the pads turn round without a rest"
	case is.Pads != 0 && a.pads > 0:
		return fmt.Sprintf("the pads are on again %v too early", a.pads)
	case pumps && a.pumps > 0:
		return fmt.Sprintf("a pump is on again %v too early", a.pumps)
	case is.Heater > 0 && a.heater > 0:
		return fmt.Sprintf("the heater is on again %v too early", a.heater)
	case e.after.Cycle == Running && a.ran >= e.p.stages[e.after.Stage].AtMost:
		return fmt.Sprintf("invariant 6: a stage has run for %v and goes on", a.ran)
	case e.after.Cycle == Running && a.total >= e.p.recipe.Limits.Time:
		return fmt.Sprintf("invariant 6: a cycle has run for %v and goes on", a.total)
	case pumps && a.dosed+e.p.stages[e.after.Stage].Flow*e.p.timing.tick.Seconds() > e.p.recipe.Limits.Liquid:
		return fmt.Sprintf("invariant 6: %g m³ were given, and a pump is on", a.dosed)
	}
	return ""
}

// note begins the rests of what went off.
func (a *account) note(e *edge) {
	t, was, is := &e.p.timing, &e.before.Drove, &e.out.Levels
	if was.Pads != 0 && is.Pads == 0 {
		a.pads = t.padsRest
		if low, high := e.window(); !e.sure(recipe.PadFront, low, high) || !e.sure(recipe.PadBack, low, high) {
			a.pads = t.padsMiss
		}
	}
	if was.Pump > 0 && is.Pump == 0 || was.RinsePump > 0 && is.RinsePump == 0 {
		a.pumps = t.pumpRest
	}
	if was.Heater > 0 && is.Heater == 0 {
		a.heater = t.heaterRest
	}
}
