package endpoint

import (
	"math"
	"testing"

	"fullery/recipe"
)

// TestFrozenNeverDries: a sensor that says the same for ever never shows a liner dry while more than 2 % is left.
func TestFrozenNeverDries(t *testing.T) {
	everyScene(t, func(t *testing.T, p *Plan, w truth, e Evidence) {
		for _, from := range []float64{0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9} {
			var frozen Reading
			o := watch(p, rig{scale: 0.5, noise: 0.5, seed: 9}.reads(w), func(at float64, x *Reading) {
				if at <= from*60*w.minutes {
					frozen = *x
				} else {
					*x = frozen
				}
			})
			if !math.IsInf(o.at, 1) {
				t.Errorf("frozen from %.0f %% of the time on: %v", 100*from, o)
			}
		}
	})
}

// everyScene runs a test for every liquid in usual air, by every evidence that is visible.
func everyScene(t *testing.T, do func(t *testing.T, p *Plan, w truth, e Evidence)) {
	for _, sc := range scenes {
		c := room(t, sc.liquid, 0.5, 0.5)
		name := sc.liquid
		if sc.warm {
			c, name = warmed(c), name+" warmed"
		}
		w := really(t, c)
		for _, e := range []Evidence{ByWeight, BySurface, ByAir} {
			if p := planOf(t, c, e); p.Sights[e-1].Visible {
				t.Run(name+" by "+e.String(), func(t *testing.T) { do(t, p, w, e) })
			}
		}
	}
}

// TestHold: the drying stands still for ten minutes, without steps; the disk warms up meanwhile and nothing leaves it.
// Afterwards the signal rises again, and the drying ends where it would have.
func TestHold(t *testing.T) {
	everyScene(t, func(t *testing.T, p *Plan, w truth, e Evidence) {
		straight := watch(p, rig{scale: 0.5}.reads(w), nil)
		for _, from := range []float64{0.2, 0.5, 0.8} {
			r := rig{scale: 0.5}.reads(w)
			s := r.zeroed(p)
			o := outcome{at: math.Inf(1)}
			for at := 0.0; at < 180*w.minutes; at++ {
				n := w.at(at)
				if since := at - from*60*w.minutes; since >= 0 {
					if since < 1 {
						s.Pause()
						if s.Since != 0 || s.Faint != 0 {
							t.Fatal("a pause does not break what held")
						}
						if l := p.Left(&s); !inOrder(l) || math.IsNaN(p.DryBelow(&s)) != !s.By.Proven() { // a screen asks meanwhile
							t.Fatalf("%+v, %g", l, p.DryBelow(&s))
						}
					}
					rises := 1 - math.Exp(-since/60)
					n.liner, n.outlet = n.liner*rises, n.outlet*rises
					n.humidity = w.unwetted(n.outlet) + rises*(n.humidity-w.unwetted(n.outlet))
				}
				p.Step(&s, r.shows(n), 1)
				if by, dry := p.Dry(&s); dry {
					o = outcome{at, w.at(at).left, by}
					break
				}
			}
			if o.left > mayBeLeft || !math.IsInf(o.at, 1) && (o.at < straight.at-0.12*60*w.minutes || o.at > straight.at+0.25*60*w.minutes) {
				t.Errorf("held at %.0f %%: %v; without %v", 100*from, o, straight)
			}
		}
	})
}

// TestHeldWhileItHolds: a hold while the rule holds makes it begin again.
func TestHeldWhileItHolds(t *testing.T) {
	c := room(t, "water", 0.5, 0.5)
	w, p := really(t, c), planOf(t, c, ByWeight)
	r := rig{}.reads(w)
	s := r.zeroed(p)
	pauses := 0
	for at := 0.0; at < 120*w.minutes; at++ {
		p.Step(&s, r.shows(w.at(at)), 1)
		if s.Since >= p.spans.lasting-1 {
			s.Pause()
			pauses++
		}
		if _, dry := p.Dry(&s); dry {
			t.Fatal("dry, though held again and again")
		}
	}
	if pauses < 10 {
		t.Errorf("held %d times: the test tests nothing", pauses)
	}
}

// TestBeginKeepsZeros: a new drying forgets all but the zeros, and Forget takes one of these away.
func TestBeginKeepsZeros(t *testing.T) {
	c := room(t, "water", 0.5, 0.5)
	w := really(t, c)
	fitted := []recipe.Sensor{recipe.Air, recipe.Surface, recipe.Weight}
	p := planOf(t, c, ByWeight)
	p.Sights[BySurface-1].Visible, p.Sights[BySurface-1].Fitted = true, true
	r := rig{offset: 0.3, seed: 4}.reads(w)
	s := r.zeroed(p)
	zeros := [2]float64{s.Tracks[0].Zero, s.Tracks[1].Zero}
	fresh := s
	for at := 0.0; at < 1000; at++ {
		p.Step(&s, r.shows(w.at(at)), 1)
	}
	s.Begin()
	if s != fresh || !s.Zeroed(ByWeight) || !s.Zeroed(BySurface) || s.Zeroed(ByAir) || s.Zeroed(ByClock) || s.Nothing() {
		t.Errorf("%+v, with %d sensors", s, len(fitted))
	}
	if math.Abs(zeros[0]-0.4) > 0.3e-3 || zeros[1] == 0 {
		t.Errorf("zeros %g kg and %g K", zeros[0], zeros[1])
	}
	s.Forget(ByWeight)
	s.Forget(ByClock)
	if s.Zeroed(ByWeight) || !s.Zeroed(BySurface) {
		t.Error("the wrong zero was forgotten")
	}
	s.Forget(BySurface)
	if !s.Nothing() {
		t.Error("something is left")
	}
}

// TestUnzeroedIsUnused: without the dry disk having been read, nothing but the clock is at work.
func TestUnzeroedIsUnused(t *testing.T) {
	c := room(t, "water", 0.5, 0.5)
	w, p := really(t, c), planOf(t, c, ByWeight)
	r := rig{}.reads(w)
	var s State
	for at := 0.0; at < 120*w.minutes; at++ {
		p.Step(&s, r.shows(w.at(at)), 1)
		if by, dry := p.Dry(&s); dry || by != ByClock {
			t.Fatalf("by %s, dry %v", by, dry)
		}
	}
	if !math.IsNaN(p.DryBelow(&s)) || !math.IsNaN(signalAtWork(&s)) {
		t.Error("the clock has a signal")
	}
}

// TestZeroAverages: the zero is the mean of the first twenty seconds, and goes on slowly from there. The variance of a
// running mean that takes in a twentieth of each new reading comes to σ²/39.
func TestZeroAverages(t *testing.T) {
	p := planOf(t, room(t, "water", 0.5, 0.5), ByWeight)
	var s State
	for i := range 20 {
		p.Zero(&s, Reading{Weight: float64(i)}, 1)
	}
	if z := s.Tracks[ByWeight-1].Zero; math.Abs(z-9.5) > 1e-12 {
		t.Errorf("the mean of 0 to 19 came to %g", z)
	}
	p.Zero(&s, Reading{Weight: 29.5}, 1)
	if z := s.Tracks[ByWeight-1].Zero; math.Abs(z-10.5) > 1e-12 {
		t.Errorf("a twentieth of 20 more came to %g", z)
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300} {
		before := s
		if p.Zero(&s, Reading{Weight: bad}, 1); s != before {
			t.Errorf("%g moved the zero", bad)
		}
	}
}

// TestTooEarly: no evidence is believed before the shortest drying that is possible at all.
func TestTooEarly(t *testing.T) {
	everyScene(t, func(t *testing.T, p *Plan, w truth, e Evidence) {
		r := rig{}.reads(w)
		s := r.zeroed(p)
		for at := 0.0; at < p.shortest()-1; at++ {
			n := w.at(at)
			if at > 0.3*p.shortest() { // a drying ten times as fast as any
				n = w.at(at * 10)
			}
			p.Step(&s, r.shows(n), 1)
			if _, dry := p.Dry(&s); dry {
				t.Fatalf("dry after %.0f s, though nothing is before %.0f s", at, p.shortest())
			}
		}
	})
}

// TestNotShown: an evidence that never saw a wet liner says nothing by seeing none.
func TestNotShown(t *testing.T) {
	everyScene(t, func(t *testing.T, p *Plan, w truth, e Evidence) {
		r := rig{noise: 1, seed: 2}.reads(w)
		s := r.zeroed(p)
		for at := 0.0; at < 120*w.minutes; at++ {
			p.Step(&s, r.dryDisk(), 1)
			if by, dry := p.Dry(&s); dry || by != ByClock {
				t.Fatalf("after %.0f s: by %s, dry %v", at, by, dry)
			}
		}
	})
}

// TestDryBelow: the rule holds when the signal is below what DryBelow says, and does not when it is above.
func TestDryBelow(t *testing.T) {
	everyScene(t, func(t *testing.T, p *Plan, w truth, e Evidence) {
		r := rig{scale: 0.5}.reads(w)
		s := r.zeroed(p)
		agreed, told := 0, 0
		for at := 0.0; at < 66*w.minutes; at++ {
			p.Step(&s, r.shows(w.at(at)), 1)
			if s.By != e || s.Elapsed < p.shortest() {
				continue
			}
			below, now := p.DryBelow(&s), signalAtWork(&s)
			if math.IsNaN(below) {
				t.Fatalf("after %.0f s nothing is known", at)
			}
			if math.Abs(now-below) < 0.02*s.Tracks[e-1].Most {
				continue
			}
			if told++; (now < below) == p.holds(&s) {
				agreed++
			}
		}
		if told < 100 || agreed < told*99/100 {
			t.Errorf("%d of %d times the signal and the rule agreed", agreed, told)
		}
	})
}

// TestSensorSnatchedAway: a sensor of the jacket, or of the air leaving, that loses its place within a second or two while
// much is left: its signal vanishes, and it is never believed again. One that comes off slowly is not recognised.
func TestSensorSnatchedAway(t *testing.T) {
	for _, e := range []Evidence{BySurface, ByAir} {
		c := room(t, "water", 0.5, 0.5)
		w, p := really(t, c), planOf(t, c, e)
		for _, from := range []float64{0.4, 0.5, 0.6, 0.7} {
			r := rig{scale: 0.5}.reads(w)
			s := r.zeroed(p)
			for at := 0.0; at < 120*w.minutes; at++ {
				n := w.at(at)
				if gone := at - from*60*w.minutes; gone > 0 {
					fades := math.Exp2(-gone)
					n.liner, n.outlet = n.liner*fades, n.outlet*fades
					n.humidity = w.unwetted(n.outlet) + fades*(n.humidity-w.unwetted(n.outlet))
				}
				p.Step(&s, r.shows(n), 1)
				if by, dry := p.Dry(&s); dry {
					t.Fatalf("snatched away at %.0f %%: dry by %s with %.1f %% left", 100*from, by, 100*w.at(at).left)
				}
			}
			if !s.Tracks[e-1].Lost || s.By != ByClock {
				t.Errorf("snatched away at %.0f %%: still at work is %s", 100*from, s.By)
			}
		}
	}
}

// TestFaint: a rate that cannot be told from nothing is dryness for water alone, only where 1 % of it would show, and only
// once it has been so for long.
func TestFaint(t *testing.T) {
	for _, liquid := range []string{"water", "isopropanol-91"} {
		p := planOf(t, room(t, liquid, 0.5, 0.5), BySurface)
		s := State{By: BySurface, Elapsed: 1e6}
		s.Tracks[BySurface-1] = Track{Most: 3, Now: 0.01, Read: 20, Started: true}
		shows := 3 * p.shape.liner[2] / p.shape.liner[0] // K, with 1 % left
		for _, q := range []struct {
			off  float64 // three standard deviations as a share of that
			want bool
		}{{0.39, true}, {0.41, false}, {0.001, false}} {
			p.Sights[BySurface-1].Error = q.off * shows / 3
			if got := p.faint(&s); got != (q.want && liquid == "water") {
				t.Errorf("%s, off by %g of what 1 %% shows: %v", liquid, q.off, got)
			}
		}
		s.Elapsed = 1
		if p.Sights[BySurface-1].Error = 0.5 * shows / 3; p.faint(&s) {
			t.Error("faint from the start")
		}
		if least := p.fades(); least < 4*p.spans.lasting || least < 3*p.Expected.Minutes.Median-1e-9 {
			t.Errorf("faint for %.0f s is enough", least)
		}
	}
}

// TestLiftedOffTheScale: a cartridge that is lifted off its scale, or half taken off it, weighs less all at once: that is not
// dryness, whatever the liquid and however much is left. Weights that fall as the liner dries are believed.
func TestLiftedOffTheScale(t *testing.T) {
	for _, sc := range scenes {
		c := room(t, sc.liquid, 0.5, 3)
		if sc.warm {
			c = warmed(c)
		}
		w, p := really(t, c), planOf(t, c, ByWeight)
		for _, share := range []float64{0, 0.5, 1} { // of the weight that stays on the scale
			for _, from := range []float64{0.1, 0.4, 0.7} {
				o := watch(p, rig{scale: 0.5}.reads(w), func(at float64, x *Reading) {
					if at > from*60*w.minutes {
						x.Weight *= share
					}
				})
				if gone := !math.IsInf(o.at, 1); gone != (share == 1) {
					t.Errorf("%s, %.0f %% of it on the scale from %.0f %% of the time on: %v", sc.liquid, 100*share, 100*from, o)
				}
			}
		}
	}
}

// TestJacketSensorFallsOff: before the signal has begun to fall a jacket sensor that comes off within seconds is never taken
// for dryness, with any liquid.
func TestJacketSensorFallsOff(t *testing.T) {
	for _, sc := range scenes {
		c := room(t, sc.liquid, 0.5, 3)
		if sc.warm {
			c = warmed(c)
		}
		w, p := really(t, c), planOf(t, c, BySurface)
		for _, half := range []float64{1, 5, 10} {
			last := Reading{}
			from := 0.2 * 60 * w.minutes
			o := watch(p, rig{scale: 0.5}.reads(w), func(at float64, x *Reading) {
				if at < from {
					last = *x
					return
				}
				x.Surface = x.Air - (last.Air-last.Surface)*math.Exp2(-(at-from)/half)
			})
			if o.left > mayBeLeft && !math.IsInf(o.at, 1) {
				t.Errorf("%s, half time %.0f s: %v", sc.liquid, half, o)
			}
		}
	}
}
