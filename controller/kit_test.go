package controller

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"
)

const (
	celsius0 = 273.15 // K
	mL       = 1e-6   // m³
	perMin   = 1.0 / 60
)

// testBench is a bench with every actuator and every sensor but the scale.
func testBench() recipe.Bench {
	b := recipe.Bench{
		Name: "test", Simulated: true,
		Room:      recipe.Room{Volume: 30, AirChanges: 1.0 / 3600, Air: celsius0 + 21, Humidity: 0.5},
		Tank:      recipe.Tank{Capacity: 500 * mL},
		RinseTank: recipe.Tank{Capacity: 500 * mL},
		Tray:      60 * mL,
		Pump:      recipe.Pump{Curve: []recipe.PumpPoint{{Duty: 0.2, Flow: 2 * mL * perMin}, {Duty: 1, Flow: 12 * mL * perMin}}},
		RinsePump: recipe.Pump{Curve: []recipe.PumpPoint{{Duty: 0.2, Flow: 5 * mL * perMin}, {Duty: 1, Flow: 40 * mL * perMin}}},
		Pads:      recipe.PadPair{Area: 6e-4, Fastest: 2, Most: 5000},
		Press:     true,
		Hub:       recipe.Spindle{Fastest: 5},
		Fan:       recipe.Fan{Fastest: 50, Least: 0.3, Through: 2e-3, Stirring: 3, DuctArea: 2e-3},
		Heater:    recipe.Heater{Power: 40, AirLimit: celsius0 + 40, SurfaceLimit: celsius0 + 45},
	}
	for s := range b.Sensors {
		b.Sensors[s] = recipe.SensorSpec{Fitted: recipe.Sensor(s) != recipe.Weight, Stale: time.Second}
	}
	return b
}

// testRecipe wets, scrubs, rinses, spins out and dries; warmed when the liquid cannot burn.
func testRecipe(liquid string) recipe.Recipe {
	r := recipe.Recipe{
		Name: "test", Title: "Test", Media: []string{"90 mm"}, Liquid: liquid, Rinse: "distilled-water", Repeat: 1,
		Pads:   recipe.Pads{Pressure: 2000, Within: 0.25, Balance: 0.15},
		Limits: recipe.Limits{Liquid: 20 * mL, Time: 5 * time.Hour},
		Stages: []recipe.Stage{
			{Do: recipe.Wet, Flow: 6 * mL * perMin, For: 30 * time.Second},
			{Do: recipe.Soak, For: 10 * time.Second, Hub: 0.3},
			{Do: recipe.Scrub, Pads: 1, Hub: 0.3, For: 40 * time.Second, Reverse: 10 * time.Second},
			{Do: recipe.Rinse, Flow: 10 * mL * perMin, For: 30 * time.Second, Hub: 0.3},
			{Do: recipe.SpinOut, Hub: 4, For: 15 * time.Second},
			{Do: recipe.Dry, Fan: 1, Hub: 0.3, UntilDry: true, AtMost: 90 * time.Minute},
		},
	}
	if liquid == "water-detergent" {
		r.Stages[5].Warm = celsius0 + 36
	}
	return r
}

func mustCompile(t testing.TB, r recipe.Recipe, b recipe.Bench) *Program {
	t.Helper()
	p, err := Compile(r, b)
	if err != nil {
		t.Fatalf("Compile: %v", err)
	}
	return p
}

// puppet is a bench without physics: every reading follows the outputs at once, all is well, and a test may twist
// single readings.
type puppet struct {
	p       *Program
	s       State
	out     Outputs
	in      Inputs
	twist   func(*Inputs)
	history []Event
}

func newPuppet(p *Program) *puppet { return &puppet{p: p} }

// well fills the readings of a bench on which all is well and which does at once what it is asked.
func (u *puppet) well(in *Inputs) {
	b, drove := &u.p.bench, u.s.Drove
	force := 0.0
	if drove.Press {
		force = u.p.recipe.Pads.Pressure * b.Pads.Area
	}
	values := [recipe.NumSensors]float64{
		recipe.Lid: 1, recipe.EStop: 1, recipe.TrayFloat: 1, recipe.TankFloat: 1, recipe.RinseFloat: 1,
		recipe.PadFront: force, recipe.PadBack: force,
		recipe.PadsSpeed: drove.Pads, recipe.HubSpeed: drove.Hub, recipe.FanSpeed: drove.Fan * b.Fan.Fastest,
		recipe.AirIn: celsius0 + 21, recipe.Air: celsius0 + 21, recipe.AirOut: celsius0 + 19,
		recipe.AirInRH: 0.5, recipe.AirOutRH: 0.6, recipe.Surface: celsius0 + 21, recipe.Vapour: 0.01,
	}
	for s, x := range values {
		if b.Sensors[s].Fitted {
			in.Readings[s] = Reading{Value: x, Quality: Good}
		}
	}
}

// step moves on by dt with an order, and returns the events.
func (u *puppet) step(dt time.Duration, c Command) []Event {
	now := u.s.Last
	if u.s.Ticking {
		now += dt
	}
	u.in = Inputs{Now: now, Command: c}
	u.well(&u.in)
	if u.twist != nil {
		u.twist(&u.in)
	}
	u.s, u.out = u.p.Step(u.s, u.in)
	events := u.out.Events.All()
	u.history = append(u.history, events...)
	return events
}

// tick moves on by one tick.
func (u *puppet) tick() []Event { return u.step(u.p.timing.tick, Command{}) }

// order gives one order, looked at, in one tick.
func (u *puppet) order(o Order) []Event {
	return u.step(u.p.timing.tick, Command{Order: o, Looked: true})
}

// until ticks until done says so; it fails the test after two hours of bench time.
func (u *puppet) until(t testing.TB, what string, done func() bool) {
	t.Helper()
	for end := u.s.Last + 2*time.Hour; !done(); u.tick() {
		if u.s.Last > end {
			t.Fatalf("never came to %s; the cycle is %s in stage %d, cause %s", what, u.s.Cycle, u.s.Stage, u.s.Cause)
		}
	}
}

// toStage starts a cycle and runs it until a stage of that kind does its work.
func (u *puppet) toStage(t testing.TB, kind recipe.Kind) {
	t.Helper()
	u.tick()
	u.order(Start)
	u.until(t, kind.String(), func() bool {
		return u.s.Cycle == Running && u.p.stages[u.s.Stage].Do == kind && u.s.Worked > time.Second
	})
}

// dryOut makes the puppet's jacket cold and lets that fade as it does on a liner that dries, so that the dry stage can
// end: six minutes wet through, then an e-fold every 90 s.
func (u *puppet) dryOut() {
	u.twist = func(in *Inputs) {
		depression := 6.0
		if falling := u.s.Worked - 6*time.Minute; falling > 0 {
			depression *= math.Exp(-falling.Seconds() / 90)
		}
		if u.p.stages[u.s.Stage].isDry() && u.s.Cycle == Running {
			in.Readings[recipe.Surface].Value = in.Readings[recipe.Air].Value - depression
		}
	}
}

func has(events []Event, kind EventKind, g Guard) bool {
	for _, ev := range events {
		if ev.Kind == kind && ev.Guard == g {
			return true
		}
	}
	return false
}
