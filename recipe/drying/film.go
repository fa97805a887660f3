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
// y∞ᵢ = (G·Yᵢ + Nᵢ)/(G·(1+ΣY) + N). For a given N both are linear in Nᵢ; N itself is found by the secant method.
func (p *passing) exchange(kappa, y *[n]float64) (flux [n]float64, out float64) {
	in := p.moles * (1 + p.damp())
	total := func(sum float64) float64 {
		out = in + sum
		// While the secant looks about, a strong uptake must not empty the cell of its air.
		out = max(out, p.moles)
		got := 0.0
		for i := range flux {
			if kappa[i] <= 0 {
				flux[i] = 0
				continue
			}
			phi := sum / kappa[i]
			b := stretch(phi)
			// B(−x) = B(x) + x
			flux[i] = kappa[i] * ((b+phi)*y[i]*out - b*p.moles*p.ratio[i]) / (out + kappa[i]*b)
			got += flux[i]
		}
		return got
	}
	x0 := 0.0
	f0 := total(x0) - x0
	x1 := x0 + f0
	for range 12 {
		f1 := total(x1) - x1
		if math.Abs(f1) <= 1e-11*(math.Abs(x1)+1e-12) || f1 == f0 {
			break
		}
		x0, f0, x1 = x1, f1, x1-f1*(x1-x0)/(f1-f0)
	}
	return flux, out
}
