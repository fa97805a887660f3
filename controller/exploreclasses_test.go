package controller

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"
)

// The classes of input: in what ways the world may be in a step.

// class is one such way.
type class struct {
	name   string
	twist  func(*puppet, *Inputs)
	atOnce bool // seen for the first time, before any debounce: tried without orders
}

// worlds are the classes for one bench: all well; every sensor unusable, in the two ways that a step tells apart; every
// value that a rule has a threshold for, on its wrong side; everything gone at once; the clock in every way; and what
// became of outputs and record. The first are those that bear on orders the most.
func worlds(b *recipe.Bench) []class {
	list := []class{{name: "all well", twist: func(*puppet, *Inputs) {}}}
	for _, group := range [][]class{contacts(b), values(b), unusable(b), clocks(), atOnce(b), {
		{name: "drive failing", twist: func(_ *puppet, in *Inputs) { in.DriveFailed = true }},
		{name: "record failing", twist: func(_ *puppet, in *Inputs) { in.RecordFailing = true }},
		{name: "every reading gone", twist: func(_ *puppet, in *Inputs) { in.Readings = Readings{} }},
	}} {
		list = append(list, group...)
	}
	return list
}

// reads is a class in which one sensor reads a value.
func reads(name string, s recipe.Sensor, x float64) class {
	return class{name: name, twist: func(_ *puppet, in *Inputs) { in.Readings[s].Value = x }}
}

// atOnce are the troubles that a guard waits out, in a step at the same moment as the one before: no debounce has passed,
// a tick here being longer than most, and what must not be on has to be off all the same.
func atOnce(b *recipe.Bench) (list []class) {
	for _, c := range append(contacts(b), values(b)...) {
		list = append(list, class{name: c.name + ", just now", atOnce: true, twist: func(u *puppet, in *Inputs) {
			c.twist(u, in)
			in.Now = u.s.Last
		}})
	}
	return list
}

func contacts(b *recipe.Bench) (list []class) {
	for s := recipe.Lid; s.Contact(); s++ {
		if b.Sensors[s].Fitted {
			list = append(list, reads(s.String()+" tripped", s, 0))
		}
	}
	return list
}

// values are readings that can be believed, each on the wrong side of a threshold of some rule.
func values(b *recipe.Bench) (list []class) {
	add := func(name string, s recipe.Sensor, x float64) {
		if b.Sensors[s].Fitted {
			list = append(list, reads(name, s, x))
		}
	}
	add("fan stands", recipe.FanSpeed, 0)
	add("fan's tach counts noise", recipe.FanSpeed, 999)
	add("hub stands", recipe.HubSpeed, 0)
	add("pads stall", recipe.PadsSpeed, 0)
	for _, pad := range []recipe.Sensor{recipe.PadFront, recipe.PadBack} {
		add(pad.String()+" light", pad, 0)
		add(pad.String()+" heavy", pad, 9)
	}
	add("air hot", recipe.Air, celsius0+60)
	add("jacket hot", recipe.Surface, celsius0+60)
	add("jacket cold", recipe.Surface, celsius0+10)
	add("disk wet", recipe.Weight, 2e-3)
	add("vapour high", recipe.Vapour, 0.5)
	add("vapour rising", recipe.Vapour, 0.2)
	if b.Heater.Power > 0 {
		add("air over its limit", recipe.Air, celsius0+41)
		list = append(list, class{name: "room over its limit", twist: func(_ *puppet, in *Inputs) {
			in.Readings[recipe.Air].Value, in.Readings[recipe.AirIn].Value = celsius0+41, celsius0+41
		}})
	}
	if b.Sensors[recipe.PadFront].Fitted {
		list = append(list, class{name: "pads uneven", twist: func(u *puppet, in *Inputs) {
			in.Readings[recipe.PadFront].Value *= 0.85
			in.Readings[recipe.PadBack].Value *= 1.15
		}}, class{name: "pads stay on", twist: func(u *puppet, in *Inputs) {
			force := u.p.recipe.Pads.Pressure * b.Pads.Area
			in.Readings[recipe.PadFront].Value, in.Readings[recipe.PadBack].Value = force, force
		}})
	}
	return list
}

// unusable are every sensor's reading too old, though it reads well, and refused, though it reads well. The other ways
// of having no reading are one of the two to a step: TestEveryWayIsAClass.
func unusable(b *recipe.Bench) (list []class) {
	for s := range recipe.NumSensors {
		if !b.Sensors[s].Fitted {
			continue
		}
		list = append(list,
			class{name: s.String() + " stale", twist: func(u *puppet, in *Inputs) { in.Readings[s].Age = b.Sensors[s].Stale + 1 }},
			class{name: s.String() + " implausible", twist: func(_ *puppet, in *Inputs) { in.Readings[s].Quality = Implausible }})
	}
	return list
}

// clocks are the ways in which time may pass instead of by a tick.
func clocks() []class {
	passes := func(name string, dt time.Duration) class {
		return class{name: name, twist: func(_ *puppet, in *Inputs) { in.Now += dt - time.Second }}
	}
	return []class{
		passes("the clock stands", 0), passes("two ticks, just not late", 2*time.Second),
		passes("a whole stage passes", 3*time.Second), passes("clock an hour ahead", time.Hour),
		passes("clock back", -5*time.Second),
	}
}

// way is one way in which a sensor's reading may be worth nothing.
type way struct {
	name  string
	spoil func(r *Reading, b *recipe.Bench, s recipe.Sensor)
}

// ways is all of them: each quality, each end of the age, and each value that cannot be.
var ways = []way{
	{"gone", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { *r = Reading{} }},
	{"failed", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Quality = Failed }},
	{"of an unknown quality", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Quality = 200 }},
	{"too old", func(r *Reading, b *recipe.Bench, s recipe.Sensor) { r.Age = b.Sensors[s].Stale + 1 }},
	{"a year old", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Age = 365 * 24 * time.Hour }},
	{"from the future", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Age = -1 }},
	{"implausible", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Quality = Implausible }},
	{"implausible and old", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Quality, r.Age = Implausible, time.Hour }},
	{"no number", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Value = math.NaN() }},
	{"too large", func(r *Reading, _ *recipe.Bench, s recipe.Sensor) { r.Value = math.Nextafter(plausible[s].high, 1e9) }},
	{"too small", func(r *Reading, _ *recipe.Bench, s recipe.Sensor) { r.Value = math.Nextafter(plausible[s].low, -1e9) }},
	{"endless", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Value = math.Inf(1) }},
	{"endless below", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Value = math.Inf(-1) }},
}

// TestEveryWayIsAClass: every sensor that the benches have × every way of being worth nothing comes to the same view as
// one of the classes that are walked: the same sensors usable, stale and implausible, with the same values. Step reads the
// readings through its view alone, so that one way then stands for the other.
func TestEveryWayIsAClass(t *testing.T) {
	p := coarse(mustCompile(t, shortRecipe("water-detergent", recipe.Rinse, recipe.Dry), everyPart()))
	u := puppet{p: p}
	list := worlds(&p.bench)
	for s := range recipe.NumSensors {
		if !p.bench.Sensors[s].Fitted {
			t.Fatalf("%s is on no bench that is walked", s)
		}
		for _, w := range waysOf(s) {
			in := u.ticks()
			w.spoil(&in.Readings[s], &p.bench, s)
			class, same := sameView(&u, &in, list)
			if !same {
				t.Errorf("%s %s: no class comes to the same view", s, w.name)
			}
			if class == 0 {
				t.Errorf("%s %s: as if all were well", s, w.name)
			}
		}
	}
}

// waysOf is ways, and for a contact what no contact can read.
func waysOf(s recipe.Sensor) []way {
	if !s.Contact() {
		return ways
	}
	return append([]way{{"between", func(r *Reading, _ *recipe.Bench, _ recipe.Sensor) { r.Value = 0.5 }}}, ways...)
}

// sameView finds the class in whose world a step sees what it sees in these inputs.
func sameView(u *puppet, in *Inputs, list []class) (int, bool) {
	var s State
	for i := range list {
		other := u.ticks()
		list[i].twist(u, &other)
		if other.Now == in.Now && other.DriveFailed == in.DriveFailed && other.RecordFailing == in.RecordFailing &&
			alike(u.p, &s, in, &other) {
			return i, true
		}
	}
	return 0, false
}

// alike tells whether a step sees the same in two inputs.
func alike(p *Program, s *State, in, other *Inputs) bool {
	a, b := p.see(s, in), p.see(s, other)
	if a.usable != b.usable || a.stale != b.stale || a.implausible != b.implausible {
		return false
	}
	for i := range recipe.NumSensors {
		x, y := a.value(i), b.value(i)
		if x != y && (x == x || y == y) {
			return false
		}
	}
	return true
}

// ticks are the inputs of the next tick on a bench where all is well.
func (u *puppet) ticks() Inputs {
	in := Inputs{Now: u.s.Last + time.Second}
	u.well(&in)
	if b := &u.p.bench; !b.Press && b.Sensors[recipe.PadFront].Fitted { // the pads rest on the disk always
		force := u.p.recipe.Pads.Pressure * b.Pads.Area
		in.Readings[recipe.PadFront].Value, in.Readings[recipe.PadBack].Value = force, force
	}
	return in
}

// mayBear tells whether an order can be carried out in a state, or in one to which a guard may take it in the same step:
// it is then tried in every world. Where it can not, it is tried in the first worlds, and found to change nothing.
func mayBear(o Order, c CycleState) bool {
	switch o {
	case Start:
		return c == Idle
	case Hold:
		return working.has(c)
	case Resume, ToDry:
		return c == Held
	case Stop:
		return working.has(c) || c == Holding || c == Held
	case Abort:
		return active.has(c)
	case Reset:
		return c.Ended()
	default:
		return false
	}
}

// looksAt tells whether a rule may ask whether the operator looked at an order; the others are tried both ways only in
// the first worlds.
func looksAt(o Order) bool { return o == Start || o == Resume || o == ToDry || o == Reset }
