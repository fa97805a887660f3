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
// second estimate of the whole time, and in the tail its own fall a third; each counts by the inverse of its variance.
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
	return Left{Spread: drying.Spread{Median: minutes(0.5), Low: minutes(0.1), High: minutes(0.9)}}
}

// The errors of what is seen: assumed, and wide enough for two faces that differ and a critical content of another size.
const (
	shapeOff = 0.18 // of how far along a drying is, as a share of it
	mixedOff = 0.35 // the same for an alcohol, whose tail depends on the water that came into it
	tailOff  = 0.5  // of the rest that the tail promises
)

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
	best, _ := p.share(s, s.By)
	along := 0.0
	if s.By.rate() {
		if share > 0.9 {
			return 0, 0, earliest / min(p.unsure()*p.shape.at(0.9), 1) // it has not fallen yet
		}
		along = p.shape.at(share)
	} else {
		along = p.shape.content(share)
		best = max(share, 1e-4)
		if along < 0.05 {
			return 0, 0, earliest
		}
	}
	whole := s.Elapsed / min(max(along, 0.02), 1.5)
	off = shapeOff
	if p.mixed {
		off = mixedOff
	}
	off *= (1.2 - min(along, 1.1)) / 0.6 // the farther along, the surer
	if s.By.rate() && best < 0.05 && share < 0.2 {
		rest := t.fall() * math.Log(max(best, most/2)/(most/2))
		tail := s.Elapsed + rest
		tailIs := (tailOff*rest + usual.lasting) / tail
		a, b := 1/(off*off), 1/(tailIs*tailIs)
		return (math.Log(whole)*a + math.Log(tail)*b) / (a + b), math.Sqrt(1 / (a + b)), earliest
	}
	return math.Log(whole), off, earliest
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
