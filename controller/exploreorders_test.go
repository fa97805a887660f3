package controller

import (
	"fmt"

	"fullery/recipe"
)

// What every step owes to the operator: that orders end a cycle whatever is wrong, that ending comes to an end, and that
// nothing moves or is forgiven while its cause is there.

// startsOnlyWhenWell is the other half of invariant 5: an order lets something move, or lets an ended cycle go, only when
// no cause is there, read from the raw inputs, and only with the look that is owed.
func (e *edge) startsOnlyWhenWell() string {
	from, to, c := e.before.Cycle, e.after.Cycle, e.in.Command
	moves := (from == Idle || from == Held) && (to == Running || to == Restarting)
	if !moves && !(from.Ended() && to == Idle) {
		return ""
	}
	fits := map[CycleState][2]Order{Idle: {Start, Start}, Held: {Resume, ToDry}}
	orders, ok := fits[from]
	if !ok {
		orders = [2]Order{Reset, Reset}
	}
	switch {
	case c.Order != orders[0] && c.Order != orders[1]:
		return fmt.Sprintf("invariant 5: %s left for %s by the order %s", from, to, c.Order)
	case !c.Looked && (from == Idle || e.before.MustLook):
		return fmt.Sprintf("invariant 5: %s left for %s without the look that is owed", from, to)
	case !e.sure(recipe.EStop, 1, 1), e.reads(recipe.TrayFloat, 0, 0.5), e.in.DriveFailed, e.reads(recipe.Vapour, 0.25, 10):
		return fmt.Sprintf("invariant 5: %s left for %s while a cause to abort is there", from, to)
	case moves && (!e.sure(recipe.Lid, 1, 1) || !e.sure(recipe.TrayFloat, 1, 1) || e.in.RecordFailing || e.late()):
		return fmt.Sprintf("invariant 5: %s left for %s while a cause to hold is there", from, to)
	case moves && e.burns() && e.before.Cause == CutShort && e.before.PurgeLeft > e.passed():
		return "invariant 5: a cycle that was cut short goes on before its purge"
	}
	return ""
}

// reads tells whether a reading surely lies between two values; unlike sure it has no say in what is missing.
func (e *edge) reads(s recipe.Sensor, low, high float64) bool {
	return e.p.bench.Sensors[s].Fitted && e.sure(s, low, high)
}

// late tells whether the step came too long after the one before, or before it.
func (e *edge) late() bool {
	return e.before.Ticking && (e.in.Now-e.before.Last > e.p.timing.late || e.in.Now < e.before.Last)
}

// ordersEnd: whatever is wrong, stop leaves nothing under way, and abort does not leave a cycle merely stopping.
func (e *edge) ordersEnd() string {
	under := states(Running, Restarting, Holding, Held)
	switch o := e.in.Command.Order; {
	case (o == Stop || o == Abort) && under.has(e.after.Cycle):
		return fmt.Sprintf("a trap: the order %s leaves the cycle %s", o, e.after.Cycle)
	case o == Abort && e.after.Cycle == Stopping:
		return "a trap: the order abort leaves the cycle stopping"
	}
	return ""
}

// endingEnds: stopping and aborting come to an end by time alone, whatever is read meanwhile: while they last, the time
// in the state grows with the clock, and it has an end.
func (e *edge) endingEnds() string {
	same := e.before.Cycle == e.after.Cycle && (e.after.Cycle == Stopping || e.after.Cycle == Aborting)
	switch {
	case !same:
		return ""
	case e.after.InState >= 3*e.p.timing.purge:
		return fmt.Sprintf("a trap: still %s after %v", e.after.Cycle, e.after.InState)
	case e.passed() > 0 && e.after.InState <= e.before.InState:
		return fmt.Sprintf("a trap: %s, and its time stands still", e.after.Cycle)
	}
	return ""
}
