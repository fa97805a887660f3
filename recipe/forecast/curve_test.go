package forecast

import (
	"math"
	"slices"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"

	"pgregory.net/rapid"
)

// value returns the curve at a time, straight between two samples; where it leaps, the later one.
func value(curve []Sample, t float64) float64 {
	for i := len(curve) - 1; i > 0; i-- {
		if a, b := curve[i-1], curve[i]; t >= a.Seconds && t <= b.Seconds && b.Seconds > a.Seconds {
			return a.Value + (t-a.Seconds)/(b.Seconds-a.Seconds)*(b.Value-a.Value)
		}
	}
	return math.NaN()
}

func area(curve []Sample) (sum float64) {
	for i := 1; i < len(curve); i++ {
		sum += (curve[i].Value + curve[i-1].Value) / 2 * (curve[i].Seconds - curve[i-1].Seconds)
	}
	return sum
}

func highest(curve []Sample) (high Sample) {
	for _, s := range curve {
		if s.Value > high.Value {
			high = s
		}
	}
	return high
}

func TestCurveOfDuct(t *testing.T) {
	for _, r := range []recipe.Recipe{cleaning("isopropanol-91", ""), cleaning("ethanol-96", "distilled-water")} {
		f := of(t, Ask{Recipe: r, Bench: bench()})
		d := f.Vapour.Duct
		for i, s := range d.Curve {
			if s.Value < 0 || i > 0 && s.Seconds < d.Curve[i-1].Seconds {
				t.Fatalf("sample %d is %+v", i, s)
			}
		}
		near(t, "most", highest(d.Curve).Value, d.OfLimit, 1e-3)
		near(t, "when", highest(d.Curve).Seconds, d.At, 1e-6)
		if d.Curve[0].Seconds != 0 {
			t.Errorf("begins at %g s", d.Curve[0].Seconds)
		}
		about(t, "ends, s", d.Curve[len(d.Curve)-1].Seconds, f.Total.Median*60, 1)
		// The most of every stage is on the curve at its time.
		from := 0.0
		for i, s := range f.Stages {
			most := 0.0
			for _, x := range d.Curve {
				if x.Seconds >= from && x.Seconds <= from+s.Seconds.Median {
					most = max(most, x.Value)
				}
			}
			if from += s.Seconds.Median; most < 0.999*s.OfLimit {
				t.Errorf("stage %d reaches %g of the limit, its part of the curve %g", i, s.OfLimit, most)
			}
		}
	}
}

func about(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.6g, want %.6g ± %.3g", what, got, want, within)
	}
}

// What passes the duct is what the liner kept and gave off.
func TestCurveHoldsAllVapour(t *testing.T) {
	r := recipe.Recipe{Liquid: "isopropanol-100", Repeat: 1, Limits: recipe.Limits{Time: time.Hour},
		Stages: []recipe.Stage{{Do: recipe.Dry, UntilDry: true, Fan: 1, AtMost: time.Hour}}}
	b := bench()
	b.Room.Humidity = 0.1
	v := of(t, Ask{Recipe: r, Bench: b}).Vapour
	kept := VapourVolume(liquid.Isopropanol, 2e-6*785, 294.15)
	near(t, "through the duct, m³", area(v.Duct.Curve)*0.020*b.Fan.Through, kept, 0.02)
}

// Nothing comes before the disk is wetted, and after the liner has dried; a drying in two stages goes on where it was.
func TestCurveInPieces(t *testing.T) {
	r := recipe.Recipe{Liquid: "isopropanol-91", Repeat: 1, Limits: recipe.Limits{Time: 3 * time.Hour}, Stages: []recipe.Stage{
		{Do: recipe.Soak, For: 40 * time.Second, Fan: 1}, {Do: recipe.Wet, For: 30 * time.Second, Flow: 1e-7, Fan: 1},
		{Do: recipe.Dry, For: 5 * time.Minute, Fan: 1}, {Do: recipe.Dry, For: 40 * time.Minute, Fan: 1}}}
	f := of(t, Ask{Recipe: r, Bench: bench()})
	curve := f.Vapour.Duct.Curve
	if value(curve, 20) != 0 || value(curve, 39.9) != 0 || value(curve, 41) < 0.02 {
		t.Errorf("before it is wetted %g, then %g", value(curve, 39.9), value(curve, 41))
	}
	if a, b := value(curve, 369.9), value(curve, 370.1); a < 0.005 || math.Abs(a-b) > 1e-4 {
		t.Errorf("from one dry stage to the next it goes from %g to %g", a, b)
	}
	dried := 70 + f.Dry.Minutes.Median*60
	if a, b := value(curve, dried-20), value(curve, dried+20); a <= 0 || b != 0 {
		t.Errorf("before it is dry %g, after that %g", a, b)
	}
	about(t, "ends, s", curve[len(curve)-1].Seconds, 70+45*60, 1e-6)
	l, _ := liquid.Parse("isopropanol-91")
	x, err := drying.Run(drying.Case{Liquid: l, Kept: 2e-6, Air: 294.15, Humidity: 0.5, Film: 0.3, Flow: 3e-3},
		drying.Options{Curve: true, Tolerance: 1e-7})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range x.Curve[:len(x.Curve)-1] {
		if p.Seconds > 1 {
			about(t, "while it dries", value(curve, 70+p.Seconds)-beside(t, r), p.OfLimit, 2e-4)
		}
	}
}

func beside(t *testing.T, r recipe.Recipe) float64 {
	c := cycleOf(t, r, drying.Belief{})
	return c.beside(c.air.Flow, c.passing)
}

func TestCurveOfRoom(t *testing.T) {
	f := of(t, Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()})
	r := f.Vapour.Room
	near(t, "most", highest(r.Curve).Value, r.Cycle.Peak, 1e-12)
	last := r.Curve[len(r.Curve)-1]
	near(t, "ends, s", last.Seconds, f.Total.Median*60+3600, 1e-9)
	// One air change in the hour after.
	near(t, "an hour after", last.Value, value(r.Curve, f.Total.Median*60)*math.Exp(-1), 1e-3)
	near(t, "worst quarter of an hour", worst(r.Curve, 900), r.Cycle.Quarter, 1e-3)
	sealed := bench()
	sealed.Room.AirChanges = 0
	still := of(t, Ask{Recipe: cleaning("isopropanol-91", ""), Bench: sealed}).Vapour.Room.Curve
	near(t, "in a sealed room it stays", still[len(still)-1].Value, highest(still).Value, 1e-12)
}

// worst is the largest mean of the curve over so many seconds, by trying.
func worst(curve []Sample, window float64) (most float64) {
	for from := 0.0; from < curve[len(curve)-1].Seconds-window; from += 10 {
		part := []Sample{}
		for t := from; t <= from+window; t += 5 {
			part = append(part, Sample{t, value(curve, t)})
		}
		most = max(most, area(part)/window)
	}
	return most
}

func TestThin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := 0.0
		curve := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Sample {
			now += rapid.Float64Range(0, 10).Draw(t, "later")
			return Sample{now, rapid.Float64Range(0, 1).Draw(t, "value")}
		}), 0, 60).Draw(t, "curve")
		before := slices.Clone(curve)
		most := rapid.IntRange(-1, 70).Draw(t, "most")
		out := Thin(curve, most)
		if !slices.Equal(curve, before) {
			t.Fatal("the curve that was given has changed")
		}
		if len(curve) <= max(most, 3) && !slices.Equal(out, curve) || len(out) > max(most, 3) {
			t.Fatalf("%d of %d samples where %d are allowed", len(out), len(curve), most)
		}
		at := 0
		for _, s := range out {
			for at < len(curve) && curve[at] != s {
				at++
			}
		}
		if at == len(curve) && len(curve) > 0 {
			t.Fatalf("%v is no part of %v", out, curve)
		}
		if len(curve) > 0 && (out[0] != curve[0] || out[len(out)-1] != curve[len(curve)-1] || highest(out).Value != highest(curve).Value) {
			t.Fatalf("%v lost an end or the top of %v", out, curve)
		}
	})
}

func TestThinKeepsTheShape(t *testing.T) {
	v := of(t, Ask{Recipe: cleaning("isopropanol-91", "ethanol-96"), Bench: bench()}).Vapour
	for name, curve := range map[string][]Sample{"duct": v.Duct.Curve, "room": v.Room.Curve} {
		few := Thin(curve, 120)
		if len(curve) < 150 || len(few) != 120 {
			t.Fatalf("%s: %d of %d samples", name, len(few), len(curve))
		}
		high := highest(curve).Value
		for i, s := range curve {
			leaps := i > 0 && s.Seconds-curve[i-1].Seconds < 0.5 || i+1 < len(curve) && curve[i+1].Seconds-s.Seconds < 0.5
			if !leaps && math.Abs(value(few, s.Seconds)-s.Value) > 0.01*high {
				t.Fatalf("%s: at %g s %g of the samples that are left, %g of all", name, s.Seconds, value(few, s.Seconds), s.Value)
			}
		}
	}
}
