package simbench

import (
	"math"

	"fullery/recipe"
)

const (
	cellVolume   = 1e-3  // m³ of air around the cartridge; assumed
	cellHeat     = 3.0   // J/K of that air and what it touches at once; assumed
	airHeat      = 6.0   // J/K of the passage before the cartridge; assumed
	airLoss      = 0.5   // W/K from that passage to the room; assumed
	draught      = 1e-5  // m³/s that passes with the fan at rest; assumed
	restStirring = 0.15  // film at rest, of that at full stirring; assumed
	linerHeat    = 10.0  // J/K of liner, disk and jacket: 8 g of polyester at 1.2 J/(g K); assumed
	falling      = 0.3   // share of what is kept below which mass transfer falls in proportion to what is left
	trace        = 1e-15 // m³ in the liner that count as none: a share of the falling rate would never end
	coupling     = 0.8   // share of the liner's coldness that reaches the jacket's surface; assumed
	surfaceLag   = 20.0  // s, of the jacket's surface behind the liner; assumed
	hotOutside   = 340.0 // K of the air drawn in, or of what heats the jacket, while air-too-hot is armed
	hotMargin    = 8.0   // K that it is above every limit of the bench at least
	hotLag       = 3.0   // s in which that air arrives
	highVapour   = 0.40  // of the lower flammable limit while vapour-high is armed: above 25 %
	risenVapour  = 0.17  // the same while vapour-rising is armed: between 10 and 25 %
	surgeLag     = 2.0   // s in which that vapour arrives
)

// breathes advances air, liner and jacket by s seconds: the heater warms the air that passes to the cartridge, the
// liner takes heat from the cell's air and loads it with vapour. Mixtures evaporate by Raoult's law; room moisture
// condensing into a cold alcohol film is left out, so that damp air lengthens an alcohol's drying more in life.
func (b *Bench) breathes(s float64) {
	flow := draught + b.spec.Fan.Through*b.fanShare()
	carry := flow * airRhoCp

	b.disturbs(s)
	in := b.airIn()

	// Implicit steps: stable for every span and flow.
	k := s * (carry + airLoss) / airHeat
	b.air = (b.air + k*(in+b.heat/(carry+airLoss))) / (1 + k)

	// A laminar film's conductance goes with the square root of the speed over it.
	film := b.spec.Sim.Film * max(restStirring, math.Sqrt(b.fanShare()))
	latent := b.evaporates(s, flow, film)

	heat := linerHeat
	for i, v := range b.liner {
		heat += v * substances[i].density * substances[i].heat
	}
	kc := s * film / cellHeat
	kf := s * carry / cellHeat
	b.cell = (b.cell + kf*b.air + kc*b.linerT) / (1 + kf + kc)
	kl := s * film / heat
	b.linerT = (b.linerT + kl*b.cell - s*latent/heat) / (1 + kl)

	b.jacket += (b.cell - coupling*(b.cell-b.linerT) - b.jacket) * min(s/surfaceLag, 1)
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

// evaporates moves vapour from the liner into the cell's air and lets the through-flow carry it away. It returns the
// latent heat in W. The film's mass conductance follows from its heat conductance (Chilton and Colburn).
func (b *Bench) evaporates(s, flow, film float64) (latent float64) {
	var moles [numParts]float64
	all, left := 0.0, b.liner.total()
	for i, v := range b.liner {
		moles[i] = v * substances[i].moles
		all += moles[i]
	}
	// Above the critical content the liner is wet all over and dries like a free surface; below it the liquid draws
	// back between the fibres, and less and less of the surface takes part.
	wet := 1.0
	if kept := b.spec.Sim.Kept; kept > 0 {
		wet = min(left/(falling*kept), 1)
	}
	leaving := 1 / (1 + s*flow/cellVolume)
	for i := range part(numParts) {
		sub, rate := &substances[i], 0.0
		if moles[i] > 0 {
			drive := moles[i]/all*i.saturation(b.linerT) - b.vapour[i]
			rate = max(film/airRhoCp*sub.slip*wet*drive/(gas*b.linerT), 0)
			if rate*s > moles[i] || left < trace {
				rate = moles[i] / s
			}
			b.dried(i, rate*s/sub.moles)
			latent += rate * sub.molar * sub.latent
		}
		in := 0.0
		if i == water {
			in = b.vapourIn
		}
		b.vapour[i] = (b.vapour[i] + s/cellVolume*(flow*in+rate*gas*b.cell)) * leaving
	}
	return latent
}

// dried takes v m³ of one component off the liner, or, while more liquid keeps reaching it, from that leak.
func (b *Bench) dried(i part, v float64) {
	b.gone[i] += v
	if b.has(stageOvertime) {
		b.leaked += v
		return
	}
	b.liner[i] = max(b.liner[i]-v, 0)
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
	return min(b.vapour[water]/water.saturation(b.cell), 1)
}
