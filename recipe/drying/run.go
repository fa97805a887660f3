package drying

import (
	"fmt"
	"math"

	"fullery/recipe/liquid"
)

// Point is one moment of a drying.
type Point struct {
	Seconds  float64
	Amounts  liquid.Amounts // kg left in the liner
	Liner    float64        // K
	Outlet   float64        // K, of the air that leaves the cell
	Vapour   float64        // volume fraction of flammable vapour in that air
	OfLimit  float64        // the same as a fraction of the lower flammable limit (several: by Le Chatelier's rule)
	Humidity float64        // relative, of that air
	Rate     float64        // kg/s leaving the liner, all components together; negative: the liner gains
}

// Result is what a drying comes to.
type Result struct {
	Minutes     float64 // until dry; when Never, the time that was looked at
	Never       bool    // it does not get dry,
	Reason      string  // because of this
	KeptMass    float64 // kg at the start
	Coldest     float64 // K, of the liner; below 0 °C water would freeze, which is not in the model
	PeakRate    float64 // kg/s leaving the liner, at the moment when it was most
	PeakVapour  float64 // volume fraction of flammable vapour in the air that leaves, at most
	PeakOfLimit float64 // the same as a fraction of the lower flammable limit
	WaterGained float64 // kg of water that the liner took up from the air, whatever left it again
	// Blushing is true when that water lengthened the drying: by more than a tenth against the same drying with the uptake
	// left out, which took WithoutUptake minutes. WithoutUptake equals Minutes when no water worth the name was taken up.
	Blushing      bool
	WithoutUptake float64
	Curve         []Point // from the start to the end, unevenly spaced; only with Options.Curve
	Steps         int     // of the integrator
}

// watched is a result in the making.
type watched struct {
	Result
	rate  float64 // kg/s at the last end of a step,
	rises bool    // and whether it is more there than at the one before
}

const (
	worthTheName = 0.002 // of the kept mass: less water than that cannot lengthen a drying by a tenth
	lengthened   = 1.10
)

// Run computes one drying. The error is one sentence that says what is wrong with the case.
func Run(c Case, o Options) (Result, error) {
	c, o = c.filled(), o.filled()
	if err := c.Check(); err != nil {
		return Result{}, err
	}
	if err := o.check(); err != nil {
		return Result{}, err
	}
	w := c.Liquid.Composition()
	r := run(c, w, o)
	r.WithoutUptake = r.Minutes
	if r.WaterGained > worthTheName*r.KeptMass {
		o.noUptake, o.Curve = true, false
		without := run(c, w, o.rougher(3)) // nobody asks for it closely
		r.WithoutUptake = without.Minutes
		r.Blushing = r.Never && !without.Never || r.Minutes > lengthened*without.Minutes
	}
	return r, nil
}

// run computes a drying of a case that has been checked.
func run(c Case, w liquid.Amounts, o Options) Result {
	l := set(c, w, o)
	l.falls = o.Critical >= 1
	y := vec{w[0], w[1], w[2], c.Air - l.air.k}
	scale := 4 * o.Tolerance * c.Until
	// Amounts are followed to a share of what will count as dry, the temperature to hundredths of a kelvin.
	s := start(l, y, vec{scale, scale, scale, 30 * o.Tolerance}, o.Tolerance)
	r := watched{Result: Result{KeptMass: l.kept, Coldest: c.Air}}
	r.note(l, 0, y, o.Curve)
	for {
		if err := s.advance(o.Horizon); err != nil {
			r.Never, r.Reason = true, "the computation broke off: "+err.Error()
			break
		}
		s.clamp()
		// A step that passes the corner or the end point is cut back to it, so that amounts and time belong together.
		dry, turns := l.cut(&s, c.Until)
		r.inside(l, &s)
		if turns {
			l.turn(&s)
		}
		r.WaterGained += max(s.y[liquid.Water]-s.last.began[liquid.Water], 0) * l.kept
		r.note(l, s.t, s.y, o.Curve)
		if dry {
			break
		}
		if s.t >= o.Horizon {
			r.Never, r.Reason = true, l.why(c, o, s.y)
			break
		}
	}
	if r.WaterGained < 1e-9*l.kept {
		r.WaterGained = 0 // rounding
	}
	r.Minutes, r.Steps = s.t/60, s.steps
	return r.Result
}

// clamp takes away what an integrator's error may leave below nothing.
func (s *stepper) clamp() {
	for i := range n {
		s.y[i] = max(s.y[i], 0)
	}
}

func amount(y vec) float64 { return y[0] + y[1] + y[2] }

// cut cuts a step back that passes the corner or the end, whichever comes first.
func (l *liner) cut(s *stepper, until float64) (dry, turns bool) {
	dry, turns = s.cut(until), s.cut(l.critical)
	return dry && (!turns || until >= l.critical), turns
}

// turn goes round the corner at which the rate begins to fall, or back. Beyond it all changes faster.
func (l *liner) turn(s *stepper) {
	l.falls = amount(s.last.began) > l.critical
	s.f = s.of.slope(s.y)
	s.h = (s.last.to - s.last.from) / 4
}

// note takes one moment into the result.
func (r *watched) note(l *liner, t float64, y vec, keep bool) {
	p := l.point(t, y)
	r.extremes(p)
	r.rises, r.rate = p.Rate > r.rate, p.Rate
	if keep {
		r.Curve = append(r.Curve, p)
	}
}

func (r *watched) extremes(p Point) {
	r.Coldest = min(r.Coldest, p.Liner)
	r.PeakRate = max(r.PeakRate, p.Rate)
	r.PeakVapour = max(r.PeakVapour, p.Vapour)
	r.PeakOfLimit = max(r.PeakOfLimit, p.OfLimit)
}

// inside looks for extremes between the ends of a step. The liner is coldest where its temperature turns. The rate is most
// at the start of nearly every drying; where it rises or rose, two more looks into the step find its top.
func (r *watched) inside(l *liner, s *stepper) {
	if t, ok := s.dip(n); ok {
		r.extremes(l.point(t, s.again(t)))
	}
	end := l.point(s.t, s.y).Rate
	if end <= r.rate && !r.rises {
		return
	}
	half := (s.t - s.last.from) / 2
	middle := l.point(s.last.from+half, s.within(s.last.from+half))
	r.extremes(middle)
	// The top of the parabola through the three.
	if bend := r.rate - 2*middle.Rate + end; bend < 0 {
		t := s.last.from + half*(1+(r.rate-end)/2/bend)
		if t > s.last.from && t < s.t {
			r.extremes(l.point(t, s.within(t)))
		}
	}
}

// point describes the state of the liner and of the air that leaves it.
func (l *liner) point(t float64, y vec) Point {
	a := liquid.Amounts{y[0], y[1], y[2]}
	f := l.flows(a, l.air.k+y[3])
	p := Point{Seconds: t, Liner: l.air.k + y[3], Outlet: f.cell}
	for i, v := range f.flux {
		c := liquid.Component(i)
		p.Amounts[i] = a[i] * l.kept
		p.Rate += v * c.MolarMass()
		if f.out <= 0 {
			continue
		}
		share := (l.air.moles*l.air.ratio[i] + v) / f.out
		if c == liquid.Water {
			p.Humidity = share * l.pressure / c.Saturation(f.cell)
			continue
		}
		p.Vapour += max(share, 0)
		p.OfLimit += max(share, 0) / c.LowerLimit()
	}
	return p
}

// why says what keeps a liner in this state from drying. It looks at what is left at the end, because the alcohol may
// have gone and water come in its place.
func (l *liner) why(c Case, o Options, y vec) string {
	left := fmt.Sprintf("%.0f %% of the liquid would be left after %s", 100*amount(y), lasting(o.Horizon))
	a := liquid.Amounts{y[0], y[1], y[2]}
	var over [n]float64
	l.surface(a, l.air.k, &over)
	incoming := l.air.ratio[liquid.Water] / (1 + l.air.damp())
	switch {
	case c.Flow == 0:
		return "no air passes through the cell, so that what evaporates cannot leave: " + left
	case y[liquid.Water] > 0.9*amount(y) && incoming > 0.98*over[liquid.Water]:
		return "the air is too damp to take water up: " + left + "; use drier or warmed air"
	}
	return left + ": more air over the liner, or drier air, would help"
}

func lasting(s float64) string {
	if s < 2*3600 {
		return fmt.Sprintf("%.3g minutes", s/60)
	}
	return fmt.Sprintf("%.3g hours", s/3600)
}

func twoThirds(x float64) float64 { r := math.Cbrt(x); return r * r }
