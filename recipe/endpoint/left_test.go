package endpoint

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"

	"pgregory.net/rapid"
)

// TestTruncated holds the quantiles of the truncated normal distribution to what they are by its definition (Johnson, Kotz
// and Balakrishnan, Continuous Univariate Distributions, 2nd edition, volume 1, section 10.1: above the bound the density
// is the normal one over the mass above it). So of what lies above the bound, 1 − q lies above the quantile.
func TestTruncated(t *testing.T) {
	// Struck out below its mean, a normal distribution is the half-normal: Φ⁻¹ at 0.55, 0.75 and 0.95, standard tables.
	for q, want := range map[float64]float64{0.1: 0.12566134685507402, 0.5: 0.6744897501960817, 0.9: 1.6448536269514722} {
		if got := truncated(7, 2, 7, q); math.Abs(got-7-2*want) > 1e-12 {
			t.Errorf("half-normal, %g: %.15g, want %.15g", q, got, 7+2*want)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		mean, width := rapid.Float64Range(-5, 15).Draw(r, "mean"), rapid.Float64Range(0.01, 2).Draw(r, "width")
		z, q := rapid.Float64Range(-8, 30).Draw(r, "z"), rapid.SampledFrom([]float64{0.1, 0.5, 0.9}).Draw(r, "q")
		bound := mean + z*width
		got := truncated(mean, width, bound, q)
		above := func(x float64) float64 { return math.Erfc((x - mean) / width / math.Sqrt2) }
		within := 1e-6
		if z > 6 { // an approximation there
			within = 4e-3
		}
		if share := above(got) / above(bound); got < bound || math.Abs(share-(1-q)) > within {
			r.Fatalf("above %g lie %g of what is above %g, want %g", got, share, bound, 1-q)
		}
	})
	for _, q := range []float64{0.1, 0.5, 0.9} { // no step where the approximation begins
		near, far := truncated(0, 1, 6-1e-9, q)-6, truncated(0, 1, 6+1e-9, q)-6
		if math.Abs(near/far-1) > 0.01 {
			t.Errorf("at six widths the %g quantile jumps from %g to %g beyond the bound", q, near, far)
		}
	}
}

// TestLeftOfPrior: as long as nothing is seen, what is left is what was believed of the time, with the times struck out
// that are over; here by counting through eighteen widths in thousandths.
func TestLeftOfPrior(t *testing.T) {
	for _, name := range []string{"water-detergent", "isopropanol-91"} {
		p := planOf(t, room(t, name, 0.5, 3), ByWeight)
		m, width := p.Expected.Minutes, widthOf(t, p, room(t, name, 0.5, 3))
		for _, elapsed := range []float64{0, 60, 20 * m.Median, 60 * m.Median, 120 * m.Median} {
			want := struckOut(math.Log(60*m.Median), width, elapsed)
			var s State
			for s.Elapsed < elapsed {
				p.Step(&s, unread(), min(10, elapsed-s.Elapsed))
			}
			got := p.Left(&s)
			for i, x := range [...]float64{got.Low, got.Median, got.High} {
				if math.Abs(x-want[i]) > 5e-3*(want[i]+0.1*m.Median) {
					t.Errorf("%s after %.0f s: %.3f min, want %.3f", name, elapsed, x, want[i])
				}
			}
		}
	}
}

// widthOf is the standard deviation of the logarithm of the time: of the interval, and of a room that may be eight points
// damper or drier than it was read.
func widthOf(t *testing.T, p *Plan, c drying.Case) float64 {
	t.Helper()
	m := p.Expected.Minutes
	width := max(math.Log(m.High/m.Median), math.Log(m.Median/m.Low)) / 1.2815515655446
	c.Kept, c.Film = p.kept/liquid.Density(c.Liquid.Composition(), c.Air), c.Film*drying.Prior().Exposure().Median
	lasts := func() float64 {
		r, err := drying.Run(c, drying.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return r.Minutes
	}
	here := lasts()
	c.Humidity -= 0.15
	return math.Hypot(width, 0.08/0.15*math.Log(here/lasts()))
}

// struckOut returns the 10 %, 50 % and 90 % quantiles of the minutes left.
func struckOut(mean, width, elapsed float64) (left [3]float64) {
	const step = 1e-3
	density := func(z float64) float64 { return math.Exp(-z * z / 2) }
	total := 0.0
	first := max((math.Log(max(elapsed, 1))-mean)/width, -9)
	for z := first; z < first+18; z += step {
		total += density(z + step/2)
	}
	sum := 0.0
	at := [...]float64{0.1 * total, 0.5 * total, 0.9 * total}
	for z, i := first, 0; i < 3; z += step {
		for sum += density(z + step/2); i < 3 && sum >= at[i]; i++ {
			left[i] = (math.Exp(mean+width*(z+step)) - elapsed) / 60
		}
	}
	return left
}

// inOrder tells whether a Left is one that a person can be shown.
func inOrder(l Left) bool {
	return l.Low >= 0 && l.Low <= l.Median && l.Median <= l.High && l.High < 1e6 || l.Never && l.Spread == (drying.Spread{})
}

// TestLeftTightens: the minutes left are in order all along, come down to a few in the end, and their interval ends far
// narrower than it began.
func TestLeftTightens(t *testing.T) {
	for _, e := range []Evidence{ByWeight, BySurface, ByAir} {
		for _, sc := range scenes {
			c := room(t, sc.liquid, 0.5, 0.5)
			if sc.warm && e == ByAir {
				continue // in warmed air it is not used
			}
			if sc.warm {
				c = warmed(c)
			}
			w, p := really(t, c), planOf(t, c, e)
			r := rig{scale: 0.5, noise: 1, lag: 5, seed: 3}.reads(w)
			s := r.zeroed(p)
			first := p.Left(&s)
			var widths []float64
			for at := 0.0; at < 60*w.minutes; at++ {
				p.Step(&s, r.shows(w.at(at)), 1)
				l := p.Left(&s)
				if !inOrder(l) {
					t.Fatalf("%s by %s after %.0f s: %+v", sc.liquid, e, at, l)
				}
				widths = append(widths, l.High-l.Low)
			}
			last, from := p.Left(&s), first.High-first.Low
			at := func(share float64) float64 { return widths[int(share*float64(len(widths)-1))] }
			if last.High > 0.3*first.Median || at(1) > 0.4*from || at(0.9) > 0.7*from {
				t.Errorf("%s by %s: began with %+v, ended with %+v; an interval of %.1f min came to %.1f and %.1f",
					sc.liquid, e, first, last, from, at(0.9), at(1))
			}
		}
	}
}

// TestLeftHoldsTruth: of dryings of liners and benches drawn from the belief, at half and at most of their way, the
// interval holds the truth about as often as it says, and nowhere does it miss it by far in the middle.
func TestLeftHoldsTruth(t *testing.T) {
	draw := rand.New(rand.NewPCG(1, 2))
	for _, e := range []Evidence{ByWeight, BySurface} {
		inside, of := 0, 0
		var off []float64
		for i := range 60 {
			c := room(t, scenes[i%len(scenes)].liquid, 0.5, 1)
			p := planOf(t, c, e)
			c.Kept = drying.DefaultKept * math.Exp(0.18*draw.NormFloat64())
			c.Film *= math.Exp(0.18 * draw.NormFloat64())
			w := really(t, c)
			r := rig{scale: 0.5, noise: 1, seed: uint64(i)}.reads(w)
			s := r.zeroed(p)
			for at := 0.0; at < 54*w.minutes; at++ {
				p.Step(&s, r.shows(w.at(at)), 1)
				if truly := w.minutes - at/60; int(at)%int(6*w.minutes) == 1 {
					l := p.Left(&s)
					of++
					if l.Low <= truly && truly <= l.High {
						inside++
					}
					off = append(off, math.Abs(l.Median-truly)/w.minutes)
				}
			}
		}
		slices.Sort(off)
		if share := float64(inside) / float64(of); share < 0.7 {
			t.Errorf("by %s %.0f %% of %d intervals of 80 %% held the truth", e, 100*share, of)
		}
		if middle := off[len(off)/2]; middle > 0.2 {
			t.Errorf("by %s the middle estimate was %.0f %% of the drying off", e, 100*middle)
		}
	}
}
