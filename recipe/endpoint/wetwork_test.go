package endpoint

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// washed is a recipe that wets with a liquid, scrubs for so long, and dries.
func washed(name string, dose float64, scrub time.Duration) recipe.Recipe {
	return recipe.Recipe{Liquid: name, Repeat: 1, Stages: []recipe.Stage{
		{Do: recipe.Wet, Flow: dose / 30, For: 30 * time.Second, Fan: 1},
		{Do: recipe.Scrub, Pads: 1, For: scrub, Fan: 1},
		{Do: recipe.SpinOut, Hub: 4, For: 20 * time.Second, Fan: 1},
		{Do: recipe.Dry, Fan: 1, UntilDry: true, AtMost: time.Hour},
	}}
}

func began(t testing.TB, r recipe.Recipe, b *recipe.Bench) drying.Case {
	t.Helper()
	c, err := CaseOf(drying.Belief{}, r, b, r.Stages[len(r.Stages)-1])
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func waterIn(c drying.Case) float64 { return c.Liquid.Composition()[liquid.Water] }

// TestWetWorkTurnsAlcohol: alcohol leaves first, so that the longer the work lasts the more water is in what then dries.
func TestWetWorkTurnsAlcohol(t *testing.T) {
	b := benchWith()
	fresh, err := liquid.Parse("isopropanol-91")
	if err != nil {
		t.Fatal(err)
	}
	was := fresh.Composition()[liquid.Water]
	for _, scrub := range []time.Duration{30 * time.Second, 90 * time.Second, 300 * time.Second} {
		c := began(t, washed("isopropanol-91", 20e-6, scrub), b)
		if is := waterIn(c); is < was+0.01 || is > 0.6 {
			t.Errorf("after %v the share of water is %.3f, before %.3f", scrub, is, was)
		} else {
			was = is
		}
		if c.Kept != 0 || c.Liquid.Name != "isopropanol-91" || !c.Liquid.Flammable {
			t.Errorf("there was enough: %+v", c)
		}
	}
	for _, name := range []string{"water", "water-detergent"} {
		if c := began(t, washed(name, 20e-6, time.Minute), b); waterIn(c) != 1 || c.Kept != 0 {
			t.Errorf("%s turns into %v", name, c.Liquid.Composition())
		}
	}
}

// TestLittleRunsOut: where little was given, what evaporates is not made good, and less is left to dry than was given.
func TestLittleRunsOut(t *testing.T) {
	c := began(t, washed("isopropanol-91", 1e-6, time.Minute), benchWith())
	if c.Kept <= 0 || c.Kept >= 1e-6 {
		t.Errorf("of 1 mL given %.3g mL are left", c.Kept*1e6)
	}
	// All gone before it dries: what was given is taken as it comes, which errs to longer.
	c = began(t, washed("isopropanol-99", 0.3e-6, 30*time.Minute), benchWith())
	if c.Kept <= 0 || c.Kept > 0.3e-6 {
		t.Errorf("%+v", c)
	}
}

// TestRinseCounts: after a rinse only what came after its beginning counts.
func TestRinseCounts(t *testing.T) {
	r := washed("water", 20e-6, 5*time.Minute)
	r.Rinse = "isopropanol-99"
	short := recipe.Stage{Do: recipe.Rinse, Flow: 1e-6, For: 20 * time.Second, Fan: 1}
	r.Stages = []recipe.Stage{r.Stages[0], r.Stages[1], short, r.Stages[3]}
	if c := began(t, r, benchWith()); waterIn(c) > 0.02 {
		t.Errorf("the rinse that has just ended holds %.3f of water", waterIn(c))
	}
}

// TestBeginsAnyhow: whatever is asked for, what dries is made of shares of one, and never more of it than was given.
func TestBeginsAnyhow(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		names := []string{"isopropanol-91", "isopropanol-5", "ethanol-96", "isopropanol-99", "water"}
		dose := rapid.Float64Range(0, 30e-6).Draw(rt, "dose")
		r := washed(rapid.SampledFrom(names).Draw(rt, "liquid"), dose,
			time.Duration(rapid.Float64Range(0, 3600).Draw(rt, "scrub")*1e9))
		b := *benchWith()
		b.Room.Humidity = rapid.Float64Range(0, 1).Draw(rt, "humidity")
		b.Fan.Through = rapid.Float64Range(0, 5e-3).Draw(rt, "through")
		c := began(t, r, &b)
		sum := 0.0
		for _, x := range c.Liquid.Composition() {
			if x < 0 {
				rt.Fatalf("%v", c.Liquid.Composition())
			}
			sum += x
		}
		if sum < 1-1e-9 || sum > 1+1e-9 || c.Kept < 0 || c.Kept > dose*1.05+1e-12 {
			rt.Fatalf("shares of %g in all, %g mL of %g", sum, c.Kept*1e6, dose*1e6)
		}
	})
}
