package simbench

import "math"

const (
	gas       = 8.314462618  // J/(mol K), CODATA 2018
	pressure  = 101325.0     // Pa
	airRhoCp  = 1.204 * 1006 // J/(m³ K), air at 20 °C and one atmosphere
	airAlpha  = 2.12e-5      // m²/s, thermal diffusivity of air at 20 °C; from memory
	zeroC     = 273.15       // K
	psatRange = 60.0         // K around 20 °C within which the vapour pressures are used
)

// part numbers the components that a liquid here is made of.
type part int

const (
	water part = iota
	isopropanol
	ethanol
	numParts
)

// substance is what the bench's physics needs of one component.
type substance struct {
	density float64 // kg/m³ at 20 °C
	molar   float64 // kg/mol
	latent  float64 // J/kg at 20 °C
	heat    float64 // J/(kg K), of the liquid
	diffuse float64 // m²/s, of the vapour in air at 20 °C
	lfl     float64 // lower flammable limit, fraction by volume; 0: none
	slip    float64 // mass against heat transfer, (D/α)^(2/3); Chilton and Colburn
	moles   float64 // mol/m³ of liquid
}

// substances: densities, molar masses, latent heats and heat capacities as in Perry's handbook and the CRC handbook;
// diffusivities by Fuller, Schettler and Giddings; flammable limits from IEC 60079-20-1 (2010), the lower where
// NFPA 497 (2008) differs.
var substances = derived([numParts]substance{
	water:       {density: 998.2, molar: 0.018015, latent: 2453.5e3, heat: 4180, diffuse: 2.44e-5},
	isopropanol: {density: 786.0, molar: 0.060095, latent: 769e3, heat: 2604, diffuse: 0.999e-5, lfl: 0.020},
	ethanol:     {density: 789.3, molar: 0.046068, latent: 928e3, heat: 2438, diffuse: 1.198e-5, lfl: 0.031},
})

// derived fills in what follows from the rest.
func derived(all [numParts]substance) [numParts]substance {
	for i := range all {
		s := &all[i]
		s.slip = math.Pow(s.diffuse/airAlpha, 2.0/3)
		s.moles = s.density / s.molar
	}
	return all
}

// saturation returns the saturation vapour pressure in Pa at a temperature in K: for water the Magnus formula with
// the constants 611.2, 17.62 and 243.12 (within 0.35 % of IAPWS from 0 to 50 °C), for the alcohols Antoine's equation
// with the constants of Poling, Prausnitz and O'Connell, 5th edition, appendix A (isopropanol 281 to 373 K, ethanol
// 276 to 370 K). The temperature is held within −40 and 80 °C, so that no input makes it overflow.
func (p part) saturation(kelvin float64) float64 {
	t := min(max(kelvin, zeroC+20-psatRange), zeroC+20+psatRange)
	switch p {
	case isopropanol:
		return math.Exp(math.Ln10 * (10.24268 - 1580.92/(t-53.54)))
	case ethanol:
		return math.Exp(math.Ln10 * (10.33675 - 1648.22/(t-42.232)))
	}
	t -= zeroC
	return 611.2 * math.Exp(17.62*t/(243.12+t))
}
