package simbench

import "math"

const (
	gas      = 8.314462618  // J/(mol K), CODATA 2018
	pressure = 101325.0     // Pa
	airRhoCp = 1.204 * 1006 // J/(m³ K), air at 20 °C and one atmosphere
	airAlpha = 2.12e-5      // m²/s, thermal diffusivity of air at 20 °C; from memory
	zeroC    = 273.15       // K
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
	each    float64 // J/mol, latent
	warms   float64 // J/(m³ K), of the liquid
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
		s.each = s.latent * s.molar
		s.warms = s.density * s.heat
	}
	return all
}

// saturation returns the saturation vapour pressure in Pa at a temperature in K: for water the Magnus formula with
// the constants 611.2, 17.62 and 243.12 (within 0.35 % of IAPWS from 0 to 50 °C), for the alcohols Wagner's equation
// with the constants of Poling, Prausnitz and O'Connell, 5th edition, appendix A. Published values of isopropanol at room
// temperature differ among themselves by 4 %; these are the lowest of them.
func (p part) saturation(kelvin float64) float64 {
	switch p {
	case isopropanol:
		return wagner(kelvin/508.3, 4.763e6, -8.73656, 2.1624, -8.70785, 4.77927)
	case ethanol:
		return wagner(kelvin/513.92, 6.132e6, -8.68587, 1.17831, -4.8762, 1.588)
	}
	t := kelvin - zeroC
	return 611.2 * math.Exp(17.62*t/(243.12+t))
}

// wagner takes the temperature and the pressure, in Pa, by those of the critical point.
func wagner(reduced, critical, a, b, c, d float64) float64 {
	u := 1 - reduced
	root := math.Sqrt(u)
	return critical * math.Exp((a*u+b*u*root+c*u*u*root+d*math.Pow(u, 5))/reduced)
}

// The vapour pressures are tabulated between −40 and 80 °C, four to the kelvin: a straight line between two of them is
// 0.01 % too high at most, and costs a fraction of the exponentials.
const (
	coldest = zeroC - 40
	perK    = 4
	entries = 120*perK + 1
)

var tables = tabulated()

func tabulated() (all [numParts][entries]float64) {
	for i := range all {
		for j := range all[i] {
			all[i][j] = part(i).saturation(coldest + float64(j)/perK)
		}
	}
	return all
}

// curve returns the saturation vapour pressure in Pa at a temperature in K, and its slope in Pa/K, from the table. The
// temperature is held to the table's ends, so that no input makes it overflow.
func (p part) curve(kelvin float64) (pa, slope float64) {
	at := (kelvin - coldest) * perK
	if !(at > 0) {
		at = 0
	}
	at = min(at, entries-1.001)
	j := int(at)
	low, high := tables[p][j], tables[p][j+1]
	return low + (high-low)*(at-float64(j)), (high - low) * perK
}
