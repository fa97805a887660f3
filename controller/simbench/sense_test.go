package simbench

import (
	"math"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// Between two conversions a reading keeps its value and its age grows; a conversion makes it new.
func TestAges(t *testing.T) {
	a := newAt(t, testSpec(), "water")
	a.run(5*time.Second, controller.Levels{Press: true, Fan: 1, Hub: 1, Pads: 1})
	before := a.last
	conversions := [recipe.NumSensors]int{}
	const ticks = 400
	for range ticks {
		a.run(tick, controller.Levels{Press: true, Fan: 1, Hub: 1, Pads: 1})
		for s := range recipe.NumSensors {
			old, is, every := before[s], a.last[s], a.spec.Sensors[s].Every
			if is.Age < 0 || is.Age > every+tick {
				t.Fatalf("%s is %v old, and is read every %v", s, is.Age, every)
			}
			switch is.Age {
			case old.Age + tick:
				if is.Value != old.Value || is.Quality != old.Quality {
					t.Fatalf("%s changed without a new conversion", s)
				}
			default:
				conversions[s]++
			}
		}
		before = a.last
	}
	for s := range recipe.NumSensors {
		every := a.spec.Sensors[s].Every
		if every == tick {
			continue // always new
		}
		if want := int(ticks * tick / every); conversions[s] < want-1 || conversions[s] > want+1 {
			t.Errorf("%s made %d new values, want %d", s, conversions[s], want)
		}
	}
}

// The conversions of a sensor keep their own pace though the loop looks at another one.
func TestPaceIsTheSensorsOwn(t *testing.T) {
	spec := quiet()
	spec.Sensors[recipe.AirIn].Every = 70 * time.Millisecond
	a := newAt(t, spec, "water")
	a.run(7*time.Second, controller.Levels{})
	if n := a.sensors[recipe.AirIn].count; n != 101 {
		t.Errorf("%d conversions in 7 s at one every 70 ms, want 101", n)
	}
	a.run(50*time.Millisecond, controller.Levels{})
	near(t, "age in ms, 7.05 s after the start", float64(a.last[recipe.AirIn].Age.Milliseconds()), 50, 0)
	a.run(50*time.Millisecond, controller.Levels{})
	near(t, "age in ms, 7.10 s after the start", float64(a.last[recipe.AirIn].Age.Milliseconds()), 30, 0)
}

// What was missed while nobody looked is not made up, and asking twice at one time converts once.
func TestALateReadConvertsOnce(t *testing.T) {
	a := newAt(t, quiet(), "water")
	for range 3 {
		a.now = 10 * time.Second
		a.read()
	}
	if n := a.sensors[recipe.AirIn].count; n != 2 {
		t.Errorf("%d conversions, want 2: one at the start and one after ten seconds", n)
	}
	near(t, "age in s", a.last[recipe.AirIn].Age.Seconds(), 0, 0)
}

// The jacket follows its liner, but later and less.
func TestJacketLagsBehindTheLiner(t *testing.T) {
	a := newAt(t, quiet(), "distilled-water")
	a.run(10*time.Second, fanOnly)
	a.Wet(2 * mL)
	share := func() float64 {
		is := a.Truth()
		return (is.Cell - is.Surface) / (is.Cell - is.FrontTemp)
	}
	a.run(20*time.Second, fanOnly)
	if s := share(); s < 0.1 || s > 0.6 {
		t.Errorf("after 20 s the jacket shows %.2f of the liner's coldness", s)
	}
	a.run(15*time.Minute, fanOnly)
	near(t, "share of the liner's coldness that the jacket shows", share(), 0.8, 0.02)
}

func TestNoiseResolutionAndDrift(t *testing.T) {
	spec := quiet()
	k := &spec.Sensors[recipe.AirIn]
	k.Every, k.Noise, k.Step = tick, 0.1, 0.01
	spec.Sensors[recipe.AirInRH].Drift = 1e-4
	a := newAt(t, spec, "water")
	var n, sum, squares float64
	for range 4000 {
		a.run(tick, controller.Levels{})
		v := a.value(recipe.AirIn)
		if steps := v / 0.01; math.Abs(steps-math.Round(steps)) > 1e-6 {
			t.Fatalf("%v is between two steps", v)
		}
		n, sum, squares = n+1, sum+v-zeroC-21, squares+(v-zeroC-21)*(v-zeroC-21)
	}
	near(t, "mean error", sum/n, 0, 4*0.1/math.Sqrt(n))
	near(t, "standard deviation", math.Sqrt(squares/n), 0.1, 0.01)
	near(t, "humidity with drift", a.value(recipe.AirInRH), 0.5+1e-4*200, 2e-4)
}

func TestLag(t *testing.T) {
	spec := quiet()
	spec.Sensors[recipe.FanSpeed].Lag = 10 * time.Second
	a := newAt(t, spec, "water")
	a.run(10*time.Second, fanOnly)
	near(t, "fan speed after one lag", a.value(recipe.FanSpeed), 50*(1-math.Exp(-1)), 3)
}

// A healthy bench, read for hours at rest and at work, never has an implausible reading: neither the watch for stuck
// sensors nor the ranges may cry wolf.
func TestAHealthyBenchIsPlausible(t *testing.T) {
	a := newAt(t, testSpec(), "isopropanol-99")
	for i := range 2 {
		a.Wet(2 * mL)
		for _, l := range []controller.Levels{{}, working(), fanOnly} {
			for range 60 * 60 {
				a.run(time.Second, l)
				for s := range recipe.NumSensors {
					if q := a.last[s].Quality; q != controller.Good {
						t.Fatalf("round %d, %+v: %s is %s (%v)", i, l, s, q, a.last[s].Value)
					}
				}
			}
		}
	}
}

// A sensor whose noise is smaller than its resolution rests at one value for good reason.
func TestCoarseSensorsAreNotCalledStuck(t *testing.T) {
	spec := quiet()
	spec.Sensors[recipe.Air].Step = 0.5
	a := newAt(t, spec, "water")
	a.run(10*time.Minute, controller.Levels{Press: true})
	a.value(recipe.Air)
	a.value(recipe.PadFront)
}

func TestDryingShowsInTheReadings(t *testing.T) {
	a := newAt(t, testSpec(), "distilled-water")
	a.run(time.Minute, fanOnly)
	weight := a.value(recipe.Weight)
	a.Wet(2 * mL)
	a.run(8*time.Minute, fanOnly)
	if d := a.value(recipe.Air) - a.value(recipe.Surface); d < 3 || d > 8 {
		t.Errorf("the jacket of a wet disk is %.1f K colder than its air", d)
	}
	if d := a.value(recipe.AirIn) - a.value(recipe.AirOut); d < 0.2 || d > 2 {
		t.Errorf("the air leaves %.2f K colder", d)
	}
	if d := a.value(recipe.AirOutRH) - a.value(recipe.AirInRH); d < 0.02 {
		t.Errorf("the air leaves only %.3f more humid", d)
	}
	near(t, "weight of what is left", a.value(recipe.Weight)-weight, a.Truth().Liner*998.2, 2e-4)
	a.run(4*time.Hour, fanOnly)
	near(t, "jacket of a dry disk", a.value(recipe.Surface), a.value(recipe.Air), 0.3)
	near(t, "liner", a.Truth().Liner, 0, 0)
}

// The vapour of drying isopropanol is what the through-flow must carry: as much as left the liner, in the air that
// passed.
func TestVapourIsWhatTheAirCarries(t *testing.T) {
	a := newAt(t, quiet(), "isopropanol-100")
	a.Wet(2 * mL)
	a.run(2*time.Minute, fanOnly)
	gone := a.Truth().Evaporated
	a.run(10*time.Second, fanOnly)
	moles := (a.Truth().Evaporated - gone) * 786.0 / 0.060095 / 10
	air := 2.01e-3 * pressure / (gas * (zeroC + 18))
	near(t, "vapour", a.value(recipe.Vapour), moles/air/0.02, 0.05*moles/air/0.02)
}
