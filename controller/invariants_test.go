package controller

import (
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"fullery/recipe"
	"fullery/recipe/liquid"
)

// edge is one step, with everything that can be said about it.
type edge struct {
	p      *Program
	before State
	in     Inputs
	after  State
	out    Outputs
}

// broken checks the invariants on one step and returns the first that is broken, or "". It reads the raw inputs
// itself and uses none of the kernel's own judgements, so that a wrong judgement there does not hide here.
func (e edge) broken() string { return e.first() }

// first is broken without a copy: a walk asks it on hundreds of millions of edges.
func (e *edge) first() string {
	for _, check := range checks {
		if said := check(e); said != "" {
			return said
		}
	}
	return ""
}

var checks = [...]func(*edge) string{
	(*edge).pumps, (*edge).heater, (*edge).turning, (*edge).aborting, (*edge).onlyOrdersLeave, (*edge).startsOnlyWhenWell,
	(*edge).ordersEnd, (*edge).endingEnds, (*edge).bounds, (*edge).airAsked, (*edge).dryHasEvidence, (*edge).transitions,
	(*edge).sameAgain,
}

// passed is the time that the controller counts since the step before.
func (e *edge) passed() time.Duration {
	if !e.before.Ticking {
		return 0
	}
	return max(e.in.Now-e.before.Last, 0)
}

// window is what each pad may press with, in N, from the files.
func (e *edge) window() (low, high float64) {
	asked, area := &e.p.recipe.Pads, e.p.bench.Pads.Area
	return asked.Pressure * (1 - asked.Within) * area, asked.Pressure * (1 + asked.Within) * area
}

// sure tells whether a reading is good, fresh and within its bounds.
func (e *edge) sure(s recipe.Sensor, low, high float64) bool {
	r := &e.in.Readings[s]
	return r.Quality == Good && r.Age >= 0 && r.Age <= e.p.bench.Sensors[s].Stale && r.Value >= low && r.Value <= high
}

func (e *edge) fanProven() bool {
	full := e.p.bench.Fan.Fastest
	return e.before.Drove.Fan > 0 && e.sure(recipe.FanSpeed, 0.3*e.before.Drove.Fan*full, 1.3*full) &&
		e.after.FanProof >= e.p.timing.proof
}

// burns tells, from the files and not from the program, whether anything in the cycle can burn.
func (e *edge) burns() bool {
	known, ok := burning.Load(e.p)
	if !ok {
		known = burnsByName(e.p)
		burning.Store(e.p, known)
	}
	return known.(bool)
}

var burning sync.Map // *Program → bool: asked on millions of edges

func burnsByName(p *Program) bool {
	for _, name := range []string{p.recipe.Liquid, p.recipe.Rinse, p.bench.PadsAndBathHeld} {
		l, err := liquid.Parse(name)
		if name != "" && (err != nil || l.Flammable) {
			return true
		}
	}
	return false
}

// 1. Pump or rinse pump on ⇒ lid closed, tray dry, dose left, and, if the liquid is flammable, fan proven.
func (e *edge) pumps() string {
	l := &e.out.Levels
	if l.Pump == 0 && l.RinsePump == 0 {
		return ""
	}
	switch {
	case !e.sure(recipe.Lid, 1, 1):
		return "invariant 1: pump on with the lid not surely closed"
	case !e.sure(recipe.TrayFloat, 1, 1):
		return "invariant 1: pump on with the tray not surely dry"
	case e.after.Dosed >= e.p.recipe.Limits.Liquid:
		return "invariant 1: pump on with no dose left"
	case e.burns() && !(e.fanProven() && l.Fan > 0):
		return "invariant 1: flammable liquid pumped without a proven fan"
	}
	return ""
}

// 2. Heater on ⇒ fan proven, air and surface below their limits, and no flammable liquid.
func (e *edge) heater() string {
	if e.out.Levels.Heater == 0 && !e.out.Levels.HeaterEnable {
		return ""
	}
	h := &e.p.bench.Heater
	switch {
	case !e.fanProven() || e.out.Levels.Fan == 0:
		return "invariant 2: heater on without a proven fan"
	case !e.sure(recipe.Air, 0, min(h.AirLimit, celsius0+50)):
		return "invariant 2: heater on with the air not surely below its limit"
	case e.p.bench.Sensors[recipe.Surface].Fitted && !e.sure(recipe.Surface, 0, h.SurfaceLimit):
		return "invariant 2: heater on with the jacket not surely below its limit"
	case e.burns():
		return "invariant 2: heater on in a cycle with a flammable liquid"
	case e.out.Levels.Heater > 0 && !e.out.Levels.HeaterEnable:
		return "invariant 2: heater asked without its second line"
	}
	return ""
}

// 3. Pads or hub turning ⇒ lid closed. Pads turning ⇒ both forces fresh and inside the recipe's window.
func (e *edge) turning() string {
	l := &e.out.Levels
	if (l.Pads != 0 || l.Hub != 0) && !e.sure(recipe.Lid, 1, 1) {
		return "invariant 3: pads or hub turning with the lid not surely closed"
	}
	if l.Pads == 0 {
		return ""
	}
	low, high := e.window()
	if !e.sure(recipe.PadFront, low, high) || !e.sure(recipe.PadBack, low, high) {
		return "invariant 3: pads turning with a force not surely inside the window"
	}
	if !l.Press {
		return "invariant 3: pads turning without being pressed"
	}
	return ""
}

// 4. In aborting and aborted: pumps, pads, hub, heater off in the same step. Fan on to purge if the liquid is
// flammable, unless the fan is the cause. (And off in every state but running.)
func (e *edge) aborting() string {
	l := e.out.Levels
	l.Fan = 0
	if e.after.Cycle != Running && l != (Levels{}) {
		return fmt.Sprintf("invariant 4: %+v asked while %s", l, e.after.Cycle)
	}
	if (e.after.Cycle == Aborting || e.after.Cycle == Aborted) && e.burns() && !e.after.FanBad && e.out.Levels.Fan == 0 {
		return "invariant 4: no purge after a flammable liquid"
	}
	if !e.sure(recipe.EStop, 1, 1) && l != (Levels{}) {
		return "invariant 4: something on in the step that saw the emergency stop"
	}
	return ""
}

// 5. Nothing leaves aborted or held (nor idle, stopped, complete) but an operator's order.
func (e *edge) onlyOrdersLeave() string {
	resting := states(Idle, Held, Stopped, Aborted, Complete)
	if !resting.has(e.before.Cycle) || e.after.Cycle == e.before.Cycle {
		return ""
	}
	byGuard := e.before.Cycle == Held && e.after.Cycle == Aborting // off is further off, never on
	if e.in.Command.Order == NoOrder && !byGuard {
		return fmt.Sprintf("invariant 5: %s left for %s without an order", e.before.Cycle, e.after.Cycle)
	}
	return ""
}

// 6. Every stage ends by its maximum time; total liquid dosed ≤ the recipe's limit ≤ the tray's capacity. The clock
// of the loop is allowed the length of one step.
func (e *edge) bounds() string {
	st := e.p.stages[e.after.Stage]
	if e.after.Cycle == Running && e.after.InStage >= st.AtMost {
		return "invariant 6: a stage runs past its longest time"
	}
	passed := time.Duration(0)
	if e.before.Ticking {
		passed = max(e.in.Now-e.before.Last, 0)
	}
	const fastest = 40 * mL * perMin // the test bench's rinse pump
	most := e.p.recipe.Limits.Liquid + fastest*passed.Seconds() + 1e-12
	if e.before.Dosed > e.p.recipe.Limits.Liquid { // only a late step can pass the limit, and only once
		most = e.before.Dosed
	}
	if e.after.Dosed > most {
		return fmt.Sprintf("invariant 6: %g m³ dosed of %g", e.after.Dosed, e.p.recipe.Limits.Liquid)
	}
	if e.p.recipe.Limits.Liquid > e.p.bench.Tray {
		return "invariant 6: the recipe's limit is more than the tray holds"
	}
	return ""
}

// 7. Air at the cartridge never asked above the bench's limit, never above 50 °C.
func (e *edge) airAsked() string {
	for _, st := range e.p.stages {
		if st.Warm > min(e.p.bench.Heater.AirLimit, celsius0+50) {
			return "invariant 7: air asked above its limit"
		}
	}
	if e.out.Levels.Heater > 0 && !e.sure(recipe.Air, 0, e.p.stages[e.after.Stage].Warm) {
		return "invariant 7: heating air that is already as warm as asked"
	}
	return ""
}

// 8. "Dry" is never claimed without saying on which evidence.
func (e *edge) dryHasEvidence() string {
	for _, ev := range e.out.Events.All() {
		if ev.Kind != LiquidDried {
			continue
		}
		rests := map[Evidence]recipe.Sensor{ByWeight: recipe.Weight, BySurface: recipe.Surface, ByAir: recipe.AirOut}
		witness, sensed := rests[ev.Evidence]
		switch {
		case ev.Evidence == NoEvidence:
			return "invariant 8: dry without evidence"
		case !sensed && ev.Evidence != ByClock:
			return fmt.Sprintf("invariant 8: dry by %s, which no bench can tell", ev.Evidence)
		case sensed && !e.sure(witness, math.Inf(-1), math.Inf(1)):
			return fmt.Sprintf("invariant 8: dry by %s in a step that cannot read it", ev.Evidence)
		}
	}
	return ""
}

// transitions checks each change of state against the published ones.
func (e *edge) transitions() string {
	at := e.before.Cycle
	for _, ev := range e.out.Events.All() {
		if ev.Kind != StateChanged {
			continue
		}
		if ev.From != at || !allowed(ev.From, ev.To) {
			return fmt.Sprintf("transition %s → %s from %s", ev.From, ev.To, at)
		}
		at = ev.To
	}
	if at != e.after.Cycle {
		return fmt.Sprintf("the state became %s and no event says so", e.after.Cycle)
	}
	return ""
}

// 9. Same State and Inputs ⇒ same result.
func (e *edge) sameAgain() string {
	s, out := e.p.Step(e.before, e.in)
	if s != e.after || out.Levels != e.out.Levels || out.Next != e.out.Next || !slices.Equal(out.Events.All(), e.out.Events.All()) {
		return "invariant 9: the same step came out differently"
	}
	return ""
}
