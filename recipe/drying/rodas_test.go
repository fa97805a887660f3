package drying

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// equations lets a test write a system as a function.
type equations func(vec) vec

func (e equations) slope(s vec) vec { return e(s) }
func (equations) bears(int) bool    { return true }

// curved has a closed form: y = w = 1/(1+t) and z = ln(1+t).
func curved(s vec) vec { return vec{-s[0] * s[0], s[0], -s[2] * s[0], 0} }

func TestOrderFour(t *testing.T) {
	global := func(steps int) float64 {
		s := start(equations(curved), vec{1, 0, 1}, vec{1e-6, 1e-6, 1e-6, 1e-6}, 1)
		h := 2.0 / float64(steps)
		for range steps {
			s.slopes = s.jacobian()
			y, _, ok := s.attempt(h)
			if !ok {
				t.Fatal("no step")
			}
			s.y, s.f = y, s.of.slope(y)
		}
		return math.Abs(s.y[0]-1.0/3) + math.Abs(s.y[1]-math.Log(3)) + math.Abs(s.y[2]-1.0/3)
	}
	for _, steps := range []int{8, 16, 32} {
		order := math.Log2(global(steps) / global(2*steps))
		t.Logf("%d steps: error %.2e, order %.2f", steps, global(steps), order)
		if order < 3.6 || order > 4.9 {
			t.Errorf("%d steps: order %.2f, want 4", steps, order)
		}
	}
}

// The inner error estimate must be of order 3: an error that shrinks as h⁴ for one step.
func TestEmbeddedErrorIsOfOrderThree(t *testing.T) {
	wrong := func(h float64) float64 {
		s := start(equations(curved), vec{1, 0, 1}, vec{1e-6, 1e-6, 1e-6, 1e-6}, 0)
		s.slopes = s.jacobian()
		_, w, _ := s.attempt(h)
		return w
	}
	if order := math.Log2(wrong(0.02) / wrong(0.01)); order < 3.5 || order > 4.5 {
		t.Errorf("the error of one step shrinks with the power %.2f of its length, want 4", order)
	}
}

func TestStiffPartDiesAtOnce(t *testing.T) {
	s := start(equations(func(y vec) vec { return vec{-1e7 * (y[0] - 1)} }), vec{2}, vec{1, 1, 1, 1}, 1)
	s.slopes = s.jacobian()
	y, _, ok := s.attempt(1)
	if !ok || math.Abs(y[0]-1) > 1e-5 {
		t.Errorf("after one step of 1e7 time constants %.3g of the distance is left, want none", y[0]-1)
	}
}

// follow integrates to the time end and returns the state there.
func follow(t *testing.T, s stepper, end float64) vec {
	t.Helper()
	for s.t < end {
		if err := s.advance(end); err != nil {
			t.Fatal(err)
		}
	}
	if s.t != end {
		t.Fatalf("went to %g, not to %g", s.t, end)
	}
	return s.y
}

func TestClosedForms(t *testing.T) {
	const wetBulb, lag = -7.0, 40.0
	for _, c := range []struct {
		name    string
		of      equations
		from    float64
		exactly func(t float64) float64
	}{
		{"constant rate", func(vec) vec { return vec{-2e-4} }, 1, func(t float64) float64 { return 1 - 2e-4*t }},
		{"exponential falling rate", func(y vec) vec { return vec{-y[0] / 300} }, 1,
			func(t float64) float64 { return math.Exp(-t / 300) }},
		{"cooling to the wet bulb", func(y vec) vec { return vec{(wetBulb - y[0]) / lag} }, 3,
			func(t float64) float64 { return wetBulb + (3-wetBulb)*math.Exp(-t/lag) }},
	} {
		for _, tolerance := range []float64{1e-3, 1e-5, 1e-7} {
			s := start(c.of, vec{c.from}, vec{tolerance, 1, 1, 1}, tolerance)
			for _, end := range []float64{10, 200, 1500} {
				got := follow(t, s, end)[0]
				want := c.exactly(end)
				if e := math.Abs(got - want); e > 5*tolerance*(1+math.Abs(want)) {
					t.Errorf("%s to %.0f s at %.0e: off by %.2e", c.name, end, tolerance, e)
				}
			}
		}
	}
}

func TestInterpolationMeetsTheCurve(t *testing.T) {
	s := start(equations(func(y vec) vec { return vec{-y[0] / 300} }), vec{1}, vec{1e-9, 1, 1, 1}, 1e-9)
	for s.t < 100 {
		if err := s.advance(100); err != nil {
			t.Fatal(err)
		}
		mid := (s.last.from + s.t) / 2
		about(t, "half-way", s.within(mid)[0], math.Exp(-mid/300), 1e-6)
	}
}

func TestNonsenseEndsInAnError(t *testing.T) {
	for name, e := range map[string]equations{
		"not a number": func(y vec) vec { return vec{math.NaN()} },
		"blows up":     func(y vec) vec { return vec{y[0] * y[0]} },
	} {
		s := start(e, vec{1}, vec{1e-6, 1e-6, 1e-6, 1e-6}, 1e-6)
		var err error
		for range 2 * mostSteps {
			if err = s.advance(10); err != nil || s.t >= 10 {
				break
			}
		}
		if !errors.Is(err, errStuck) {
			t.Errorf("%s: got %v at t = %g, want that it is stuck", name, err, s.t)
		}
	}
}

func TestLinearSolver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var a [dims][dims]float64
		var want, b vec
		for r := range a {
			for c := range a {
				a[r][c] = rapid.Float64Range(-1, 1).Draw(t, "a")
			}
			a[r][(r+1)%dims] += 5 // solvable, and only with rows exchanged
			want[r] = rapid.Float64Range(-9, 9).Draw(t, "x")
		}
		for r := range a {
			for c := range a {
				b[r] += a[r][c] * want[c]
			}
		}
		order, ok := factorise(&a)
		if !ok {
			t.Fatal("no inverse")
		}
		for i, got := range solve(&a, &order, &b) {
			if math.Abs(got-want[i]) > 1e-11 {
				t.Fatalf("x[%d] = %g, want %g", i, got, want[i])
			}
		}
	})
	if _, ok := factorise(&[dims][dims]float64{{1, 1}, {1, 1}}); ok {
		t.Error("a matrix without inverse was factorised")
	}
}

// A whole drying makes its liner and nothing else, however many steps it takes.
func TestRunAllocatesOnce(t *testing.T) {
	for _, name := range liquids {
		c := shipped(t, name).filled()
		w := c.Liquid.Composition()
		for _, tolerance := range []float64{3e-4, 1e-6} {
			o := Options{Tolerance: tolerance}.filled()
			if got := testing.AllocsPerRun(20, func() { run(c, w, o) }); got > 1 {
				t.Errorf("%s at %g: %g allocations in %d steps, want 1", name, tolerance, got, run(c, w, o).Steps)
			}
		}
	}
}

func TestNoAllocationWhileStepping(t *testing.T) {
	c := shipped(t, "isopropanol-70").filled()
	l := set(c, c.Liquid.Composition(), Options{}.filled())
	w := c.Liquid.Composition()
	s := start(l, vec{w[0], w[1], w[2], 0}, vec{1e-6, 1e-6, 1e-6, 1e-3}, 1e-4)
	if got := testing.AllocsPerRun(40, func() {
		if err := s.advance(1e6); err != nil {
			t.Fatal(err)
		}
	}); got != 0 {
		t.Errorf("%g allocations in a step, want none", got)
	}
}
