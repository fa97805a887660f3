package drying

import (
	"math"

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
	dry      bool // water is not let in
	falls    bool // the rate has begun to fall

	here   [n]bool    // what is in the liquid or in the air; the rest need not be reckoned with
	open   [n]float64 // mol/s, mass conductances of the fully wet liner
	grams  [n]float64 // fraction of the kept mass that a mole is
	vapour [n]float64 // J/(mol K), heat capacity of the vapour
	liquid [n]float64 // J/K, heat capacity of all that is kept, were it this
	at     substances // the integrator asks several times running at one temperature
}

// substances are what hangs on the temperature alone.
type substances struct {
	k      float64
	over   [n]float64 // of the air's pressure, over the pure liquid
	latent [n]float64 // J/mol
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

// set returns the liner of a case that has been checked and filled; w is the composition of its liquid, which takes the
// liquid longer to work out than a step takes.
func set(c Case, w liquid.Amounts, o Options) *liner {
	l := &liner{
		kept: c.Kept * liquid.Density(w, c.Air), critical: o.Critical, solid: o.Solid, film: c.Film, pressure: c.Pressure,
		dry: o.noUptake,
	}
	damp := c.Humidity * liquid.Water.Saturation(c.Air)
	l.air.k = max(c.Air, c.Warm)
	l.air.moles = c.Flow * (c.Pressure - damp) / (gas * c.Air)
	l.air.ratio[liquid.Water] = damp / (c.Pressure - damp)
	heat := airMole
	for i, r := range l.air.ratio {
		l.vapour[i] = liquid.Component(i).VapourHeatCapacity() * liquid.Component(i).MolarMass()
		heat += r * l.vapour[i]
	}
	l.air.heat = l.air.moles * heat

	// The film's mass conductance in mol/s, with c the moles of air in a cubic metre:
	// k·A·c = h·A/(molar heat capacity)·(D/α)^(2/3), at the incoming air: the ratio D/α hardly changes with temperature.
	perMole := heat / (1 + l.air.damp())
	alpha := airDiffusivity(l.air.k, c.Pressure)
	for i := range l.open {
		s := liquid.Component(i)
		l.here[i] = w[i] > 0 || l.air.ratio[i] > 0
		l.open[i] = c.Film / perMole * twoThirds(s.Diffusivity(l.air.k, c.Pressure)/alpha)
		l.grams[i] = s.MolarMass() / l.kept
		l.liquid[i] = l.kept * s.HeatCapacity()
	}
	return l
}

// wet returns the share of the film that takes part in mass transfer: all above the critical content, below it in
// proportion to what is left. On which side of that corner the liner is, is said by falls and not by what is left: a step
// of the integrator that tries its way across must not meet the corner.
func (l *liner) wet(left float64) float64 {
	if l.falls {
		return left / l.critical
	}
	return 1
}

// warm looks the substances up at a temperature, K.
func (l *liner) warm(k float64) {
	if l.at.k == k {
		return
	}
	l.at.k = k
	for i, here := range l.here {
		if here {
			l.at.over[i] = liquid.Component(i).Saturation(k) / l.pressure
			l.at.latent[i] = latents[i].at(k)
		}
	}
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
	l.warm(k)
	x, sum := amounts.MoleFractions(), 0.0
	gamma := [n]float64{1, 1, 1}
	if x[liquid.Water] < 1 {
		gamma = liquid.Activity(x, k)
	}
	for i := range over {
		if x[i] > 0 {
			over[i] = gamma[i] * x[i] * l.at.over[i]
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
		carried += v * l.vapour[i]
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
	f := l.flows(liquid.Amounts{s[0], s[1], s[2]}, l.air.k+s[n])
	heat, capacity := f.heat, l.solid
	for i, v := range f.flux {
		d[i] = -v * l.grams[i]
		heat -= v * l.at.latent[i]
		capacity += max(s[i], 0) * l.liquid[i]
	}
	d[n] = heat / capacity
	return d
}

// bears tells which of the states can change at all: the slopes of the others need not be looked for.
func (l *liner) bears(state int) bool { return state >= n || l.here[state] }

// The heat of vaporisation is asked for at every stage of every step, and the power in it would be a sixth of all the
// work. It bends so little that a polynomial through a few of its values gives it within 1e-7, from coldest to hottest,
// wherever the integrator may look.

const latentPoints = 7

// bent is a polynomial in the form of Newton: c₀ + (k − k₀)·(c₁ + (k − k₁)·(c₂ + …)).
type bent struct{ k, c [latentPoints]float64 }

var latents = func() (all [n]bent) {
	for i := range all {
		s := liquid.Component(i)
		all[i] = through(func(k float64) float64 { return s.Latent(k) * s.MolarMass() })
	}
	return all
}()

// through returns the polynomial that meets f where the polynomial of Chebyshev is nothing: there the error is spread
// evenly.
func through(f func(k float64) float64) (p bent) {
	for i := range p.k {
		p.k[i] = (coldest+hottest)/2 - (hottest-coldest)/2*math.Cos(math.Pi*(float64(i)+0.5)/latentPoints)
		p.c[i] = f(p.k[i])
	}
	for order := 1; order < latentPoints; order++ {
		for i := latentPoints - 1; i >= order; i-- {
			p.c[i] = (p.c[i] - p.c[i-1]) / (p.k[i] - p.k[i-order])
		}
	}
	return p
}

// at returns the value of the polynomial at a temperature, K.
func (p *bent) at(k float64) float64 {
	v := p.c[latentPoints-1]
	for i := latentPoints - 2; i >= 0; i-- {
		v = v*(k-p.k[i]) + p.c[i]
	}
	return v
}
