package drying

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// regression fits y = model(p, x) to a table.
func regression(t *testing.T, name string, model func(p []float64, x float64) float64, from ...float64) (solution, int) {
	t.Helper()
	rows := table(t, name)
	var x, y []float64
	for _, r := range rows {
		x, y = append(x, r.number(t, "x")), append(y, r.number(t, "y"))
	}
	q := problem{
		count: len(x),
		residuals: func(p, out []float64) {
			for i := range x {
				out[i] = model(p, x[i]) - y[i]
			}
		},
		step: func(v float64) float64 { return 1e-5 * max(math.Abs(v), 1e-9) },
	}
	s, err := q.least(from)
	if err != nil {
		t.Fatal(err)
	}
	return s, len(x)
}

// deviation returns the standard deviation of a figure of a regression.
func deviation(s solution, points, figure int) float64 {
	return math.Sqrt(s.sum / float64(points-len(s.at)) * s.spread[figure][figure])
}

func TestMisra1a(t *testing.T) {
	model := func(p []float64, x float64) float64 { return p[0] * -math.Expm1(-p[1]*x) }
	for _, from := range [][]float64{{500, 1e-4}, {250, 5e-4}} {
		s, points := regression(t, "misra1a.csv", model, from...)
		near(t, "b1", s.at[0], 2.3894212918e+02, 1e-8)
		near(t, "b2", s.at[1], 5.5015643181e-04, 1e-8)
		near(t, "residual sum of squares", s.sum, 1.2455138894e-01, 1e-9)
		near(t, "deviation of b1", deviation(s, points, 0), 2.7070075241, 1e-6)
		near(t, "deviation of b2", deviation(s, points, 1), 7.2668688436e-06, 1e-6)
	}
}

func TestNorris(t *testing.T) {
	s, points := regression(t, "norris.csv", func(p []float64, x float64) float64 { return p[0] + p[1]*x }, 1, 1)
	near(t, "b0", s.at[0], -0.262323073774029, 1e-8)
	near(t, "b1", s.at[1], 1.00211681802045, 1e-10)
	near(t, "residual sum of squares", s.sum, 26.6173985294224, 1e-10)
	near(t, "deviation of b0", deviation(s, points, 0), 0.232818234301152, 1e-7)
	near(t, "deviation of b1", deviation(s, points, 1), 0.429796848199937e-3, 1e-7)
}

func TestLeastRefusesWhatIsNotDetermined(t *testing.T) {
	flat := problem{count: 2, step: func(float64) float64 { return 1e-4 },
		residuals: func(p, out []float64) { out[0], out[1] = p[0]+p[1]-1, p[0]+p[1]-3 }}
	if s, err := flat.least([]float64{0, 0}); !errors.Is(err, errFlat) {
		t.Errorf("got %+v, %v", s, err)
	}
	lost := problem{count: 1, step: func(float64) float64 { return 1e-4 },
		residuals: func(p, out []float64) { out[0] = math.NaN() }}
	if s, err := lost.least([]float64{0}); err == nil {
		t.Errorf("got %+v out of nothing", s)
	}
}

func TestInvert(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.IntRange(1, 5).Draw(t, "size")
		a := make([][]float64, size)
		for i := range a {
			a[i] = make([]float64, size)
		}
		for i := range a {
			for j := range i {
				a[i][j] = rapid.Float64Range(-1, 1).Draw(t, "a")
				a[j][i] = a[i][j]
			}
			a[i][i] = 5
		}
		b, ok := invert(a)
		if !ok {
			t.Fatal("no inverse")
		}
		for i := range a {
			for j := range a {
				sum, want := 0.0, 0.0
				for k := range a {
					sum += a[i][k] * b[k][j]
				}
				if i == j {
					want = 1
				}
				if math.Abs(sum-want) > 1e-12 {
					t.Fatalf("a times its inverse is %g at %d, %d", sum, i, j)
				}
			}
		}
	})
}
