package simbench

import (
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

const (
	mL     = 1e-6 // m³
	tick   = 50 * time.Millisecond
	perMin = 1.0 / 60
)

// testSpec is a bench with every sensor, paced and noisy as such parts are.
func testSpec() recipe.Bench {
	spec := recipe.Bench{
		Name: "test", Simulated: true,
		Room:      recipe.Room{Volume: 30, AirChanges: 1.0 / 3600, Air: zeroC + 21, Humidity: 0.5},
		Tank:      recipe.Tank{Capacity: 500 * mL},
		RinseTank: recipe.Tank{Capacity: 500 * mL},
		Tray:      60 * mL,
		Pump:      recipe.Pump{Curve: []recipe.PumpPoint{{Duty: 0.2, Flow: 2 * mL * perMin}, {Duty: 1, Flow: 12 * mL * perMin}}},
		RinsePump: recipe.Pump{Curve: []recipe.PumpPoint{{Duty: 0.2, Flow: 5 * mL * perMin}, {Duty: 1, Flow: 40 * mL * perMin}}},
		Pads:      recipe.PadPair{Area: 6e-4, Fastest: 2, Most: 5000},
		Press:     true,
		Hub:       recipe.Spindle{Fastest: 6},
		Fan:       recipe.Fan{Fastest: 50, Least: 0.3, Through: 2e-3, Stirring: 3, DuctArea: 2e-3},
		Heater:    recipe.Heater{Power: 80, AirLimit: zeroC + 40, SurfaceLimit: zeroC + 45},
		Sim:       recipe.Sim{Seed: 7, Kept: 2 * mL, Film: 0.15, Friction: 0.3, Front: 1.03, Back: 0.98},
	}
	ms := time.Millisecond
	for s := range recipe.NumSensors {
		k := recipe.SensorSpec{Fitted: true, Stale: time.Second, Every: 50 * ms}
		switch s {
		case recipe.PadFront, recipe.PadBack:
			k.Every, k.Noise, k.Step = 100*ms, 0.004, 0.0005
		case recipe.AirIn, recipe.Air, recipe.AirOut, recipe.Surface:
			k.Every, k.Noise, k.Step, k.Lag = 250*ms, 0.03, 0.0027, 2*time.Second
		case recipe.AirInRH, recipe.AirOutRH:
			k.Every, k.Noise, k.Step, k.Lag = 1000*ms, 0.001, 0.00002, 8*time.Second
		case recipe.Vapour:
			k.Every, k.Noise, k.Step, k.Lag = 500*ms, 0.002, 0.0005, 5*time.Second
		case recipe.Weight:
			k.Every, k.Noise, k.Step, k.Drift = 100*ms, 2e-5, 1e-6, 1e-8
		case recipe.PadsSpeed, recipe.HubSpeed, recipe.FanSpeed:
			k.Every, k.Noise = 100*ms, 0.01
		}
		k.Stale = max(k.Stale, 4*k.Every)
		spec.Sensors[s] = k
	}
	return spec
}

func testRecipe(liquid string) recipe.Recipe {
	return recipe.Recipe{
		Name: "test", Liquid: liquid, Rinse: "distilled-water", Repeat: 1,
		Pads: recipe.Pads{Pressure: 2000, Within: 0.25, Balance: 0.15},
	}
}

// at drives and reads a bench tick by tick.
type at struct {
	testing.TB
	*Bench
	now  time.Duration
	last controller.Readings
}

func newAt(t testing.TB, spec recipe.Bench, liquid string) *at {
	a := &at{TB: t, Bench: New(spec, testRecipe(liquid))}
	a.read()
	return a
}

func (a *at) read() {
	var err error
	if a.last, err = a.Read(a.now); err != nil {
		a.Fatal(err)
	}
}

// run drives levels for a span.
func (a *at) run(span time.Duration, levels controller.Levels) {
	for end := a.now + span; a.now < end; a.now += tick {
		a.read()
		if err := a.Drive(a.now, levels); err != nil && !a.Armed("drive-failing") {
			a.Fatal(err)
		}
	}
	a.read()
}

// value returns a reading that must be good.
func (a *at) value(s recipe.Sensor) float64 {
	a.Helper()
	if q := a.last[s].Quality; q != controller.Good {
		a.Errorf("%s is %s, want good", s, q)
	}
	return a.last[s].Value
}

// working is every actuator that a scrub, a rinse and a drying use, at once.
func working() controller.Levels {
	return controller.Levels{Pump: 0.5, Press: true, Pads: 1, Hub: 0.5, Fan: 1}
}
