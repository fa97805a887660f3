package forecast

import (
	"math"

	"fullery/recipe/endpoint"
)

// mostThrough is the largest through-flow that is looked at, m³/s.
const mostThrough, leastThrough = 1.0, 1e-5

// Need is what it would take to stay below chosen figures. Below a figure is not harmless.
type Need struct {
	Duct      float64 // fraction of the lower flammable limit to stay below
	Through   float64 // m³/s through the duct at full fan that does it, stirring and recipe as they are
	ThroughOK bool    // false: no flow up to 1 m³/s does
	PPM       float64 // to stay below, as a mean over 15 minutes, all working day
	Changes   float64 // of the room's air, per second, that do it
	ChangesOK bool    // false: not even a hundred an hour do
}

// with returns the ask on a bench whose fan carries another flow away at full speed and stirs as before.
func (a Ask) with(through float64) Ask {
	a.Bench.Fan.Through = through
	return a
}

// throughFor finds the least through-flow that keeps the duct below a share of the limit. More flow thins the vapour, so
// that it can be found by halving, here of the logarithm.
func throughFor(a Ask, share float64) (through float64, ok bool) {
	below := func(through float64) bool {
		c, err := newCycle(a.with(through))
		return err == nil && c.peak.OfLimit < share
	}
	if !below(mostThrough) {
		return 0, false
	}
	low, high := math.Log(leastThrough), math.Log(mostThrough)
	for range 16 { // to 0.02 %
		mid := (low + high) / 2
		if below(math.Exp(mid)) {
			high = mid
		} else {
			low = mid
		}
	}
	return math.Exp(high), true
}

// changesFor finds the least air changes that keep the worst 15 minutes of a day below a figure.
func changesFor(day []Span, volume, ppm float64) (changes float64, ok bool) {
	below := func(changes float64) bool {
		return Box{volume, changes}.Over(day).WorstMean(quarter)*1e6 < ppm
	}
	low, high := 0.0, 100.0/3600
	switch {
	case below(low):
		return low, true
	case !below(high):
		return 0, false
	}
	for range 24 {
		mid := (low + high) / 2
		if below(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high, true
}

// Flow is one through-flow to choose from.
type Flow struct {
	Through float64 // m³/s at full fan
	Minutes float64 // until dry, median; infinite: never
	OfLimit float64 // fraction of the lower flammable limit in the duct, at most
	Rests   string  // what "dry" would rest on: the word for the evidence; "" where no stage lasts until dry
	// Front is true where no other of the flows is as sparing of air, as quick and as low in vapour, and better in one of
	// the three. Minutes count as printed; vapour below the figure asked for counts as none.
	Front bool
}

// shares are those of the bench's own through-flow that are compared.
var shares = [...]float64{0.25, 0.5, 1, 1.5, 2, 3}

// flows foresees the cycle with each of the shares of the bench's through-flow. The fan stirs as before: think of a flap in
// the duct, not of another speed, which the recipe sets.
func flows(a Ask, asked float64) (list []Flow) {
	for _, share := range shares { // beyond what a bench can have are left out by the error
		through := a.Bench.Fan.Through * share
		c, err := newCycle(a.with(through))
		if err != nil || c.dry == nil {
			continue
		}
		f := Flow{Through: through, Minutes: c.dry.Minutes.Median, OfLimit: c.peak.OfLimit, Rests: c.rests()}
		if c.dry.Never {
			f.Minutes = math.Inf(1)
		}
		list = append(list, f)
	}
	front(list, asked)
	return list
}

// rests returns the evidence that the bench could give: less air shows more of what it took up.
func (c *cycle) rests() string {
	for _, s := range c.run {
		if !s.UntilDry || c.given < 1e-9 { // a disk that arrives wet was never read dry
			continue
		}
		if p, err := endpoint.ForStage(c.belief, c.recipe, &c.bench, s); err == nil {
			return p.Best().String()
		}
	}
	return ""
}

// front marks what nothing else beats.
func front(list []Flow, asked float64) {
	coarse := func(f Flow) [3]float64 {
		over := 0.0
		if f.OfLimit >= asked {
			over = math.Round(f.OfLimit * 100)
		}
		return [...]float64{f.Through, math.Round(f.Minutes), over}
	}
	for i := range list {
		list[i].Front = true
		for j := range list {
			if i != j && beats(coarse(list[j]), coarse(list[i])) {
				list[i].Front = false
			}
		}
	}
}

// beats tells whether a is nowhere more than b and somewhere less.
func beats(a, b [3]float64) bool {
	less := false
	for i := range a {
		if a[i] > b[i] {
			return false
		}
		less = less || a[i] < b[i]
	}
	return less
}
