package main

import (
	"math"
	"slices"
	"testing"

	"fullery/controller/sweep"
	"fullery/recipe/drying"

	"pgregory.net/rapid"
)

// What is read from a row makes the same row again: a resumed sweep goes on with exactly what the other one had.
func TestRowsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draws := rapid.IntRange(1, 1000).Draw(t, "draws")
		minutes := rapid.OneOf(rapid.Float64Range(0, 1e5), rapid.Just(math.Inf(1)))
		figure := func(name string, most float64) float64 { return rapid.Float64Range(0, most).Draw(t, name) }
		f := sweep.Figures{Draws: draws, Liquid: figure("liquid", 1e-3), Peak: figure("peak", 10), Warmest: 273 + figure("warmest", 80),
			Slide:   figure("slide", 1e4),
			Minutes: drying.Spread{Median: minutes.Draw(t, "median"), Low: minutes.Draw(t, "low"), High: minutes.Draw(t, "high")},
			Damp:    rapid.IntRange(0, draws).Draw(t, "damp"), CutShort: rapid.IntRange(0, draws).Draw(t, "cut"),
			Unproven: rapid.IntRange(0, draws).Draw(t, "unproven"), Cause: rapid.SampledFrom([]string{"", "lid-open", "a, \"b\""}).Draw(t, "cause")}
		c := sweep.Choice{0.91, 90, sweep.AsRecipe, rapid.SampledFrom([]float64{0, 308.15}).Draw(t, "warm"), 20}
		row := encodeRow(7, c, f)
		back, err := decodeRow(row, draws)
		if err != nil || len(row) != len(rowNames) {
			t.Fatalf("%v: %v", row, err)
		}
		if again := encodeRow(7, c, back); !slices.Equal(again, row) {
			t.Fatalf("%v came back as %v", row, again)
		}
		near := func(a, b, by float64) bool { return a == b || math.Abs(a-b) <= by }
		if !near(back.Minutes.Median, f.Minutes.Median, 1e-4) || !near(back.Liquid, f.Liquid, 1e-10) || !near(back.Peak, f.Peak, 1e-5) ||
			!near(back.Warmest, f.Warmest, 1e-3) || !near(back.Slide, f.Slide, 1e-3) || back.Damp != f.Damp || back.Cause != f.Cause {
			t.Fatalf("%+v came back as %+v", f, back)
		}
	})
}

func TestEncodeRow(t *testing.T) {
	inf := math.Inf(1)
	f := sweep.Figures{Draws: 20, Minutes: drying.Spread{Median: 31.25, Low: 22, High: inf}, Liquid: 6e-6, Peak: 0.0768, Warmest: 294.15,
		Slide: 16.1235, Damp: 1, CutShort: 3, Cause: "stage-overtime"}
	want := []string{"4", "91", "90", "75", "no", "", "31.25", "22", "never", "6", "7.68", "21", "16.124", "1", "3", "0", "stage-overtime"}
	if got := encodeRow(4, sweep.Choice{0.91, 90, 0.75, 0, sweep.AsRecipe}, f); !slices.Equal(got, want) {
		t.Errorf("%q\nwant %q", got, want)
	}
}

func TestDecodeRowRefuses(t *testing.T) {
	good := []string{"4", "91", "90", "75", "no", "", "31.25", "22", "never", "6", "7.68", "21", "16.124", "1", "3", "0", ""}
	if _, err := decodeRow(good, 20); err != nil {
		t.Fatal(err)
	}
	for at, bad := range map[int]string{6: "", 7: "NaN", 8: "Inf", 9: "6 mL", 12: "1e999", 13: "21", 14: "-1", 15: "0.5"} {
		row := slices.Clone(good)
		row[at] = bad
		if _, err := decodeRow(row, 20); err == nil {
			t.Errorf("%s %q was taken", rowNames[at], bad)
		}
	}
}
