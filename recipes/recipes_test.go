package recipes

import (
	"slices"
	"strings"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/liquid"
)

// Every shipped file reads without problems and without warnings.
func TestShippedFilesAreFine(t *testing.T) {
	for _, name := range Names() {
		data, err := Text(name, "recipe")
		if err != nil {
			t.Fatal(err)
		}
		if _, problems := recipe.Read(name+".toml", data); len(problems) > 0 {
			t.Errorf("%v", problems)
		}
		if !strings.Contains(string(data), "# When to use it:") {
			t.Errorf("%s does not say when to use it", name)
		}
	}
	for _, name := range BenchNames() {
		data, err := Text(name, "bench")
		if err != nil {
			t.Fatal(err)
		}
		if _, problems := recipe.ReadBench(name+".toml", data); len(problems) > 0 {
			t.Errorf("%v", problems)
		}
	}
}

func TestNames(t *testing.T) {
	want := []string{"distilled-water", "dry-only", "ethanol-96", "isopropanol-70", "isopropanol-91", "isopropanol-99", "water-detergent"}
	if got := Names(); !slices.Equal(got, want) {
		t.Errorf("recipes %v, want %v", got, want)
	}
	if got := BenchNames(); !slices.Equal(got, []string{"board", "simulated"}) {
		t.Errorf("benches %v", got)
	}
	if _, err := Recipe(DefaultRecipe); err != nil {
		t.Error(err)
	}
	if _, err := Bench(DefaultBench + ".toml"); err != nil {
		t.Error(err)
	}
}

// Two recipes with one title could not be told apart in a record.
func TestTitlesDiffer(t *testing.T) {
	titles := map[string]string{}
	for _, name := range Names() {
		r, err := Recipe(name)
		if err != nil {
			t.Fatal(err)
		}
		if other := titles[r.Title]; other != "" {
			t.Errorf("%s and %s have the same title %q", other, name, r.Title)
		}
		titles[r.Title] = name
		if r.Name != name {
			t.Errorf("%s is named %s", name, r.Name)
		}
	}
}

// What the shipped recipes ask, the shipped benches have: flows within the pumps, speeds, pressure, the fan's least.
func TestShippedRecipesFitShippedBenches(t *testing.T) {
	for _, bench := range BenchNames() {
		b, err := Bench(bench)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range Names() {
			r, err := Recipe(name)
			if err != nil {
				t.Fatal(err)
			}
			if r.Limits.Liquid > b.Tray || r.Pads.Pressure > b.Pads.Most {
				t.Errorf("%s on %s: %s into a tray of %s, %s on pads for %s", name, bench, recipe.SayMillilitres(r.Limits.Liquid),
					recipe.SayMillilitres(b.Tray), recipe.SayPressure(r.Pads.Pressure), recipe.SayPressure(b.Pads.Most))
			}
			for _, s := range r.Stages {
				pump := b.Pump
				if s.Do == recipe.Rinse {
					pump = b.RinsePump
				}
				if _, ok := pump.DutyFor(s.Flow); s.Flow > 0 && !ok {
					t.Errorf("%s line %d: no duty gives %s", name, s.Line, recipe.SayFlow(s.Flow))
				}
				if s.Pads > b.Pads.Fastest || s.Hub > b.Hub.Fastest || s.Warm > b.Heater.AirLimit || s.Fan > 0 && s.Fan < b.Fan.Least {
					t.Errorf("%s line %d asks more than %s has: %+v", name, s.Line, bench, s)
				}
			}
		}
	}
}

// After a flammable liquid the fan runs in every stage and nothing is warmed; a dry ends in the usual span.
func TestShippedRecipesMindTheirLiquid(t *testing.T) {
	for _, name := range Names() {
		r, err := Recipe(name)
		if err != nil {
			t.Fatal(err)
		}
		l, err := liquid.Parse(r.Liquid)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range r.Stages {
			if l.Flammable && (s.Fan == 0 || s.Warm > 0) {
				t.Errorf("%s line %d: fan %v, warm %v with a flammable liquid", name, s.Line, s.Fan, s.Warm)
			}
			want := 120 * time.Minute
			if l.Flammable {
				want = time.Hour
			}
			if s.Do == recipe.Dry && (!s.UntilDry || s.AtMost != want) {
				t.Errorf("%s line %d: the dry ends after %v", name, s.Line, s.AtMost)
			}
		}
	}
}

func TestUnknownNames(t *testing.T) {
	if _, err := Recipe("water-detergant"); err == nil || err.Error() != `no recipe "water-detergant" ships with the program; did you mean water-detergent?` {
		t.Errorf("got %v", err)
	}
	if _, err := Bench("nothing-like-it"); err == nil || err.Error() != `no bench "nothing-like-it" ships with the program; there are board, simulated` {
		t.Errorf("got %v", err)
	}
	for _, name := range []string{"", "../recipes/board", "board", ".toml", "board.toml"} {
		if _, err := Recipe(name); err == nil {
			t.Errorf("%q is a recipe", name)
		}
	}
}
