package simbench

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fullery/controller"
	"fullery/docs"
	"fullery/recipe"
)

// pair is two faults at once.
type pair struct {
	said   string // as the page names it
	holds  string // what must hold
	beyond string // what no software can see or do about it

	where  func(c *course, m *instant) bool
	doings []doing
}

// doing is one way in which a pair of faults may come.
type doing struct {
	first, second func(*strike)
	gap           time.Duration      // from the first to the second
	e             expect             // what must come of it; without shows it is only watched, and what every tick must hold must hold
	also          []controller.Guard // that must have tripped when all is over
	may           []controller.Guard // of what is only watched: the guards that may see it; none of them: nothing did
	after         func(*strike)      // what is looked at at last
}

func arms(list ...fault) func(*strike) {
	return func(x *strike) {
		for _, f := range list {
			x.begins(f)
		}
	}
}

// freezes lets a sensor say for ever what it says now. Lively, it keeps its noise: then no filter can know.
func freezes(lively bool, list ...recipe.Sensor) func(*strike) {
	return func(x *strike) {
		for _, s := range list {
			k := &x.b.sensors[s]
			k.lag = 0
			if !lively {
				k.noise = 0
			}
		}
	}
}

func both(list ...func(*strike)) func(*strike) {
	return func(x *strike) {
		for _, do := range list {
			do(x)
		}
	}
}

func jumps(by time.Duration) func(*strike) { return func(x *strike) { x.jump = by } }

// Where a pair can matter.

func everywhere(*course, *instant) bool         { return true }
func whereFlammable(c *course, _ *instant) bool { return c.burns }
func whereWater(c *course, _ *instant) bool     { return !c.burns }
func whereFan(_ *course, m *instant) bool       { return m.out.Levels.Fan > 0 }
func wherePads(_ *course, m *instant) bool      { return m.stages[m.stage].Pads > 0 }
func wherePumps(_ *course, m *instant) bool     { return m.stages[m.stage].Flow > 0 }
func whereWarm(_ *course, m *instant) bool      { return m.out.Levels.Heater > 0 }

// expecting copies what a single fault must lead to.
func expecting(f fault) expect { return expected[f] }

// resetIs checks that a reset, confirmed by a look, is refused while a cause is still there.
func resetIs(refused controller.Refusal) func(*strike) { return ordered(controller.Reset, refused) }

// ordered gives an order and checks that it is refused.
func ordered(o controller.Order, refused controller.Refusal) func(*strike) {
	return func(x *strike) {
		x.order = controller.Command{Order: o, Looked: true}
		x.tick()
		for _, ev := range x.out.Events.All() {
			if ev.Kind == controller.OrderRefused && ev.Refusal == refused && ev.Guard != 0 {
				return
			}
		}
		x.miss(true, "%s is not refused: %+v", o, x.out.Events.All())
	}
}

// faultPairs are the pairs that are tried.
var faultPairs = []pair{
	{
		said:   "fan stops while vapour is high",
		holds:  "all but the fan off in the tick that reads the vapour; pumps off in the tick in which the tach falls; aborted; the fan not asked again once it failed; no reset while the vapour is there",
		beyond: "vapour stays where no fan moves it: the room must be aired by hand, and nothing that sparks may stand in it",
		where:  whereFlammable,
		doings: []doing{
			{first: arms(fanUnproven, vapourHigh), e: expecting(vapourHigh), also: guardsOf(controller.FanUnproven), after: resetIs(controller.CauseRemains)},
			{first: arms(vapourHigh), gap: time.Second, second: arms(fanUnproven), e: expecting(vapourHigh), also: guardsOf(controller.FanUnproven), after: resetIs(controller.CauseRemains)},
			{first: arms(fanUnproven), gap: time.Second, second: arms(vapourHigh), e: expecting(vapourHigh), also: guardsOf(controller.FanUnproven), after: resetIs(controller.CauseRemains)},
			{first: arms(fanUnproven), gap: 5 * time.Second, second: arms(vapourHigh), e: expecting(fanUnproven), after: resetIs(controller.CauseRemains)},
		},
	},
	{
		said:   "emergency stop and vapour high in one step, flammable liquid",
		holds:  "all but the fan off in that tick; the emergency stop is the cause; both are told; the fan purges",
		beyond: "–",
		where:  whereFlammable,
		doings: []doing{{first: atOnce(recipe.EStop, 0, recipe.Vapour, 0.4), e: expecting(estop), also: guardsOf(controller.VapourHigh), after: both(fanBlows, resetIs(controller.CauseRemains))}},
	},
	{
		said:   "emergency stop and vapour high in one step, water",
		holds:  "all but the fan off in that tick; the emergency stop is the cause; both are told; the fan purges, as the sentence of vapour-high says",
		beyond: "where the vapour comes from: a bottle open beside the bench",
		where:  whereWater,
		doings: []doing{{first: atOnce(recipe.EStop, 0, recipe.Vapour, 0.4), e: expecting(estop), also: guardsOf(controller.VapourHigh), after: both(fanBlows, resetIs(controller.CauseRemains))}},
	},
	{
		said:   "heater's switches welded, air sensor stuck on one value",
		holds:  "the heater is never asked where something burns; what is lost or hot holds or aborts the cycle, and nothing but the fan is on",
		beyond: "with both switches welded the heat goes on: only a thermal fuse and a hand at the supply end it",
		where:  everywhere,
		doings: []doing{{first: both(arms(heaterStuck), freezes(false, recipe.Air)), may: guardsOf(controller.ReadingImplausible, controller.AirTooHot, controller.HeaterStuck)}},
	},
	{
		said:   "heater's switches welded, air sensor lies believably",
		holds:  "the heater is never asked where something burns; what is hot aborts the cycle, and nothing but the fan is on",
		beyond: "a sensor that has come off reads the room, as if all were well; below the jacket's limit nothing is seen: thermal fuse",
		where:  everywhere,
		doings: []doing{{first: both(arms(heaterStuck), freezes(true, recipe.Air)), may: guardsOf(controller.AirTooHot)}},
	},
	{
		said:   "lid's contact stuck closed while the pads stall",
		holds:  "pads off within a second, held",
		beyond: "that the lid is open: a second contact in the motors' supply would see it",
		where:  wherePads,
		doings: []doing{
			{first: arms(padsStalled), e: expecting(padsStalled)},
			{first: arms(padsStalled, hubSlow), may: guardsOf(controller.PadsStalled, controller.HubSlow)},
		},
	},
	{
		said:   "tray float stuck dry, tray full, pump in its stage",
		holds:  "no more is given than the recipe's limit, which is no more than the tray holds",
		beyond: "what was in the tray before: empty it before every cycle",
		where:  wherePumps,
		doings: []doing{{first: fills, after: dosed}},
	},
	{
		said:   "tray float stuck dry, pump runs on whatever it is asked",
		holds:  "nothing that is asked is more than without it",
		beyond: "a pump whose switch has welded: a tray that holds the whole tank, and a main contact of the emergency stop that cuts its supply",
		where:  wherePumps,
		doings: []doing{{first: pumpRuns, may: guardsOf(controller.TankLow, controller.StageOvertime)}},
	},
	{
		said:   "tach stuck at a good value while the fan stops",
		holds:  "the heater off as soon as air or jacket is at its limit; vapour at 25 % aborts",
		beyond: "that no air moves, while little evaporates and nothing is warmed; a dryness judged in still air",
		where:  whereFan,
		doings: []doing{{first: both(freezes(true, recipe.FanSpeed), arms(fanUnproven)), may: guardsOf(controller.VapourHigh, controller.AirTooHot, controller.StageOvertime, controller.HeaterStuck)}},
	},
	{
		said:   "both pads' cells stuck while the pads press harder",
		holds:  "pads off in the tick that calls a cell stuck; held",
		beyond: "–",
		where:  wherePads,
		doings: []doing{{first: both(freezes(false, recipe.PadFront, recipe.PadBack), arms(padHeavy)), e: expecting(readingStuck)}},
	},
	{
		said:   "both pads' cells lie believably while the pads press harder",
		holds:  "what every tick must hold",
		beyond: "the true force: a spring or stop that bounds it, and a look at the disk",
		where:  wherePads,
		doings: []doing{{first: both(freezes(true, recipe.PadFront, recipe.PadBack), arms(padHeavy)), may: guardsOf(controller.PadsStalled, controller.HubSlow, controller.PadsOn)}},
	},
	{
		said:   "record failing while the lid opens",
		holds:  "all but the fan off in the first tick of either; held; no resume while either is there",
		beyond: "–",
		where:  everywhere,
		doings: []doing{
			{first: arms(recordFailing, lidOpen), e: expecting(lidOpen), after: ordered(controller.Resume, controller.CauseRemains)},
			{first: arms(recordFailing), gap: time.Second, second: arms(lidOpen), e: expecting(recordFailing), after: ordered(controller.Resume, controller.CauseRemains)},
			{first: arms(lidOpen), gap: time.Second, second: arms(recordFailing), e: expecting(lidOpen), after: ordered(controller.Resume, controller.CauseRemains)},
		},
	},
	{
		said:   "loop late while the heater is on",
		holds:  "both heater lines off in the late tick; held; the fan cools the heater",
		beyond: "until the late tick the heater stays on: a loop that never comes back is ended by the second process, a second that hangs too by the thermal fuse",
		where:  whereWarm,
		doings: []doing{
			{first: jumps(tooLate), e: expecting(loopLate), after: fanBlows},
			{first: jumps(10 * time.Second), e: expecting(loopLate), after: fanBlows},
			{first: jumps(time.Hour), e: expecting(loopLate), after: fanBlows},
		},
	},
	{
		said:   "clock jumps while the fan stops",
		holds:  "all but the fan off in the tick of the jump; no heater and, of what burns, no pump without the tach; the fan not asked again once it failed",
		beyond: "–",
		where:  whereFan,
		doings: []doing{
			{first: both(arms(fanUnproven), jumps(time.Hour)), e: expecting(fanUnproven)},
			{first: both(arms(fanUnproven), jumps(-10*time.Second)), e: expecting(loopLate)},
			{first: arms(fanUnproven), gap: time.Second, second: jumps(time.Minute), e: expecting(fanUnproven)},
		},
	},
}

func guardsOf(list ...controller.Guard) []controller.Guard { return list }

// atOnce makes two readings show at once, from the next tick on.
func atOnce(a recipe.Sensor, is float64, b recipe.Sensor, also float64) func(*strike) {
	return func(x *strike) {
		x.tamper = func(x *ride) {
			for s, v := range map[recipe.Sensor]float64{a: is, b: also} {
				x.in.Readings[s] = controller.Reading{Value: v, Quality: controller.Good}
			}
		}
	}
}

// staysDry makes the tray's float say that the tray is dry.
func staysDry(x *ride) {
	x.in.Readings[recipe.TrayFloat] = controller.Reading{Value: 1, Quality: controller.Good}
}

// fills fills the tray under its stuck float.
func fills(x *strike) {
	x.tamper = staysDry
	x.b.tray[water] += x.spec.Tray
}

// pumpRuns keeps the pump on, whatever is asked.
func pumpRuns(x *strike) {
	x.tamper = staysDry
	x.runsOn = func(l *controller.Levels) { l.Pump = 1 }
}

// fanBlows checks that the fan was asked all the way to rest.
func fanBlows(x *strike) { x.miss(x.w.stillFor > 0, "the fan was off for %v after it", x.w.stillFor) }

// dosed checks what the pumps truly gave.
func dosed(x *strike) {
	is, had := x.b.Truth(), New(x.spec, x.r).Truth()
	given := had.Tank + had.RinseTank - is.Tank - is.RinseTank
	x.miss(given > 1.05*x.r.Limits.Liquid, "%.3g m³ given of %.3g", given, x.r.Limits.Liquid)
	x.miss(x.r.Limits.Liquid > x.spec.Tray, "the recipe may give more than the tray holds")
}

// Pairs of faults, at several moments of all stages where they can matter.
func TestFaultPairs(t *testing.T) {
	n := 6
	if testing.Short() {
		n = 1
	}
	sums := make([]pairTally, len(faultPairs))
	for _, name := range struckRecipes() {
		moments := momentsIn(t, newCourse(t, name, shipped(t)), n)
		var mu sync.Mutex
		onEveryCore(moments, func(m *instant) {
			for i := range faultPairs {
				if !faultPairs[i].where(m.course, m) {
					continue
				}
				for k := range faultPairs[i].doings {
					r := doubly(m, &faultPairs[i].doings[k], uint64(i*8+k))
					mu.Lock()
					sums[i].counts(r)
					mu.Unlock()
				}
			}
		})
	}
	for i := range sums {
		for _, said := range sums[i].said {
			t.Errorf("%s: %s", faultPairs[i].said, said)
		}
		if sums[i].cases == 0 {
			t.Errorf("%s: never tried", faultPairs[i].said)
		}
	}
	table := pairTable(sums)
	t.Log("\n" + table)
	if !testing.Short() {
		docs.Hold(t, "pairs", table)
	}
}

// doubly makes a pair of faults at a moment.
func doubly(m *instant, d *doing, seed uint64) result {
	x := &strike{ride: m.copied(seed<<8 | uint64(m.number)), e: &d.e}
	x.w.shows = d.e.shows
	d.first(x)
	for end := x.in.Now + d.gap; x.in.Now < end && x.w.cycle == running; {
		x.before = x.out.Levels
		x.tick()
		x.judges()
	}
	if d.second != nil {
		d.second(x)
	}
	switch {
	case d.e.shows == nil:
		x.watches(d.may)
	case x.w.cycle != running:
		x.leaves()
	default:
		x.follow(m, true)
	}
	for _, g := range d.also {
		x.miss(!x.tells(g), "%s is not told", g)
	}
	if d.after != nil && x.res.missed == "" {
		d.after(x)
	}
	x.miss(len(x.w.faults) > 0, "%s", strings.Join(x.w.faults, "; "))
	if x.res.missed != "" {
		x.res.missed = m.String() + ": " + x.res.missed
	}
	return x.res
}

// watches follows a case that may be seen by something, or by nothing, to the end of its cycle.
func (x *strike) watches(may []controller.Guard) {
	begun := x.in.Now
	for end := x.in.Now + longestCase; x.w.cycle == running && x.in.Now < end && len(x.w.faults) == 0; {
		x.tick()
	}
	if x.w.cycle == running || x.w.cycle == controller.Complete {
		x.res.end = unseen
		x.miss(x.w.cycle == running, "the cycle has no end")
		return
	}
	g := x.s.Cause
	x.res.by, x.res.left, x.res.leftIn = g, x.in.Now-begun, int((x.in.Now-begun)/tick)
	x.miss(!slices.Contains(may, g) || !x.tells(g), "%s, by %s", x.w.cycle, g)
	for end := x.in.Now + 10*time.Minute; x.w.cycle != controller.Held && x.w.cycle != controller.Aborted && x.in.Now < end; {
		x.tick()
	}
}

// pairTally is what became of a pair's cases.
type pairTally struct {
	tally
	by [64]int // by the guard that saw it first; 0: none
}

func (a *pairTally) counts(r result) {
	a.tally.counts(r)
	a.by[r.by]++
}

// seen lists what saw the cases first, and how many nothing saw.
func (a *pairTally) seen() string {
	var list []string
	for g, n := range a.by {
		switch {
		case n == 0:
		case g == 0:
			list = append(list, fmt.Sprintf("nothing (%d)", n))
		default:
			list = append(list, fmt.Sprintf("%s (%d)", controller.Guard(g), n))
		}
	}
	return strings.Join(list, ", ")
}

func pairTable(sums []pairTally) string {
	var b strings.Builder
	b.WriteString("| pair | what must hold | cases | first seen by | worst, outputs off | worst, state left | missed | not for software |\n" +
		"|---|---|---|---|---|---|---|---|\n")
	total := pairTally{}
	for i := range sums {
		a, p := &sums[i], &faultPairs[i]
		total.adds(&a.tally)
		off := "watched only"
		if p.doings[0].e.shows != nil {
			off = said(a.offIn, a.off)
		}
		fmt.Fprintf(&b, "| %s | %s | %d | %s | %s | %s | %d | %s |\n", p.said, p.holds, a.cases, a.seen(),
			off, said(a.leftIn, a.left), a.missed, p.beyond)
	}
	fmt.Fprintf(&b, "| **all** | | %d | | | | **%d** | |\n", total.cases, total.missed)
	return b.String()
}
