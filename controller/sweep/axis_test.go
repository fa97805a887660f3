package sweep

import (
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/recipe"
	"fullery/recipe/liquid"
	"fullery/recipes"
)

func TestSayAndCheck(t *testing.T) {
	for _, x := range []struct {
		axis Axis
		v    float64
		said string
		bad  string // part of what is said against it; "": nothing
	}{
		{Fan, 0.75, "75 %", ""},
		{Fan, 0, "0 %", "give 1 % to 100 %"},
		{Fan, 1.01, "101 %", "give 1 % to 100 %"},
		{Warm, 0, "no", ""},
		{Warm, 273.15 + 35, "35 °C", ""},
		{Warm, 273.15 + 51, "51 °C", "give 10 °C to 50 °C"},
		{Scrub, 90, "90 s", ""},
		{Scrub, 0, "0 s", "give 0.1 s"},
		{SpinOut, 600, "600 s", ""},
		{SpinOut, 601, "601 s", "to 600 s"},
		{Strength, 0.91, "91 %", ""},
		{Strength, 1.01, "101 %", "give 1 % to 100 %"},
		{Strength, 0, "0 %", "give 1 % to 100 %"},
		{Strength, 0.915, "91.5 %", "whole percent"},
		{Fan, AsRecipe, "as it is", "cannot be used"},
		{Scrub, math.NaN(), "NaN s", "cannot be used"},
	} {
		err := x.axis.Check(x.v)
		if said := x.axis.Say(x.v); said != x.said || (err == nil) != (x.bad == "") ||
			err != nil && !strings.Contains(err.Error(), x.bad) {
			t.Errorf("%s %g: %q, %v; want %q, %q", x.axis, x.v, said, err, x.said, x.bad)
		}
	}
}

func TestOwn(t *testing.T) {
	two := read(t, strings.Replace(quickText, "[[stage]]\ndo  = \"spin-out\"", "[[stage]]\ndo   = \"scrub\"\npads = \"60 rpm\"\nhub  = \"20 rpm\"\n"+
		"for  = \"7 s\"\n[[stage]]\ndo  = \"spin-out\"", 1))
	for _, x := range []struct {
		of   recipe.Recipe
		want Choice // strength, scrub, fan, warm, spin-out
	}{
		{shipped(t, "isopropanol-91"), Choice{0.91, 90, 1, 0, 20}},
		{shipped(t, "water-detergent"), Choice{AsRecipe, 90, 1, 0, 30}},
		{shipped(t, "dry-only"), Choice{AsRecipe, AsRecipe, 1, 273.15 + 35, AsRecipe}},
		{two, Choice{0.91, AsRecipe, 1, 0, 5}}, // two scrubs that differ
		{read(t, strings.Replace(quickText, "isopropanol-91", "isopropanol-70w", 1)), Choice{AsRecipe, 6, 1, 0, 5}},
	} {
		if got := Own(x.of); got != x.want {
			t.Errorf("%s (%s): %v, want %v", x.of.Name, x.of.Liquid, got, x.want)
		}
	}
}

// A choice changes what it names and nothing else; the recipe that it is made from stays as it was.
func TestApplyChangesOnlyWhatItNames(t *testing.T) {
	r := shipped(t, "isopropanol-91")
	before := shipped(t, "isopropanol-91")
	stronger, err := Apply(r, Choice{0.99, AsRecipe, AsRecipe, AsRecipe, AsRecipe})
	want := shipped(t, "isopropanol-91")
	want.Liquid = "isopropanol-99"
	if err != nil || !reflect.DeepEqual(stronger, want) {
		t.Errorf("strength: %+v, %v", stronger, err)
	}
	longer, err := Apply(r, Choice{AsRecipe, 120, AsRecipe, AsRecipe, AsRecipe})
	want.Liquid = r.Liquid
	for i := range want.Stages {
		if s := &want.Stages[i]; s.Do == recipe.Scrub {
			s.For, s.AtMost = 120*time.Second, 180*time.Second // the grace of a minute stays
		}
	}
	if err != nil || !reflect.DeepEqual(longer, want) {
		t.Errorf("scrub: %+v, %v", longer, err)
	}
	if own, err := Apply(r, Own(r)); err != nil || !reflect.DeepEqual(own, before) || !reflect.DeepEqual(r, before) {
		t.Errorf("as it is: %+v, %v", own, err)
	}
}

// What Apply makes is what a person could have written: its own values are read back, and its times hold together.
func TestApplyIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r, err := recipes.Recipe(rapid.SampledFrom(recipes.Names()).Draw(t, "recipe"))
		if err != nil {
			t.Fatal(err)
		}
		own := Own(r)
		c := own
		draw := map[Axis]*rapid.Generator[float64]{
			Strength: rapid.Map(rapid.IntRange(1, 100), func(n int) float64 { return float64(n) / 100 }),
			Scrub:    rapid.Map(rapid.IntRange(1, 6000), func(n int) float64 { return float64(n) }),
			Fan:      rapid.Map(rapid.IntRange(1, 100), func(n int) float64 { return float64(n) / 100 }),
			Warm:     rapid.Map(rapid.IntRange(11, 49), func(n int) float64 { return float64(n) + 273.15 }),
			SpinOut:  rapid.Map(rapid.IntRange(1, 600), func(n int) float64 { return float64(n) }),
		}
		for a := range NumAxes {
			if own[a] != AsRecipe && rapid.Bool().Draw(t, a.String()) {
				c[a] = draw[a].Draw(t, a.String()+" value")
			}
		}
		got, err := Apply(r, c)
		if err != nil {
			return // told in a clause; TestSkipped has them
		}
		if Own(got) != c {
			t.Fatalf("%v was read back as %v", c, Own(got))
		}
		var sum time.Duration
		for _, s := range got.Unrolled() {
			sum += s.For
			if s.For > s.AtMost && s.Do != recipe.Dry || s.Reverse > 0 && s.Reverse >= s.For {
				t.Fatalf("%+v", s)
			}
		}
		if sum > got.Limits.Time || got.Dose() != r.Dose() {
			t.Fatalf("%v of timed stages, %v allowed; %g given, was %g", sum, got.Limits.Time, got.Dose(), r.Dose())
		}
		if _, err := liquid.Parse(got.Liquid); err != nil {
			t.Fatal(err)
		}
	})
}

func TestHas(t *testing.T) {
	for _, x := range []struct {
		recipe string
		lacks  []Axis
	}{
		{"isopropanol-91", nil},
		{"water-detergent", []Axis{Strength}},
		{"dry-only", []Axis{Strength, Scrub, SpinOut}},
	} {
		var lacks []Axis
		for a := range NumAxes {
			if a.Has(shipped(t, x.recipe)) != nil {
				lacks = append(lacks, a)
			}
		}
		if !reflect.DeepEqual(lacks, x.lacks) {
			t.Errorf("%s lacks %v, want %v", x.recipe, lacks, x.lacks)
		}
	}
}
