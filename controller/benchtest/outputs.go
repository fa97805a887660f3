package benchtest

import (
	"math"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// The cases about outputs. What is on is what an observer at the wires sees.

// work is everything that may be on together.
func (d *driver) work() controller.Levels {
	spec := d.Spec()
	l := controller.Levels{Press: spec.Press, Fan: 1}
	if len(spec.Pump.Curve) > 0 {
		l.Pump = 1
	}
	if len(spec.RinsePump.Curve) > 0 {
		l.RinsePump = 1
	}
	l.Pads, l.Hub = spec.Pads.Fastest, spec.Hub.Fastest
	if spec.Heater.Power > 0 {
		l.Heater, l.HeaterEnable = 1, true
	}
	return l
}

// asked tells whether levels ask for an output.
func asked(o recipe.Output, l controller.Levels) bool {
	return [recipe.NumOutputs]bool{
		recipe.OutPump: l.Pump > 0, recipe.OutRinsePump: l.RinsePump > 0, recipe.OutPress: l.Press, recipe.OutPads: l.Pads != 0,
		recipe.OutPadsReverse: l.Pads < 0, recipe.OutHub: l.Hub > 0, recipe.OutFan: l.Fan > 0,
		recipe.OutHeater: l.Heater > 0 && l.HeaterEnable, recipe.OutHeaterEnable: l.HeaterEnable,
	}[o]
}

// settling is how long outputs may take to come on one after the other.
const settling = 20 * time.Second

// offAtFirst: the claim itself switches nothing on, and nothing comes on by itself.
func offAtFirst(d *driver) {
	if on := d.on(); len(on) > 0 {
		d.Errorf("on after opening: %v", on)
	}
	d.run(time.Second, controller.Levels{})
	if on := d.on(); len(on) > 0 {
		d.Errorf("on after a second of nothing: %v", on)
	}
}

// follows asks for everything, one by one and together.
func follows(d *driver) {
	all := d.work()
	for _, want := range []controller.Levels{{Fan: 1}, {Hub: all.Hub}, {Pads: all.Pads, Press: all.Press}, {Pump: all.Pump}, all} {
		d.reaches(want)
		d.run(2*time.Second, controller.Levels{})
	}
}

// reaches drives levels until exactly what they ask for is on.
func (d *driver) reaches(want controller.Levels) {
	right := func() bool {
		for o := range recipe.OutAlive {
			if share, seen := d.Share(o); seen && share > 0 != asked(o, want) {
				return false
			}
		}
		return true
	}
	if !d.until(settling, want, right) {
		d.Errorf("asked for %+v, on are %v", want, d.on())
	}
}

// zeroIsOff: no rhythm, least time or bus holds back an off. It stays off: nothing that was owed is made up for.
func zeroIsOff(d *driver) {
	d.reaches(d.work())
	if err := d.Bench().Drive(d.Now(), controller.Levels{}); err != nil {
		d.Fatalf("Drive: %v", err)
	}
	d.settleBus()
	if on := d.on(); len(on) > 0 {
		d.Errorf("still on after a drive of nothing: %v", on)
	}
	d.run(5*time.Second, controller.Levels{})
	if on := d.on(); len(on) > 0 {
		d.Errorf("on again: %v", on)
	}
}

// settleBus lets what is driven beside the loop be written. No time passes that a loop would notice.
func (d *driver) settleBus() { d.Sleep(tick / 2) }

// heaterNeedsBoth: the two lines of the heater are two switches in one supply, and the bench asks for neither by itself.
func heaterNeedsBoth(d *driver) {
	for _, half := range []controller.Levels{{Fan: 1, Heater: 1}, {Fan: 1, HeaterEnable: true}} {
		for range 40 {
			d.tick(half)
			if share, seen := d.Share(recipe.OutHeater); seen && share > 0 {
				d.Fatalf("the heater is on with %+v", half)
			}
		}
	}
}

// nonsenseIsOff: a level that is no number, or less than nothing, comes from a fault of the program. It must not switch
// anything on.
func nonsenseIsOff(d *driver) {
	nan := math.NaN()
	d.run(time.Second, controller.Levels{Pump: nan, RinsePump: nan, Pads: nan, Hub: nan, Fan: nan, Heater: nan})
	if on := d.on(); len(on) > 0 {
		d.Errorf("on for what is no number: %v", on)
	}
	d.run(time.Second, controller.Levels{Pump: -1, RinsePump: -1, Hub: -1, Fan: -1, Heater: -1})
	if on := d.on(); len(on) > 0 {
		d.Errorf("on for less than nothing: %v", on)
	}
}

// closes: Close is the last thing that is done to a bench, and may be done again by whoever is not sure.
func closes(d *driver) {
	d.reaches(d.work())
	for range 2 {
		if err := d.Bench().Close(); err != nil {
			d.Errorf("Close: %v", err)
		}
		if on := d.on(); len(on) > 0 {
			d.Errorf("on after Close: %v", on)
		}
	}
}

// closesUnused: a bench that was opened and given up at once.
func closesUnused(d *driver) {
	if err := d.Bench().Close(); err != nil {
		d.Errorf("Close: %v", err)
	}
	if on := d.on(); len(on) > 0 {
		d.Errorf("on after Close: %v", on)
	}
}

// refusesAfterClose: a closed bench must not look like one that works, and least of all drive.
func refusesAfterClose(d *driver) {
	if err := d.Bench().Close(); err != nil {
		d.Errorf("Close: %v", err)
	}
	if err := d.Bench().Drive(d.Now(), d.work()); err == nil {
		d.Errorf("Drive after Close says nothing")
	}
	readings, err := d.Bench().Read(d.Now())
	if err == nil || readings != (controller.Readings{}) {
		d.Errorf("Read after Close: %v, %v", readings, err)
	}
	if on := d.on(); len(on) > 0 {
		d.Errorf("a drive after Close switched on %v", on)
	}
}
