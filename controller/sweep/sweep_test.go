package sweep

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
	"fullery/recipes"
)

// Every combination once, the recipe as it is first.
func TestChoices(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, err := recipes.Recipe("isopropanol-91")
		if err != nil {
			t.Fatal(err)
		}
		var g Grid
		want := 1
		for a := range NumAxes {
			g[a] = rapid.SliceOfNDistinct(rapid.Map(rapid.IntRange(1, 90), func(n int) float64 { return float64(n) / 100 }), 0, 3,
				rapid.ID).Draw(t, a.String())
			want *= max(len(g[a]), 1)
		}
		list, err := g.Choices(r)
		if err != nil {
			t.Fatal(err)
		}
		own := Own(r)
		if !slices.Contains(list[1:], own) && len(list) == want {
			want-- // the recipe as it is was among the combinations
		}
		if list[0] != own || len(list) != want+1 {
			t.Fatalf("%d choices, want %d; the first is %v", len(list), want+1, list[0])
		}
		for i, c := range list {
			for a := range NumAxes {
				if i > 0 && len(g[a]) > 0 && !slices.Contains(g[a], c[a]) || len(g[a]) == 0 && c[a] != own[a] {
					t.Fatalf("choice %v is none of %v", c, g)
				}
			}
			if slices.Contains(list[i+1:], c) {
				t.Fatalf("%v is there twice", c)
			}
		}
	})
}

func TestTooManyChoices(t *testing.T) {
	long := make([]float64, 40)
	for i := range long {
		long[i] = float64(i+1) / 100
	}
	if _, err := (Grid{Fan: long, Strength: long}).Choices(shipped(t, "isopropanol-91")); err == nil ||
		!strings.Contains(err.Error(), "more than 1000 choices") {
		t.Errorf("1600 choices: %v", err)
	}
	if list, err := (Grid{Fan: long}).Choices(shipped(t, "isopropanol-91")); err != nil || len(list) != 41 {
		t.Errorf("40 choices and the recipe: %d, %v", len(list), err)
	}
}

// What is tried when nothing is named fits the shipped benches without exception, has the recipe's own values, and is
// a few hundred choices at the most.
func TestUsual(t *testing.T) {
	for _, on := range []string{"simulated", "board"} {
		b := bench(t, on)
		for _, name := range recipes.Names() {
			r := shipped(t, name)
			g := Usual(r, b)
			list, err := g.Choices(r)
			if err != nil || len(list) < 9 || len(list) > 300 {
				t.Errorf("%s on %s: %d choices, %v", name, on, len(list), err)
			}
			if _, skipped := Candidates(r, b, drying.Belief{}, list); len(skipped) > 0 {
				t.Errorf("%s on %s: %v", name, on, skipped)
			}
			own := Own(r)
			for a, values := range g {
				if len(values) > 0 && !slices.Contains(values, own[a]) || len(values) == 1 {
					t.Errorf("%s on %s: %s %v, own %v", name, on, Axis(a), values, own[a])
				}
			}
		}
	}
}

// The heater is never among the usual choices, and never compiled, where anything flammable is about: in the tank, at
// one of the strengths, in the rinse, or on pads and bath before.
func TestHeaterNeverWithAlcohol(t *testing.T) {
	b := bench(t, "simulated")
	held := b
	held.PadsAndBathHeld = "ethanol-96"
	rinsed := shipped(t, "water-detergent")
	rinsed.Rinse = "isopropanol-70"
	for _, x := range []struct {
		of recipe.Recipe
		on recipe.Bench
	}{{shipped(t, "isopropanol-91"), b}, {shipped(t, "ethanol-96"), b}, {rinsed, b}, {shipped(t, "water-detergent"), held}} {
		if g := Usual(x.of, x.on); g[Warm] != nil {
			t.Errorf("%s: warm %v is usual", x.of.Name, g[Warm])
		}
		c := Own(x.of)
		c[Warm] = 273.15 + 30
		can, skipped := Candidates(x.of, x.on, drying.Belief{}, []Choice{c})
		if len(can) > 0 || !strings.Contains(skipped[0].Reason, "the heater is never used with a flammable liquid") {
			t.Errorf("%s: %v, %v", x.of.Name, can, skipped)
		}
	}
	// Of a list of strengths that reaches down to what does not burn, only that may be warmed.
	weak := shipped(t, "isopropanol-91")
	list, err := (Grid{Strength: []float64{0.02, 0.91}, Warm: []float64{0, 273.15 + 30}}).Choices(weak)
	if err != nil {
		t.Fatal(err)
	}
	warmed := 0
	can, _ := Candidates(weak, b, drying.Belief{}, list)
	for _, c := range can {
		if c.Choice[Warm] > 0 {
			warmed++
			if l, err := liquid.Parse(c.Recipe.Liquid); err != nil || l.Flammable {
				t.Errorf("%s is warmed", c.Recipe.Liquid)
			}
		}
	}
	if warmed != 1 {
		t.Errorf("%d warmed choices of water with 2 %% in it, want 1", warmed)
	}
	if g := Usual(shipped(t, "water-detergent"), b); len(g[Warm]) < 3 || !slices.Contains(g[Warm], 0) {
		t.Errorf("water may be warmed: %v", g[Warm])
	}
}

// Whatever cannot be run is left out with its reason, and what is left is in order.
func TestSkipped(t *testing.T) {
	r, b := shipped(t, "water-detergent"), bench(t, "simulated")
	own := Own(r)
	with := func(a Axis, v float64) Choice { c := own; c[a] = v; return c }
	list := []Choice{own, with(Fan, 0.2), with(Scrub, 10), with(Scrub, 6000), with(Warm, 273.15+41), with(Fan, 0), with(Fan, 0.5)}
	can, skipped := Candidates(r, b, drying.Belief{}, list)
	if len(can) != 2 || can[0].Choice != own || can[1].Choice != list[6] {
		t.Errorf("can: %v", can)
	}
	for i, want := range []string{"the fan of this bench does not turn reliably", "the pads turn round every 15 s", "the recipe's limit is 2:30:00",
		"more than this bench allows", "fan of 0 % cannot be used"} {
		if i >= len(skipped) || skipped[i].Choice != list[i+1] || !strings.Contains(skipped[i].Reason, want) ||
			strings.ContainsAny(skipped[i].Reason, "\n") || strings.Contains(skipped[i].Reason, ".toml") {
			t.Errorf("%d: %+v, want %q", i, skipped, want)
		}
	}
	bare := b
	bare.Fan, bare.Heater = recipe.Fan{}, recipe.Heater{}
	if _, skipped := Candidates(r, bare, drying.Belief{}, list[:1]); len(skipped) != 1 {
		t.Errorf("a bench without a fan dries: %v", skipped)
	}
	if g := Usual(r, bare); g[Warm] != nil {
		t.Errorf("a bench without a heater warms: %v", g)
	}
}
