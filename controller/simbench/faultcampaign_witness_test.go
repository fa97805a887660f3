package simbench

import (
	"fmt"
	"math"
	"strings"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipe/liquid"
)

// outs is a set of outputs.
type outs uint8

const (
	outPump outs = 1 << iota
	outRinse
	outPress
	outPads
	outHub
	outHeater
	outEnable
	outFan

	outPumps   = outPump | outRinse
	outHeating = outHeater | outEnable
	outMoving  = outPumps | outPress | outPads | outHub | outHeating // all but the fan
)

// on returns the outputs that levels switch on.
func on(l *controller.Levels) (set outs) {
	for i, is := range [...]bool{l.Pump != 0, l.RinsePump != 0, l.Press, l.Pads != 0, l.Hub != 0, l.Heater != 0,
		l.HeaterEnable, l.Fan != 0} {
		if is {
			set |= 1 << i
		}
	}
	return set
}

// String lists a set as the page shows it.
func (o outs) String() string {
	if o == outMoving {
		return "all but the fan"
	}
	var list []string
	for _, part := range []struct {
		of   outs
		name string
	}{{outPumps, "pumps"}, {outPress, "press"}, {outPads, "pads"}, {outHub, "hub"}, {outHeating, "heater"}, {outFan, "fan"}} {
		if o&part.of != 0 {
			list = append(list, part.name)
		}
	}
	return strings.Join(list, ", ")
}

// witness watches a cycle from outside: it reads the raw inputs and the outputs of every tick, follows the cycle by its
// events alone, as the record does, and asks the kernel nothing. What it finds wrong it keeps.
type witness struct {
	*course
	in  controller.Inputs
	dt  time.Duration
	was time.Duration // the moment of the tick before

	cycle controller.CycleState
	stage int
	ran   time.Duration // running time in this stage

	// What was asked in the tick before, and for how long.
	asked                  controller.Levels
	press, away, pads, hub time.Duration
	fan, heaterOff         time.Duration
	coolest                float64 // K at the cartridge since the heater went off
	given                  float64 // m³ that the pumps were asked to give
	purges, fanFailed      bool
	told                   []controller.Event // guards that tripped
	faults                 []string

	stillFor time.Duration // how long no fan was asked since the cycle was left

	shows func(*witness) bool // what to look out for while the cycle runs; nil for nothing
	shown bool                // this tick's inputs show it
}

func (w *witness) wrong(format string, args ...any) {
	if len(w.faults) < 3 {
		w.faults = append(w.faults, fmt.Sprintf(format, args...))
	}
}

// sees takes what a tick reads.
func (w *witness) sees(in *controller.Inputs) {
	w.in, w.dt, w.was = *in, in.Now-w.was, in.Now
	dt := max(w.dt, 0)
	count := func(span *time.Duration, is bool) {
		*span += dt
		if !is {
			*span = 0
		}
	}
	count(&w.press, w.asked.Press)
	count(&w.away, !w.asked.Press)
	count(&w.pads, w.asked.Pads != 0)
	count(&w.hub, w.asked.Hub != 0)
	count(&w.fan, w.asked.Fan > 0)
	count(&w.heaterOff, w.asked.Heater == 0)
	air, ok := w.value(recipe.Air)
	switch {
	case w.asked.Heater > 0:
		w.coolest = math.Inf(1)
	case ok && !(w.coolest <= air):
		w.coolest = air
	}
	if w.cycle == controller.Running {
		w.ran += dt
		if w.asked.Pump+w.asked.RinsePump > 0 {
			w.given += w.now().Flow * dt.Seconds()
		}
	}
	w.shown = w.shows != nil && w.cycle == controller.Running && w.shows(w)
}

// hears takes what a tick asks and tells, and checks what holds in every tick, whatever is wrong.
func (w *witness) hears(out *controller.Outputs) {
	for _, ev := range out.Events.All() {
		w.hear(ev)
	}
	is := on(&out.Levels)
	if bad := is & w.forbidden(); bad != 0 {
		w.wrong("%s on in spite of what is read, at %v", bad, w.in.Now)
	}
	if bad := is & outMoving; bad != 0 && w.cycle != controller.Running {
		w.wrong("%s on while %s", bad, w.cycle)
	}
	if is&outPumps != 0 && w.given > w.r.Limits.Liquid {
		w.wrong("pumps on after %g m³ of %g", w.given, w.r.Limits.Liquid)
	}
	ending := w.cycle == controller.Aborting || w.cycle == controller.Aborted
	if ending && w.purges && !w.fanFailed && is&outFan == 0 {
		w.wrong("the fan does not purge while %s", w.cycle)
	}
	if w.fanFailed && is&outFan != 0 {
		w.wrong("the fan is asked although it failed")
	}
	switch {
	case w.cycle == controller.Running:
		w.stillFor = 0
	case is&outFan == 0:
		w.stillFor += tick
	}
	w.asked = out.Levels
}

// hear follows the cycle by one event.
func (w *witness) hear(ev controller.Event) {
	switch ev.Kind {
	case controller.StateChanged:
		atRest := w.cycle == controller.Held || w.cycle.Ended()
		if ev.From != w.cycle || atRest && ev.To != controller.Aborting {
			w.wrong("%s left for %s (told as from %s) though nobody ordered it", w.cycle, ev.To, ev.From)
		}
		if w.cycle == controller.Idle { // where the pads are is judged by what this cycle asked
			w.away, w.press = 0, 0
		}
		w.cycle = ev.To
		if ev.To == controller.Aborting && w.burns {
			w.purges = true
		}
	case controller.StageBegun:
		w.stage, w.ran = int(ev.Stage), 0
	case controller.GuardTripped:
		w.told = append(w.told[:len(w.told):len(w.told)], ev)
		w.purges = w.purges || ev.Guard == controller.VapourHigh
		w.fanFailed = w.fanFailed || ev.Guard == controller.FanUnproven
		if happened, did, doNow := ev.Guard.Sentences(); len(happened) < 10 || len(did) < 10 || len(doNow) < 10 {
			w.wrong("%s says too little", ev.Guard)
		}
	}
}

// now is the stage as the recipe asks for it.
func (w *witness) now() *recipe.Stage { return &w.stages[w.stage] }

// value returns a reading that is good and fresh.
func (w *witness) value(s recipe.Sensor) (float64, bool) {
	r := &w.in.Readings[s]
	ok := r.Quality == controller.Good && r.Age >= 0 && r.Age <= w.spec.Sensors[s].Stale
	return r.Value, ok && r.Value == r.Value
}

// reads tells whether a sensor surely reads a value within bounds.
func (w *witness) reads(s recipe.Sensor, low, high float64) bool {
	v, ok := w.value(s)
	return ok && v >= low && v <= high
}

func (w *witness) well(s recipe.Sensor) bool { return w.reads(s, 1, 1) }

// forbidden are the outputs that this tick's readings forbid at once.
func (w *witness) forbidden() (set outs) {
	if !w.well(recipe.Lid) || !w.well(recipe.EStop) || w.late() || w.in.DriveFailed {
		set |= outMoving
	}
	if !w.well(recipe.TrayFloat) || w.burns && !w.fanTurns() {
		set |= outPumps
	}
	if do := w.now().Do; do == recipe.Wet && !w.well(recipe.TankFloat) || do == recipe.Rinse && !w.well(recipe.RinseFloat) {
		set |= outPumps
	}
	low, high := w.window()
	if !w.reads(recipe.PadFront, low, high) || !w.reads(recipe.PadBack, low, high) {
		set |= outPads
	}
	heater := &w.spec.Heater
	if w.burns || !w.fanTurns() || !w.reads(recipe.Air, 0, heater.AirLimit) || !w.reads(recipe.Surface, 0, heater.SurfaceLimit) {
		set |= outHeating
	}
	return set
}

// late tells whether the tick came too late, or the clock ran backwards.
func (w *witness) late() bool { return w.dt > 250*time.Millisecond || w.dt < 0 }

// window is the force that each pad may have, N.
func (w *witness) window() (low, high float64) {
	p := &w.r.Pads
	asked := p.Pressure * w.spec.Pads.Area
	return asked * (1 - p.Within), asked * (1 + p.Within)
}

// fanTurns tells whether the tach shows the fan that was asked for: three tenths of it at least, and no more than a fan can
// turn.
func (w *witness) fanTurns() bool {
	full := w.spec.Fan.Fastest
	return w.asked.Fan > 0 && w.reads(recipe.FanSpeed, 0.3*w.asked.Fan*full, 1.3*full)
}

// lost is the set of sensors that a stage needs and that give nothing usable: failed or too old, or impossible.
func (w *witness) lost(impossible bool) (set controller.SensorSet) {
	for s := range recipe.NumSensors {
		if !w.needs[w.stage].Has(s) {
			continue
		}
		_, ok := w.value(s)
		if q := w.in.Readings[s].Quality; !ok && impossible == (q == controller.Implausible) {
			set |= 1 << s
		}
	}
	return set
}

// needed are the sensors that a stage cannot do without: the contacts always, and whatever shows that what moves really does
// as it is asked, that nothing burns, and that the disk gets dry.
func needed(c *course, st recipe.Stage) (set controller.SensorSet) {
	need := func(is bool, list ...recipe.Sensor) {
		for _, s := range list {
			if is && c.spec.Sensors[s].Fitted {
				set |= 1 << s
			}
		}
	}
	need(true, recipe.Lid, recipe.EStop, recipe.TrayFloat)
	need(st.Do == recipe.Wet, recipe.TankFloat)
	need(st.Do == recipe.Rinse, recipe.RinseFloat)
	need(st.Pads > 0, recipe.PadFront, recipe.PadBack, recipe.PadsSpeed)
	need(st.Hub > 0, recipe.HubSpeed)
	need(st.Hub > 0 && c.r.Pads.Pressure > 0, recipe.PadFront, recipe.PadBack) // a press that jams
	need(st.Fan > 0 || c.burns, recipe.FanSpeed)
	need(st.Warm > 0, recipe.Air, recipe.Surface)
	need(c.burns, recipe.Vapour)
	arrives := c.r.Stages[0].Do == recipe.Dry // it was never read dry: only the clock can end its drying
	need(st.UntilDry && !arrives, recipe.Air, recipe.Surface)
	return set
}

// mayBurn tells whether anything in the cycle, or on the bench from before, can burn.
func mayBurn(r recipe.Recipe, spec recipe.Bench) bool {
	for _, name := range []string{r.Liquid, r.Rinse, spec.PadsAndBathHeld} {
		if l, err := liquid.Parse(name); name != "" && (err != nil || l.Flammable) {
			return true
		}
	}
	return false
}
