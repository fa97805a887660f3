package drying

import (
	"fullery/recipe/liquid"
)

// liner is the wet liner in its cell, as the integrator sees it. Its state is three amounts, each as a fraction of the
// kept mass, and how much warmer than the incoming air it is, K.
type liner struct {
	kept     float64 // kg at the start
	critical float64 // fraction from which mass transfer falls
	solid    float64 // J/K
	film     float64 // W/K
	pressure float64
	air      passing
	open     [n]float64 // mol/s, mass conductances of the fully wet liner
	dry      bool       // water is not let in
}

// flow is what happens at one moment.
type flow struct {
	flux [n]float64 // mol/s leaving the liner; negative: taken up
	heat float64    // W into the liner from the air
	out  float64    // mol/s of air with vapour that leave the cell
	cell float64    // K, of the cell's air
}

// The bounds within which the integrator may look about: a trial step must not feed the vapour equations nonsense.
const (
	coldest, hottest = 230.0, 350.0
	mostVapour       = 0.95
)

// set returns the liner of a case that has been checked and filled.
func set(c Case, o Options) *liner {
	w := c.Liquid.Composition()
	l := &liner{
		kept: c.Kept * liquid.Density(w, c.Air), critical: o.Critical, solid: o.Solid, film: c.Film, pressure: c.Pressure,
		dry: o.noUptake,
	}
	vapour := c.Humidity * liquid.Water.Saturation(c.Air)
	l.air.k = max(c.Air, c.Warm)
	l.air.moles = c.Flow * (c.Pressure - vapour) / (gas * c.Air)
	l.air.ratio[liquid.Water] = vapour / (c.Pressure - vapour)
	heat := airMole
	for i, r := range l.air.ratio {
		heat += r * molarHeat(liquid.Component(i))
	}
	l.air.heat = l.air.moles * heat

	// The film's mass conductance in mol/s, with c the moles of air in a cubic metre:
	// k·A·c = h·A/(molar heat capacity)·(D/α)^(2/3), at the incoming air: the ratio D/α hardly changes with temperature.
	perMole := heat / (1 + l.air.damp())
	alpha := airDiffusivity(l.air.k, c.Pressure)
	for i := range l.open {
		d := liquid.Component(i).Diffusivity(l.air.k, c.Pressure) / alpha
		l.open[i] = c.Film / perMole * twoThirds(d)
	}
	return l
}

// molarHeat returns the heat capacity of a vapour, J/(mol K).
func molarHeat(c liquid.Component) float64 { return c.VapourHeatCapacity() * c.MolarMass() }

// wet returns the share of the film that takes part in mass transfer: all above the critical content, below it in
// proportion to what is left.
func (l *liner) wet(left float64) float64 {
	if left >= l.critical {
		return 1
	}
	return max(left, 0) / l.critical
}

// flows returns what leaves a liner with these amounts (fractions of the kept mass) at this temperature, K.
func (l *liner) flows(amounts liquid.Amounts, k float64) (f flow) {
	k = min(max(k, coldest), hottest)
	left := 0.0
	for i := range amounts {
		amounts[i] = max(amounts[i], 0)
		left += amounts[i]
	}
	f.cell, f.out = l.air.k, l.air.moles*(1+l.air.damp())
	var over, kappa [n]float64
	if left > 0 {
		l.surface(amounts, k, &over)
		share := l.wet(left)
		for i := range kappa {
			// What is in neither liquid nor air need not be reckoned with.
			if amounts[i] > 0 || l.air.ratio[i] > 0 {
				kappa[i] = l.open[i] * share
			}
		}
		f.flux, f.out = l.air.exchange(&kappa, &over)
		if l.dry && f.flux[liquid.Water] < 0 {
			kappa[liquid.Water] = 0
			f.flux, f.out = l.air.exchange(&kappa, &over)
		}
	}
	l.warms(&f, k)
	return f
}

// surface fills in the mole fractions of vapour over the liquid.
func (l *liner) surface(amounts liquid.Amounts, k float64, over *[n]float64) {
	x := amounts.MoleFractions()
	gamma := liquid.Activity(x, k)
	sum := 0.0
	for i := range over {
		if x[i] > 0 {
			over[i] = gamma[i] * x[i] * liquid.Component(i).Saturation(k) / l.pressure
		}
		sum += over[i]
	}
	if sum > mostVapour { // near boiling, where film theory ends; only a trial step gets there
		for i := range over {
			over[i] *= mostVapour / sum
		}
	}
}

// warms fills in the heat that the liner draws from the cell's air, and that air's temperature: what passes brings heat,
// the vapour brings its own, the liner takes.
func (l *liner) warms(f *flow, k float64) {
	carried := 0.0
	for i, v := range f.flux {
		carried += v * molarHeat(liquid.Component(i))
	}
	film := l.film * stretch(carried/l.film) // Ackermann: vapour that streams away from the liner hinders the heat
	give := l.air.heat + film + carried
	if l.air.heat <= 0 || give <= 0 {
		// No air passes: the cell's air takes the temperature of the liner, and no heat moves.
		f.cell = k
		return
	}
	f.cell = (l.air.heat*l.air.k + (film+carried)*k) / give
	f.heat = film * (f.cell - k)
}

// slope is the right-hand side of the equations: fractions of the kept mass and kelvins, for each second.
func (l *liner) slope(s vec) (d vec) {
	a := liquid.Amounts{s[0], s[1], s[2]}
	k := l.air.k + s[3]
	f := l.flows(a, k)
	heat, capacity := f.heat, l.solid
	for i, v := range f.flux {
		c := liquid.Component(i)
		mass := v * c.MolarMass()
		d[i] = -mass / l.kept
		heat -= mass * c.Latent(min(max(k, coldest), hottest))
		capacity += max(a[i], 0) * l.kept * c.HeatCapacity()
	}
	d[3] = heat / capacity
	return d
}
