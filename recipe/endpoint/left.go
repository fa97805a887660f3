package endpoint

import (
	"math"

	"fullery/recipe/drying"
)

// Left is how long a drying will yet take, in minutes until 1 % is left: median and 80 % interval. Never is true where
// the estimate says that it does not get dry.
type Left struct {
	drying.Spread
	Never bool
}

// Left joins what was believed before with what has been seen. Before the signal falls, only that it has not fallen yet
// speaks: the times that are already over are struck out. As it falls, how far along it is by the model's shape makes a
// second estimate of the whole time; each counts by the inverse of its variance. Where the sensors say that it is about dry
// already, it may be over now.
func (p *Plan) Left(s *State) Left {
	if p.Expected.Never {
		return Left{Never: true}
	}
	mean, width := p.logMean, p.logWidth
	seen, off, earliest := p.seen(s)
	if off > 0 {
		a, b := 1/(width*width), 1/(off*off)
		mean, width = (mean*a+seen*b)/(a+b), math.Sqrt(1/(a+b))
	}
	minutes := func(q float64) float64 {
		return max(math.Exp(truncated(mean, width, math.Log(max(earliest, 1)), q))-s.Elapsed, 0) / 60
	}
	left := drying.Spread{Median: minutes(0.5), Low: minutes(0.1), High: minutes(0.9)}
	if s.By.Proven() && s.Elapsed >= p.shortest() {
		if best, _ := p.share(s, s.By); best <= aboutDry {
			left.Low = 0
		}
	}
	return Left{Spread: left}
}

// aboutDry is the share by the best guess at which a liner may be dry now: a rate's best guess may be twice too high.
const aboutDry = most

// whole makes the logarithm of the whole time in s, with its standard deviation, of how far along the drying is by the
// model when so much time is over: as what is left shows it, or a rate. Two faces that differ make a rate fall early and
// end late, and the tail of an alcohol hangs on the water that came into it, of which the model takes a little too much.
// The farther along, the surer. The drying campaign of the simulated bench set the figures.
func (p *Plan) whole(byRate bool, elapsed, along float64) (mean, off float64) {
	rest := max(1-along, 0)
	mean = math.Log(elapsed / along)
	switch {
	case byRate && p.mixed:
		return mean - 0.06, 0.09 + 2.2*rest*rest
	case byRate:
		return mean, 0.03 + 3*rest*rest
	case p.mixed:
		return mean - 0.06, 0.07 + 0.17*rest
	}
	return mean, 0.02 + 0.1*rest + 0.01/max(along, 0.05)
}

// unsure is the factor by which the fall may begin later than the model has it.
func (p *Plan) unsure() float64 {
	if p.mixed {
		return 2
	}
	return 1.3
}

// seen returns the logarithm of the whole time in s as the evidence at work shows it, with its standard deviation (0: it
// shows nothing yet), and the least that the time can be.
func (p *Plan) seen(s *State) (mean, off, earliest float64) {
	earliest = s.Elapsed
	if !s.By.Proven() || s.Elapsed <= 0 {
		return 0, 0, earliest
	}
	t := &s.Tracks[s.By-1]
	share := max(t.Now, 0) / t.Most
	along := 0.0
	if s.By.rate() {
		if share > 0.9 {
			return 0, 0, earliest / min(p.unsure()*p.shape.at(0.9), 1) // it has not fallen yet
		}
		along = p.shape.at(share)
	} else if along = p.shape.content(share); along < 0.05 {
		return 0, 0, earliest
	}
	along = min(max(along, 0.02), 1.5)
	mean, off = p.whole(s.By.rate(), s.Elapsed, along)
	return mean, off, earliest
}

// truncated returns the q quantile of a normal distribution of which all below a bound is struck out.
func truncated(mean, width, bound, q float64) float64 {
	z := (bound - mean) / width
	if z > 6 {
		// So far out the upper tail at x is as good as φ(x)/x: the time is over, and the rest is a guess.
		x := math.Sqrt(z*z - 2*math.Log(1-q))
		return bound + width*(math.Sqrt(x*x-2*math.Log(x/z))-z)
	}
	below := 0.5 * math.Erfc(-z/math.Sqrt2)
	at := below + q*(1-below)
	return max(mean+width*math.Sqrt2*math.Erfinv(2*at-1), bound)
}
