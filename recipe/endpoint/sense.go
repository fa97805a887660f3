package endpoint

import (
	"math"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// Sense is how well one kind of evidence is sensed.
type Sense struct {
	Fitted bool
	Noise  float64 // standard deviation of one reading of the signal, in its unit (kg, K, K, 1/s)
	Every  float64 // s between readings
	Drift  float64 // per s, at most, between zero and end
	Offset float64 // what the zero moves by, at one standard deviation, once the air is warmed
	Heat   float64 // air: the weight of the temperature in the signal, 0 to 1; the humidity has the rest
}

// Senses is how well each kind is sensed: weighed, surface, air, drag.
type Senses [numKinds]Sense

// What a real sensor is taken to do where the bench file does not say: assumed, at the better end of what small digital
// sensors' data sheets state for repeatability (from memory).
const (
	usualHeat     = 0.05  // K
	usualHumidity = 0.005 // relative
	usualWeight   = 0.01e-3
)

// asked is how often, in s, a controller shows the end point what is read: readings between two are not averaged.
const asked = 1.0

// wander is what a signal's zero moves by between two cycles whatever its data sheet says, in its unit: assumed.
var wander = [numKinds]float64{2e-6, 0.02, 0.02, 0.005}

// What one coasting of the hub, timed by the pulses of its turns, tells of the drag, as a share of what a dry disk coasts
// with, and how often a disk might be let coast while it dries: assumed. It hardly matters: what bearings wander by between
// two cycles is by itself more than the last hundredth of the liquid adds. So no bench can call a disk dry by its drag, the
// controller does not stop the hub for it, and only a trace that somebody recorded is judged by it, by its own coasts.
const (
	coastNoise = 0.02 * freeCoast
	coastEvery = 60.0
)

// ByBench returns how well a bench senses each kind when a liquid dries in this air.
func ByBench(b *recipe.Bench, c drying.Case) (s Senses) {
	in := recipe.Air
	if !b.Sensors[in].Fitted && c.Warm == 0 { // unwarmed, the air at the cartridge is the air that enters
		in = recipe.AirIn
	}
	warming := max(c.Warm-c.Air, 0)
	if fitted(b, recipe.Weight) {
		s[ByWeight-1] = one(b, recipe.Weight, usualWeight)
	}
	if fitted(b, in, recipe.Surface) {
		s[BySurface-1] = two(one(b, in, usualHeat), one(b, recipe.Surface, usualHeat))
		s[BySurface-1].Offset = jacketLoses * warming
	}
	if b.Hub.Fastest > 0 && fitted(b, recipe.HubSpeed) {
		s[ByDrag-1] = Sense{Fitted: true, Noise: coastNoise, Every: coastEvery}
	}
	if fitted(b, in, recipe.AirOut) {
		heat := two(one(b, in, usualHeat), one(b, recipe.AirOut, usualHeat))
		heat.Heat, heat.Offset = 1, cellLoses*warming
		s[ByAir-1] = heat
	}
	if s[ByAir-1].Fitted && fitted(b, recipe.AirIn, recipe.AirInRH, recipe.AirOutRH) && c.Liquid.Alcohol == 0 {
		// The air leaving is nearly as warm as it came to the cartridge; warm air holds more for each share.
		entering := one(b, recipe.AirInRH, usualHumidity).times(moisture(1, c.Air, c.Pressure))
		leaving := one(b, recipe.AirOutRH, usualHumidity).times(moisture(1, max(c.Air, c.Warm), c.Pressure))
		s[ByAir-1] = Joined(s[ByAir-1], two(entering, leaving))
	}
	return s
}

func fitted(b *recipe.Bench, list ...recipe.Sensor) bool {
	for _, f := range list {
		if !b.Sensors[f].Fitted {
			return false
		}
	}
	return true
}

// one is the sense of one sensor, in its own unit, with the usual noise where a real bench's file gives none.
func one(b *recipe.Bench, f recipe.Sensor, usual float64) Sense {
	spec := &b.Sensors[f]
	noise := math.Hypot(spec.Noise, spec.Step/math.Sqrt(12)) // a rounded reading is off by a step/√12 (uniform)
	if !b.Simulated && spec.Noise == 0 {
		noise = usual
	}
	return Sense{Fitted: true, Noise: noise, Every: max(spec.Every.Seconds(), asked), Drift: math.Abs(spec.Drift)}
}

// two is the sense of a difference of two readings.
func two(a, b Sense) Sense {
	return Sense{Fitted: true, Noise: math.Hypot(a.Noise, b.Noise), Every: max(a.Every, b.Every), Drift: a.Drift + b.Drift}
}

// times is the sense in another unit.
func (s Sense) times(unit float64) Sense {
	s.Noise, s.Drift = s.Noise*unit, s.Drift*unit
	return s
}

// Warmed air loses heat on its way that no zero of unwarmed air knows: assumed shares of what it was warmed by.
const (
	jacketLoses = 0.01 // the jacket to what it rests on
	cellLoses   = 0.05 // the cell through its walls
)

// Joined is the sense of temperature and humidity taken together, each with the weight that its noise leaves it.
func Joined(heat, damp Sense) Sense {
	a := heatShare(math.Hypot(heat.Noise, heat.Offset), damp.Noise)
	return Sense{
		Fitted: true, Every: max(heat.Every, damp.Every), Noise: math.Hypot(a*heat.Noise, (1-a)*damp.Noise),
		Drift: a*heat.Drift + (1-a)*damp.Drift, Offset: a * heat.Offset, Heat: a,
	}
}

// heatShare is the weight of the temperature beside the humidity, by the inverse of their variances.
func heatShare(heat, damp float64) float64 {
	if heat <= 0 && damp <= 0 {
		return 0.5
	}
	return damp * damp / (heat*heat + damp*damp)
}

// moisture returns what air of a relative humidity holds, in kelvins: by so much it would have cooled in taking that
// water up (latent heat over heat capacity), so that it can be added to a temperature. The humidity ratio is
// 0.622·e/(p−e), with the ratio of the molar masses of water and dry air.
func moisture(humidity, k, pressure float64) float64 {
	if pressure == 0 {
		pressure = drying.Atmosphere
	}
	e := humidity * liquid.Water.Saturation(k)
	ratio := 0.62198 * e / (pressure - e)
	return ratio * liquid.Water.Latent(k) / airHeat
}

// airHeat is the heat capacity of dry air, J/(kg K), as in the psychrometric tables.
const airHeat = 1006.0
