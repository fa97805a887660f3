package liquid

import "math"

// coldest is where saturation pressures end, in kelvin. Nothing on a bench is colder, and the equations are not meant
// for it.
const coldest = 200.0

// Saturation returns the vapour pressure over the pure liquid, Pa, at a temperature in kelvin.
//
// Water: IAPWS-IF97, region 4, from 273.15 K to the critical point; below freezing it goes on as for supercooled
// water, not ice. Alcohols: Antoine equations from Poling, The Properties of Gases and Liquids (5th ed.), app. A,
// meant for 281 to 373 K (isopropanol) and 277 to 370 K (ethanol). At 0 °C that of isopropanol reads 4 to 6 % above
// two correlations with a wider range; inside the range the handbooks themselves differ by as much. That of ethanol
// stays within 1 %. Below 200 K and above the critical point the value at that end is returned.
func (c Component) Saturation(kelvin float64) float64 {
	t := min(max(kelvin, coldest), c.pure().critical)
	switch c {
	case Isopropanol:
		return antoine(10.24268, 1580.92, 53.54, t)
	case Ethanol:
		return antoine(10.33675, 1648.22, 42.232, t)
	default:
		return region4(t)
	}
}

// antoine is log10(p/Pa) = a − b/(T − c).
func antoine(a, b, c, kelvin float64) float64 { return math.Exp(math.Ln10 * (a - b/(kelvin-c))) }

// region4 is eq. 30 of the IAPWS release R7-97 (2012) on the industrial formulation 1997, with its coefficients n1 to
// n10 from table 34.
func region4(kelvin float64) float64 {
	const (
		n1, n2, n3 = 0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2
		n4, n5, n6 = 0.12020824702470e5, -0.32325550322333e7, 0.14915108613530e2
		n7, n8     = -0.48232657361591e4, 0.40511340542057e6
		n9, n10    = -0.23855557567849, 0.65017534844798e3
	)
	s := kelvin + n9/(kelvin-n10)
	a := (s+n1)*s + n2
	b := (n3*s+n4)*s + n5
	c := (n6*s+n7)*s + n8
	root := 2 * c / (math.Sqrt(b*b-4*a*c) - b)
	root *= root
	return root * root * 1e6
}
