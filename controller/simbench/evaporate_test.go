package simbench

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Damp air: water condenses into the cold film of isopropanol and must dry in the end. Dry air gives none.
func TestBlushing(t *testing.T) {
	run := func(liquid string, humidity float64) (took time.Duration, gained float64) {
		spec := shipped(t)
		spec.Room.Humidity = humidity
		b := wetted(spec, liquid)
		took = b.until(dry)
		return took, b.Truth().Gained
	}
	arid, none := run("isopropanol-99", 0)
	usual, some := run("isopropanol-99", 0.5)
	damp, much := run("isopropanol-99", 0.9)
	t.Logf("isopropanol-99: %v in dry air, %v with %.3f mL at 50 %%, %v with %.3f mL at 90 %%", arid, usual, some/mL, damp, much/mL)
	if none != 0 || !(some > 0.02*mL && much > 2*some) {
		t.Errorf("took up %g, %g, %g m³ at 0, 50 and 90 %%", none, some, much)
	}
	if damp < 3*usual || usual < arid*5/4 {
		t.Errorf("takes %v in dry air, %v at 50 %%, %v at 90 %%", arid, usual, damp)
	}
	// Water is never colder than the dew point, so that it takes up nothing once it has begun to dry.
	if _, gained := run("distilled-water", 0.9); gained > 1e-3*mL {
		t.Errorf("water took up %g m³", gained)
	}
	// What condenses is told by Liquid too: with all of it dried, the balance is what evaporated against both.
	spec := shipped(t)
	spec.Room.Humidity = 0.9
	b := wetted(spec, "isopropanol-99")
	start := b.Truth().Liquid()
	b.advance(b.now + 12*time.Hour)
	is := b.Truth()
	near(t, "liner", is.Liner, 0, 0)
	near(t, "balance", is.Liquid(), start, 1e-15)
	near(t, "evaporated, against kept and gained", is.Evaporated, spec.Sim.Kept+is.Gained, 1e-12)
}

// Vapour of one face may condense into the other: what moves so came from the liner and is not gained from the air.
func TestWhatOneFaceGivesTheOtherTakesIsNotGained(t *testing.T) {
	spec := shipped(t)
	spec.Room.Humidity = 0
	b := New(spec, testRecipe("isopropanol-100"))
	b.faces[front].liquid[isopropanol] = 1 * mL
	b.faces[back].liquid[water] = 0.5 * mL
	took := false
	for range 600 {
		b.advance(b.now + time.Second)
		took = took || b.faces[back].liquid[isopropanol] > 0
	}
	if !took {
		t.Error("the water of the back face took up no alcohol")
	}
	if b.gained != 0 {
		t.Errorf("%g m³ were taken up from dry air", b.gained)
	}
}

// Within a step the pressure over the liquid follows its temperature.
func TestPressureFollowsTheTemperature(t *testing.T) {
	b := wetted(shipped(t), "isopropanol-100")
	b.advance(b.now + 20*time.Second)
	for i := range b.faces {
		f := &b.faces[i]
		f.liquid = charge{isopropanol: f.liquid.total()}
		f.temp += 12
		was := f.temp
		b.settles(0.5)
		want, _ := isopropanol.curve(f.temp)
		if is := b.faces[i].giving.over[isopropanol]; math.Abs(is/want-1) > 6e-3 || was-f.temp < 0.2 {
			t.Errorf("face %d fell by %.2f K: %.1f Pa over the liquid, want %.1f", i, was-f.temp, is, want)
		}
	}
}

// Below the critical content the drying slows down; the key moves where that begins.
func TestCriticalContent(t *testing.T) {
	rates := func(critical float64) (at []float64) {
		spec := shipped(t)
		spec.Sim.Critical, spec.Sim.Uneven = critical, 0
		b := wetted(spec, "distilled-water")
		for _, left := range []float64{0.7, 0.45, 0.25, 0.05} {
			b.until(func(is Truth) bool { return is.Left <= left })
			before := b.Truth().Liner
			b.advance(b.now + 20*time.Second)
			at = append(at, (before-b.Truth().Liner)/20)
		}
		return at
	}
	low, usual, high := rates(0.1), rates(0), rates(0.6)
	for i, c := range []struct {
		what          string
		got, from, to float64
	}{
		{"10 %: at 25 % left, of the rate at 70 %", low[2] / low[0], 0.98, 1.02},
		{"10 %: at 5 % left", low[3] / low[0], 0.2, 0.8},
		{"usual 30 %: at 45 % left", usual[1] / usual[0], 0.98, 1.02},
		{"usual 30 %: at 25 % left", usual[2] / usual[0], 0.4, 0.95},
		{"usual 30 %: at 5 % left", usual[3] / usual[0], 0.05, 0.4},
		{"60 %: at 45 % left", high[1] / high[0], 0.4, 0.95},
		{"60 %: at 5 % left", high[3] / high[0], 0.03, 0.3},
	} {
		if c.got < c.from || c.got > c.to {
			t.Errorf("%d, critical content %s: %.3f, want %.2f to %.2f", i, c.what, c.got, c.from, c.to)
		}
	}
}

// The share of mass transfer falls with the content, without a step at the critical content or at the end, and it is
// not a mere proportion.
func TestReceding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.Float64Range(0, 2).Draw(t, "content")
		more := w + rapid.Float64Range(0, 1).Draw(t, "more")
		a, b := receding(w), receding(more)
		if !(a >= 0 && a <= b && b <= 1) {
			t.Fatalf("%g at %g, %g at %g", a, w, b, more)
		}
	})
	near(t, "nothing left", receding(0), 0, 0)
	near(t, "all wet", receding(1.5), 1, 0)
	near(t, "just below the critical content", receding(1-1e-9), 1, 1e-8)
	near(t, "next to nothing left", receding(1e-12), 0, 1e-6)
	if r := receding(0.04) / 0.04; r < 1.2 {
		t.Errorf("with 4 %% of the critical content %.2f times what is left", r)
	}
	if r := receding(0.5) / 0.5; r > 0.8 {
		t.Errorf("with half the critical content %.2f times what is left", r)
	}
}

// A drying ends, on both faces, and its rate fades before it does: no jump to nothing.
func TestDryingEndsSmoothly(t *testing.T) {
	b := wetted(shipped(t), "distilled-water")
	b.until(func(is Truth) bool { return is.Left < 0.02 })
	last := math.Inf(1)
	for b.Truth().Liner > 0 {
		before := b.Truth().Liner
		b.advance(b.now + 5*time.Second)
		rate := before - b.Truth().Liner
		if rate > last*1.001 {
			t.Fatalf("at %g of what is kept the rate rises from %g to %g", b.Truth().Left, last, rate)
		}
		if last = rate; b.now > 3*time.Hour {
			t.Fatalf("%g m³ are left after three hours", b.Truth().Liner)
		}
	}
	if last > 1e-10 {
		t.Errorf("the last five seconds took %g m³ at once", last)
	}
}
