package benchtest

import (
	"math"
	"slices"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// The cases about readings.

// fitted lists the sensors that the bench has.
func (d *driver) fitted() (fitted []recipe.Sensor) {
	spec := d.Spec()
	for s := range recipe.NumSensors {
		if spec.Sensors[s].Fitted {
			fitted = append(fitted, s)
		}
	}
	return fitted
}

// judge holds a reading against what no reading may be.
func (d *driver) judge(s recipe.Sensor, r controller.Reading) {
	switch {
	case r.Age < 0:
		d.Errorf("%s: an age of %v", s, r.Age)
	case r.Quality != controller.Good:
	case math.IsNaN(r.Value) || math.IsInf(r.Value, 0):
		d.Errorf("%s: a good reading of %g", s, r.Value)
	case s.Contact() && r.Value != 0 && r.Value != 1:
		d.Errorf("%s: a contact that reads %g", s, r.Value)
	}
}

// waking is how long sensors may take until the first value is there.
const waking = 12 * time.Second

// good drives nothing until a sensor is good and fresh.
func (d *driver) good(s recipe.Sensor) bool {
	stale := d.Spec().Sensors[s].Stale
	return d.until(waking, controller.Levels{}, func() bool {
		r := d.last[s]
		return r.Quality == controller.Good && r.Age <= stale
	})
}

// healthy: every fitted sensor is good within a while, and stays so.
func healthy(d *driver) {
	for _, s := range d.fitted() {
		if !d.good(s) {
			d.Errorf("%s is %v", s, d.last[s])
		}
		well := func() bool { return d.last[s].Value == 1 }
		if s.Contact() && !well() && !d.until(time.Second, controller.Levels{}, well) {
			d.Errorf("%s reads %g while all is well", s, d.last[s].Value)
		}
	}
	// And it stays so: values go on coming.
	for range 100 {
		d.tick(controller.Levels{})
		for _, s := range d.fitted() {
			if r := d.last[s]; r.Quality != controller.Good || r.Age > d.Spec().Sensors[s].Stale {
				d.Fatalf("%s became %v", s, r)
			}
		}
	}
}

// absent: what is not there is told as such, with nothing that could be taken for a value.
func absent(d *driver) {
	d.run(time.Second, controller.Levels{})
	for s := range recipe.NumSensors {
		if !slices.Contains(d.fitted(), s) && d.last[s] != (controller.Reading{}) {
			d.Errorf("%s is not fitted and reads %v", s, d.last[s])
		}
	}
}

// contactOpens: a contact is what stops a machine that turns, so it is seen in the very next tick. Failed serves as well:
// the controller stops for that too.
func contactOpens(d *driver) {
	for _, s := range d.fitted() {
		if !s.Contact() || !d.good(s) || !d.Make(s, Tripped) {
			continue
		}
		d.Sleep(tick)
		d.read()
		if r := d.last[s]; r.Quality == controller.Good && r.Value == 1 {
			d.Errorf("%s is open and reads that all is well", s)
		}
		d.Make(s, Well)
		if !d.until(waking, controller.Levels{}, func() bool { return d.last[s].Value == 1 }) {
			d.Errorf("%s does not come back: %v", s, d.last[s])
		}
	}
}

// noticing is how long trouble of a sensor may stay unseen: longer than its values serve.
func (d *driver) noticing(s recipe.Sensor) time.Duration {
	return d.Spec().Sensors[s].Stale + time.Second
}

// failing: a sensor that gives errors becomes Failed or Implausible, and good again when the errors end, without a
// restart.
func failing(d *driver) {
	tried := 0
	for _, s := range d.fitted() {
		if !d.good(s) || !d.Make(s, Failing) {
			continue
		}
		tried++
		bad := func() bool { q := d.last[s].Quality; return q == controller.Failed || q == controller.Implausible }
		if !d.until(d.noticing(s), controller.Levels{}, bad) {
			d.Errorf("%s cannot be read and is %v", s, d.last[s])
		}
		d.Make(s, Well)
		if !d.until(waking, controller.Levels{}, func() bool { return d.last[s].Quality == controller.Good }) {
			d.Errorf("%s does not come back: %v", s, d.last[s])
		}
	}
	d.tried(tried, Failing)
}

// silent: without new values a reading grows old, however good it was.
func silent(d *driver) {
	tried := 0
	for _, s := range d.fitted() {
		if !d.good(s) || !d.Make(s, Silent) {
			continue
		}
		tried++
		d.until(time.Second, controller.Levels{}, func() bool { return d.last[s].Age > d.Spec().Sensors[s].Every })
		before := d.last[s].Age
		d.run(d.noticing(s), controller.Levels{})
		r := d.last[s]
		if r.Quality == controller.Good && r.Age <= max(before, d.Spec().Sensors[s].Stale) {
			d.Errorf("%s makes no new value and its age went from %v to %v", s, before, r.Age)
		}
		d.Make(s, Well)
		if !d.good(s) {
			d.Errorf("%s does not come back: %v", s, d.last[s])
		}
	}
	d.tried(tried, Silent)
}

// hanging: read judges how long a Read takes. What is driven still reaches the wires.
func hanging(d *driver) {
	tried := 0
	for _, s := range d.fitted() {
		if !d.good(s) || !d.Make(s, Hanging) {
			continue
		}
		tried++
		d.run(time.Second, controller.Levels{})
		d.reaches(controller.Levels{Fan: 1})
		d.run(d.noticing(s), controller.Levels{})
		if r := d.last[s]; r.Quality == controller.Good && r.Age <= d.Spec().Sensors[s].Stale {
			d.Errorf("%s hangs and is %v", s, r)
		}
		d.Make(s, Well)
		if !d.good(s) {
			d.Errorf("%s does not come back: %v", s, d.last[s])
		}
	}
	d.tried(tried, Hanging)
}

// tried tells when a case had nothing to try on, so that a rig that can do nothing does not pass in silence.
func (d *driver) tried(n int, what State) {
	if n == 0 {
		d.Logf("not tried: no sensor of this rig can be made %s", what)
	}
}

// backwards: the clock is monotonic, but a bench that is handed an older moment must not take it for a negative age, nor
// leave anything on.
func backwards(d *driver) {
	d.run(time.Second, controller.Levels{Fan: 1})
	back := d.Now() - 500*time.Millisecond
	readings, err := d.Bench().Read(back)
	if err != nil {
		d.Fatalf("Read: %v", err)
	}
	for s := range recipe.NumSensors {
		d.judge(s, readings[s])
	}
	if err := d.Bench().Drive(back, controller.Levels{}); err != nil {
		d.Fatalf("Drive: %v", err)
	}
	d.settleBus()
	if on := d.on(); len(on) > 0 {
		d.Errorf("still on: %v", on)
	}
}
