package endpoint

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"fullery/recipe"
	"fullery/recipe/drying"

	"pgregory.net/rapid"
)

// TestWhatIsVisible pins which evidence sees the last 2 % with small digital sensors: a scale everywhere; a jacket sensor
// in all but the weakest; the air leaving where little of it passes.
func TestWhatIsVisible(t *testing.T) {
	for _, sc := range scenes {
		for _, q := range []struct {
			humidity, litres float64
			e                Evidence
			visible          bool
		}{
			{0.5, 3, ByWeight, true}, {0.8, 3, ByWeight, true}, {0.5, 0.5, BySurface, true}, {0.5, 3, BySurface, true},
			{0.5, 0.5, ByAir, true}, {0.5, 20, ByAir, false}, {0.8, 20, ByAir, false},
		} {
			c := room(t, sc.liquid, q.humidity, q.litres)
			if sc.warm {
				if q.e == ByAir {
					continue // what is lost through the cell's walls is as large
				}
				c = warmed(c)
			}
			if s := planOf(t, c, q.e).Sights[q.e-1]; s.Visible != q.visible {
				t.Errorf("%s warm=%v at %.0f %%, %g L/s: %+v", sc.liquid, sc.warm, 100*q.humidity, q.litres, s)
			}
		}
	}
}

// TestWorseSensorsSeeNoMore: a larger noise, drift or step never makes an invisible evidence visible, nor its error less.
func TestWorseSensorsSeeNoMore(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		e := rapid.SampledFrom([]Evidence{ByWeight, BySurface, ByAir}).Draw(r, "evidence")
		sc := rapid.SampledFrom(scenes).Draw(r, "scene")
		c := room(t, sc.liquid, rapid.Float64Range(0.2, 0.8).Draw(r, "humidity"), rapid.Float64Range(0.3, 5).Draw(r, "litres"))
		if sc.warm && e != ByAir { // there the weights are chosen beside a loss of heat that is not noise
			c = warmed(c)
		}
		good := benchWith(sensorsOf(e)...)
		all := rapid.Float64Range(0.1, 4).Draw(r, "of the usual noise")
		bad := *good
		worse := rapid.SampledFrom(sensorsOf(e)).Draw(r, "worse")
		for i := range good.Sensors {
			good.Sensors[i].Noise *= all
		}
		bad.Sensors = good.Sensors
		bad.Sensors[worse].Noise *= rapid.Float64Range(1, 20).Draw(r, "more noise")
		bad.Sensors[worse].Step *= rapid.Float64Range(1, 20).Draw(r, "larger step")
		bad.Sensors[worse].Drift += rapid.Float64Range(0, 1e-6).Draw(r, "drift")
		a, err := New(drying.Belief{}, c, ByBench(good, c))
		if err != nil {
			r.Fatal(err)
		}
		b, err := New(drying.Belief{}, c, ByBench(&bad, c))
		if err != nil {
			r.Fatal(err)
		}
		s, w := a.Sights[e-1], b.Sights[e-1]
		if w.Visible && !s.Visible || w.Error < s.Error*(1-1e-9) {
			r.Fatalf("%s: with a worse %s sensor %+v came to %+v", e, worse, s, w)
		}
	})
}

// saturated is air in which no water dries.
func saturated(t testing.TB) drying.Case { return room(t, "water", 1, 3) }

// TestNeverDry: in saturated air no evidence sees anything, nothing is ever called dry, and nothing breaks.
func TestNeverDry(t *testing.T) {
	c := saturated(t)
	all := append(append(sensorsOf(ByAir), recipe.Surface), recipe.Weight)
	p, err := New(drying.Belief{}, c, ByBench(benchWith(all...), c))
	if err != nil {
		t.Fatal(err)
	}
	if !p.Expected.Never || p.Best() != ByClock || p.ByClock() != 0 || p.shortest() != 0 {
		t.Fatalf("never %v, best %v, by clock %v", p.Expected.Never, p.Best(), p.ByClock())
	}
	for _, s := range p.Sights {
		if s.Visible || !strings.Contains(s.Say(), "nothing") && s.Fitted {
			t.Errorf("%+v: %s", s, s.Say())
		}
	}
	r := rig{noise: 1}.reads(really(t, room(t, "water", 0.5, 3)))
	for _, q := range []*Plan{p, p.Coarse(ByWeight), p.Coarse(BySurface), p.Coarse(ByAir), p.Coarse(ByDrag), p.Coarse(ByClock)} {
		s := r.zeroed(q)
		for at := 0.0; at < 5000; at += 7 {
			q.Step(&s, r.shows(r.w.at(at)), 7)
			if l := q.Left(&s); s != s || l != (Left{Never: true}) {
				t.Fatalf("%+v, %+v", s, l)
			}
			if _, dry := q.Dry(&s); dry && q == p {
				t.Fatal("dry in saturated air")
			}
			if b := q.DryBelow(&s); q == p && !math.IsNaN(b) {
				t.Fatalf("dry below %g by the clock", b)
			}
		}
	}
}

// TestCoarse: every span is a second, one evidence alone is seen, and the plan that it was made from is untouched.
func TestCoarse(t *testing.T) {
	c := room(t, "isopropanol-91", 0.5, 0.5)
	p, err := New(drying.Belief{}, c, ByBench(benchWith(recipe.Air, recipe.Surface, recipe.Weight), c))
	if err != nil {
		t.Fatal(err)
	}
	before := *p
	for _, only := range kinds() {
		q := p.Coarse(only)
		for _, s := range q.Sights {
			if s.Visible != (s.Fitted && s.Evidence == only) {
				t.Errorf("only %s: %+v", only, s)
			}
		}
		if q.spans.lasting != 1 || q.Reading() != 1 || q.shortest() > 1 {
			t.Errorf("only %s: lasting %g, reading %g, shortest %g", only, q.spans.lasting, q.Reading(), q.shortest())
		}
	}
	if !reflect.DeepEqual(*p, before) {
		t.Error("the plan was changed")
	}
	w := really(t, c)
	q := p.Coarse(BySurface)
	s := rig{}.reads(w).zeroed(q)
	r := rig{}.reads(w)
	for range 5 {
		q.Step(&s, r.shows(w.at(w.when(0.9))), 1)
	}
	if s.By != BySurface || s.Elapsed > 1 || s.Tracks[ByWeight-1].Read != 0 {
		t.Errorf("wet, it is %+v", s)
	}
	if _, dry := q.Dry(&s); dry {
		t.Error("dry with 90 % left")
	}
}

// TestClockWaits: the clock ends a drying a quarter beyond the upper end of the estimate; no evidence is believed before
// four widths below it.
func TestClockWaits(t *testing.T) {
	p := planOf(t, room(t, "isopropanol-91", 0.5, 3), BySurface)
	m := p.Expected.Minutes
	if got := p.ByClock(); math.Abs(got-75*m.High) > 1e-9 {
		t.Errorf("the clock waits %.0f s, want %.0f s", got, 75*m.High)
	}
	width := widthOf(t, p, room(t, "isopropanol-91", 0.5, 3))
	if got, want := p.shortest(), 60*m.Median*math.Exp(-4*width); math.Abs(got/want-1) > 0.01 {
		t.Errorf("nothing is believed before %.0f s, want %.0f s", got, want)
	}
}

// TestSayings are read by people.
func TestSayings(t *testing.T) {
	p := planOf(t, room(t, "water", 0.5, 3), BySurface)
	for e, want := range map[Evidence]string{
		ByWeight: "weighed: not sensed on this bench.", ByDrag: "drag: not sensed on this bench.",
		BySurface: "surface: sees the last 2 % (",
	} {
		if got := p.Sights[e-1].Say(); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %q", e, got)
		}
	}
	blind := planOf(t, room(t, "water", 0.5, 20), ByAir).Sights[ByAir-1].Say()
	if !strings.HasPrefix(blind, "air: cannot tell the last 2 % (") {
		t.Error(blind)
	}
	if got := (Sight{Evidence: ByDrag, Fitted: true, Peak: 1, AtLimit: 0.02, Error: 0.5}).Say(); !strings.Contains(got, "0.020 1/s of 1.000 1/s") {
		t.Error(got)
	}
	for e, want := range map[Evidence]string{NoEvidence: "", ByClock: "timed", 99: "unknown evidence"} {
		if e.String() != want || e.Proven() {
			t.Errorf("%d: %q, proven %v", e, e, e.Proven())
		}
	}
}

// TestBadCase: what the model refuses is told in a sentence.
func TestBadCase(t *testing.T) {
	c := room(t, "water", 1.5, 3)
	if p, err := New(drying.Belief{}, c, Senses{}); err == nil || p != nil || !strings.Contains(err.Error(), "humidity") {
		t.Errorf("%v, %v", p, err)
	}
}

// TestAirIsNotUsedWarmed: in warmed air the cell loses heat that no zero knows, so that the air leaving proves nothing, however
// steady its sensors are.
func TestAirIsNotUsedWarmed(t *testing.T) {
	c := room(t, "water", 0.5, 0.5)
	for _, warm := range []bool{false, true} {
		if warm {
			c = warmed(c)
		}
		p, err := New(drying.Prior(), c, Senses{ByAir - 1: {Fitted: true, Noise: 1e-3, Every: 1, Heat: 1}})
		if err != nil {
			t.Fatal(err)
		}
		if p.Sights[ByAir-1].Visible == warm {
			t.Errorf("warmed %v: visible %v", warm, !warm)
		}
	}
}
