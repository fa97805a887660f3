package drying

import (
	"math"
	"testing"
)

// wave turns inside a step: its first state is cos t, its last is 1 − sin t.
func wave(s vec) vec { return vec{s[3] - 1, 0, 0, -s[0]} }

// stepped is a stepper after one step of that length, whatever its error.
func stepped(t *testing.T, of system, y vec, h float64) *stepper {
	t.Helper()
	s := start(of, y, vec{1, 1, 1, 1}, 1e9)
	s.h = h
	if err := s.advance(h); err != nil || s.t != h {
		t.Fatalf("one step went to %g, %v", s.t, err)
	}
	return &s
}

// Half-way the polynomial of order 3 is off by h⁴.
func TestInsideIsOfOrderThree(t *testing.T) {
	wrong := func(h float64) float64 {
		y := stepped(t, equations(wave), vec{1, 0, 0, 1}, h).within(0.6 * h)
		return math.Hypot(y[0]-math.Cos(0.6*h), y[3]-1+math.Sin(0.6*h))
	}
	for _, h := range []float64{0.4, 0.2} {
		if order := math.Log2(wrong(h) / wrong(h/2)); order < 3.6 || order > 4.6 {
			t.Errorf("the error inside a step of %g shrinks with the power %.2f of its length, want 4", h, order)
		}
	}
	s := stepped(t, equations(wave), vec{1, 0, 0, 1}, 0.3)
	if s.within(0) != s.last.began || s.within(0.3) != s.y {
		t.Error("the polynomial does not meet the ends")
	}
}

func TestDip(t *testing.T) {
	// 1 − sin t is least at π/2, cos t at π.
	s := stepped(t, equations(wave), vec{1, 0, 0, 1}, 2)
	at, ok := s.dip(3)
	if !ok {
		t.Fatal("no dip was seen")
	}
	about(t, "when", at, math.Pi/2, 0.05)
	about(t, "how deep", s.again(at)[3], 0, 2e-3)
	if off := math.Abs(s.again(at)[3]); off > math.Abs(s.within(at)[3])+1e-9 {
		t.Errorf("the step taken again is off by %g, the polynomial by less", off)
	}
	if at, ok := s.dip(0); ok {
		t.Errorf("cos t is least at the end, not at %g", at)
	}
	if at, ok := s.dip(1); ok {
		t.Errorf("what stays nothing dips at %g", at)
	}
	s.t, s.y = 1, s.within(1)
	if at, ok := s.dip(3); ok {
		t.Errorf("cut back to 1, it dips at %g", at)
	}
}

func TestCut(t *testing.T) {
	falls := equations(func(y vec) vec { return vec{-y[0] / 300} })
	s := stepped(t, falls, vec{1}, 60)
	if s.cut(0.5) || s.cut(1.5) || s.t != 60 {
		t.Error("cut to where it never was")
	}
	if !s.cut(0.9) {
		t.Fatal("not cut")
	}
	about(t, "falling to 0.9, s", s.t, -300*math.Log(0.9), 1e-3)
	about(t, "left", amount(s.y), 0.9, 1e-12)
	about(t, "slope", s.f[0], -0.9/300, 1e-12)
	rises := equations(func(y vec) vec { return vec{y[0] / 300} })
	s = stepped(t, rises, vec{0.5}, 60)
	if !s.cut(0.55) {
		t.Fatal("not cut on its way up")
	}
	about(t, "rising to 0.55, s", s.t, 300*math.Log(1.1), 1e-3)
}

// Whoever comes back up over the corner is on the other side again.
func TestTurn(t *testing.T) {
	for _, c := range []struct {
		from, slope float64
		falls       bool
	}{{0.6, -0.01, true}, {0.4, 0.01, false}} {
		l := &liner{critical: 0.5, falls: !c.falls}
		s := stepped(t, equations(func(vec) vec { return vec{c.slope} }), vec{c.from}, 20)
		if !s.cut(l.critical) {
			t.Fatal("no corner")
		}
		if l.turn(s); l.falls != c.falls || l.wet(0.25) != map[bool]float64{true: 0.5, false: 1}[c.falls] {
			t.Errorf("from %g it falls: %v, a quarter left wets %g", c.from, l.falls, l.wet(0.25))
		}
		near(t, "when", s.t, 10, 1e-7)
		near(t, "next step", s.h, 5, 1e-9)
	}
}

// Falling as e^(−t/300) over one long step: the polynomial misses the moment by more than the step itself is off.
func TestCutIsCloserThanThePolynomial(t *testing.T) {
	s := stepped(t, equations(func(y vec) vec { return vec{-y[0] / 300} }), vec{1}, 600)
	if !s.cut(0.4) {
		t.Fatal("not cut")
	}
	want := -300 * math.Log(0.4)
	about(t, "when, s", s.t, want, 0.2)
	if off := math.Abs(s.within(want)[0] - 0.4); off < 3*math.Abs(s.t-want)/300*0.4 {
		t.Errorf("the polynomial is off by %g, the cut by %g s: the test shows nothing", off, s.t-want)
	}
}
