package drying

import (
	"errors"
	"math"
)

// problem is a sum of squares to be made least.
type problem struct {
	count     int                     // residuals
	residuals func(p, out []float64)  // fills out
	step      func(v float64) float64 // by which a figure is nudged to see the slopes
	close     float64                 // relative step that counts as none; 0 is 1e-9
}

// solution is where the sum of squares is least.
type solution struct {
	at     []float64
	sum    float64     // of squares
	spread [][]float64 // inverse of JᵀJ: times the variance of a residual it is the covariance
}

var (
	errFlat     = errors.New("the data do not determine all of the figures")
	errNotFound = errors.New("the fit did not settle")
)

// least finds the least sum of squares by the method of Levenberg and Marquardt with central differences.
func (q problem) least(start []float64) (solution, error) {
	p := append([]float64(nil), start...)
	r := make([]float64, q.count)
	q.residuals(p, r)
	sum, damping, settled, near := squares(r), 1e-3, 0, orElse(q.close, 1e-9)
	// A step that lowers the sum is taken and the next is damped less, towards Gauss and Newton; one that does not is
	// damped more, towards a short step downhill. Two steps in a row that change nothing end it: the first may be due to
	// the damping alone.
	for range 500 {
		normal, slope := q.normal(p, r)
		moved := false
		for damping < 1e15 {
			try, largest, ok := damped(q, p, normal, slope, damping)
			if !ok {
				damping *= 10
				continue
			}
			q.residuals(try, r)
			if s := squares(r); s <= sum {
				if largest < near || sum-s <= 1e-15*sum {
					settled++
				}
				p, sum, moved = try, s, true
				damping = max(damping/10, 1e-12)
				break
			}
			if largest < 1e-12 { // only rounding is left
				settled = 2
				break
			}
			damping *= 10
		}
		if settled >= 2 {
			q.residuals(p, r)
			normal, _ = q.normal(p, r)
			inverse, ok := invert(normal)
			if !ok {
				return solution{}, errFlat
			}
			return solution{p, sum, inverse}, nil
		}
		q.residuals(p, r)
		if !moved {
			return solution{}, errFlat
		}
	}
	return solution{}, errNotFound
}

// damped returns p after one damped step, and the largest relative change in it.
func damped(q problem, p []float64, normal [][]float64, slope []float64, damping float64) ([]float64, float64, bool) {
	a := make([][]float64, len(p))
	for i := range a {
		a[i] = append([]float64(nil), normal[i]...)
		a[i][i] *= 1 + damping
	}
	lower, ok := cholesky(a)
	if !ok {
		return nil, 0, false
	}
	move := backward(lower, forward(lower, slope))
	try, largest := make([]float64, len(p)), 0.0
	for i := range p {
		try[i] = p[i] - move[i]
		largest = max(largest, math.Abs(move[i])/(math.Abs(p[i])+1e-3*q.step(p[i])))
	}
	return try, largest, true
}

// normal returns JᵀJ and Jᵀr, what the normal equations are made of. They square the condition of J, which costs half
// the digits; the reference problems still come out to eight.
func (q problem) normal(p, r []float64) (jj [][]float64, jr []float64) {
	columns := make([][]float64, len(p))
	plus, minus := make([]float64, q.count), make([]float64, q.count)
	for c := range p {
		at := append([]float64(nil), p...)
		h := q.step(p[c])
		at[c] = p[c] + h
		q.residuals(at, plus)
		at[c] = p[c] - h
		q.residuals(at, minus)
		columns[c] = make([]float64, q.count)
		for i := range plus {
			columns[c][i] = (plus[i] - minus[i]) / (2 * h)
		}
	}
	jj, jr = make([][]float64, len(p)), make([]float64, len(p))
	for i := range p {
		jj[i] = make([]float64, len(p))
		for j := range p {
			jj[i][j] = dot(columns[i], columns[j])
		}
		jr[i] = dot(columns[i], r)
	}
	return jj, jr
}

func dot(a, b []float64) (s float64) {
	for i := range a {
		s += a[i] * b[i]
	}
	return s
}

func squares(r []float64) float64 {
	if s := dot(r, r); !math.IsNaN(s) {
		return s
	}
	return math.Inf(1)
}

// The matrices here are of a handful of rows, so that plain loops serve better than a library.

// cholesky returns the lower triangular root of a symmetric matrix; false when it is not positive definite.
func cholesky(a [][]float64) (l [][]float64, ok bool) {
	l = make([][]float64, len(a))
	for i := range a {
		l[i] = make([]float64, len(a))
		for j := range i + 1 {
			s := a[i][j] - dot(l[i][:j], l[j][:j])
			if i == j {
				if !(s > 1e-15*a[i][i]) || math.IsInf(s, 0) {
					return nil, false
				}
				l[i][i] = math.Sqrt(s)
				continue
			}
			l[i][j] = s / l[j][j]
		}
	}
	return l, true
}

// forward solves l·x = b, backward lᵀ·x = b.
func forward(l [][]float64, b []float64) []float64 {
	x := make([]float64, len(b))
	for i := range b {
		x[i] = (b[i] - dot(l[i][:i], x[:i])) / l[i][i]
	}
	return x
}

func backward(l [][]float64, b []float64) []float64 {
	x := make([]float64, len(b))
	for i := len(b) - 1; i >= 0; i-- {
		s := b[i]
		for j := i + 1; j < len(b); j++ {
			s -= l[j][i] * x[j]
		}
		x[i] = s / l[i][i]
	}
	return x
}

// invert returns the inverse of a positive definite matrix.
func invert(a [][]float64) ([][]float64, bool) {
	l, ok := cholesky(a)
	if !ok {
		return nil, false
	}
	out := make([][]float64, len(a))
	for i := range a {
		unit := make([]float64, len(a))
		unit[i] = 1
		out[i] = backward(l, forward(l, unit))
	}
	return out, true
}
