package drying

import (
	"errors"
	"math"
)

const dims = n + 1

// vec is a state, or its slope.
type vec [dims]float64

// system is an autonomous set of differential equations. It takes and gives values, so that nothing escapes to the heap.
type system interface{ slope(vec) vec }

// stepper integrates a system with the Rosenbrock method RODAS of order 4(3): six stages, one Jacobian, L-stable, so
// that the last traces of a volatile component do not dictate the step.
//
// Method: Hairer and Wanner, Solving Ordinary Differential Equations II, section VI.4. The coefficients are from memory;
// the tests measure the order and the damping that they must give.
type stepper struct {
	of       system
	t        float64 // s
	y, f     vec     // state and slope at t
	h        float64 // s, the step to be tried next
	relative float64 // error allowed in a step, of each state,
	absolute vec     // and this much besides

	steps, refused int
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
)

const (
	rodasGamma = 0.25
	mostSteps  = 20000
	leastStep  = 1e-9 // s; a step below it means that the equations make no sense
)

var errStuck = errors.New("the equations could not be followed any further")

// start sets a stepper off at t = 0 with a first step so short that nothing can have changed much.
func start(of system, y, absolute vec, relative float64) stepper {
	s := stepper{of: of, y: y, f: of.slope(y), relative: relative, absolute: absolute}
	fastest := 0.0
	for i, v := range s.f {
		fastest = max(fastest, math.Abs(v)/(absolute[i]+relative*math.Abs(y[i])))
	}
	s.h = 1.0
	if fastest > 0 {
		s.h = min(5/fastest, 60)
	}
	return s
}

// advance takes one step whose error is allowed, no further than to the time end.
func (s *stepper) advance(end float64) error {
	jacobian := s.jacobian()
	for {
		h := min(s.h, end-s.t)
		y, wrong, ok := s.attempt(&jacobian, h)
		if !ok {
			wrong = 1e9
		}
		// Order 4 with an error of order h⁴; never change the step by more than sixfold at once.
		factor := min(max(0.9*math.Pow(max(wrong, 1e-12), -0.25), 0.16), 6)
		if wrong <= 1 {
			s.t += h
			s.y, s.f = y, s.of.slope(y)
			s.steps++
			if h == s.h || factor < 1 {
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

// jacobian returns the slopes' derivatives by forward differences. The nudge is small against the error allowed and large
// against rounding; an amount of nothing is nudged upwards, where the equations mean something.
func (s *stepper) jacobian() (j [dims][dims]float64) {
	for c := range s.y {
		y := s.y
		d := 1e-7*math.Abs(y[c]) + 1e-2*s.absolute[c]
		y[c] += d
		d = y[c] - s.y[c]
		g := s.of.slope(y)
		for r := range g {
			j[r][c] = (g[r] - s.f[r]) / d
		}
	}
	return j
}

// attempt returns the state after h seconds and its error, 1 being what is allowed.
func (s *stepper) attempt(jacobian *[dims][dims]float64, h float64) (y vec, wrong float64, ok bool) {
	var lu [dims][dims]float64
	for r := range lu {
		for c := range lu {
			lu[r][c] = -jacobian[r][c]
		}
		lu[r][r] += 1 / (h * rodasGamma)
	}
	order, ok := factorise(&lu)
	if !ok {
		return s.y, 0, false
	}
	var k [stages]vec
	// The form without products of J and k: a stage costs one slope and one solution (section IV.7 of the same book).
	for i := range stages {
		at, b := s.y, vec{}
		for j := range i {
			for q := range at {
				at[q] += rodasA[i][j] * k[j][q]
				b[q] += rodasC[i][j] / h * k[j][q]
			}
		}
		f := s.f
		if i > 0 {
			f = s.of.slope(at)
		}
		for q := range b {
			b[q] += f[q]
		}
		k[i] = solve(&lu, &order, b)
		y = at
	}
	last := k[stages-1]
	for q := range y {
		y[q] += last[q]
		e := last[q] / (s.absolute[q] + s.relative*max(math.Abs(y[q]), math.Abs(s.y[q])))
		wrong += e * e / dims
	}
	wrong = math.Sqrt(wrong)
	return y, wrong, !math.IsNaN(wrong)
}

// factorise replaces a by its LU factors, rows exchanged as order tells; false when it has no inverse.
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
		a[c], a[p] = a[p], a[c]
		order[c], order[p] = order[p], order[c]
		if !(math.Abs(a[c][c]) > 0) || math.IsInf(a[c][c], 0) {
			return order, false
		}
		for r := c + 1; r < dims; r++ {
			a[r][c] /= a[c][c]
			for q := c + 1; q < dims; q++ {
				a[r][q] -= a[r][c] * a[c][q]
			}
		}
	}
	return order, true
}

// solve returns x of a·x = b for a factorised a.
func solve(lu *[dims][dims]float64, order *[dims]int, b vec) (x vec) {
	for r := range x {
		x[r] = b[order[r]]
		for c := range r {
			x[r] -= lu[r][c] * x[c]
		}
	}
	for r := dims - 1; r >= 0; r-- {
		for c := r + 1; c < dims; c++ {
			x[r] -= lu[r][c] * x[c]
		}
		x[r] /= lu[r][r]
	}
	return x
}
