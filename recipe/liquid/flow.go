package liquid

import "math"

// thickens is how much a mixture with water exceeds the logarithmic mean of viscosities; see Viscosity.
var thickens = [NumComponents]float64{Isopropanol: 3.5, Ethanol: 4}

// Viscosity returns the dynamic viscosity, Pa·s, at a temperature in kelvin.
//
// Pure water follows Vogel's equation within 3 % from 0 to 60 °C, pure alcohols Perry's table 2-313. Mixtures are
// thicker than either. The rule is of the form of Grunberg and Nissan, in mass fractions, ln η = Σ w·ln η + G·w·(1−w),
// with one G for each alcohol, chosen from memory of measured maxima near 2.9 (ethanol) and 3.8 mPa·s (isopropanol) at
// 20 °C. Take it as right within 30 %, no better.
func (l Liquid) Viscosity(kelvin float64) float64 {
	w, sum := l.Composition(), 0.0
	for i := range w {
		sum += w[i] * (math.Log(Component(i).viscosity(kelvin)) + thickens[i]*w[Water])
	}
	return math.Exp(sum)
}

func (c Component) viscosity(kelvin float64) float64 {
	t := min(max(kelvin, 250), 400)
	switch c {
	case Isopropanol:
		return math.Exp(-8.8918 + 2357.6/t - 0.91376*math.Log(t))
	case Ethanol:
		return math.Exp(7.875 + 781.98/t - 3.0418*math.Log(t))
	default:
		return 2.414e-5 * math.Pow(10, 247.8/(t-140)) // Vogel, constants from memory
	}
}

// crowding is how much rather a molecule of alcohol sits in the surface than one of water: K of the Langmuir rule in
// SurfaceTension. From memory of measurements at 25 °C.
var crowding = [NumComponents]float64{Water: 1, Isopropanol: 50, Ethanol: 20}

// SurfaceTension returns it against air, N/m, at a temperature in kelvin.
//
// Pure water follows IAPWS R1-76, pure alcohols straight lines after Jasper. In a mixture the alcohol crowds the
// surface by the Langmuir rule, xs = K·x/(Σ K·x), and the tension goes by the share of the surface. The K come from
// memory; take it as right within 15 %.
func (l Liquid) SurfaceTension(kelvin float64) float64 {
	x, all, sum := l.Composition().MoleFractions(), 0.0, 0.0
	for i := range x {
		seat := crowding[i] * x[i]
		all += seat
		sum += seat * Component(i).tension(kelvin)
	}
	return sum / all
}

func (c Component) tension(kelvin float64) float64 {
	t := min(max(kelvin, 250), 400)
	switch c {
	case Isopropanol:
		return 22.90e-3 - 0.0789e-3*(t-celsius0)
	case Ethanol:
		return 24.05e-3 - 0.0832e-3*(t-celsius0)
	default:
		tau := 1 - t/647.096
		return 235.8e-3 * math.Pow(tau, 1.256) * (1 - 0.625*tau)
	}
}
