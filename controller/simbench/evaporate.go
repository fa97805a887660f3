package simbench

import "math"

const (
	usualCritical = 0.3   // share of what a face keeps below which it dries more slowly, when the bench file gives none
	crust         = 3.0   // resistance of a liner that is dry to its ground, of its film's; assumed
	speck         = 1e-24 // m³ of one component that count as none, while others are left
	leastAir      = 0.25  // of the pressure: film theory ends where hardly any air is left
)

// giving is what one face gives off, or takes up, in the step in hand.
type giving struct {
	moles [numParts]float64
	over  [numParts]float64 // Pa over the liquid
	rise  [numParts]float64 // Pa/K
	open  [numParts]float64 // mol/(s Pa), into the jacket's air
	// Latent heat in W, and what it grows by for each kelvin.
	latent, slope float64
}

// receding returns the share of a free surface's mass transfer that a liner with this share of its critical content has.
//
// Above it the fibres draw liquid to the surface as fast as it dries. Below it the front draws back: vapour must pass a
// dry layer that grows as the content falls, through the pores that still are in touch with liquid, and those become
// fewer, here with the square root. So the rate at last goes with the root of what is left and ends at nothing.
func receding(w float64) float64 {
	if w >= 1 {
		return 1
	}
	root := math.Sqrt(w)
	return root / (root + crust*(1-w))
}

// opens finds how a face stands towards the jacket's air before a step of s seconds: the pressures over its liquid, its
// conductances, its latent heat. film is its heat conductance now, in W/K.
func (b *Bench) opens(f *face, s, film float64) {
	g := &f.giving
	g.latent, g.slope = 0, 0
	all := g.counts(&f.liquid)
	if all == 0 {
		g.open = [numParts]float64{} // a dry liner takes up nothing
		return
	}
	g.pressures(all, f.temp)
	vapour := 0.0
	for i := range g.over {
		vapour += (g.over[i] + b.inside[i]) / 2
	}
	// The vapour carries itself along: against the air that stands still between surface and jacket (Stefan).
	air := max(pressure-vapour, leastAir*pressure)
	transfer := film / airRhoCp / (gas * b.insideT) * pressure / air
	if f.keeps > 0 {
		transfer *= receding(f.liquid.total() / (b.critical * f.keeps))
	}
	for i := range g.over {
		if g.over[i] == 0 && b.inside[i] == 0 {
			g.open[i] = 0
			continue
		}
		g.open[i] = transfer * substances[i].slip
		// As far as there is liquid for the step; see exchanges.
		a := g.open[i] * substances[i].each
		if g.moles[i] > 0 {
			a /= 1 + s*g.open[i]*g.over[i]/g.moles[i]
		}
		g.latent += a * (g.over[i] - b.inside[i])
		g.slope += a * g.rise[i]
	}
}

// counts notes the moles of a liquid and returns their sum.
func (g *giving) counts(liquid *charge) (all float64) {
	for i, v := range liquid {
		g.moles[i] = v * substances[i].moles
		all += g.moles[i]
	}
	return all
}

// pressures finds the pressures over the liquid at a temperature, K, from the moles of its components and of all of it.
func (g *giving) pressures(all, kelvin float64) {
	var x [numParts]float64
	for i := range x {
		x[i] = g.moles[i] / all
	}
	gamma := gammas(&x)
	for i := range part(numParts) {
		g.over[i], g.rise[i] = 0, 0
		if x[i] > 0 {
			pa, slope := i.curve(kelvin)
			g.over[i], g.rise[i] = gamma[i]*x[i]*pa, gamma[i]*x[i]*slope
		}
	}
}

// warmed moves the pressures over a face's liquid to its new temperature, dt kelvins above the old.
func (g *giving) warmed(dt float64) {
	for i := range g.over {
		g.over[i] = max(g.over[i]+g.rise[i]*dt, 0)
	}
}

// exchanges moves every component between the faces, the jacket's air, the cell's air and the duct for s seconds, with
// flow m³/s of room air and openings m³/s through the openings of the jacket.
//
// The step is implicit, and each component's pressure over the liquid is taken to fall in proportion to how much of it is
// left: so no amount and no pressure can fall below zero, however long the step. What leaves the liner is what arrives
// in the air.
func (b *Bench) exchanges(s, flow, openings float64) {
	storeIn, storeCell := jacketVolume/(gas*b.insideT*s), cellVolume/(gas*b.cell*s)
	through, passes := openings/(gas*b.insideT), flow/(gas*b.cell)
	held := storeCell + through + passes
	for i := range part(numParts) {
		push, draw := 0.0, 0.0
		for k := range b.faces {
			g := &b.faces[k].giving
			if g.open[i] == 0 {
				continue
			}
			if g.moles[i] > 0 {
				g.open[i] /= 1 + s*g.open[i]*g.over[i]/g.moles[i]
			}
			push += g.open[i] * g.over[i]
			draw += g.open[i]
		}
		in := 0.0
		if i == water {
			in = b.vapourIn
		}
		source := storeCell*b.vapour[i] + passes*in
		if push == 0 && source == 0 && b.inside[i] == 0 {
			continue
		}
		inside := (storeIn*b.inside[i] + push + through*source/held) / (storeIn + draw + through*(storeCell+passes)/held)
		b.inside[i] = settled(inside)
		b.vapour[i] = settled((source + through*inside) / held)
		if draw > 0 {
			b.dries(i, s, inside)
		}
	}
}

// settled returns a pressure, or nothing for one so small that the processor would become slow with its descendants.
func settled(pa float64) float64 {
	if pa < 1e-12 {
		return 0
	}
	return pa
}

// dries takes off both faces what they gave of one component, and gives them what they took up. A liner that more liquid
// keeps reaching stays as it is: what it gives off is counted as that leak.
func (b *Bench) dries(i part, s, inside float64) {
	net := 0.0
	for k := range b.faces {
		f := &b.faces[k]
		g := &f.giving
		v := s * g.open[i] * (g.over[i] - inside) / substances[i].moles
		if !b.has(stageOvertime) {
			if f.liquid[i]-v < speck {
				v = f.liquid[i]
			}
			f.liquid[i] -= v
		}
		net += v
	}
	switch {
	case net >= 0:
		b.gone[i] += net
		if b.has(stageOvertime) {
			b.leaked += net
		}
	case !b.has(stageOvertime):
		b.gained -= net
	}
}

// tidies ends what would never end: the last trace of a face's liquid, and what condensed beyond what it holds.
func (f *face) tidies(b *Bench) {
	all := f.liquid.total()
	switch {
	case all > f.holds:
		f.liquid.give(&b.tray, all-f.holds)
	case all < trace && all > 0 && !b.has(stageOvertime):
		for i, v := range f.liquid {
			b.gone[i] += v
			f.liquid[i] = 0
		}
	}
}
