package endpoint

import (
	"fmt"
	"math"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// Sight is what one kind of evidence will be able to see of a drying.
type Sight struct {
	Evidence Evidence
	Fitted   bool
	Visible  bool    // it can tell the last 2 %
	Peak     float64 // signal while the liner is wet, in its unit (kg, K, K, 1/s)
	AtLimit  float64 // signal with 2 % left
	Error    float64 // standard deviation of what it will be off by at the end

	noise float64 // standard deviation of one reading
}

// Plan is one drying on one bench, made ready: what each sensor will see, how the drying will go, how long it may take.
// It is immutable.
type Plan struct {
	Sights   [numKinds]Sight
	Expected drying.Expected

	spans    spans
	shape    shape
	heat     float64 // weight of the temperature in the air's signal; the humidity has the rest
	logMean  float64 // of the time in seconds, on the logarithmic scale
	logWidth float64
	ratio    float64 // share of the liquid for each share of the rate's sum, in the tail
	kept     float64 // kg at the median
	warmed   bool    // by the heater
	mixed    bool    // of more than water
}

// jacketSees is how much of the liner's coldness reaches the jacket's outside: assumed. It only decides whether a jacket
// sensor is worth listening to; what it then says is measured against its own largest.
const jacketSees = 0.5

// visibleBelow is the most that an evidence may be off, as a share of its signal with 1 % left, for the rule to be met
// with the zero wrong by as much.
const visibleBelow = 0.3

// New makes a plan. Case.Kept 0 takes what the belief holds. The error is one sentence that says what is wrong with the
// case. In air in which nothing dries, no evidence is visible and Expected.Never is true.
func New(b drying.Belief, c drying.Case, senses Senses) (*Plan, error) {
	p := &Plan{spans: usual}
	if c.Warm > c.Air {
		p.spans = usual.inWarmth()
	}
	var err error
	if p.Expected, err = drying.Estimate(b, c, drying.Options{}); err != nil {
		return nil, err
	}
	p.heat, p.mixed = senses[ByAir-1].Heat, c.Liquid.Alcohol > 0
	p.warmed = c.Warm > c.Air
	p.prior()
	for i, e := range kinds() {
		p.Sights[i] = Sight{Evidence: e, Fitted: senses[i].Fitted}
	}
	if p.Expected.Never {
		return p, nil
	}
	if c.Kept == 0 {
		c.Kept = b.Kept(c.Liquid).Median
	}
	c.Film *= b.Exposure().Median
	if p.shape, err = shapeOf(c); err != nil {
		return nil, err
	}
	p.kept = c.Kept * liquid.Density(c.Liquid.Composition(), c.Air)
	p.ratio = p.shape.ratio
	// Drier air leaves more of an alcohol for the tail, and less water: then more is left for the same heat.
	drier := c
	drier.Humidity = max(c.Humidity-0.15, 0)
	if other, err := shapeOf(drier); err == nil {
		p.ratio = max(p.ratio, other.ratio)
		p.roomUnsure(other.end)
	}
	for i, e := range kinds() {
		p.sight(&p.Sights[i], e, senses[i])
	}
	return p, nil
}

// prior takes the estimate as a normal distribution of the logarithm of the time. An interval that is not even on that
// scale is taken at its wider side.
func (p *Plan) prior() {
	m := p.Expected.Minutes
	if p.Expected.Never {
		return
	}
	p.logMean = math.Log(m.Median * 60)
	p.logWidth = max(math.Log(m.High/m.Median), math.Log(m.Median/m.Low)) / eighty
}

// roomUnsure widens what is expected by what is not known of the room's humidity: it was read some time, and somewhere. It
// takes the time in s that the drying would take at fifteen points less.
func (p *Plan) roomUnsure(drier float64) {
	if drier > 0 && p.shape.end > 0 {
		p.logWidth = math.Hypot(p.logWidth, math.Log(p.shape.end/drier)*humidityUnsure/0.15)
	}
}

// humidityUnsure is the standard deviation of the room's relative humidity around what the bench file says: assumed.
const humidityUnsure = 0.08

// eighty is the 90 % quantile of the normal distribution: 80 % lie within as many standard deviations.
const eighty = 1.2815515655446004

// sight works out what a sensor will see and what it will be off by.
func (p *Plan) sight(s *Sight, e Evidence, sense Sense) {
	atGuess := 0.0
	switch e {
	case ByWeight:
		s.Peak, s.AtLimit, atGuess = p.kept, most*p.kept, most/2*p.kept
	case BySurface:
		s.Peak, s.AtLimit, atGuess = jacketSees*p.shape.liner[0], jacketSees*p.shape.liner[1], jacketSees*p.shape.liner[2]
	case ByAir:
		s.Peak, s.AtLimit, atGuess = p.shape.outlet[0], p.shape.outlet[1], p.shape.outlet[2]
	case ByDrag:
		s.Peak = freeCoast
		s.AtLimit, atGuess = most*s.Peak, most/2*s.Peak
	default:
	}
	s.noise = sense.Noise
	averaged := func(span float64) float64 { return sense.Noise * math.Sqrt(min(sense.Every/span, 1)) }
	s.Error = norm(averaged(p.spans.reading), averaged(2*p.spans.smoothing), sense.Drift*p.Expected.Minutes.Median*60, wander[e-1], sense.Offset)
	// In warmed air the cell loses heat that no zero knows: the air leaving cannot tell then.
	s.Visible = s.Fitted && s.Error <= visibleBelow*atGuess && (e != ByAir || !p.warmed)
}

// freeCoast is by how much the wet liner is taken to raise the inverse of the hub's coasting time, 1/s: assumed, as much
// as bearings and a dry liner, which let it coast for a second.
const freeCoast = 1.0

func norm(list ...float64) float64 {
	sum := 0.0
	for _, x := range list {
		sum += x * x
	}
	return math.Sqrt(sum)
}

// Best returns the evidence that will be used: the best that is visible, or the clock.
func (p *Plan) Best() Evidence {
	for _, s := range p.Sights {
		if s.Visible {
			return s.Evidence
		}
	}
	return ByClock
}

// clockMargin is how far beyond the 80 % interval a drying goes on when only the clock can end it.
const clockMargin = 1.25

// ByClock returns the seconds after which the clock alone ends the drying: the upper end of the estimate's 80 % interval
// and a quarter more; 0 when it never dries.
func (p *Plan) ByClock() float64 { return p.Expected.Minutes.High * 60 * clockMargin }

// unseen is the factor for what the sensors of a rate cannot see.
func (p *Plan) unseen() float64 {
	if p.mixed {
		return unseenMixed
	}
	return unseenWater
}

// shortest is the time in seconds before which no evidence is believed.
func (p *Plan) shortest() float64 {
	if p.Expected.Never {
		return 0
	}
	return math.Exp(p.logMean - p.spans.widths*p.logWidth)
}

// Say tells in a sentence what one kind of evidence will see.
func (s Sight) Say() string {
	switch {
	case !s.Fitted:
		return fmt.Sprintf("%s: not sensed on this bench.", s.Evidence)
	case s.Peak == 0:
		return fmt.Sprintf("%s: nothing dries, so that there is nothing to see.", s.Evidence)
	case s.Visible:
		return fmt.Sprintf("%s: sees the last 2 %% (%s of %s, off by more than %s one time in three).", s.Evidence,
			s.say(s.AtLimit), s.say(s.Peak), s.say(s.Error))
	}
	return fmt.Sprintf("%s: cannot tell the last 2 %% (%s of %s) from what it may be off by (%s one time in three).", s.Evidence,
		s.say(s.AtLimit), s.say(s.Peak), s.say(s.Error))
}

// say writes a signal in its unit.
func (s Sight) say(x float64) string {
	switch s.Evidence {
	case ByWeight:
		return fmt.Sprintf("%.0f mg", x*1e6)
	case ByDrag:
		return fmt.Sprintf("%.3f 1/s", x)
	}
	return fmt.Sprintf("%.2f K", x)
}
