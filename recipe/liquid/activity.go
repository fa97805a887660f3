package liquid

import "math"

// Activity returns the activity coefficients γ at the mole fractions x and a temperature in kelvin: the partial
// pressure of a component over the mixture is γ·x·Saturation. Fractions below zero count as zero, and x need not add
// up to 1; without any liquid all three are 1. It does not allocate.
//
// Isopropanol and water follow van Laar with the constants of de Nevers for 1 atm (about 80 to 100 °C), which give
// the azeotrope at 0.874 by mass and 80.4 °C; the Wilson constants in common use miss the data below a mole fraction
// of 0.4 by 1 K. The coefficients are taken as the same at every temperature, that is, without heat of mixing: the
// measured heat is small and changes its sign with strength, and the usual other choice, ln γ ∝ 1/T, would raise γ of
// traces of isopropanol at 25 °C to 19 where measurements say about 8 (from memory) and the constant says 12. So a
// strong mixture should be right within about 10 % at room temperature, and a weak one gives off too much alcohol, up to
// half as much again: guesses, as no measurement at room temperature was found.
//
// Ethanol and water follow Wilson. The two alcohols mix ideally with each other. Where both meet water, each counts
// by its share of the alcohol in one excess Gibbs energy, so that the Gibbs–Duhem equation holds for all three.
func Activity(x [NumComponents]float64, kelvin float64) [NumComponents]float64 {
	w, i, e := max(x[Water], 0), max(x[Isopropanol], 0), max(x[Ethanol], 0)
	all := w + i + e
	if !(all > 0) {
		return [NumComponents]float64{1, 1, 1}
	}
	a, r := (i+e)/all, 0.5 // r does not matter without any alcohol
	if i+e > 0 {
		r = i / (i + e)
	}
	w /= all
	laar := vanLaar(a, w, laarA, laarB)
	wilson := wilsonPair(a, w, math.Exp(-1.176927-192.3808/kelvin), math.Exp(1.176927-480.8011/kelvin))
	both := r*laar.alcohol + (1-r)*wilson.alcohol
	apart := laar.excess - wilson.excess
	return [NumComponents]float64{
		Water:       math.Exp(r*laar.water + (1-r)*wilson.water),
		Isopropanol: math.Exp(both + (1-r)*apart),
		Ethanol:     math.Exp(both - r*apart),
	}
}

// binary is what an activity model says of an alcohol and water.
type binary struct {
	alcohol, water float64 // ln γ
	excess         float64 // excess Gibbs energy in RT, by the mole of alcohol
}

// laarA and laarB are A = 1.0728 and B = 0.4750 of de Nevers, Physical and Chemical Equilibrium for Chemical
// Engineers, table A.7, turned from decimal to natural logarithms.
const (
	laarA = 1.0728 * math.Ln10
	laarB = 0.4750 * math.Ln10
)

// vanLaar takes the mole fractions of alcohol and water, which add up to 1.
func vanLaar(alcohol, water, a, b float64) binary {
	sum := a*alcohol + b*water
	u, v := b*water/sum, a*alcohol/sum
	return binary{alcohol: a * u * u, water: b * v * v, excess: a * u}
}

// wilsonPair takes the mole fractions of alcohol and water, which add up to 1, and Wilson's Λ: aw of alcohol to water,
// wa of water to alcohol. The constants for ethanol and water in Activity are from a public
// table of interaction parameters.
func wilsonPair(alcohol, water, aw, wa float64) binary {
	sa, sw := alcohol+aw*water, water+wa*alcohol
	pull := aw/sa - wa/sw
	p := binary{
		alcohol: -math.Log(sa) + water*pull,
		water:   -math.Log(sw) - alcohol*pull,
		excess:  -math.Log(sa),
	}
	if alcohol > 1e-12 {
		p.excess -= water * math.Log1p(alcohol*(wa-1)) / alcohol
	} else {
		p.excess -= wa - 1
	}
	return p
}
