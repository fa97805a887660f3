package liquid

// flashes is the closed-cup flash point of the pure alcohol in kelvin: NFPA 497 (2008). IEC 60079-20-1 (2010) has 12 °C
// for both, NIOSH 53 and 55 °F.
var flashes = [NumComponents]float64{Isopropanol: 12 + celsius0, Ethanol: 13 + celsius0}

// FlashPoint returns an estimate of the closed-cup flash point in kelvin; ok is false for water, and where a mixture has
// none below 100 °C.
//
// Liaw's rule: the mixture flashes where Σ γ·x·p(T)/p(T of the pure flash point) = 1 over what burns. For ethanol it
// is within 3 K of a published list from 30 to 90 % by volume, and up to 8 K below it (to the cautious side) for
// weaker mixtures. A product's own figure is in its safety data sheet, and comes first.
func (l Liquid) FlashPoint() (kelvin float64, ok bool) {
	return flashPoint(l.Composition().MoleFractions())
}

func flashPoint(x [NumComponents]float64) (kelvin float64, ok bool) {
	low, high := celsius0-30, celsius0+100
	if burns(x, high) < 1 {
		return 0, false
	}
	for range 50 {
		kelvin = (low + high) / 2
		if burns(x, kelvin) < 1 {
			low = kelvin
		} else {
			high = kelvin
		}
	}
	return kelvin, true
}

// burns returns how much fuel the vapour over a mixture holds, as a multiple of what it takes to flash.
func burns(x [NumComponents]float64, kelvin float64) float64 {
	gamma, sum := Activity(x, kelvin), 0.0
	for _, c := range [...]Component{Isopropanol, Ethanol} {
		sum += gamma[c] * x[c] * c.Saturation(kelvin) / c.Saturation(flashes[c])
	}
	return sum
}
