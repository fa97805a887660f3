package simbench

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// expect is what a fault must lead to.
type expect struct {
	shows  func(*witness) bool // whether this tick's inputs show it
	off    outs                // what must be off by then
	slow   bool                // only when its guard's time is over; else in the very tick that shows it
	within time.Duration       // how long it must be there before its guard trips
	to     controller.CycleState
	guard  controller.Guard
	names  string // a word that the sentence must hold

	patient bool // it may take the whole of its stage to show, or its end
}

// says is which outputs go at once, for the page.
func (e *expect) says() string {
	switch {
	case e.off == 0:
		return "–"
	case e.slow:
		return fmt.Sprintf("%s, after %v", e.off, e.within)
	}
	return e.off.String()
}

// Short names for the table.
const (
	ms       = time.Millisecond
	running  = controller.Running
	holding  = controller.Holding
	aborting = controller.Aborting
)

// expected is what every fault must lead to. It is written down by hand and not taken from the guard table.
var expected = [numFaults]expect{
	estop:        {(*witness).estop, outMoving, false, 0, aborting, controller.EStopPressed, "emergency stop", false},
	benchGone:    {(*witness).estop, outMoving, false, 0, aborting, controller.EStopPressed, "emergency stop", false},
	lidOpen:      {(*witness).lid, outMoving, false, 0, holding, controller.LidOpen, "lid is open", false},
	lidWireCut:   {(*witness).lid, outMoving, false, 0, holding, controller.LidOpen, "lid is open", false},
	padLight:     {(*witness).light, outPads, false, 300 * ms, holding, controller.PadLight, "presses less", false},
	padHeavy:     {(*witness).heavy, outPads, false, 200 * ms, holding, controller.PadHeavy, "presses more", false},
	padsUneven:   {(*witness).uneven, outPads, true, 1000 * ms, holding, controller.PadsUneven, "pads differ", false},
	padsOn:       {(*witness).jammed, outHub | outPads, true, 500 * ms, holding, controller.PadsOn, "still press", false},
	padsStalled:  {(*witness).stalled, outPads, true, 1000 * ms, holding, controller.PadsStalled, "pads were asked to turn", false},
	hubSlow:      {(*witness).dragged, outHub | outPads, true, 2000 * ms, holding, controller.HubSlow, "hub turns the disk more slowly", false},
	fanUnproven:  {(*witness).becalmed, outPumps | outHeating, false, 1000 * ms, aborting, controller.FanUnproven, "fan was asked to turn", false},
	fanHumming:   {(*witness).becalmed, outPumps | outHeating, false, 1000 * ms, aborting, controller.FanUnproven, "fan was asked to turn", false},
	airTooHot:    {(*witness).hot, outHeating, false, 500 * ms, aborting, controller.AirTooHot, "hotter than the bench allows", false},
	heaterStuck:  {(*witness).warms, outHeating, true, 1000 * ms, aborting, controller.HeaterStuck, "although the heater is off", true},
	vapourHigh:   {(*witness).vapour, outMoving, false, 0, aborting, controller.VapourHigh, "25 % of the lower flammable limit", false},
	vapourRising: {(*witness).vapourish, 0, false, 1000 * ms, running, controller.VapourRising, "10 % of the lower flammable limit", false},
	trayWet:      {(*witness).tray, outMoving, false, 0, aborting, controller.TrayWet, "liquid in the tray", false},
	tankLow:      {(*witness).tank, outPumps, false, 500 * ms, holding, controller.TankLow, "tank for this stage is low", false},
	pumpRunsDry:  {(*witness).tank, outPumps, false, 500 * ms, holding, controller.TankLow, "tank for this stage is low", false},

	readingStale:       {(*witness).stale, outMoving, false, 0, holding, controller.ReadingStale, "missing or too old", false},
	readingGone:        {(*witness).stale, outMoving, false, 0, holding, controller.ReadingStale, "missing or too old", false},
	readingFailed:      {(*witness).stale, outMoving, false, 0, holding, controller.ReadingStale, "missing or too old", false},
	readingImplausible: {(*witness).nonsense, outMoving, false, 0, holding, controller.ReadingImplausible, "impossible or stuck", false},
	readingImpossible:  {(*witness).nonsense, outMoving, false, 0, holding, controller.ReadingImplausible, "impossible or stuck", false},
	readingStuck:       {(*witness).nonsense, outMoving, false, 0, holding, controller.ReadingImplausible, "impossible or stuck", false},

	stageOvertime: {(*witness).overtime, outMoving, false, 0, holding, controller.StageOvertime, "longest time", true},
	driveFailing:  {func(w *witness) bool { return w.in.DriveFailed }, outMoving, false, 0, aborting, controller.DriveFailing, "could not be driven", false},
	loopLate:      {(*witness).late, outMoving, false, 0, holding, controller.LoopLate, "late", false},
	recordFailing: {func(w *witness) bool { return w.in.RecordFailing }, outMoving, false, 0, holding, controller.RecordFailing, "record cannot be written", false},

	weakHeater: {never, 0, false, 0, running, 0, "", false},
	noisyForce: {never, 0, false, 0, running, 0, "", false},
}

// What shows each fault, from the raw readings. Spans are what turning parts need before they can be judged.

func never(*witness) bool { return false }

func (w *witness) estop() bool     { return !w.well(recipe.EStop) }
func (w *witness) lid() bool       { return w.reads(recipe.Lid, 0, 0) }
func (w *witness) tray() bool      { return w.reads(recipe.TrayFloat, 0, 0) }
func (w *witness) stale() bool     { return w.lost(false) != 0 }
func (w *witness) nonsense() bool  { return w.lost(true) != 0 }
func (w *witness) vapour() bool    { return w.reads(recipe.Vapour, 0.25, math.Inf(1)) }
func (w *witness) vapourish() bool { return w.reads(recipe.Vapour, 0.10, math.Inf(1)) }

func (w *witness) tank() bool {
	do := w.now().Do
	return do == recipe.Wet && w.reads(recipe.TankFloat, 0, 0) || do == recipe.Rinse && w.reads(recipe.RinseFloat, 0, 0)
}

// either tells whether a pad's force surely is above a bound, or below it.
func (w *witness) either(above bool, bound float64) bool {
	for _, s := range []recipe.Sensor{recipe.PadFront, recipe.PadBack} {
		if v, ok := w.value(s); ok && (above && v > bound || !above && v < bound) {
			return true
		}
	}
	return false
}

func (w *witness) light() bool {
	low, _ := w.window()
	return w.pressing() && w.press >= 1500*ms && w.either(false, low)
}

func (w *witness) heavy() bool {
	_, high := w.window()
	return w.pressing() && w.asked.Press && w.either(true, high)
}

func (w *witness) uneven() bool {
	front, ok := w.value(recipe.PadFront)
	back, also := w.value(recipe.PadBack)
	return w.pressing() && w.press >= 1500*ms && ok && also && math.Abs(front-back) > w.r.Pads.Balance*(front+back)/2
}

// pressing tells whether the stage is one in which pads press.
func (w *witness) pressing() bool { return w.now().Pads > 0 }

// jammed: pads that were taken off long enough ago still press with half of what they should, or 0.2 N.
func (w *witness) jammed() bool {
	low, _ := w.window()
	return w.spec.Press && w.away >= 1500*ms && w.either(true, max(low/2, 0.2))
}

func (w *witness) stalled() bool {
	v, ok := w.value(recipe.PadsSpeed)
	return w.pads >= time.Second && ok && math.Abs(v) < 0.5*math.Abs(w.asked.Pads)
}

func (w *witness) dragged() bool {
	v, ok := w.value(recipe.HubSpeed)
	return w.hub >= 3*time.Second && ok && v < 0.7*w.asked.Hub
}

func (w *witness) becalmed() bool { return w.fan >= 4*time.Second && !w.fanTurns() }

func (w *witness) hot() bool {
	air, ok := w.value(recipe.Air)
	surface, also := w.value(recipe.Surface)
	return ok && air > w.spec.Heater.AirLimit+3 || also && surface > w.spec.Heater.SurfaceLimit
}

// warms: half a minute after the heater went off, the air is 5 K warmer than it was since, and than the room.
func (w *witness) warms() bool {
	air, ok := w.value(recipe.Air)
	room, also := w.value(recipe.AirIn)
	return w.spec.Heater.Power > 0 && w.heaterOff >= 30*time.Second && ok && air > w.coolest+5 && !(also && air <= room+5)
}

func (w *witness) overtime() bool {
	most := w.now().AtMost
	if most == 0 {
		most = w.now().For + time.Minute
	}
	return w.ran >= most
}

// ending is how a case ended.
type ending uint8

const (
	reacted ending = iota
	tooBrief
	unseen
	heldOtherwise
)

// result is what became of one case. Times and ticks count from the tick that first showed the fault, without a break.
type result struct {
	end    ending
	off    time.Duration
	left   time.Duration
	offIn  int
	leftIn int
	wasOn  bool             // something that must go off was on until it showed
	by     controller.Guard // another guard that held the cycle
	missed string
}

// strike is one case under way.
type strike struct {
	*ride
	e      *expect
	since  time.Duration // since when it shows
	ticks  int           // and for how many
	shown  bool
	ever   bool
	isOff  bool
	before controller.Levels // asked in the tick before
	res    result
}

// struck makes a fault at a moment and follows the ride until the reaction is over, or the cycle.
func struck(m *instant, f fault) result {
	x := &strike{ride: m.copied(uint64(m.number)<<8 | uint64(f)), e: &expected[f]}
	x.w.shows = x.e.shows
	x.begins(f)
	x.follow(m, !testing.Short() && m.number%wholeOf == 0)
	x.miss(len(x.w.faults) > 0, "%s", strings.Join(x.w.faults, "; "))
	if x.res.missed != "" {
		x.res.missed = m.String() + ": " + x.res.missed
	}
	return x.res
}

// miss keeps what is wrong with a case, the first of it.
func (x *strike) miss(is bool, format string, args ...any) {
	if is && x.res.missed == "" {
		x.res.missed = fmt.Sprintf(format, args...)
	}
}

const (
	longestCase = 8 * time.Hour
	patience    = 3 * time.Minute // a heater that is stuck takes two to show
	wholeOf     = 10              // of so many moments one is followed to the end of its cycle
)

// follow goes on until the reaction is over or the cycle has come to its end. What does not show in its stage, nor within
// three minutes, is followed to the end in one case of ten; for the others it is enough that until then nothing was wrong:
// what a later stage makes of it is tried there.
func (x *strike) follow(m *instant, whole bool) {
	drying, begun := m.stages[m.stage].Do == recipe.Dry, x.in.Now
	whole = whole || !testing.Short() && drying && x.e.patient
	for end := x.in.Now + longestCase; x.in.Now < end && x.res.missed == ""; {
		x.before = x.out.Levels
		x.tick()
		x.judges()
		if over := drying || x.w.stage != m.stage; over && !whole && x.in.Now >= begun+patience && (!x.shown || x.e.to == running) {
			x.completes()
			return
		}
		switch x.w.cycle {
		case running:
		case controller.Complete:
			x.completes()
			x.rests(controller.Complete)
			x.cools()
			return
		default:
			x.leaves()
			return
		}
	}
	x.miss(true, "the cycle has no end")
}

// judges holds what one tick asks against what it reads.
func (x *strike) judges() {
	e := x.e
	if !x.w.shown {
		x.shown = false
		return
	}
	if !x.shown {
		x.since, x.ticks, x.shown, x.ever, x.isOff = x.in.Now, 0, true, true, false
		x.res.wasOn = on(&x.before)&e.off != 0
	} else {
		x.ticks++
	}
	span := x.in.Now - x.since
	if still := on(&x.out.Levels) & e.off; still != 0 {
		x.miss(!e.slow, "%s still on in the tick that shows it (%v after it first did)", still, span)
		x.miss(span >= e.within+tick, "%s still on after %v", still, span)
	} else if !x.isOff {
		x.isOff, x.res.off, x.res.offIn = true, max(x.res.off, span), max(x.res.offIn, x.ticks)
	}
	due := span >= e.within+tick
	x.miss(due && e.to != running && x.w.cycle == running, "still running %v after it showed", span)
	x.miss(due && e.to == running && !x.tells(e.guard), "%s is not told %v after it showed", e.guard, span)
}

// tells tells whether a guard has tripped.
func (x *strike) tells(g controller.Guard) bool {
	for _, ev := range x.w.told {
		if ev.Guard == g {
			return true
		}
	}
	return false
}

// completes judges a cycle that came to its end, or as far as it was followed, without being left.
func (x *strike) completes() {
	switch {
	case x.e.to == running && x.e.guard != 0 && x.tells(x.e.guard):
		x.says(x.w.told[0])
	case x.ever:
		x.res.end = tooBrief
	default:
		x.res.end = unseen
	}
	for _, ev := range x.w.told {
		x.miss(ev.Guard != x.e.guard, "%s tripped, and yet the cycle went on", ev.Guard)
	}
}

// leaves judges the tick in which the cycle was held or aborted, and what follows it.
func (x *strike) leaves() {
	e, first := x.e, x.out.Events.All()
	if len(x.w.told) == 0 {
		x.miss(true, "%s, and no guard is told", x.w.cycle)
		return
	}
	told := x.w.told[0]
	if !x.w.shown {
		x.miss(told.Guard == e.guard, "%s tripped though nothing shows it", told.Guard)
		x.miss(e.guard == 0, "%s tripped by something harmless", told.Guard)
		x.res.end, x.res.by = heldOtherwise, told.Guard
		return
	}
	x.miss(told.Guard != e.guard, "%s tripped first, not %s", told.Guard, e.guard)
	x.miss(x.w.cycle != e.to, "%s, not %s", x.w.cycle, e.to)
	x.miss(x.s.Cause != e.guard, "the state's cause is %s, not %s", x.s.Cause, e.guard)
	x.miss(!recorded(first, told.Guard, e.to), "not every event of it is told in its tick: %+v", first)
	x.says(told)
	x.res.by = told.Guard
	x.res.left, x.res.leftIn = x.in.Now-x.since, x.ticks
	x.rests(map[controller.CycleState]controller.CycleState{holding: controller.Held, aborting: controller.Aborted}[e.to])
}

// cools looks on after the end, until the heater must have cooled: a switch that welded while it was on warms nothing
// further, and shows only then. It must be told, and the fan must blow for as long as it is there.
func (x *strike) cools() {
	if !x.b.has(heaterStuck) || x.res.missed != "" {
		return
	}
	for end := x.in.Now + 12*time.Minute; x.in.Now < end; {
		x.tick()
	}
	x.res.end = reacted
	x.miss(!x.tells(controller.HeaterStuck), "complete, the air at the cartridge at %.0f °C, and nothing is told", x.b.air-zeroC)
	x.miss(x.out.Levels.Fan == 0, "the fan is off and the air at %.0f °C", x.b.air-zeroC)
}

// recorded tells whether a tick's events hold what the record must get: the guard, then the change of state by it, and of
// an abort the stage that it cut off.
func recorded(events []controller.Event, g controller.Guard, to controller.CycleState) bool {
	tripped, changed, cut := -1, -1, -1
	for i, ev := range events {
		switch {
		case ev.Kind == controller.GuardTripped && ev.Guard == g:
			tripped = i
		case ev.Kind == controller.StateChanged && ev.From == running && ev.To == to && ev.Guard == g:
			changed = i
		case ev.Kind == controller.StageEnded && ev.Ending == controller.CutByGuard:
			cut = i
		}
	}
	return tripped >= 0 && changed > tripped && (to != aborting || cut >= 0)
}

// says checks the sentence of the guard: it names what is wrong, and a sensor only if that is one that is lost.
func (x *strike) says(told controller.Event) {
	said := x.p.Say(told)
	x.miss(!strings.Contains(said, x.e.names), "the sentence does not name %q: %s", x.e.names, said)
	reading := told.Guard == controller.ReadingStale || told.Guard == controller.ReadingImplausible
	if reading {
		lost := x.w.lost(told.Guard == controller.ReadingImplausible)
		x.miss(!lost.Has(told.Sensor) || !strings.Contains(said, told.Sensor.String()), "%s is told as lost: %s", told.Sensor, said)
	}
}

// rests lets everything come to rest, and two seconds more: nothing starts by itself.
func (x *strike) rests(at controller.CycleState) {
	const most = 10 * time.Minute // the longest purge is six
	for end := x.in.Now + most; x.w.cycle != at && x.in.Now < end && x.res.missed == "" && len(x.w.faults) == 0; {
		x.tick()
	}
	for range 40 {
		x.tick()
	}
	x.miss(len(x.w.faults) > 0, "%s", strings.Join(x.w.faults, "; "))
	// A fan that blows while held and cannot be proven, its tach lost as well, aborts.
	blind := at == controller.Held && (x.w.cycle == aborting || x.w.cycle == controller.Aborted) && x.tells(controller.FanUnproven)
	x.miss(x.w.cycle != at && !blind, "%s, not %s", x.w.cycle, at)
}
