package simbench

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// Common practice, no source: about three quarters of an hour after water, about a quarter of an hour after
// isopropanol, and in the same air two to five times as long; within a factor of 1.5.
func TestDryingTimes(t *testing.T) {
	spec := shipped(t)
	of := map[string]float64{}
	for liquid, want := range map[string]float64{"water-detergent": 45, "isopropanol-99": 15} {
		of[liquid] = minutes(spec, liquid)
		t.Logf("%s: %.1f min", liquid, of[liquid])
		if math.Abs(math.Log(of[liquid]/want)) > math.Log(1.5) {
			t.Errorf("%s dries in %.1f min, want %.0f within a factor of 1.5", liquid, of[liquid], want)
		}
	}
	if r := of["water-detergent"] / of["isopropanol-99"]; r < 2 || r > 5 {
		t.Errorf("water takes %.1f times as long", r)
	}
}

// Plant and estimate share no equation, and on the bench that ships they lie near each other.
func TestPlantAndEstimateAgreeRoughly(t *testing.T) {
	spec := shipped(t)
	for _, humidity := range []float64{0.4, 0.5, 0.6, 0.9} {
		for _, name := range []string{"distilled-water", "isopropanol-99", "isopropanol-91", "isopropanol-70", "ethanol-96"} {
			spec.Room.Humidity = humidity
			l, err := liquid.Parse(name)
			if err != nil {
				t.Fatal(err)
			}
			want, err := drying.Run(drying.Case{Liquid: l, Kept: spec.Sim.Kept, Air: spec.Room.Air, Humidity: humidity,
				Film: spec.Sim.Film, Flow: spec.Fan.Through}, drying.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if is := minutes(spec, name); math.Abs(is/want.Minutes-1) > 0.2 {
				t.Errorf("%s in air of %.0f %%: %.1f min, the estimate says %.1f", name, humidity*100, is, want.Minutes)
			}
		}
	}
}

// In the same cool air a weaker alcohol leaves its water to dry.
func TestDryingOrder(t *testing.T) {
	last := 0.0
	for _, l := range []string{"isopropanol-99", "isopropanol-91", "isopropanol-70", "distilled-water"} {
		is := minutes(shipped(t), l)
		if is <= last {
			t.Errorf("%s takes %.1f min, with less water it was %.1f", l, is, last)
		}
		last = is
	}
}

// More film, a warmer room, drier air or less liquid never lengthen a drying.
func TestDryingIsMonotone(t *testing.T) {
	changes := map[string]func(*recipe.Bench, float64){
		"film":     func(s *recipe.Bench, by float64) { s.Sim.Film *= 1 + by },
		"warmth":   func(s *recipe.Bench, by float64) { s.Room.Air += 10 * by },
		"humidity": func(s *recipe.Bench, by float64) { s.Room.Humidity *= 1 - by },
		"kept":     func(s *recipe.Bench, by float64) { s.Sim.Kept *= 1 - by/2 },
		"critical": func(s *recipe.Bench, by float64) { s.Sim.Critical *= 1 - by/2 },
	}
	names := []string{"film", "warmth", "humidity", "kept", "critical"}
	rapid.Check(t, func(t *rapid.T) {
		spec := testSpec()
		spec.Sim.Film = rapid.Float64Range(0.1, 2).Draw(t, "film")
		spec.Sim.Kept = rapid.Float64Range(0.3, 3).Draw(t, "kept") * mL
		spec.Sim.Uneven = rapid.Float64Range(0, 0.6).Draw(t, "uneven")
		spec.Sim.Critical = rapid.Float64Range(0.1, 0.6).Draw(t, "critical")
		spec.Room.Humidity = rapid.Float64Range(0, 0.8).Draw(t, "humidity")
		spec.Room.Air = zeroC + rapid.Float64Range(10, 30).Draw(t, "air")
		liquid := rapid.SampledFrom([]string{"distilled-water", "isopropanol-99", "isopropanol-70", "ethanol-96"}).Draw(t, "liquid")
		what := rapid.SampledFrom(names).Draw(t, "change")
		before := minutes(spec, liquid)
		changes[what](&spec, rapid.Float64Range(0.02, 0.9).Draw(t, "by"))
		if after := minutes(spec, liquid); after > before+2.0/60 {
			t.Fatalf("%s: %.2f min, without it %.2f", what, after, before)
		}
	})
}

// Finer steps change no drying by more than one per cent.
func TestStepsAreFineEnough(t *testing.T) {
	for _, c := range []struct {
		liquid         string
		film, humidity float64
	}{
		{"distilled-water", 0.3, 0.5}, {"isopropanol-99", 0.3, 0.85}, {"isopropanol-70", 1, 0.5}, {"ethanol-96", 0.15, 0.3},
	} {
		took := func(step time.Duration) float64 {
			spec := shipped(t)
			spec.Sim.Film, spec.Room.Humidity = c.film, c.humidity
			b := wetted(spec, c.liquid)
			b.slowStep = step
			return b.until(dry).Seconds()
		}
		usual, half, fine := took(unhurried), took(unhurried/2), took(unhurried/10)
		if math.Abs(usual/half-1) > 0.01 || math.Abs(usual/fine-1) > 0.01 {
			t.Errorf("%+v: %.0f s, with half the step %.0f, with a tenth %.0f", c, usual, half, fine)
		}
	}
}

// A disk on which there is no liquid stays as it is, whatever the air.
func TestADryLinerTakesNothingUp(t *testing.T) {
	for _, humidity := range []float64{0, 0.5, 1} {
		spec := shipped(t)
		spec.Room.Humidity = humidity
		b := New(spec, testRecipe("isopropanol-99"))
		_ = b.Drive(0, fanOnly)
		b.advance(3 * time.Hour)
		is := b.Truth()
		if is.Liner != 0 || is.Gained != 0 || is.Evaporated != 0 || is.Tray != 0 {
			t.Errorf("in air of %v: %+v", humidity, is)
		}
		near(t, "front face, K", is.FrontTemp, spec.Room.Air, 1e-9)
		near(t, "back face, K", is.BackTemp, spec.Room.Air, 1e-9)
		near(t, "humidity", is.Humidity, humidity, 1e-9)
	}
}
