package main

import (
	"fmt"
	"math"
	"strings"
	"time"

	"fullery/controller"
	"fullery/disks/record"
	"fullery/recipe"
)

// recording joins the loop to the record: it turns ticks into entries and puts them into the record's queue, which
// never waits. Events go at once; readings once a second, in a dry stage every five.
type recording struct {
	program *controller.Program
	cycle   *record.Cycle
	wall    func() time.Time
	clockOK bool // the wall clock was trusted when the cycle began, or has been since
	next    time.Duration
	lost    int
	failing bool
	over    bool     // the cycle's end was seen
	after   []string // what guards said after it
}

// Watch puts what one tick is worth.
func (r *recording) Watch(t *controller.Tick) {
	if r.over { // the cycle has its end; what the fan does after it is not part of it
		r.watchAfter(t)
		return
	}
	r.over = t.State.Cycle.Ended()
	for _, ev := range t.Outputs.Events.All() {
		r.event(t, ev)
	}
	if t.Inputs.Now >= r.next {
		every := time.Second
		if r.program.Kind(t.State.Stage) == recipe.Dry {
			every = 5 * time.Second
		}
		r.next = t.Inputs.Now + every
		r.cycle.PutSample(sampleOf(r.program, t))
		r.watchClock(t.Inputs.Now)
	}
	health := r.cycle.Health()
	r.failing = health.Failing || health.Lost > r.lost
	r.lost = health.Lost
}

// mostAfter bounds what is kept of guards that trip after a cycle's end.
const mostAfter = 8

// watchAfter notes the guards that trip after the cycle's end. They cannot be part of a cycle that has ended; the next one
// must not begin before a person has read them.
func (r *recording) watchAfter(t *controller.Tick) {
	for _, ev := range t.Outputs.Events.All() {
		if ev.Kind == controller.GuardTripped && ev.Guard.Response() == controller.ToAbort && len(r.after) < mostAfter {
			r.after = append(r.after, fmt.Sprintf("After cycle %d had ended, %s tripped. %s", r.cycle.Number(), ev.Guard, strings.TrimSuffix(ev.Guard.Said(), ".")))
		}
	}
}

// Failing tells whether the record cannot be written, or had to refuse something since the last tick.
func (r *recording) Failing() bool { return r.failing }

// watchClock notes the moment from which the wall clock can be trusted.
func (r *recording) watchClock(now time.Duration) {
	if wall := r.wall(); !r.clockOK && clockSet(wall) {
		r.clockOK = true
		r.cycle.PutClock(now, wall)
	}
}

// clockSet tells whether a wall clock can be right: a board without a battery wakes in 1970, or where it was
// switched off, and in no case after the day this program was written.
func clockSet(wall time.Time) bool { return wall.Year() >= 2026 }

func (r *recording) event(t *controller.Tick, ev controller.Event) {
	e := record.Event{At: t.Inputs.Now, Wall: r.wall(), Stage: int(ev.Stage), Said: r.program.Say(ev)}
	dosed := t.State.Dosed * 1e6
	switch ev.Kind {
	case controller.StateChanged:
		e.Kind, e.State = "state", ev.To.String()
		if t.State.Cycle == controller.Idle {
			e.Stage = -1
		}
	case controller.StageBegun:
		r.cycle.PutStage(record.StageChange{At: e.At, Stage: e.Stage, Begun: true, DosedML: &dosed})
		return
	case controller.StageEnded:
		r.cycle.PutStage(record.StageChange{At: e.At, Stage: e.Stage, DosedML: &dosed, Ending: ev.Ending.String(),
			Actual: time.Duration(ev.Value * float64(time.Second))})
		return
	case controller.GuardTripped, controller.GuardCleared:
		e.Kind, e.ID = "guard", ev.Guard.String()
		e.Response = "cleared"
		if ev.Kind == controller.GuardTripped {
			e.Response = ev.Guard.Response().String()
		}
	case controller.OrderTaken, controller.OrderRefused:
		e.Kind, e.ID = "order", ev.Order.String()
	case controller.LiquidDried:
		r.cycle.PutDrying(dryingOf(r.program, t, ev))
		return
	case controller.NoEvent:
		return
	}
	r.cycle.PutEvent(e)
}

// dryingOf is one timed drying. What only the clock ended is not known to be dry: its time is a lower bound.
func dryingOf(p *controller.Program, t *controller.Tick, ev controller.Event) record.Drying {
	return record.Drying{
		Stage: int(ev.Stage), Liquid: lastLiquid(p.Recipe()), Time: t.State.Drying.Took,
		Evidence: t.State.Drying.Evidence.String(), Dry: t.State.Drying.Evidence.Proven() && !t.State.Drying.Broken,
		AirC:   good(t, recipe.AirIn, -273.15, 1),
		AirPct: good(t, recipe.AirInRH, 0, 100),
		KeptG:  keptOf(&t.State),
	}
}

// keptOf is what the liner held when its drying began, by weight, where the drying ended on that.
func keptOf(s *controller.State) *float64 {
	if s.Drying.Evidence != controller.ByWeight || s.Drying.Broken {
		return nil
	}
	grams := s.Drying.Seen.Tracks[controller.ByWeight-1].Most * 1e3
	return &grams
}

// lastLiquid is what the disk was wet with when its drying began.
func lastLiquid(r recipe.Recipe) string {
	if r.Rinse != "" {
		return r.Rinse
	}
	return r.Liquid
}

// sampleOf is one row of the time series. A reading that is not good stays out of it.
func sampleOf(p *controller.Program, t *controller.Tick) record.Sample {
	area := p.Bench().Pads.Area
	toKPa := 0.0
	if area > 0 {
		toKPa = 1 / area / 1e3
	}
	l, dosed := t.Outputs.Levels, t.State.Dosed*1e6
	const celsius, rpm, percent = -273.15, 60, 100
	return withLeft(p, &t.State, record.Sample{
		At: t.Inputs.Now, Stage: int(t.State.Stage), DosedML: &dosed,
		PadFrontKPa: good(t, recipe.PadFront, 0, toKPa), PadBackKPa: good(t, recipe.PadBack, 0, toKPa),
		PadsRPM: good(t, recipe.PadsSpeed, 0, rpm), HubRPM: good(t, recipe.HubSpeed, 0, rpm),
		FanRPM: good(t, recipe.FanSpeed, 0, rpm),
		AirInC: good(t, recipe.AirIn, celsius, 1), AirInPct: good(t, recipe.AirInRH, 0, percent),
		AirC: good(t, recipe.Air, celsius, 1), AirOutC: good(t, recipe.AirOut, celsius, 1),
		AirOutPct: good(t, recipe.AirOutRH, 0, percent), SurfaceC: good(t, recipe.Surface, celsius, 1),
		VapourPct: good(t, recipe.Vapour, 0, percent), WeightG: good(t, recipe.Weight, 0, 1e3),
		PumpPct: asked(l.Pump), RinsePct: asked(l.RinsePump), FanPct: asked(l.Fan), HeaterPct: asked(l.Heater),
	})
}

// withLeft adds how long the drying was then expected to take yet.
func withLeft(p *controller.Program, s *controller.State, x record.Sample) record.Sample {
	if left, ok := p.Left(s); ok && !left.Never {
		x.LeftMin, x.LeftLowMin, x.LeftHighMin = &left.Median, &left.Low, &left.High
	}
	return x
}

// good returns a reading, moved and scaled into the record's unit, or nil when it is not good.
func good(t *controller.Tick, s recipe.Sensor, plus, times float64) *float64 {
	r := t.Inputs.Readings[s]
	if r.Quality != controller.Good || math.IsNaN(r.Value) || math.IsInf(r.Value, 0) {
		return nil
	}
	x := (r.Value + plus) * times
	return &x
}

func asked(level float64) *float64 {
	level *= 100
	return &level
}
