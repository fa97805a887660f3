package simbench

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/controller"
)

// Both faces together keep and hold what the bench file says; the face under the heavier pad takes up somewhat more.
func TestFacesShareTheLiquid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := testSpec()
		spec.Sim.Front = rapid.Float64Range(0, 3).Draw(t, "front")
		spec.Sim.Back = rapid.Float64Range(0, 3).Draw(t, "back")
		spec.Sim.Uneven = rapid.Float64Range(0, 0.6).Draw(t, "uneven")
		b := New(spec, testRecipe("water"))
		f, k := &b.faces[front], &b.faces[back]
		sum := func(what string, a, b, want float64) {
			if math.Abs(a+b-want) > 1e-12*want {
				t.Fatalf("%s: %g and %g are not %g", what, a, b, want)
			}
		}
		sum("kept", f.keeps, k.keeps, spec.Sim.Kept)
		sum("held", f.holds, k.holds, b.linerHold)
		sum("film", f.film, k.film, spec.Sim.Film/(1-openingsPart))
		if spec.Sim.Front > spec.Sim.Back && f.share < k.share {
			t.Fatalf("the front pad presses harder and its face takes up only %.3f", f.share)
		}
		if d := (f.film - k.film) / (f.film + k.film) * 2; math.Abs(d-spec.Sim.Uneven) > 1e-12 {
			t.Fatalf("the films differ by %g, want %g", d, spec.Sim.Uneven)
		}
		b.Wet(5 * mL)
		sum("drenched", b.Truth().LinerFront, b.Truth().LinerBack, b.linerHold)
	})
}

// Weakly: pads that press a tenth too hard and too lightly shift the liquid by a few per cent.
func TestPressureMovesLittle(t *testing.T) {
	spec := testSpec()
	spec.Sim.Front, spec.Sim.Back = 1.1, 0.9
	b := New(spec, testRecipe("water"))
	near(t, "share of the front face", b.faces[front].share, 0.515, 0.01)
}

// The less exposed face is wet for longer; two alike faces dry together.
func TestUnevenFacesFinishApart(t *testing.T) {
	ends := func(uneven float64) (first, second time.Duration) {
		spec := shipped(t)
		spec.Sim.Uneven = uneven
		b := wetted(spec, "distilled-water")
		first = b.until(func(is Truth) bool { return is.LinerFront < 0.005*spec.Sim.Kept })
		if left := b.Truth().LinerBack; uneven > 0 && left < 0.005*spec.Sim.Kept {
			t.Errorf("uneven %v: the back face is dry before the front face", uneven)
		}
		return first, first + b.until(func(is Truth) bool { return is.LinerBack < 0.005*spec.Sim.Kept })
	}
	last := time.Duration(-1)
	for _, uneven := range []float64{0, 0.1, 0.3, 0.6} {
		first, second := ends(uneven)
		t.Logf("uneven %v: front dry after %v, back after %v", uneven, first, second)
		if apart := second - first; apart <= last {
			t.Errorf("uneven %v: the faces finish %v apart, with less of it %v", uneven, apart, last)
		} else {
			last = apart
		}
	}
	if last < 5*time.Minute {
		t.Errorf("at 60 %% the faces finish only %v apart", last)
	}
}

// A dry face beside a wet one is cold by conduction alone: its jacket is not evidence that both are dry, nor that it is
// wet itself.
func TestADryFaceIsChilledByTheOther(t *testing.T) {
	b := New(shipped(t), testRecipe("distilled-water"))
	_ = b.Drive(0, fanOnly)
	b.faces[back].liquid[water] = 1 * mL
	b.advance(5 * time.Minute)
	is := b.Truth()
	if is.LinerFront != 0 {
		t.Fatalf("%g m³ went to the front face", is.LinerFront)
	}
	whole, half := is.Cell-is.BackTemp, is.Cell-is.FrontTemp
	if half < 0.2*whole || half > 0.7*whole || is.Surface <= is.FrontTemp {
		t.Errorf("the back face is %.2f K below the air, the dry front %.2f, its jacket %.2f", whole, half, is.Cell-is.Surface)
	}
}

// Pressed pads that do not drip give their liquid to both faces, pads away from the disk give none.
func TestPressedPadsWetTheLiner(t *testing.T) {
	spec := quiet()
	spec.Sim.Film = 0
	a := newAt(t, spec, "water")
	a.run(9*time.Second, controller.Levels{Pump: 1})
	a.run(30*time.Second, controller.Levels{})
	near(t, "liner before the pads press, m³", a.Truth().Liner, 0, 0)
	a.run(30*time.Second, controller.Levels{Press: true})
	if is := a.Truth(); is.LinerFront < 0.4*mL || is.LinerBack < 0.4*mL || is.Tray != 0 {
		t.Errorf("front %g, back %g, tray %g m³ of 1.8 mL on the pads", is.LinerFront, is.LinerBack, is.Tray)
	}
}

// Pads wet both faces, spinning dries both down to what they keep.
func TestBothFacesAreWettedAndSpunOut(t *testing.T) {
	spec := quiet()
	spec.Sim.Film = 0
	a := newAt(t, spec, "water")
	a.run(time.Minute, working())
	is := a.Truth()
	if is.LinerFront < 0.4*mL || is.LinerBack < 0.4*mL {
		t.Fatalf("front %g, back %g m³", is.LinerFront, is.LinerBack)
	}
	a.Wet(5 * mL)
	out := working()
	out.Pump, out.Press, out.Hub = 0, false, 5
	a.run(2*time.Minute, out)
	for i, v := range []float64{a.Truth().LinerFront, a.Truth().LinerBack} {
		near(t, "what a face keeps", v/a.faces[i].keeps, 1, 0.02)
	}
}
