package simbench

import (
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// effects says for every fault what a person who watches the readings would see, after ten seconds of work with it.
// All of them start from a bench that works well.
var effects = [numFaults]func(*testing.T, *at){
	estop:        contactOpen(recipe.EStop),
	lidOpen:      contactOpen(recipe.Lid),
	lidWireCut:   contactOpen(recipe.Lid),
	trayWet:      contactOpen(recipe.TrayFloat),
	tankLow:      contactOpen(recipe.TankFloat, recipe.RinseFloat),
	pumpRunsDry:  contactOpen(recipe.TankFloat),
	padLight:     forces(0, 0.75),
	padHeavy:     forces(1.25, 3),
	padsOn:       forces(0.75, 1.25),
	padsStalled:  below(recipe.PadsSpeed, 0.1),
	hubSlow:      below(recipe.HubSpeed, 0.4*0.5),
	fanUnproven:  below(recipe.FanSpeed, 0.3*50),
	fanHumming:   above(recipe.FanSpeed, 1.3*50),
	airTooHot:    above(recipe.Surface, zeroC+45),
	vapourHigh:   above(recipe.Vapour, 0.25),
	vapourRising: above(recipe.Vapour, 0.10),
	padsUneven: func(t *testing.T, a *at) {
		front, back := a.value(recipe.PadFront)/a.asked, a.value(recipe.PadBack)/a.asked
		if d := (front - back) / ((front + back) / 2); d < 0.15 {
			t.Errorf("the pads differ by %.3f, not more than the 0.15 allowed", d)
		}
		forces(0.75, 1.25)(t, a)
	},
	heaterStuck: func(t *testing.T, a *at) {
		a.run(time.Minute, controller.Levels{})
		above(recipe.Air, zeroC+21+5)(t, a)
	},
	readingStale: func(t *testing.T, a *at) {
		for s := range recipe.NumSensors {
			if gone := a.last[s].Age > 9*time.Second; gone != (s != recipe.EStop) {
				t.Errorf("%s is %v old", s, a.last[s].Age)
			}
		}
	},
	readingGone: func(t *testing.T, a *at) {
		for s := range recipe.NumSensors {
			if gone := a.last[s].Age > 9*time.Second; gone != (s == recipe.PadFront || s == recipe.Air) {
				t.Errorf("%s is %v old", s, a.last[s].Age)
			}
		}
	},
	readingImplausible: only(controller.Implausible, recipe.PadFront, recipe.Air),
	readingFailed:      only(controller.Failed, recipe.PadFront, recipe.Air),
	readingStuck:       only(controller.Implausible, recipe.PadFront),
	readingImpossible: only(controller.Implausible, recipe.PadFront, recipe.PadBack, recipe.AirIn, recipe.Air,
		recipe.AirOut, recipe.Surface, recipe.AirInRH, recipe.AirOutRH),
	benchGone: func(t *testing.T, a *at) {
		for s := range recipe.NumSensors {
			if r := a.last[s]; r.Quality != controller.Failed || r.Value != 0 {
				t.Errorf("%s is %s (%v)", s, r.Quality, r.Value)
			}
		}
	},
	stageOvertime: func(t *testing.T, a *at) {
		out, was := 0, false
		for range 100 {
			a.run(100*time.Millisecond, working())
			front, back := a.value(recipe.PadFront) < 0.75*a.asked, a.value(recipe.PadBack) < 0.75*a.asked
			if front != back {
				t.Fatal("one pad flickers without the other")
			}
			if front && was {
				t.Fatal("out of the window for longer than a tenth of a second")
			}
			if was = front; front {
				out++
			}
		}
		if out < 45 || out > 55 {
			t.Errorf("out of the window in %d of 100 tenths of a second", out)
		}
		liner := a.Truth().Liner
		a.run(3*time.Hour, fanOnly)
		if is := a.Truth(); is.Liner < 0.99*liner || is.Leaked <= 0 {
			t.Errorf("the liner went from %g to %g m³", liner, is.Liner)
		}
	},
	driveFailing: func(t *testing.T, a *at) {
		if err := a.Drive(a.now, controller.Levels{}); err == nil || a.Levels() != working() {
			t.Errorf("%v, %+v", err, a.Levels())
		}
	},
	weakHeater: func(t *testing.T, a *at) {
		a.run(10*time.Minute, controller.Levels{Heater: 1, HeaterEnable: true, Fan: 1})
		near(t, "heat", a.Truth().Heat, 0.3*80, 0.1)
	},
	noisyForce: func(t *testing.T, a *at) {
		before := a.sensors[recipe.PadFront].despike.Rejected
		for range 600 {
			a.run(tick, working())
			if a.last[recipe.PadFront].Age > 2*100*time.Millisecond {
				t.Fatalf("front pad is %v old", a.last[recipe.PadFront].Age)
			}
			forces(0.75, 1.25)(t, a)
		}
		if n := a.sensors[recipe.PadFront].despike.Rejected - before; n < 25 {
			t.Errorf("only %d spikes in 30 s were taken out", n)
		}
	},
	loopLate:      armedOnly,
	recordFailing: armedOnly,
}

func contactOpen(list ...recipe.Sensor) func(*testing.T, *at) {
	return func(t *testing.T, a *at) {
		for _, s := range list {
			near(t, s.String(), a.value(s), 0, 0)
		}
	}
}

func below(s recipe.Sensor, most float64) func(*testing.T, *at) {
	return func(t *testing.T, a *at) {
		if v := a.value(s); v >= most {
			t.Errorf("%s is %g, want below %g", s, v, most)
		}
	}
}

func above(s recipe.Sensor, least float64) func(*testing.T, *at) {
	return func(t *testing.T, a *at) {
		if v := a.value(s); v <= least {
			t.Errorf("%s is %g, want above %g", s, v, least)
		}
	}
}

// forces wants both pads within these shares of what is asked.
func forces(least, most float64) func(*testing.T, *at) {
	return func(t *testing.T, a *at) {
		for _, s := range []recipe.Sensor{recipe.PadFront, recipe.PadBack} {
			if v := a.value(s) / a.asked; v < least || v > most {
				t.Errorf("%s is %.3f of what is asked, want %g to %g", s, v, least, most)
			}
		}
	}
}

// only wants a quality for some readings and good ones for the rest.
func only(q controller.Quality, list ...recipe.Sensor) func(*testing.T, *at) {
	return func(t *testing.T, a *at) {
		for s := range recipe.NumSensors {
			want := controller.Good
			for _, one := range list {
				if s == one {
					want = q
				}
			}
			if r := a.last[s]; r.Quality != want || r.Value != r.Value {
				t.Errorf("%s is %s (%v), want %s", s, r.Quality, r.Value, want)
			}
		}
	}
}

func armedOnly(t *testing.T, a *at) {
	only(controller.Good)(t, a)
	forces(0.75, 1.25)(t, a)
}

func TestEveryFaultShowsAndGoesAgain(t *testing.T) {
	for f, f0 := range Faults() {
		t.Run(f0.ID, func(t *testing.T) {
			a := newAt(t, testSpec(), "isopropanol-91")
			a.Wet(2 * mL)
			a.run(10*time.Second, working())
			only(controller.Good)(t, a)
			if !a.Arm(f0.ID) || !a.Armed(f0.ID) {
				t.Fatal("it cannot be armed")
			}
			a.run(10*time.Second, working())
			effects[f](t, a)
			if !a.Disarm(f0.ID) || a.Armed(f0.ID) {
				t.Fatal("it cannot be disarmed")
			}
			a.run(20*time.Second, working())
			only(controller.Good)(t, a)
			if f0.ID != "pump-runs-dry" { // what is spilt stays spilt
				near(t, "tank float", a.value(recipe.TankFloat), 1, 0)
			}
			near(t, "lid", a.value(recipe.Lid), 1, 0)
			forces(0.75, 1.25)(t, a)
		})
	}
}

// A fault of the pads leaves the recipe's window by the side that it is named for, whatever the window.
func TestPadFaultsKnowTheWindow(t *testing.T) {
	for _, pads := range []recipe.Pads{{Within: 0.1, Balance: 0.05}, {Within: 0.25, Balance: 0.15}, {Within: 0.5, Balance: 0.3}} {
		r := testRecipe("water")
		pads.Pressure = 1500
		r.Pads = pads
		shares := func(id string) (front, back float64) {
			b := New(testSpec(), r)
			b.Arm(id)
			return b.front, b.back
		}
		if front, back := shares("pad-light"); front >= 1-pads.Within || front != back || front <= 0 {
			t.Errorf("%+v: light %.3f, %.3f", pads, front, back)
		}
		if front, back := shares("pad-heavy"); front <= 1.05*(1+pads.Within) || front != back {
			t.Errorf("%+v: heavy %.3f, %.3f", pads, front, back)
		}
		if front, back := shares("pads-uneven"); front-back <= 1.05*pads.Balance || front > 1+0.95*pads.Within ||
			back < 1-0.95*pads.Within || front+back != 2 {
			t.Errorf("%+v: uneven %.3f, %.3f", pads, front, back)
		}
	}
}

// Without a sensor on the jacket, the heat of air-too-hot comes with the air.
func TestHotAirWithoutAJacketSensor(t *testing.T) {
	spec := testSpec()
	spec.Sensors[recipe.Surface].Fitted = false
	a := newAt(t, spec, "water")
	a.Arm("air-too-hot")
	a.run(time.Minute, fanOnly)
	above(recipe.Air, zeroC+53)(t, a)
}

// An id that is a guard's trips that guard; the others say which, or none.
func TestFaultTable(t *testing.T) {
	guards := map[string]bool{}
	for g := controller.EStopPressed; g.String() != "unknown guard"; g++ {
		guards[g.String()] = true
	}
	seen := map[string]bool{}
	for _, f := range Faults() {
		if seen[f.ID] || f.ID == "" || f.Said == "" || f.Where == "" {
			t.Errorf("%+v: twice, or not described", f)
		}
		seen[f.ID] = true
		if guards[f.ID] && f.Trips.String() != f.ID {
			t.Errorf("%s trips %s", f.ID, f.Trips)
		}
	}
	if New(testSpec(), testRecipe("water")).Arm("no-such") {
		t.Error("an unknown fault was armed")
	}
	list := Faults()
	list[0].ID = "changed"
	if Faults()[0].ID == "changed" {
		t.Error("the table can be changed from outside")
	}
}
