package drying

import (
	"errors"
	"math"
)

const dims = n + 1

// vec is a state, or its slope.
type vec [dims]float64

// system is an autonomous set of differential equations. It takes and gives values, so that nothing escapes to the heap.
type system interface {
	slope(vec) vec
	bears(state int) bool // false: that state stays nothing, and nothing hangs on it
}

// stepper integrates a system with the Rosenbrock method RODAS of order 4(3): six stages, one Jacobian, L-stable, so
// that the last traces of a volatile component do not dictate the step.
//
// Method: Hairer and Wanner, Solving Ordinary Differential Equations II, section VI.4. The coefficients are from memory;
// the tests measure the orders and the damping that they must give.
type stepper struct {
	of       system
	t        float64 // s
	y, f     vec     // state and slope at t
	h        float64 // s, the step to be tried next
	relative float64 // error allowed in a step, of each state,
	absolute vec     // and this much besides

	last   taken
	k      [stages]vec         // of the step that is tried
	slopes [dims][dims]float64 // the Jacobian where it begins

	steps, refused int
}

// taken is the last step as it was taken; the stepper's own time and state may have been cut back into it since.
type taken struct {
	from, to           float64 // s
	began, ended, fell vec     // its states, and the slope where it began
	bends              [2]vec  // how the way between them bends
}

const stages = 6

var (
	rodasA = [stages][stages]float64{
		{},
		{1.544},
		{0.9466785280815826, 0.2557011698983284},
		{3.314825187068521, 2.896124015972201, 0.9986419139977817},
		{1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950},
		{1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950, 1},
	}
	rodasC = [stages][stages]float64{
		{},
		{-5.6688},
		{-2.430093356833875, -0.2063599157091915},
		{-0.1073529058151375, -9.594562251023355, -20.47028614809616},
		{7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160},
		{8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136, -6.058818238834054},
	}
	// rodasD makes what lies inside a step, of order 3.
	rodasD = [2][stages]float64{
		{10.12623508344586, -7.487995877610167, -34.80091861555747, -7.992771707568823, 1.025137723295662},
		{-0.6762803392806898, 6.087714651680015, 16.43084320892478, 24.76722511418386, -6.594389125716872},
	}
)

const (
	rodasGamma = 0.25
	mostSteps  = 20000
	leastStep  = 1e-9 // s; a step below it means that the equations make no sense
)

var errStuck = errors.New("the equations could not be followed any further")

// start sets a stepper off at t = 0 with a first step so short that nothing can have changed by more than a hundred times the
// error allowed, which is little: three per cent by default.
func start(of system, y, absolute vec, relative float64) stepper {
	s := stepper{of: of, y: y, f: of.slope(y), relative: relative, absolute: absolute}
	fastest := 0.0
	for i, v := range s.f {
		fastest = max(fastest, math.Abs(v)/(absolute[i]+relative*math.Abs(y[i])))
	}
	s.h = 1.0
	if fastest > 0 {
		s.h = min(100/fastest, 60)
	}
	return s
}

// advance takes one step whose error is allowed, no further than to the time end.
func (s *stepper) advance(end float64) error {
	s.slopes = s.jacobian()
	for {
		h := min(s.h, end-s.t)
		y, wrong, ok := s.attempt(h)
		if !ok {
			wrong = 1e9
		}
		// Order 4 with an error of order h⁴; never change the step by much at once.
		factor := min(max(0.9/math.Sqrt(math.Sqrt(max(wrong, 1e-12))), 0.16), 10)
		if wrong <= 1 {
			s.accept(y, h)
			if h < end-s.t || factor < 1 {
				s.h = h * factor
			}
			return nil
		}
		s.refused++
		s.h = h * factor
		if s.h < leastStep || s.steps+s.refused > mostSteps {
			return errStuck
		}
	}
}

// accept takes a step that was tried.
func (s *stepper) accept(y vec, h float64) {
	s.last = taken{from: s.t, to: s.t + h, began: s.y, ended: y, fell: s.f}
	for i, d := range rodasD {
		for j := range stages - 1 {
			s.last.bends[i].add(d[j], &s.k[j])
		}
	}
	s.steps++
	s.t, s.y, s.f = s.last.to, y, s.of.slope(y)
}

// jacobian returns the slopes' derivatives by forward differences. The nudge is small against the error allowed and large
// against rounding; an amount of nothing is nudged upwards, where the equations mean something.
func (s *stepper) jacobian() (j [dims][dims]float64) {
	for c := range s.y {
		if !s.of.bears(c) {
			continue
		}
		y := s.y
		d := 1e-7*math.Abs(y[c]) + 1e-2*s.absolute[c]
		y[c] += d
		d = 1 / (y[c] - s.y[c])
		g := s.of.slope(y)
		for r := range g {
			j[r][c] = (g[r] - s.f[r]) * d
		}
	}
	return j
}

// attempt returns the state after h seconds and its error, 1 being what is allowed.
func (s *stepper) attempt(h float64) (y vec, wrong float64, ok bool) {
	var lu [dims][dims]float64
	for r := range lu {
		for c := range lu {
			lu[r][c] = -s.slopes[r][c]
		}
		lu[r][r] += 1 / (h * rodasGamma)
	}
	order, ok := factorise(&lu)
	if !ok {
		return s.y, 0, false
	}
	// The form without products of J and k: a stage costs one slope and one solution (section IV.7 of the same book).
	for i := range stages {
		var b vec
		y = s.y
		for j := range i {
			y.add(rodasA[i][j], &s.k[j])
			b.add(rodasC[i][j], &s.k[j])
		}
		f := s.f
		if i > 0 {
			f = s.of.slope(y)
		}
		f.add(1/h, &b)
		s.k[i] = solve(&lu, &order, &f)
	}
	last := &s.k[stages-1]
	y.add(1, last)
	for q := range y {
		e := last[q] / (s.absolute[q] + s.relative*max(math.Abs(y[q]), math.Abs(s.y[q])))
		wrong += e * e / dims
	}
	wrong = math.Sqrt(wrong)
	return y, wrong, !math.IsNaN(wrong)
}

// add adds so many times the other.
func (v *vec) add(times float64, other *vec) {
	for i := range v {
		v[i] += times * other[i]
	}
}

// factorise replaces a by its LU factors, rows exchanged as order tells and the diagonal of U turned over; false when it
// has no inverse.
func factorise(a *[dims][dims]float64) (order [dims]int, ok bool) {
	for i := range order {
		order[i] = i
	}
	for c := range dims {
		p := c
		for r := c + 1; r < dims; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		if p != c {
			a[c], a[p] = a[p], a[c]
			order[c], order[p] = order[p], order[c]
		}
		if !(math.Abs(a[c][c]) > 0) || math.IsInf(a[c][c], 0) {
			return order, false
		}
		a[c][c] = 1 / a[c][c]
		for r := c + 1; r < dims; r++ {
			if a[r][c] == 0 {
				continue
			}
			a[r][c] *= a[c][c]
			for q := c + 1; q < dims; q++ {
				a[r][q] -= a[r][c] * a[c][q]
			}
		}
	}
	return order, true
}

// solve returns x of a·x = b for a factorised a.
func solve(lu *[dims][dims]float64, order *[dims]int, b *vec) (x vec) {
	for r := range x {
		v := b[order[r]]
		for c := range r {
			v -= lu[r][c] * x[c]
		}
		x[r] = v
	}
	for r := dims - 1; r >= 0; r-- {
		v := x[r]
		for c := r + 1; c < dims; c++ {
			v -= lu[r][c] * x[c]
		}
		x[r] = v * lu[r][r]
	}
	return x
}
