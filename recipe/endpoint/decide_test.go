package endpoint

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// scenes are the liquids as they are dried; only water may be warmed.
var scenes = []struct {
	liquid string
	warm   bool
}{
	{"water-detergent", false}, {"water-detergent", true}, {"isopropanol-70", false}, {"isopropanol-91", false},
	{"isopropanol-99", false}, {"ethanol-96", false},
}

const (
	mayBeLeft = 0.02 // of the liquid, in what is called dry
	mayBeOver = 0.10 // of the time until 1 % is left, by the middle one of several benches,
	mayBeLate = 0.25 // or by a sensor that barely sees it: it must wait until hardly anything shows
)

// TestDryIsDry looks at dryings through sensors that are noisy, lag, round, and have offsets of their own. What is called
// dry by what the plan found visible has at most 2 % left, always; the middle bench is at most 10 % from the time at which
// 1 % is left, or 25 % late by a sensor that barely sees it. A plan that sees nothing is no failure here: TestWhatIsVisible holds which ones see.
func TestDryIsDry(t *testing.T) {
	for _, e := range []Evidence{ByWeight, BySurface, ByAir} {
		for _, sc := range scenes {
			for _, humidity := range []float64{0.3, 0.5, 0.8} {
				for _, litres := range []float64{0.5, 3} {
					c := room(t, sc.liquid, humidity, litres)
					if sc.warm {
						c = warmed(c)
					}
					p := planOf(t, c, e)
					if !p.Sights[e-1].Visible {
						continue
					}
					name := fmt.Sprintf("%s %s warm=%v %.0f%% %gL/s", e, sc.liquid, sc.warm, 100*humidity, litres)
					judge(t, name, p, really(t, c), e)
				}
			}
		}
	}
}

// judge lets several benches look at one drying.
func judge(t *testing.T, name string, p *Plan, w truth, e Evidence) {
	t.Helper()
	var over []float64
	for seed := range uint64(9) {
		g := rig{noise: 1, lag: 5, offset: 0.2, seed: seed}
		if e == BySurface {
			g.scale = jacketSees
		}
		o := watch(p, g.reads(w), nil)
		switch {
		case !math.IsInf(o.at, 1) && (o.by != e || o.left > mayBeLeft):
			t.Errorf("%s, bench %d: %v", name, seed, o)
		case math.IsInf(o.at, 1):
			t.Logf("%s, bench %d: never called dry; at work was %v", name, seed, o.by)
		}
		over = append(over, o.at/w.minutes/60-1)
	}
	slices.Sort(over)
	most := mayBeOver
	if sight := p.Sights[e-1]; sight.Error > 0.2*sight.AtLimit/2 {
		most = mayBeLate
	}
	if middle := over[len(over)/2]; !(math.Abs(middle) <= most) {
		t.Errorf("%s: the middle bench called it dry %+.1f %% from when 1 %% was left", name, 100*middle)
	}
}

// exactly is a plan whose sensors are never wrong: what decides then is the shape of the signal alone.
func exactly(p *Plan) *Plan {
	q := *p
	for i := range q.Sights {
		q.Sights[i].Error = 0
	}
	return &q
}

// TestNoCalibration: how much of the liner's coldness a jacket, or of the cell's a duct, lets through does not matter, from
// 30 % to all of it.
func TestNoCalibration(t *testing.T) {
	for _, e := range []Evidence{BySurface, ByAir} {
		for _, sc := range scenes {
			c := room(t, sc.liquid, 0.5, 0.5)
			if sc.warm && e == ByAir {
				continue // in warmed air it is not used
			}
			if sc.warm {
				c = warmed(c)
			}
			w, p := really(t, c), exactly(planOf(t, c, e))
			full := watch(p, rig{}.reads(w), nil)
			if math.IsInf(full.at, 1) || full.by != e {
				t.Fatalf("%s by %s: %v", sc.liquid, e, full)
			}
			for _, scale := range []float64{0.3, 0.5, 0.77} {
				// The moisture in a duct is a share of saturation, and not quite in proportion.
				if o := watch(p, rig{scale: scale}.reads(w), nil); math.Abs(o.at-full.at) > 1+0.01*full.at || o.by != e {
					t.Errorf("%s by %s: %v, but through %.2f of it %v", sc.liquid, e, full, scale, o)
				}
			}
		}
	}
}

// TestErrorOnlyDelays: with the sensor's error counted, a weaker signal is called dry no sooner.
func TestErrorOnlyDelays(t *testing.T) {
	c := room(t, "isopropanol-91", 0.5, 3)
	w, p := really(t, c), planOf(t, c, BySurface)
	exact := watch(exactly(p), rig{scale: 1}.reads(w), nil).at
	before := exact
	for _, scale := range []float64{1, 0.7, 0.5, 0.4} {
		o := watch(p, rig{scale: scale}.reads(w), nil)
		if !(o.at >= before) || o.left > mayBeLeft {
			t.Errorf("through %.1f: %v, sooner than after %.0f s", scale, o, before)
		}
		before = o.at
	}
	if before < 1.01*exact {
		t.Errorf("a signal of 0.4 is called dry after %.0f s, one without any error after %.0f s", before, exact)
	}
}

// TestZeroTakesOffsets: what every sensor is off by all the time changes nothing once the dry disk was read.
func TestZeroTakesOffsets(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		e := rapid.SampledFrom([]Evidence{ByWeight, BySurface, ByAir}).Draw(r, "evidence")
		sc := rapid.SampledFrom(scenes).Draw(r, "scene")
		c := room(t, sc.liquid, 0.5, 0.5)
		w, p := really(t, c), planOf(t, c, e)
		straight := watch(p, rig{}.reads(w), nil)
		off := watch(p, rig{offset: rapid.Float64Range(0, 2).Draw(r, "offset"), seed: rapid.Uint64().Draw(r, "seed")}.reads(w), nil)
		// Moisture bends a little with the temperature that a wrong sensor names: a part in thirty.
		if math.Abs(off.at-straight.at) > 1+0.03*straight.at || off.by != straight.by {
			r.Fatalf("%s by %s: %v, but with offsets %v", sc.liquid, e, straight, off)
		}
	})
}

// TestUnreadNeverHastens: readings that are missing at random make nothing dry sooner, by more than the scatter.
func TestUnreadNeverHastens(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		e := rapid.SampledFrom([]Evidence{ByWeight, BySurface, ByAir}).Draw(r, "evidence")
		sc := rapid.SampledFrom(scenes).Draw(r, "scene")
		c := room(t, sc.liquid, rapid.SampledFrom([]float64{0.3, 0.5}).Draw(r, "humidity"), 0.5)
		w, p := really(t, c), planOf(t, c, e)
		all := watch(p, rig{scale: 0.5}.reads(w), nil)
		missing := rapid.Float64Range(0, 0.8).Draw(r, "missing")
		dice := rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "seed"), 1))
		some := watch(p, rig{scale: 0.5}.reads(w), func(_ float64, x *Reading) {
			if dice.Float64() < missing {
				*x = unread()
			}
		})
		// But for what the sum of a thinned signal scatters by.
		if some.at < 0.97*all.at || some.left > mayBeLeft {
			r.Fatalf("%s by %s: %v; with %.0f %% missing %v", sc.liquid, e, all, 100*missing, some)
		}
	})
}

// TestUnreadHoldsNothing: at the moment at which the rule first holds every sensor goes silent. Nothing more is called dry.
func TestUnreadHoldsNothing(t *testing.T) {
	for _, e := range []Evidence{ByWeight, BySurface, ByAir} {
		c := room(t, "water-detergent", 0.5, 0.5)
		w, p := really(t, c), planOf(t, c, e)
		held := false
		r := rig{}.reads(w)
		s := r.zeroed(p)
		for at := 0.0; at < 120*w.minutes; at++ {
			x := r.shows(w.at(at))
			if held = held || s.Since > 0 || s.Faint > 0; held {
				x = unread()
			}
			p.Step(&s, x, 1)
			if by, dry := p.Dry(&s); dry {
				t.Fatalf("dry by %s after %.0f s, though nothing was read any more", by, at)
			}
		}
		if !held {
			t.Errorf("by %s the rule never held: the test tests nothing", e)
		}
	}
}

// TestSeldomRead: loggers write a row every few seconds, or once a minute.
func TestSeldomRead(t *testing.T) {
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
			for _, every := range []float64{2, 10, 30, 60} {
				o := watch(p, rig{scale: 0.5, every: every}.reads(w), nil)
				over := o.at - 60*w.minutes
				if o.by != e || o.left > mayBeLeft || over > 0.1*60*w.minutes+2*every || over < -0.1*60*w.minutes-every {
					t.Errorf("%s by %s, read every %.0f s: %v, of %.0f s", sc.liquid, e, every, o, 60*w.minutes)
				}
			}
		}
	}
}

// TestRuleByHand: by weight the rule is what it says, worked out for a liner that kept two grams: at most 1.3 % left by the
// best guess, 2 % with the scale wrong by three standard deviations, and never 50 mg.
func TestRuleByHand(t *testing.T) {
	p := planOf(t, room(t, "water", 0.5, 3), ByWeight)
	for _, q := range []struct {
		kept, left, off float64 // mg; off one standard deviation
		dry             bool
	}{
		{2000, 25.9, 0, true}, {2000, 26.1, 0, false},
		{2000, 25.9, 4.6, true}, {2000, 25.9, 4.8, false}, // 25.9 + 14.1 = 40
		{2000, 0, 13.2, true}, {2000, 0, 13.5, false}, {2000, -5, 13.2, true},
		{5000, 49, 0, true}, {5000, 51, 0, false}, // 51 mg are 1.02 % of it
	} {
		p.Sights[ByWeight-1].Error = q.off * 1e-6
		s := State{By: ByWeight, Elapsed: 1e6}
		s.Tracks[ByWeight-1] = Track{Most: q.kept * 1e-6, Now: q.left * 1e-6, Read: 20, Started: true}
		if got := p.holds(&s); got != q.dry {
			t.Errorf("%g of %g mg, off by %g: %v", q.left, q.kept, q.off, got)
		}
	}
}
