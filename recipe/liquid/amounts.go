package liquid

// Amounts says how much there is of each component: kg, or fractions by mass. Less than nothing counts as nothing: an
// integrator may step a hair below zero.
type Amounts [NumComponents]float64

// Total returns the sum, in the unit of the amounts.
func (a Amounts) Total() float64 {
	sum := 0.0
	for _, m := range a {
		sum += max(m, 0)
	}
	return sum
}

// MoleFractions returns the share of each component in the molecules; the sum is 1, or 0 where there is nothing.
func (a Amounts) MoleFractions() [NumComponents]float64 {
	var x [NumComponents]float64
	sum := 0.0
	for i, m := range a {
		x[i] = max(m, 0) / pures[i].molar
		sum += x[i]
	}
	if sum > 0 {
		for i := range x {
			x[i] /= sum
		}
	}
	return x
}

// alcohol returns the fraction by mass of both alcohols together and how much of them is isopropanol, each 0 to 1.
// Without any alcohol the latter is 1; without anything the former is 0.
func (a Amounts) alcohol() (share, isopropanol float64) {
	isopropanol = 1
	all, both := a.Total(), max(a[Isopropanol], 0)+max(a[Ethanol], 0)
	if both > 0 {
		share, isopropanol = both/all, max(a[Isopropanol], 0)/both
	}
	return share, isopropanol
}
