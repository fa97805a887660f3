package drying

import "math"

// What lies inside the last step. Steps are as long as the tolerance lets them be, which is minutes; what happens between
// their ends is looked up here.

// within returns the state at a time inside the last step, as exact as the method's own polynomial of order 3.
func (s *stepper) within(t float64) (y vec) {
	x := (t - s.last.from) / (s.last.to - s.last.from)
	for i := range y {
		y[i] = (1-x)*s.last.began[i] + x*(s.last.ended[i]+(1-x)*(s.last.bends[0][i]+x*s.last.bends[1][i]))
	}
	return y
}

// again takes the last step once more, no further than to a time inside it. The state there is as exact as at the end of
// a step.
func (s *stepper) again(t float64) vec {
	z := *s
	z.y, z.f = s.last.began, s.last.fell
	y, _, _ := z.attempt(t - s.last.from)
	return y
}

// dip returns when inside the last step, and before t, one state was least; false when that was at an end.
func (s *stepper) dip(state int) (t float64, ok bool) {
	// Where the slope of the cubic, a + b·x + c·x², is nothing: both roots without the loss of digits that the difference
	// of likes brings.
	a := s.last.ended[state] - s.last.began[state] + s.last.bends[0][state]
	b := 2 * (s.last.bends[1][state] - s.last.bends[0][state])
	c := -3 * s.last.bends[1][state]
	q := -(b + math.Copysign(math.Sqrt(max(b*b-4*a*c, 0)), b)) / 2
	least := min(s.last.began[state], s.y[state])
	for _, x := range [...]float64{q / c, a / q} {
		at := s.last.from + x*(s.last.to-s.last.from)
		if at > s.last.from && at < s.t {
			if v := s.within(at)[state]; v < least {
				t, least, ok = at, v, true
			}
		}
	}
	return t, ok
}

// hair is by how much of itself an amount may lie above a level and still be level with it.
const hair = 1e-9

// cut goes back to where inside the last step so much was left; false when it does not lie there.
func (s *stepper) cut(level float64) bool {
	above := func(y vec) bool { return amount(y) > level*(1+hair) }
	was := above(s.last.began)
	if above(s.y) == was {
		return false
	}
	low, high := s.last.from, s.t
	for range 40 {
		mid := (low + high) / 2
		if above(s.within(mid)) == was {
			low = mid
		} else {
			high = mid
		}
	}
	if !was {
		level *= 1 + 2*hair // so that it counts as above from now on
	}
	s.settle(high, level)
	return true
}

// settle takes the last step once more, up to a time, and goes on from there along the slopes to where so much is left: that
// is as close as a step is followed, which the polynomial is not.
func (s *stepper) settle(t, level float64) {
	y := s.again(t)
	f := s.of.slope(y)
	if on := (level - amount(y)) / amount(f); t+on > s.last.from && t+on < s.last.to {
		t += on
		y.add(on, &f)
	}
	s.t, s.y = t, y
	s.clamp()
	scale := level / amount(s.y)
	for i := range n {
		s.y[i] *= scale
	}
	s.f = s.of.slope(s.y)
}
