package calibration

import (
	"cmp"
	"math"
	"slices"
)

// Point is one known mass as the cell read it.
type Point struct {
	Mass   float64 // kg; 0 for the empty cell
	Counts Counts  // mean
	SD     float64 // of a single code
	N      int     // codes in the mean
	Rising bool    // put on after a smaller one; false on the way down
}

// Rating is what is known of a cell before it is calibrated, and what a calibration must keep to. What is zero is not
// known or takes its default.
type Rating struct {
	Load      float64 // kg, the most the cell may bear
	Low, High Counts  // the ends of the converter's codes; both zero: not known

	Linear  float64 // largest Linearity accepted; 0: 0.02
	Scatter float64 // largest Hysteresis and Repeatability accepted; 0: 0.05
}

// The defaults of Rating: a cheap cell keeps to a thousandth, so these find what is wrong, not what is mediocre
// (common practice, no source).
const (
	defaultLinear  = 0.02
	defaultScatter = 0.05
)

// Load fits the line of a cell to points with known masses, by least squares of counts over force, each point alike. The
// order of the points does not matter. It needs at least three different masses with 0 among them, since two points lie
// on a line whatever is wrong. Points that cannot be used are refused with a sentence for the person at the bench, and
// then there is no Cell: the old calibration stays.
func Load(points []Point, rating Rating) (Cell, error) {
	if err := usable(points, rating); err != nil {
		return Cell{}, err
	}
	sorted := slices.Clone(points)
	// Sums of floats depend on their order, a calibration must not.
	slices.SortFunc(sorted, func(a, b Point) int {
		return cmp.Or(cmp.Compare(a.Mass, b.Mass), direction(a)-direction(b), cmp.Compare(a.Counts, b.Counts))
	})
	x, y := make([]float64, len(sorted)), make([]float64, len(sorted))
	for i, p := range sorted {
		x[i], y[i] = Weight(p.Mass), float64(p.Counts)
	}
	f := straight(x, y)
	c := Cell{Zero: f.zero, Gain: f.gain, ZeroSE: f.zeroSE, GainSE: f.gainSE, Cov: f.cov, Residual: f.residual, DF: len(x) - 2,
		Span: x[len(x)-1]}
	c.figures(sorted)
	if err := c.accept(sorted, rating); err != nil {
		return Cell{}, err
	}
	return c, nil
}

// direction orders points of one mass, the way down first.
func direction(p Point) int {
	if p.Rising {
		return 1
	}
	return 0
}

// fit is a straight line through points.
type fit struct {
	zero, gain     float64
	zeroSE, gainSE float64
	cov, residual  float64
}

// straight fits y = zero + gain·x by least squares. It needs three points with at least two different x. The means are
// taken off first, so that large counts with small differences lose no digits.
func straight(x, y []float64) (f fit) {
	n := float64(len(x))
	var mx, my float64
	for i := range x {
		mx, my = mx+x[i]/n, my+y[i]/n
	}
	var sxx, sxy, rest float64
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	f.gain = sxy / sxx
	f.zero = my - f.gain*mx
	for i := range x {
		r := (y[i] - my) - f.gain*(x[i]-mx)
		rest += r * r
	}
	s2 := rest / (n - 2)
	f.residual = math.Sqrt(s2)
	f.gainSE = math.Sqrt(s2 / sxx)
	f.zeroSE = math.Sqrt(s2 * (1/n + mx*mx/sxx))
	f.cov = -s2 * mx / sxx
	return f
}

// figures works out linearity, hysteresis and repeatability from the points, sorted by mass.
func (c *Cell) figures(points []Point) {
	span := math.Abs(c.Gain) * c.Span
	var squares float64
	for len(points) > 0 {
		mass := points[0].Mass
		n := slices.IndexFunc(points, func(p Point) bool { return p.Mass != mass })
		if n < 0 {
			n = len(points)
		}
		up, down := group(points[:n], true), group(points[:n], false)
		all := (up.sum + down.sum) / float64(n)
		c.Linearity = max(c.Linearity, math.Abs(all-c.Zero-c.Gain*Weight(mass))/span)
		if up.n > 0 && down.n > 0 {
			c.Hysteresis = max(c.Hysteresis, math.Abs(up.sum/up.n-down.sum/down.n)/span)
		}
		squares += up.squares + down.squares
		c.Repeats += int(max(up.n-1, 0) + max(down.n-1, 0))
		points = points[n:]
	}
	if c.Repeats > 0 {
		c.Repeatability = math.Sqrt(squares/float64(c.Repeats)) / span
	}
}

// sums is what a few points of one mass and one direction come to.
type sums struct {
	n, sum  float64
	squares float64 // of the distances from their mean
}

// group sums the points of one direction. The mean comes first and the squares after it, so that large counts lose no
// digits.
func group(points []Point, rising bool) (s sums) {
	for _, p := range points {
		if p.Rising == rising {
			s.n++
			s.sum += float64(p.Counts)
		}
	}
	for _, p := range points {
		if p.Rising == rising {
			d := float64(p.Counts) - s.sum/s.n
			s.squares += d * d
		}
	}
	return s
}
