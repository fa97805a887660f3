package sweep

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"fullery/recipe/drying"
)

// Definition 7 of Hyndman and Fan is the default of the statistics language R: quantile(1:10, c(.1,.5,.9)) is 1.9, 5.5,
// 9.1, and quantile(c(2,4,9), .25) is 3; from memory, and by hand: at 1 + (n − 1)·q of the sorted values.
func TestQuantile(t *testing.T) {
	ten := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	inf := math.Inf(1)
	for _, x := range []struct {
		of      []float64
		q, want float64
	}{
		{ten, 0.1, 1.9}, {ten, 0.5, 5.5}, {ten, 0.9, 9.1}, {ten, 0, 1}, {ten, 1, 10},
		{[]float64{2, 4, 9}, 0.25, 3}, {[]float64{7}, 0.9, 7},
		{[]float64{1, 2, inf}, 0.5, 2}, {[]float64{1, 2, inf}, 0.9, inf}, {[]float64{1, inf, inf}, 0.9, inf}, {[]float64{inf}, 0.1, inf},
	} {
		if got := quantile(x.of, x.q); math.Abs(got-x.want) > 1e-12 && got != x.want {
			t.Errorf("%g of %v: %g, want %g", x.q, x.of, got, x.want)
		}
	}
	if !math.IsNaN(quantile(nil, 0.5)) {
		t.Error("a quantile of nothing")
	}
}

func TestSum(t *testing.T) {
	f := Sum([]Outcome{
		{Complete: true, Seconds: 600, Liquid: 6e-6, Peak: 0.05, Warmest: 300, Slide: 5, Left: 0.01},
		{Complete: true, Seconds: 1200, Liquid: 5e-6, Peak: 0.08, Warmest: 295, Slide: 5.1, Left: 0.021, Unproven: true},
		{Seconds: 100, Cause: "lid-open", Liquid: 1e-6, Left: 1, Unproven: true},
		{Seconds: 100, Cause: "stage-overtime"}, {Seconds: 100, Cause: "stage-overtime"},
	})
	inf := math.Inf(1)
	want := Figures{Draws: 5, Minutes: drying.Spread{Median: inf, Low: 14, High: inf}, Liquid: 6e-6, Peak: 0.08, Warmest: 300, Slide: 5.1,
		Damp: 1, CutShort: 3, Cause: "stage-overtime", Unproven: 1}
	if f != want {
		t.Errorf("%+v, want %+v", f, want)
	}
}

// The order of the draws does not matter, and more draws only add: nothing that was the worst gets better.
func TestSumProperties(t *testing.T) {
	outcome := rapid.Custom(func(t *rapid.T) Outcome {
		return Outcome{Complete: rapid.Bool().Draw(t, "complete"), Seconds: rapid.Float64Range(1, 1e5).Draw(t, "s"),
			Peak: rapid.Float64Range(0, 1).Draw(t, "peak"), Left: rapid.Float64Range(0, 0.05).Draw(t, "left"),
			Slide: rapid.Float64Range(0, 50).Draw(t, "slide"), Cause: "x"}
	})
	rapid.Check(t, func(t *rapid.T) {
		all := rapid.SliceOfN(outcome, 1, 30).Draw(t, "all")
		f := Sum(all)
		if mixed := Sum(rapid.Permutation(all).Draw(t, "mixed")); mixed != f {
			t.Fatalf("%+v, mixed %+v", f, mixed)
		}
		more := Sum(append(all, outcome.Draw(t, "one more")))
		if more.Peak < f.Peak || more.Slide < f.Slide || more.Damp+more.CutShort < f.Damp+f.CutShort {
			t.Fatalf("%+v, one more draw %+v", f, more)
		}
		if m := f.Minutes; !(m.Low <= m.Median && m.Median <= m.High) || f.Damp+f.CutShort > len(all) {
			t.Fatalf("%+v", f)
		}
	})
}

func TestShown(t *testing.T) {
	got := Figures{Minutes: drying.Spread{Median: 9.96}, Liquid: 6.04e-6, Peak: 0.0849, Warmest: 273.15 + 30.6, Slide: 9.94, Damp: 1,
		CutShort: 2}.Shown()
	if want := (Goals{10, 6, 8, 31, 9.9, 3}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}
