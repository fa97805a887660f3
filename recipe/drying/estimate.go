package drying

import "math"

// Expected is how long a drying will take on a bench of which so much is known.
type Expected struct {
	Minutes Spread // median and 80 % interval; all zero when Never
	Never   bool   // it does not get dry at the median
	Reason  string // why not, or why Minutes.High is only as far as was looked
	Middle  Result // the drying at the median exposure and kept volume
}

// Estimate returns the time with its interval. Case.Film is h·A as the bench file states it; the belief's exposure
// multiplies it. Case.Kept 0 takes what the belief holds; a volume that is given replaces its median and keeps its
// width, because somebody who names a volume rarely measured it (when it was weighed, Pin it).
//
// The time rises with what is kept and falls with the exposure. So its quantile lies, as nearly as matters, where the
// steepest way through the two crosses that quantile: two runs find the way, two more its ends, five in all. Against
// the full distribution the ends are within 0.2 %, and within 3 % for a belief twice as wide on a bench short of air.
func Estimate(b Belief, c Case, o Options) (Expected, error) {
	p := b.pair(c.Liquid)
	if c.Kept != 0 {
		if err := keptBound.holds(c.Kept); err != nil {
			return Expected{}, err
		}
		p.kept = math.Log(c.Kept)
	}
	if err := c.checkAround(); err != nil {
		return Expected{}, err
	}
	middle, err := Run(p.at(c, 0, 0), o)
	if err != nil {
		return Expected{}, err
	}
	e := Expected{Middle: middle, Never: middle.Never, Reason: middle.Reason}
	if e.Never {
		return e, nil
	}
	o = o.filled().rougher(2)
	o.Curve = false
	w := c.Liquid.Composition()
	// A drying that never ends counts as one that lasts as long as was looked; Reason tells.
	log := func(u, v float64) float64 {
		r := run(p.at(c, u, v).filled(), w, o)
		if r.Never {
			e.Reason = r.Reason
		}
		return math.Log(r.Minutes)
	}
	// Slopes by half a standard deviation, u and v being independent and of width 1. They only point the way: an end is off
	// by the square of what the way is off. So these runs may be rougher than the one in the middle.
	const nudge = 0.5
	base := math.Log(middle.Minutes)
	slopeU, slopeV := (log(nudge, 0)-base)/nudge, (log(0, nudge)-base)/nudge
	whole := math.Sqrt(slopeU*slopeU + slopeV*slopeV + p.jitter*p.jitter)
	end := func(z float64) float64 {
		return math.Exp(log(z*slopeU/whole, z*slopeV/whole) + z*p.jitter*p.jitter/whole)
	}
	e.Minutes = Spread{Median: middle.Minutes, Low: end(-eighty), High: end(eighty)}
	return e, nil
}

// at returns the case at u and v standard deviations along the axes of the pair, kept within what a Run takes.
func (p pair) at(c Case, u, v float64) Case {
	c.Film *= math.Exp(p.exposure + p.lower[0][0]*u)
	c.Kept = math.Exp(p.kept + p.lower[1][0]*u + p.lower[1][1]*v)
	c.Film = min(max(c.Film, filmBound.least), filmBound.most)
	c.Kept = min(max(c.Kept, keptBound.least), keptBound.most)
	return c
}
