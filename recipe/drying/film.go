package drying

import (
	"math"

	"fullery/recipe/liquid"
)

const n = liquid.NumComponents

// Dry air. Molar mass and heat capacity as in the psychrometric tables (1.006 kJ/(kg K)).
const (
	airMolar = 0.0289647 // kg/mol
	airHeat  = 1006.0    // J/(kg K)
	airMole  = airMolar * airHeat
)

// airDiffusivity returns the thermal diffusivity of air, m²/s, at K and Pa. The conductivity is 0.0263 W/(m K) at 300 K
// and goes with the power 0.85 of the temperature near there (handbook figures from memory, within 1 %).
func airDiffusivity(k, pressure float64) float64 {
	conductivity := 0.0263 * math.Pow(k/300, 0.85)
	return conductivity * gas * k / (pressure * airMole)
}

// stretch is x/(eˣ−1): what a flow through a film does to the flux against it, and with −x along it.
//
// Near zero the quotient loses its digits, so a series stands in; it is exact to 1e-9 within its range.
func stretch(x float64) float64 {
	if x > -0.5 && x < 0.5 {
		s := x * x
		return 1 - x/2 + s*(1.0/12-s*(1.0/720-s*(1.0/30240-s/1209600)))
	}
	if x > 700 {
		return 0
	}
	return x / math.Expm1(x)
}

// stretching returns the slope of stretch at x, where it is b.
func stretching(x, b float64) float64 {
	switch {
	case x > -0.5 && x < 0.5:
		s := x * x
		return -0.5 + x*(1.0/6-s*(1.0/180-s*(1.0/5040-s/151200)))
	case x > 700:
		return 0
	}
	return b * (1 - b - x) / x
}

// passing is the air that goes through the cell.
type passing struct {
	moles float64    // mol/s of dry air
	ratio [n]float64 // mol of vapour for each mol of dry air that comes in
	heat  float64    // W/K that the flow carries
	k     float64    // K, of the air coming in
}

func (p *passing) damp() float64 { return p.ratio[0] + p.ratio[1] + p.ratio[2] }

// exchange returns the molar fluxes, mol/s, from a surface with the mole fractions y over it into the cell's air,
// through a film with the mass conductances κ, mol/s, and the moles of air with vapour that leave the cell.
//
// Film theory: with N the sum of all fluxes (the air itself stands still) and Φ = N/κ, component i passes with
//
//	Nᵢ = κᵢ·(B(−Φᵢ)·yᵢ − B(Φᵢ)·y∞ᵢ),  B(x) = x/(eˣ−1)
//
// which for one component is the well-known κ·ln((1−y∞)/(1−y)). The cell's own air follows from what passes:
// y∞ᵢ = (G·Yᵢ + Nᵢ)/(G·(1+ΣY) + N). For a given N both are linear in Nᵢ; N itself is found by Newton's method from
// N = 0, where film theory is plain diffusion. In thin vapour two rounds are all it takes: the fluxes are moved along
// their slopes with N, so that what is left is of the square of the last move.
func (p *passing) exchange(kappa, y *[n]float64) (flux [n]float64, out float64) {
	const enough = 1e-5 // of the fluxes: the square of that is less than any tolerance sees
	in, sum := p.moles*(1+p.damp()), 0.0
	for range 20 {
		slopes, got, rises, all := [n]float64{}, 0.0, 0.0, 0.0
		for i, k := range kappa {
			if k <= 0 {
				continue
			}
			flux[i], slopes[i] = p.film(k, y[i], p.moles*p.ratio[i], in, sum)
			got += flux[i]
			rises += slopes[i]
			all += math.Abs(flux[i])
		}
		move := (got - sum) / (1 - rises)
		sum += move
		for i := range flux {
			flux[i] += slopes[i] * move
		}
		if !(math.Abs(move) > enough*all) {
			break
		}
	}
	return flux, in + sum
}

// film returns the flux of one component when all of them together are sum, and how it changes with that sum. brings is
// what comes with the air of it, in all that comes.
func (p *passing) film(kappa, y, brings, in, sum float64) (flux, slope float64) {
	phi := sum / kappa
	b := stretch(phi)
	bends := stretching(phi, b)
	out, thins := in+sum, 1.0
	if out < p.moles { // while Newton looks about, a strong uptake must not empty the cell of its air
		out, thins = p.moles, 0
	}
	// B(−x) = B(x) + x
	below := 1 / (out + kappa*b)
	flux = kappa * ((b+phi)*y*out - b*brings) * below
	slope = ((bends+1)*y*out - bends*brings + kappa*(b+phi)*y*thins - flux*(thins+bends)) * below
	return flux, slope
}
