package drying

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestPriorSpansAFactorOfTwo(t *testing.T) {
	for _, name := range liquids {
		c := shipped(t, name)
		c.Kept = 0
		e, err := Estimate(Belief{}, c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		near(t, name+": high to low", e.Minutes.High/e.Minutes.Low, 2, 0.05)
		if want := mustRun(t, shipped(t, name), Options{}).Minutes; math.Abs(e.Minutes.Median/want-1) > 1e-4 {
			t.Errorf("%s: the median is %.3f min, the middle of the prior takes %.3f", name, e.Minutes.Median, want)
		}
	}
}

// quantiles returns those of the time by brute force: a fine grid over exposure, kept volume and jitter.
func quantiles(b Belief, c Case) (low, high float64) {
	const cells = 21
	type weighed struct{ minutes, weight float64 }
	var all []weighed
	p := b.pair(c.Liquid)
	if c.Kept != 0 {
		p.kept = math.Log(c.Kept)
	}
	at := func(i int) (z, w float64) { z = -3.5 + 7*float64(i)/(cells-1); return z, math.Exp(-z * z / 2) }
	total := 0.0
	for i := range cells {
		for j := range cells {
			u, wu := at(i)
			v, wv := at(j)
			m := run(p.at(c, u, v).filled(), c.Liquid.Composition(), Options{}.filled()).Minutes
			for k := range cells {
				z, wz := at(k)
				all = append(all, weighed{m * math.Exp(p.jitter*z), wu * wv * wz})
				total += wu * wv * wz
			}
		}
	}
	slices.SortFunc(all, func(a, b weighed) int {
		if a.minutes < b.minutes {
			return -1
		}
		return 1
	})
	sum := 0.0
	for _, x := range all {
		sum += x.weight
		if low == 0 && sum > 0.1*total {
			low = x.minutes
		}
		if high == 0 && sum > 0.9*total {
			return low, x.minutes
		}
	}
	return low, high
}

func TestIntervalAgainstBruteForce(t *testing.T) {
	linked := Belief{Liquids: []string{"isopropanol-99"}, Mean: []float64{0.2, math.Log(3e-6)},
		Cov: [][]float64{{0.03, 0.02}, {0.02, 0.04}}, Jitter: 0.1}
	wide := Belief{Liquids: []string{"water"}, Mean: []float64{0, math.Log(2e-6)},
		Cov: [][]float64{{0.2, 0}, {0, 0.2}}, Jitter: 0.1}
	starved := shipped(t, "water")
	starved.Flow = 0.1e-3
	for name, x := range map[string]struct {
		b      Belief
		c      Case
		within float64
	}{
		"prior, water":        {Belief{}, shipped(t, "water"), 0.005},
		"prior, isopropanol":  {Belief{}, shipped(t, "isopropanol-91"), 0.005},
		"hang together":       {linked, shipped(t, "isopropanol-99"), 0.005},
		"wide":                {wide, shipped(t, "water"), 0.01},
		"wide and little air": {wide, starved, 0.03},
	} {
		x.c.Kept = 0
		e, err := Estimate(x.b, x.c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		low, high := quantiles(x.b, x.c)
		near(t, name+", low", e.Minutes.Low, low, x.within)
		near(t, name+", high", e.Minutes.High, high, x.within)
	}
}

// Slopes and ends are computed roughly. Where a drying counts as over with a tenth left, the time may leap with what was
// kept, and no way of finding the ends is close: such are left out.
func TestEstimateIsCloseEnough(t *testing.T) {
	b := Belief{Mean: []float64{0.1}, Cov: [][]float64{{0.05}}, Jitter: 0.1}
	rapid.Check(t, func(t *rapid.T) {
		c := likelyCase(t)
		c.Until = min(c.Until, 0.02)
		rough, err := Estimate(b, c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		fine, err := Estimate(b, c, Options{Tolerance: 1e-6})
		if err != nil {
			t.Fatal(err)
		}
		if rough.Never != fine.Never || (rough.Reason == "") != (fine.Reason == "") {
			t.Fatalf("never %v, %q; closely %v, %q", rough.Never, rough.Reason, fine.Never, fine.Reason)
		}
		r, f := rough.Minutes, fine.Minutes
		if math.Abs(r.Median-f.Median) > 5e-3*f.Median || math.Abs(r.Low-f.Low) > 0.01*f.Low ||
			math.Abs(r.High-f.High) > 0.01*f.High {
			t.Fatalf("%+v min, closely %+v", r, f)
		}
	})
}

func TestGivenVolumeMovesTheMedianOnly(t *testing.T) {
	c := shipped(t, "water")
	c.Kept = 4e-6
	e, err := Estimate(Belief{}, c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "median", e.Minutes.Median, mustRun(t, c, Options{}).Minutes, 1e-4)
	near(t, "high to low", e.Minutes.High/e.Minutes.Low, 2, 0.05)
	pinned, err := Estimate(Belief{}.Pin(c.Liquid, 4e-6), c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if a, b := pinned.Minutes.High/pinned.Minutes.Low, e.Minutes.High/e.Minutes.Low; a > 0.95*b {
		t.Errorf("weighing the disk left the interval at %.3f, it was %.3f", a, b)
	}
}

func TestPinning(t *testing.T) {
	l := named(t, "water")
	k := Belief{}.Pin(l, 4e-6).Kept(l)
	near(t, "kept", k.Median, 4e-6, 0.06)
	near(t, "width", math.Log(k.High/k.Low)/2/eighty, keptJitter, 0.05)
	linked := Belief{Liquids: []string{"water"}, Mean: []float64{0, math.Log(2e-6)},
		Cov: [][]float64{{0.04, 0.03}, {0.03, 0.04}}}
	if e := linked.Pin(l, 3e-6).Exposure(); e.Median <= 1.1 {
		t.Errorf("what hangs together did not follow: exposure %.3f", e.Median)
	}
	if got := linked.Mean[1]; got != math.Log(2e-6) {
		t.Error("pinning changed the belief it was asked of")
	}
	if got := (Belief{}).Pin(l, -1).Kept(l); got != (Belief{}).Kept(l) {
		t.Error("a volume below nothing was taken")
	}
}

func TestEstimateOfWhatNeverDries(t *testing.T) {
	c := shipped(t, "water")
	c.Humidity, c.Kept = 1, 0
	e, err := Estimate(Belief{}, c, Options{})
	if err != nil || !e.Never || e.Minutes != (Spread{}) || e.Reason == "" {
		t.Errorf("%+v, %v", e, err)
	}
}

func TestEstimateRefuses(t *testing.T) {
	for says, change := range map[string]func(*Case){
		"relative humidity of 120 %":      func(c *Case) { c.Humidity = 1.2 },
		"liquid kept in the liner of 5 L": func(c *Case) { c.Kept = 5e-3 },
		"liquid kept in the liner of -2":  func(c *Case) { c.Kept = -2e-6 },
		"film conductance of 0 W/K":       func(c *Case) { c.Film = 0 },
	} {
		c := shipped(t, "water")
		change(&c)
		if _, err := Estimate(Belief{}, c, Options{}); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("got %v, want %q", err, says)
		}
	}
}

// A belief that was stored and came back torn is taken as the prior, never as nonsense.
func TestTornBeliefs(t *testing.T) {
	l := named(t, "water")
	for name, b := range map[string]Belief{
		"no covariance":     {Mean: []float64{0.5}},
		"wrong size":        {Liquids: []string{"water"}, Mean: []float64{0}, Cov: [][]float64{{1}}},
		"ragged":            {Liquids: []string{"water"}, Mean: []float64{0, -13}, Cov: [][]float64{{1, 0}, {0}}},
		"not positive":      {Mean: []float64{0.5}, Cov: [][]float64{{-1}}},
		"not a number":      {Mean: []float64{math.NaN()}, Cov: [][]float64{{1}}},
		"not a number (c)":  {Mean: []float64{0.5}, Cov: [][]float64{{math.NaN()}}},
		"jitter below zero": {Mean: []float64{0.5}, Cov: [][]float64{{1}}, Jitter: -1},
	} {
		if b.Exposure() != Prior().Exposure() || b.Kept(l) != Prior().Kept(l) {
			t.Errorf("%s: exposure %v, kept %v", name, b.Exposure(), b.Kept(l))
		}
	}
}

func TestAnyEstimateIsInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCase(t)
		c.Kept = 0
		e, err := Estimate(Belief{}, c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		m := e.Minutes
		if !e.Never && !(m.Low > 0 && m.Low < m.Median && m.Median < m.High && m.High < 3e4) {
			t.Fatalf("%+v", m)
		}
	})
}

// The budget is a millisecond for every liquid in every air. What burns is followed twice, with and without the water that
// it takes up.
func BenchmarkEstimate(b *testing.B) {
	for _, name := range []string{"water-detergent", "isopropanol-70", "isopropanol-91", "isopropanol-99", "ethanol-96"} {
		for _, air := range []struct {
			name     string
			humidity float64
		}{{"dry", 0.1}, {"usual", 0.5}, {"damp", 0.8}} {
			c := shipped(b, name)
			c.Humidity = air.humidity
			b.Run(name+"/"+air.name, func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					if _, err := Estimate(Belief{}, c, Options{}); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
