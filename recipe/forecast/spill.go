package forecast

import (
	"math"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

const gas = 8.314462618 // J/(mol K), exact by the definition of the SI

// molarVolume returns that of an ideal gas at one atmosphere, m³/mol.
func molarVolume(kelvin float64) float64 { return gas * kelvin / drying.Atmosphere }

// VapourVolume returns the volume, m³, that a mass of a substance, kg, fills as pure vapour at one atmosphere and a
// temperature in kelvin.
func VapourVolume(c liquid.Component, kg, kelvin float64) float64 {
	return kg / c.MolarMass() * molarVolume(kelvin)
}

// MilligramsPerCubicMetre turns parts in a million by volume into mg/m³ at one atmosphere and a temperature in kelvin.
// Whoever prints the result names that temperature: from 20 to 25 °C it changes by 1.7 %.
func MilligramsPerCubicMetre(c liquid.Component, ppm, kelvin float64) float64 {
	return ppm * c.MolarMass() / molarVolume(kelvin)
}

// PartsPerMillion is the reverse of MilligramsPerCubicMetre.
func PartsPerMillion(c liquid.Component, milligrams, kelvin float64) float64 {
	return milligrams * molarVolume(kelvin) / c.MolarMass()
}

// Spill is what is in the air of a closed room when liquid has run out and all of it has evaporated, evenly mixed and
// none of it carried away. No room does that: it is the worst that there can be on average, and near the floor there is
// more than the average, because vapour is heavier than air.
type Spill struct {
	Liquid  float64 // m³ that ran out
	PPM     float64 // of all that burns, by volume; more than there is room for is not held back
	OfLimit float64 // fraction of the lower flammable limit; several by Le Chatelier's rule
	Kelvin  float64 // temperature that the volumes hold for
	Airing  float64 // s until the air changes bring it below the figure that the plan was asked to keep; infinite: never
}

// Spilt computes a spill of a liquid into a volume of air, m³, above 0, at a temperature in kelvin.
func Spilt(l liquid.Liquid, volume, air, kelvin float64) Spill {
	s := Spill{Liquid: volume, Kelvin: kelvin}
	w := l.Composition()
	mass := volume * liquid.Density(w, kelvin)
	for i, share := range w {
		c := liquid.Component(i)
		if limit := c.LowerLimit(); limit > 0 {
			part := VapourVolume(c, share*mass, kelvin) / air
			s.PPM += part * 1e6
			s.OfLimit += part / limit
		}
	}
	return s
}

// spill empties every tank that the recipe needs and whose liquid burns.
func (c *cycle) spill(ppm float64) Spill {
	room := c.bench.Room
	all := Spill{Kelvin: room.Air}
	for _, tank := range []struct {
		name  string
		kind  recipe.Kind
		holds float64
	}{{c.recipe.Liquid, recipe.Wet, c.bench.Tank.Capacity}, {c.recipe.Rinse, recipe.Rinse, c.bench.RinseTank.Capacity}} {
		l, err := liquid.Parse(tank.name)
		if err != nil || !l.Flammable || !c.does(tank.kind) {
			continue
		}
		s := Spilt(l, tank.holds, room.Volume, room.Air)
		all.Liquid += s.Liquid
		all.PPM += s.PPM
		all.OfLimit += s.OfLimit
	}
	all.Airing = math.Inf(1)
	if b := c.box(); b.Changes > 0 || all.PPM <= ppm {
		all.Airing = b.Fades(all.PPM, ppm)
	}
	return all
}

func (c *cycle) does(kind recipe.Kind) bool {
	for _, s := range c.recipe.Stages {
		if s.Do == kind {
			return true
		}
	}
	return false
}
