package endpoint

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"

	"pgregory.net/rapid"
)

func agree(t testing.TB, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within*math.Abs(want)) {
		t.Errorf("%s: %.6g, want %.6g", what, got, want)
	}
}

// TestMoistureAsASHRAE holds the humidity ratio in moisture against published states: ASHRAE Handbook Fundamentals 2017,
// chapter 1, by the tests of psychrolib (test_AllPsychrometrics, test_GetSatHumRatio, test_GetHumRatioFromVapPres).
// The kelvins are that ratio times the latent heat over the heat capacity of dry air. The latent heat here is the linear one
// of the same chapter, so that the package's own, which is up to 0.6 % off it, is checked along.
func TestMoistureAsASHRAE(t *testing.T) {
	latent := func(c float64) float64 { return 2.501e6 - 2326*c } // J/kg: in kJ (2501 + 1.86 t) − 4.186 t
	for _, q := range []struct {
		what              string
		humidity, celsius float64
		pressure          float64
		ratio             float64
	}{
		{"example 1: 40 °C, 14 %", 0.139795, 40, 101325, 0.0064}, // 0.0065 ± 0.0001 in the book
		{"table 2: saturated at 5 °C", 1, 5, 101325, 0.005425},
		{"table 2: saturated at 25 °C", 1, 25, 101325, 0.020173},
		{"table 2: saturated at 50 °C", 1, 50, 101325, 0.086863},
		{"3169.7 Pa at 500 m", 1, 25, 95461, 0.0213603998},
	} {
		got := moisture(q.humidity, zeroC+q.celsius, q.pressure) * airHeat / latent(q.celsius)
		agree(t, q.what, got, q.ratio, 0.01)
	}
	if moisture(0, 300, 0) != 0 || moisture(0.5, 300, 0) != moisture(0.5, 300, drying.Atmosphere) {
		t.Error("no moisture is not nothing, or pressure 0 is not the atmosphere")
	}
}

// TestErrorByHand works the error of a surface evidence out by hand: two sensors of 0.03 K that round to 0.06 K, read every
// 4 s, a drift of 0.01 K/h each, over a drying of a length that the plan knows.
func TestErrorByHand(t *testing.T) {
	b := benchWith(recipe.Air, recipe.Surface)
	for _, s := range []recipe.Sensor{recipe.Air, recipe.Surface} {
		b.Sensors[s] = recipe.SensorSpec{Fitted: true, Every: 4 * time.Second, Noise: 0.03, Step: 0.06, Drift: 0.01 / 3600}
	}
	c := room(t, "isopropanol-91", 0.5, 3)
	senses := ByBench(b, c)
	one := math.Sqrt(0.03*0.03 + 0.06*0.06/12) // a uniform distribution of width a has the variance a²/12
	agree(t, "noise of the difference", senses[BySurface-1].Noise, one*math.Sqrt2, 1e-12)
	agree(t, "drift of the difference", senses[BySurface-1].Drift, 0.02/3600, 1e-12)
	p, err := New(drying.Belief{}, c, senses)
	if err != nil {
		t.Fatal(err)
	}
	// Five readings in the 20 s of the zero; the smoothing by 10 s averages like 20 s do: variance dt/(2τ).
	averaged := one * math.Sqrt2 / math.Sqrt(5)
	drift := 0.02 / 60 * p.Expected.Minutes.Median
	want := math.Sqrt(2*averaged*averaged + drift*drift + 0.02*0.02)
	agree(t, "error", p.Sights[BySurface-1].Error, want, 1e-9)
}

// TestNoFasterThanAsked: the end point is shown one reading a second. What a quicker sensor reads between two is not
// averaged: noise of 0.3 K must not pass for less because a new reading is made every 10 ms.
func TestNoFasterThanAsked(t *testing.T) {
	b := benchWith(recipe.Air, recipe.Surface)
	for _, s := range []recipe.Sensor{recipe.Air, recipe.Surface} {
		b.Sensors[s] = recipe.SensorSpec{Fitted: true, Every: 10 * time.Millisecond, Noise: 0.3, Step: 0.5}
	}
	c := room(t, "isopropanol-91", 0.5, 3)
	senses := ByBench(b, c)
	if every := senses[BySurface-1].Every; every < 1 {
		t.Errorf("readings count every %g s, though they are looked at once a second", every)
	}
	p, err := New(drying.Belief{}, c, senses)
	if err != nil || p.Sights[BySurface-1].Visible {
		t.Errorf("%v, %+v: visible through 0.3 K of noise and steps of 0.5 K", err, p.Sights[BySurface-1])
	}
}

// TestWhichSensorsAreNeeded: each evidence needs what it compares.
func TestWhichSensorsAreNeeded(t *testing.T) {
	water, alcohol := room(t, "water", 0.5, 0.5), room(t, "isopropanol-91", 0.5, 0.5)
	for _, q := range []struct {
		what   string
		fitted []recipe.Sensor
		c      drying.Case
		seen   []Evidence
		damp   bool // the humidity has a part in the air's signal
	}{
		{"none", nil, water, nil, false},
		{"a scale", []recipe.Sensor{recipe.Weight}, water, []Evidence{ByWeight}, false},
		{"a jacket sensor alone", []recipe.Sensor{recipe.Surface}, water, nil, false},
		{"jacket and air", []recipe.Sensor{recipe.Surface, recipe.Air}, water, []Evidence{BySurface}, false},
		{"jacket and the air entering", []recipe.Sensor{recipe.Surface, recipe.AirIn}, water, []Evidence{BySurface}, false},
		{"the same, warmed: that is another air", []recipe.Sensor{recipe.Surface, recipe.AirIn}, warmed(water), nil, false},
		{"both airs", []recipe.Sensor{recipe.AirIn, recipe.AirOut}, water, []Evidence{ByAir}, false},
		{"and both humidities", sensorsOf(ByAir), water, []Evidence{ByAir}, true},
		{"with an alcohol the humidity says nothing", sensorsOf(ByAir), alcohol, []Evidence{ByAir}, false},
		{"humidities without the temperature of the air entering",
			[]recipe.Sensor{recipe.Air, recipe.AirInRH, recipe.AirOut, recipe.AirOutRH}, water, []Evidence{ByAir}, false},
	} {
		senses := ByBench(benchWith(q.fitted...), q.c)
		seen := 0
		for _, e := range kinds() {
			if senses[e-1].Fitted {
				seen++
			}
		}
		for _, e := range q.seen {
			if !senses[e-1].Fitted {
				t.Errorf("%s: %s is not sensed", q.what, e)
			}
		}
		heat := senses[ByAir-1].Heat
		if seen != len(q.seen) || (heat > 0 && heat < 1) != q.damp {
			t.Errorf("%s: %+v", q.what, senses)
		}
	}
}

// TestRealSensorsAreNotPerfect: a real bench's file does not state noise, and none is not what it means.
func TestRealSensorsAreNotPerfect(t *testing.T) {
	b := benchWith(recipe.Weight, recipe.Air, recipe.Surface)
	b.Simulated = false
	for i := range b.Sensors {
		b.Sensors[i].Noise, b.Sensors[i].Step = 0, 0
	}
	s := ByBench(b, room(t, "water", 0.5, 0.5))
	agree(t, "scale", s[ByWeight-1].Noise, usualWeight, 1e-12)
	agree(t, "jacket", s[BySurface-1].Noise, usualHeat*math.Sqrt2, 1e-12)
}

// TestJoinedWeights: two readings of one thing are best joined by the inverse of their variances (least squares); no other
// weights give less noise.
func TestJoinedWeights(t *testing.T) {
	agree(t, "weight", heatShare(0.1, 0.3), 0.9, 1e-12) // (1/0.01)/(1/0.01+1/0.09)
	rapid.Check(t, func(r *rapid.T) {
		heat, damp := rapid.Float64Range(1e-3, 1).Draw(r, "heat"), rapid.Float64Range(1e-3, 1).Draw(r, "damp")
		j := Joined(Sense{Noise: heat, Every: 1, Drift: 1e-6}, Sense{Noise: damp, Every: 3, Drift: 2e-6})
		a := rapid.Float64Range(0, 1).Draw(r, "weight")
		if other := math.Hypot(a*heat, (1-a)*damp); j.Noise > other*(1+1e-12) {
			r.Fatalf("joined at %.3f the noise is %g, at %.3f it is %g", j.Heat, j.Noise, a, other)
		}
		if j.Every != 3 || j.Drift < 1e-6 || j.Drift > 2e-6 || !j.Fitted {
			r.Fatalf("%+v", j)
		}
	})
	for _, q := range [][3]float64{{0, 0.1, 1}, {0.1, 0, 0}, {0, 0, 0.5}} {
		if got := heatShare(q[0], q[1]); got != q[2] {
			t.Errorf("noise of %g beside %g: weight %g, want %g", q[0], q[1], got, q[2])
		}
	}
}

// TestDragIsBlind: a bench whose hub is seen is said to sense drag, and no bench is promised anything by it: the bearings
// alone wander by more than the last of the liquid adds.
func TestDragIsBlind(t *testing.T) {
	b := benchWith(recipe.HubSpeed)
	b.Hub.Fastest = 5
	for _, name := range []string{"water", "isopropanol-91"} {
		c := room(t, name, 0.5, 3)
		s := ByBench(b, c)
		s[ByDrag-1].Noise = 0 // were every coast timed without error
		p, err := New(drying.Prior(), c, s)
		if err != nil {
			t.Fatal(err)
		}
		if drag := p.Sights[ByDrag-1]; !drag.Fitted || drag.Visible {
			t.Errorf("%s: %+v", name, drag)
		}
	}
	b.Hub.Fastest = 0
	if ByBench(b, room(t, "water", 0.5, 3))[ByDrag-1].Fitted {
		t.Error("a bench without a hub lets it coast")
	}
}
