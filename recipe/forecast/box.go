package forecast

import (
	"math"
	"sort"
)

// Box is a room whose air is well mixed at any moment, the usual model for dilution by air changes. A real room is not:
// near the source and near the floor there is more, by a factor that nobody can compute from so little.
type Box struct {
	Volume  float64 // m³, above 0
	Changes float64 // per second, of the whole volume, by clean air; 0: sealed
}

// Span is a time over which a source stays the same.
type Span struct {
	Seconds float64
	Vapour  float64 // m³/s of pure vapour, at the temperature of the room
}

// After returns the share of vapour in the air, by volume, when a source of so many m³/s has run for so many seconds and
// the share was c before: the solution of V·dc/dt = source − V·changes·c.
func (b Box) After(c, source, seconds float64) float64 {
	end, _ := b.step(c, source, seconds)
	return end
}

// Fades returns the seconds that clean air needs to thin one share to another; 0 when it is below already, infinite in a
// sealed room.
func (b Box) Fades(from, to float64) float64 {
	if from <= to {
		return 0
	}
	return math.Log(from/to) / b.Changes
}

// step is After with the integral of the share over the time.
func (b Box) step(c, source, seconds float64) (end, integral float64) {
	x, gain := b.Changes*seconds, source/b.Volume
	one, two := fading(x)
	end = c*math.Exp(-x) + gain*seconds*one
	return end, seconds * (c*one + gain*seconds*two)
}

// fading returns (1 − e⁻ˣ)/x and (1 − (1 − e⁻ˣ)/x)/x, by their series where the quotients lose digits.
func fading(x float64) (one, two float64) {
	if x < 0.01 {
		two = 0.5 - x*(1.0/6-x*(1.0/24-x*(1.0/120-x/720)))
		return 1 - x*two, two
	}
	one = -math.Expm1(-x) / x
	return one, (1 - one) / x
}

// Air is what spans of a source make of the air of a box that was clean before.
type Air struct {
	box      Box
	start    []float64 // s, of each span; the last one begins when all is over
	share    []float64 // at that moment
	integral []float64 // of the share, up to that moment
	source   []float64 // m³/s from then on
}

// Over follows the spans, one after another; after the last of them nothing more comes.
func (b Box) Over(spans []Span) Air {
	a := Air{box: b}
	t, c, sum := 0.0, 0.0, 0.0
	note := func(source float64) {
		a.start, a.share = append(a.start, t), append(a.share, c)
		a.integral, a.source = append(a.integral, sum), append(a.source, source)
	}
	for _, s := range spans {
		note(s.Vapour)
		end, more := b.step(c, s.Vapour, s.Seconds)
		t, c, sum = t+s.Seconds, end, sum+more
	}
	note(0)
	return a
}

// Peak returns the largest share by volume. Within a span the share only rises or only falls, so that it lies at an end.
func (a Air) Peak() (share float64) {
	for _, c := range a.share {
		share = max(share, c)
	}
	return share
}

// at returns the share and its integral at a moment.
func (a Air) at(t float64) (share, integral float64) {
	i := max(sort.Search(len(a.start), func(i int) bool { return a.start[i] > t })-1, 0)
	end, more := a.box.step(a.share[i], a.source[i], max(t-a.start[i], 0))
	return end, a.integral[i] + more
}

// WorstMean returns the largest mean of the share over any stretch of so many seconds.
//
// The mean grows while the share at the head of the stretch is above that at its tail. Between two moments at which the
// head or the tail enters another span, the difference of both is a constant and one exponential, and so has one zero at
// most: the largest mean lies at such a moment or at such a zero. Both are found exactly.
func (a Air) WorstMean(window float64) float64 {
	over := a.start[len(a.start)-1]
	var moments []float64
	for _, t := range a.start {
		moments = append(moments, t)
		if t > window {
			moments = append(moments, t-window)
		}
	}
	sort.Float64s(moments)
	worst := 0.0
	look := func(t float64) (ahead float64) {
		tail, before := a.at(t)
		head, after := a.at(t + window)
		worst = max(worst, (after-before)/window)
		return head - tail
	}
	t0, d0 := 0.0, look(0)
	for _, t1 := range moments {
		if t1 <= t0 || t1 > over {
			continue
		}
		d1 := look(t1)
		if d0 > 0 && d1 < 0 {
			look(t0 + zero(d0, d1, a.box.Changes, t1-t0))
		}
		t0, d0 = t1, d1
	}
	return worst
}

// zero returns where A + B·e^(−rate·s), d0 at s = 0 and d1 of the other sign at s = span, is nothing.
func zero(d0, d1, rate, span float64) float64 {
	left := -math.Expm1(-rate * span)
	if left < 1e-9 {
		return span * d0 / (d0 - d1)
	}
	// A = (d1 − d0·e^(−rate·span))/left, B = d0 − A; e^(−rate·s) = −A/B = 1 − d0/B.
	return -math.Log1p(-d0/((d0-d1)/left)) / rate
}
