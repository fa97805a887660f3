package simbench

import (
	"math"

	"fullery/recipe"
)

const (
	airHeat      = 6.0   // J/K of the passage before the cartridge; assumed
	airLoss      = 0.5   // W/K from that passage to the room; assumed
	draught      = 1e-5  // m³/s that passes with the fan at rest; assumed
	restStirring = 0.15  // film at rest, of that at full stirring; assumed
	hotOutside   = 340.0 // K of the air drawn in, or of what heats the jacket, while air-too-hot is armed
	hotMargin    = 8.0   // K that it is above every limit of the bench at least
	hotLag       = 3.0   // s in which that air arrives
	highVapour   = 0.40  // of the lower flammable limit while vapour-high is armed: above 25 %
	risenVapour  = 0.17  // the same while vapour-rising is armed: between 10 and 25 %
	surgeLag     = 2.0   // s in which that vapour arrives
)

// breathes advances air, liner and jacket by s seconds: the heater warms the air that passes to the cartridge; the two
// faces of the liner take heat from the jacket's air and load it with vapour, which goes by the jacket's openings into
// the cell and with the through-flow into the duct. Every part of the step is implicit: stable for every span and flow.
func (b *Bench) breathes(s float64) {
	speed := b.fanShare()
	flow := draught + b.spec.Fan.Through*speed
	carry := flow * airRhoCp

	b.disturbs(s)
	in := b.airIn()
	k := s * (carry + airLoss) / airHeat
	b.air = (b.air + k*(in+b.heat/(carry+airLoss))) / (1 + k)

	// A laminar film's conductance goes with the square root of the speed over it, the exchange through openings with the
	// speed itself.
	stir := max(restStirring, math.Sqrt(speed))
	openings := b.spec.Sim.Film / openingsPart * max(openingsRest, speed)
	var films, was [numFaces]float64
	for i := range b.faces {
		f := &b.faces[i]
		films[i], was[i] = f.film*stir, f.temp
		b.opens(f, s, films[i])
	}
	b.warms(s, films, openings, carry, stir)
	for i := range b.faces {
		f := &b.faces[i]
		f.giving.warmed(f.temp - was[i])
	}
	b.exchanges(s, flow, openings/airRhoCp)
	for i := range b.faces {
		b.faces[i].tidies(b)
	}
}

// airIn and surface return what the sensors of the air drawn in and of the jacket look at, K. The heat of
// air-too-hot meets the jacket, where a bench can feel it there: air that warms with the heater off would rather be
// taken for a heater that is stuck.
func (b *Bench) airIn() float64 {
	if b.spec.Sensors[recipe.Surface].Fitted {
		return b.spec.Room.Air
	}
	return b.spec.Room.Air + b.hot
}

func (b *Bench) surface() float64 {
	if b.spec.Sensors[recipe.Surface].Fitted {
		return b.jacket + b.hot
	}
	return b.jacket
}

// disturbs lets armed faults act on the air drawn in and on its vapour.
func (b *Bench) disturbs(s float64) {
	hot, surge := 0.0, 0.0
	if b.has(airTooHot) {
		limit := max(b.spec.Heater.AirLimit, b.spec.Heater.SurfaceLimit) + hotMargin
		hot = max(max(hotOutside, limit)-b.spec.Room.Air, 0)
	}
	if b.has(vapourRising) {
		surge = risenVapour
	}
	b.hot += (hot - b.hot) * min(s/hotLag, 1)
	b.surge += (surge - b.surge) * min(s/surgeLag, 1)
	if b.has(vapourHigh) {
		b.surge = highVapour
	}
}

// flammable returns the cell's vapour as a fraction of the lower flammable limit, the components added up (Le
// Chatelier's rule).
func (b *Bench) flammable() float64 {
	f := 0.0
	for i, p := range b.vapour {
		if lfl := substances[i].lfl; lfl > 0 {
			f += p / pressure / lfl
		}
	}
	return max(f, b.surge)
}

// humidity returns the relative humidity of the cell's air, at most 1.
func (b *Bench) humidity() float64 {
	most, _ := water.curve(b.cell)
	return min(b.vapour[water]/most, 1)
}
