package simbench

import "math"

// pairs are the constants of Margules' equation with three suffixes for an alcohol (first) in much water and water
// (second) in much of that alcohol, ln γ at infinite dilution. They were fitted here to measured equilibria with the
// vapour pressures of saturation: isopropanol to boiling points and vapours at one atmosphere, ethanol to the pressures
// and vapours at 30 °C; the tables are in testdata, how well they are met is in the tests. The constants are taken as
// the same at every temperature.
var pairs = [numParts][2]float64{isopropanol: {1.94, 1.04}, ethanol: {1.48, 0.92}}

// activities returns ln γ of every component at the mole fractions x, which add up to 1.
//
// Water counts against each alcohol, alcohols mix ideally with each other. The excess Gibbs energy in RT, with N moles
// in all of which A are alcohol, is
//
//	G = n_w/N²·Σ n_k·(a_k·n_w + b_k·A)
//
// and what follows are its derivatives, so that all three are consistent (Gibbs and Duhem).
func activities(x *[numParts]float64) (ln [numParts]float64) {
	alcohol := x[isopropanol] + x[ethanol]
	a := pairs[isopropanol][0]*x[isopropanol] + pairs[ethanol][0]*x[ethanol]
	b := pairs[isopropanol][1]*x[isopropanol] + pairs[ethanol][1]*x[ethanol]
	w := x[water]
	excess := a*w + b*alcohol
	ln[water] = 2*a*w + b*alcohol - 2*w*excess
	for k := isopropanol; k < numParts; k++ {
		ln[k] = w * (pairs[k][0]*w + pairs[k][1]*alcohol + b - 2*excess)
	}
	return ln
}

// gammas returns the activity coefficients; those of what is not there are 1.
func gammas(x *[numParts]float64) (gamma [numParts]float64) {
	gamma = [numParts]float64{1, 1, 1}
	if x[water] == 1 || x[water] == 0 {
		return gamma
	}
	ln := activities(x)
	for i := range gamma {
		if x[i] > 0 {
			gamma[i] = math.Exp(ln[i])
		}
	}
	return gamma
}
