package endpoint

import (
	"math"

	"fullery/recipe/drying"
)

// shape is how a drying goes by the model, freed of its length: what a rate reads when, and how far along that is.
type shape struct {
	liner  [3]float64      // K, the liner's depression at its largest, with 2 % left and with 1 % left
	outlet [3]float64      // K, the outlet's; what it has gained in moisture is as much again in kelvins, but for an alcohol
	end    float64         // s until 1 % is left
	ratio  float64         // share of the liquid over share of the rate's sum, with 1 % left
	along  [levels]float64 // how far along the drying is when the liner's depression was last at each level,
	left   [levels]float64 // what is left then,
	summed [levels]float64 // and what the depression has summed up to, K s
}

// levels is how many steps of the falling signal are kept, from the peak down to about a hundredth of it.
const levels = 28

// level is the signal as a share of its largest at a step.
func level(i int) float64 { return math.Exp2(-float64(i) / 4) }

// moment is one point of the model's curve, as the end point looks at it.
type moment struct{ at, left, liner, outlet float64 } // s, share of what was kept, K, K

// shapeOf runs the model once with its curve. Near the end its points lie far apart: one step of the integrator may go
// from 6 % left to less than 1 %. Between two of them all is taken to fall exponentially, as it does in the tail.
func shapeOf(c drying.Case) (s shape, err error) {
	c.Until = 0.001
	r, err := drying.Run(c, drying.Options{Curve: true})
	if err != nil || r.Never {
		return s, err
	}
	in := max(c.Air, c.Warm)
	curve := make([]moment, len(r.Curve))
	for i, p := range r.Curve {
		curve[i] = moment{p.Seconds, p.Amounts.Total() / r.KeptMass, in - p.Liner, in - p.Outlet}
	}
	var sum, sumAtGuess, end float64
	for i, b := range curve[1:] {
		a := curve[i]
		if m, ok := a.until(b, most); ok {
			s.liner[1], s.outlet[1] = m.liner, m.outlet
		}
		if m, ok := a.until(b, most/2); ok {
			s.liner[2], s.outlet[2], end = m.liner, m.outlet, m.at
			sumAtGuess = sum + under(a.liner, m.liner, m.at-a.at)
			a, sum = m, sumAtGuess
		}
		sum += under(a.liner, b.liner, b.at-a.at)
	}
	// What is left at the end goes on as it fell on the way there, from 1 % on.
	last := curve[len(curve)-1]
	if drop := s.liner[2] - last.liner; drop > 0 {
		sum += last.liner * (sum - sumAtGuess) / drop
	}
	if sum > sumAtGuess {
		s.ratio = most / 2 * sum / (sum - sumAtGuess)
	}
	s.end = end
	s.peak(curve, usual.settles*end)
	s.fall(curve, end)
	return s, nil
}

// peak notes what is largest once the disk has settled, as a Track does.
func (s *shape) peak(curve []moment, settled float64) {
	for i, b := range curve[1:] {
		a := curve[i]
		if b.at < settled {
			continue
		}
		if a.at < settled {
			a = a.part(b, (settled-a.at)/(b.at-a.at))
		}
		s.liner[0], s.outlet[0] = max(s.liner[0], a.liner, b.liner), max(s.outlet[0], a.outlet, b.outlet)
	}
}

// until returns the moment between a and b at which so much is left; false when it does not lie there.
func (a moment) until(b moment, left float64) (m moment, ok bool) {
	if a.left <= left || b.left > left {
		return m, false
	}
	return a.part(b, math.Log(a.left/left)/math.Log(a.left/b.left)), true
}

// part returns the moment a part of the way from a to b.
func (a moment) part(b moment, f float64) moment {
	return moment{a.at + f*(b.at-a.at), along(a.left, b.left, f), along(a.liner, b.liner, f), along(a.outlet, b.outlet, f)}
}

// along goes a part of the way from x to y: exponentially, where both are above nothing.
func along(x, y, f float64) float64 {
	if x <= 0 || y <= 0 {
		return x + f*(y-x)
	}
	return x * math.Pow(y/x, f)
}

// under returns the area under a signal that goes from x to y in that way.
func under(x, y, seconds float64) float64 {
	if x <= 0 || y <= 0 || math.Abs(x/y-1) < 1e-6 {
		return (x + y) / 2 * seconds
	}
	return (x - y) / math.Log(x/y) * seconds
}

// fall notes for each level what there is to know of the moment when the liner's depression was last there.
func (s *shape) fall(curve []moment, end float64) {
	sum := 0.0
	for i, b := range curve[1:] {
		a := curve[i]
		for k := range s.along {
			if at := level(k) * s.liner[0]; a.liner >= at && b.liner < at {
				f := (a.liner - at) / (a.liner - b.liner)
				if b.liner > 0 {
					f = math.Log(a.liner/at) / math.Log(a.liner/b.liner)
				}
				m := a.part(b, f)
				s.along[k], s.left[k], s.summed[k] = m.at/end, m.left, sum+under(a.liner, m.liner, m.at-a.at)
			}
		}
		sum += under(a.liner, b.liner, b.at-a.at)
	}
	last := curve[len(curve)-1]
	for k := range s.along {
		if s.along[k] == 0 { // the curve ends above this level
			s.along[k], s.left[k], s.summed[k] = last.at/end, last.left, sum
		}
	}
}

// interpolated returns what a table has where the signal has fallen to a share of its largest. A signal that never was, NaN, has
// not begun to fall.
func interpolated(table *[levels]float64, share float64) float64 {
	if !(share < 1) {
		return table[0]
	}
	x := -4 * math.Log2(max(share, level(levels-1)))
	i := min(int(x), levels-2)
	return table[i] + (x-float64(i))*(table[i+1]-table[i])
}

// at returns how far along a drying is, as a share of its time, when its signal has fallen to a share of its largest.
func (s *shape) at(share float64) float64 { return interpolated(&s.along, share) }

// summedAt returns what the signal has summed up to by then, in K s.
func (s *shape) summedAt(share float64) float64 { return interpolated(&s.summed, share) }

// leftAt returns the share of the liquid that is left by then. Below the last step it goes down in proportion.
func (s *shape) leftAt(share float64) float64 {
	if last := level(levels - 1); share < last {
		return s.left[levels-1] * max(share, 0) / last
	}
	return interpolated(&s.left, share)
}

// leftWhen returns the share of the liquid that is left when a drying is so far along.
func (s *shape) leftWhen(along float64) float64 {
	if along <= s.along[0] {
		return 1 - (1-s.left[0])*max(along, 0)/max(s.along[0], 1e-9)
	}
	for i := 1; i < levels; i++ {
		if along <= s.along[i] {
			part := (along - s.along[i-1]) / max(s.along[i]-s.along[i-1], 1e-12)
			return s.left[i-1] + part*(s.left[i]-s.left[i-1])
		}
	}
	return 0
}

// content returns how far along a drying is when a share of the liquid is left.
func (s *shape) content(left float64) float64 {
	for i := range s.left {
		if s.left[i] > left {
			continue
		}
		if i == 0 {
			return s.along[0] * (1 - left) / max(1-s.left[0], 1e-9)
		}
		part := (s.left[i-1] - left) / max(s.left[i-1]-s.left[i], 1e-12)
		return s.along[i-1] + part*(s.along[i]-s.along[i-1])
	}
	return s.along[levels-1]
}
