package drying

import (
	"math"
	"testing"

	"fullery/recipe/liquid"
)

// plainly dries a liner the dumb way: short steps of Euler, the cell's air and the fluxes by going round until nothing
// changes, everything in kilograms and pascals, and the film's properties at its own mean temperature, where the package
// takes them at that of the incoming air. It shares nothing with the package but the substances.
func plainly(c Case, seconds float64) (minutes, coldest, gained float64) {
	kept := c.Kept * liquid.Density(c.Liquid.Composition(), c.Air)
	m := c.Liquid.Composition()
	for i := range m {
		m[i] *= kept
	}
	k, coldest := c.Air, c.Air
	in := max(c.Air, c.Warm)
	vapour := c.Humidity * liquid.Water.Saturation(c.Air)
	dryAir := c.Flow * (Atmosphere - vapour) / (8.314462618 * c.Air) // mol/s
	ratio := [3]float64{vapour / (Atmosphere - vapour)}
	var flux [3]float64
	cell := in
	for t := 0.0; ; t += seconds {
		left := m[0] + m[1] + m[2]
		if left <= 0.01*kept {
			return t / 60, coldest, gained
		}
		film := (k + cell) / 2
		alpha := 0.0263 * math.Pow(film/300, 0.85) / (Atmosphere / (8.314462618 * film) * 0.0289647 * 1006)
		moles, x := 0.0, [3]float64{}
		for i := range m {
			x[i] = m[i] / liquid.Component(i).MolarMass()
			moles += x[i]
		}
		for i := range x {
			x[i] /= moles
		}
		gamma := liquid.Activity(x, k)
		for range 60 {
			total, damp := flux[0]+flux[1]+flux[2], ratio[0]
			out := dryAir*(1+damp) + total
			var next [3]float64
			for i := range m {
				s := liquid.Component(i)
				kappa := c.Film / (0.0289647 * 1006) * (1 + ratio[0]) / (1 + ratio[0]*33.6/29.14) *
					math.Pow(s.Diffusivity(film, Atmosphere)/alpha, 2.0/3) * min(1, left/(0.3*kept))
				over := gamma[i] * x[i] * s.Saturation(k) / Atmosphere
				away := (dryAir*ratio[i] + flux[i]) / out
				next[i] = kappa * (over - away)
				if math.Abs(total) > 1e-12 {
					e := math.Exp(total / kappa)
					next[i] = total * (over*e - away) / (e - 1)
				}
			}
			for i := range flux {
				flux[i] += 0.5 * (next[i] - flux[i])
			}
		}
		capacity, latent, carried, carrier := 10.0, 0.0, 0.0, dryAir*0.0289647*1006
		for i := range m {
			s := liquid.Component(i)
			capacity += m[i] * s.HeatCapacity()
			latent += flux[i] * s.MolarMass() * s.Latent(k)
			carried += flux[i] * s.MolarMass() * s.VapourHeatCapacity()
			carrier += dryAir * ratio[i] * s.MolarMass() * s.VapourHeatCapacity()
		}
		conductance := c.Film
		if math.Abs(carried) > 1e-12 {
			conductance = carried / (math.Exp(carried/c.Film) - 1)
		}
		cell = (carrier*in + (conductance+carried)*k) / (carrier + conductance + carried)
		k += seconds * (conductance*(cell-k) - latent) / capacity
		coldest = min(coldest, k)
		for i := range m {
			change := -seconds * flux[i] * liquid.Component(i).MolarMass()
			if i == 0 {
				gained += max(change, 0)
			}
			m[i] = max(m[i]+change, 0)
		}
	}
}

func TestAgainstTheDumbWay(t *testing.T) {
	warmed := shipped(t, "water-detergent")
	warmed.Warm = warmed.Air + 15
	starved := shipped(t, "isopropanol-91")
	starved.Flow = 0.5e-3
	for name, c := range map[string]Case{
		"water":             shipped(t, "water"),
		"warmed":            warmed,
		"isopropanol 99":    shipped(t, "isopropanol-99"),
		"91, short of air":  starved,
		"isopropanol 70":    shipped(t, "isopropanol-70"),
		"ethanol 96":        shipped(t, "ethanol-96"),
		"weak, much water":  shipped(t, "isopropanol-5"),
		"ethanol by halves": shipped(t, "ethanol-50"),
	} {
		r := mustRun(t, c, Options{})
		minutes, coldest, gained := plainly(c, 0.25)
		near(t, name+": minutes", r.Minutes, minutes, 0.002)
		about(t, name+": coldest, K", r.Coldest, coldest, 0.1)
		about(t, name+": water gained, mg", 1e6*r.WaterGained, 1e6*gained, 1.5)
	}
}
