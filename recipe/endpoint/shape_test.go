package endpoint

import (
	"math"
	"testing"

	"fullery/recipe/drying"

	"pgregory.net/rapid"
)

// finely works a shape's figures out the slow way: from the model at a thirty-thousandth of the usual tolerance, followed
// to 0.1 %, second by second.
func finely(t testing.TB, c drying.Case) (at2, at1, ratio, end float64) {
	t.Helper()
	w := really(t, c)
	end = w.when(0.01)
	at2, at1 = w.at(w.when(0.02)).liner, w.at(end).liner
	var before, after float64
	last := w.at(0).liner
	step := end / 2e4
	for at := step; at < 3*end; at += step {
		now := w.at(at).liner
		if at <= end {
			before += (now + last) / 2 * step
		} else {
			after += (now + last) / 2 * step
		}
		last = now
	}
	return at2, at1, 0.01 * (before + after) / after, end
}

// TestShapeIsFine: the model is run at a tolerance that lets one step go from 6 % left to less than 1 %. The figures of the
// shape must not depend on where its steps happen to end.
func TestShapeIsFine(t *testing.T) {
	for _, sc := range scenes {
		for _, humidity := range []float64{0.05, 0.3, 0.5, 0.8} {
			for _, litres := range []float64{0.5, 3} {
				c := room(t, sc.liquid, humidity, litres)
				if sc.warm {
					c = warmed(c)
				}
				c.Kept = drying.DefaultKept
				s, err := shapeOf(c)
				if err != nil {
					t.Fatal(err)
				}
				at2, at1, ratio, _ := finely(t, c)
				for _, q := range []struct {
					what              string
					got, want, within float64
				}{
					{"signal with 2 % left", s.liner[1], at2, 0.02}, {"signal with 1 % left", s.liner[2], at1, 0.02},
					// What comes after 0.1 % is left is drawn on by a rule of thumb, here and there.
					{"share of the liquid by share of the sum", s.ratio, ratio, 0.07},
				} {
					if math.Abs(q.got/q.want-1) > q.within {
						t.Errorf("%s %v %.0f %% %g L/s: %s %.4g, want %.4g", sc.liquid, sc.warm, 100*humidity, litres, q.what, q.got, q.want)
					}
				}
			}
		}
	}
}

// TestShapeFollowsTheFall: when the signal is at a share of its largest, how far along the drying is and what is left are
// those of the model.
func TestShapeFollowsTheFall(t *testing.T) {
	for _, sc := range scenes {
		c := room(t, sc.liquid, 0.5, 1)
		if sc.warm {
			c = warmed(c)
		}
		c.Kept = drying.DefaultKept
		s, err := shapeOf(c)
		if err != nil {
			t.Fatal(err)
		}
		w := really(t, c)
		end := w.when(0.01)
		peak := 0.0
		for at := usual.settles * end; at < end; at++ {
			peak = max(peak, w.at(at).liner)
		}
		if math.Abs(s.liner[0]/peak-1) > 0.03 {
			t.Errorf("%s: peak %.3f K, want %.3f K", sc.liquid, s.liner[0], peak)
		}
		for _, along := range []float64{0.6, 0.8, 0.9, 1, 1.05} {
			now := w.at(along * end)
			share := now.liner / s.liner[0]
			if share > 0.8 || share < level(levels-1) {
				continue
			}
			if got := s.at(share); math.Abs(got-along) > 0.03 {
				t.Errorf("%s at %.2f of the peak: %.3f along, want %.3f", sc.liquid, share, got, along)
			}
			if got := s.content(now.left); math.Abs(got-along) > 0.04 {
				t.Errorf("%s with %.3f left: %.3f along, want %.3f", sc.liquid, now.left, got, along)
			}
			if got := s.leftAt(share); math.Abs(got/now.left-1) > 0.1 {
				t.Errorf("%s at %.2f of the peak: %.4f left, want %.4f", sc.liquid, share, got, now.left)
			}
		}
	}
}

// TestShapeIsMonotone: a smaller signal is farther along and, of water, leaves less; an alcohol may take up more water from
// damp air than evaporates meanwhile. Ends and nonsense stay within bounds.
func TestShapeIsMonotone(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		c := room(t, rapid.SampledFrom([]string{"water", "isopropanol-91", "isopropanol-70", "ethanol-96"}).Draw(r, "liquid"),
			rapid.Float64Range(0, 0.85).Draw(r, "humidity"), rapid.Float64Range(0.2, 10).Draw(r, "litres"))
		c.Kept = 1e-6 * rapid.Float64Range(0.3, 6).Draw(r, "mL")
		s, err := shapeOf(c)
		if err != nil {
			r.Fatal(err)
		}
		if !(s.ratio > 0.01 && s.ratio < 3) || !(s.liner[0] > s.liner[1] && s.liner[1] > s.liner[2] && s.liner[2] > 0) {
			r.Fatalf("%+v", s)
		}
		a, b := rapid.Float64Range(0, 1).Draw(r, "a"), rapid.Float64Range(0, 1).Draw(r, "b")
		if a > b {
			a, b = b, a
		}
		gains := c.Liquid.Alcohol > 0 && c.Humidity > 0.5
		if s.at(a) < s.at(b) || !gains && s.leftAt(a) > s.leftAt(b)+1e-12 || !gains && s.content(a) < s.content(b)-1e-9 {
			r.Fatalf("at %g and %g: along %g and %g, left %g and %g, by content %g and %g", a, b, s.at(a), s.at(b), s.leftAt(a),
				s.leftAt(b), s.content(a), s.content(b))
		}
		for _, x := range []float64{s.at(a), s.leftAt(a), s.content(a), s.at(-1), s.at(2), s.leftAt(-1), s.leftAt(2), s.content(2)} {
			if !(math.Abs(x) < 10) {
				r.Fatalf("%g is no share", x)
			}
		}
	})
}

// TestUnder holds the area under an exponential against ∫e^(−t)dt from 0 to 2, and what it falls back to.
func TestUnder(t *testing.T) {
	for _, q := range []struct{ x, y, seconds, want float64 }{
		{1, math.Exp(-2), 2, 1 - math.Exp(-2)}, {3, 3, 2, 6}, {1, 0, 2, 1}, {-1, 1, 2, 0}, {2, 2 * (1 + 1e-9), 1, 2},
	} {
		if got := under(q.x, q.y, q.seconds); math.Abs(got-q.want) > 1e-8 {
			t.Errorf("under %g to %g in %g s: %g, want %g", q.x, q.y, q.seconds, got, q.want)
		}
	}
	if got := along(4, 1, 0.5); got != 2 {
		t.Errorf("half the way from 4 to 1: %g, want 2", got)
	}
	if got := along(4, -1, 0.5); got != 1.5 {
		t.Errorf("half the way from 4 to -1: %g, want 1.5", got)
	}
}
