package simbench

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// over returns the pressure over a mixture in Pa and the mole fraction of its vapour that is alcohol.
func over(alcohol part, x, kelvin float64) (pa, y float64) {
	mix := [numParts]float64{water: 1 - x}
	mix[alcohol] = x
	gamma := gammas(&mix)
	of := x * gamma[alcohol] * alcohol.saturation(kelvin)
	pa = of + (1-x)*gamma[water]*water.saturation(kelvin)
	return pa, of / pa
}

// boils returns the temperature, K, at which a mixture boils at one atmosphere, and its vapour.
func boils(alcohol part, x float64) (kelvin, y float64) {
	low, high := zeroC+60, zeroC+110
	for range 60 {
		kelvin = (low + high) / 2
		pa, is := over(alcohol, x, kelvin)
		if y = is; pa > pressure {
			high = kelvin
		} else {
			low = kelvin
		}
	}
	return kelvin, y
}

// Isopropanol and water at one atmosphere. The source is in the table's head.
func TestIsopropanolWaterBoils(t *testing.T) {
	for _, row := range published(t, "../../testdata/liquid/isopropanol_water_boiling.csv") {
		x := row.number("x")
		kelvin, y := boils(isopropanol, x)
		if math.Abs(kelvin-zeroC-row.number("t_c")) > 0.35 || math.Abs(y-row.number("y")) > 0.02 {
			t.Errorf("x = %v boils at %.2f °C with y = %.4f, measured %.2f and %.4f", x, kelvin-zeroC, y,
				row.number("t_c"), row.number("y"))
		}
	}
}

// The azeotrope, where liquid and vapour are alike: between x = 0.66 and 0.70 by the same table; handbooks put it at
// 87.4 to 87.9 % by mass and 80.3 to 80.4 °C (from memory).
func TestAzeotrope(t *testing.T) {
	low, high := 0.3, 0.99
	for range 50 {
		x := (low + high) / 2
		if _, y := boils(isopropanol, x); y > x {
			low = x
		} else {
			high = x
		}
	}
	kelvin, _ := boils(isopropanol, low)
	near(t, "azeotrope, mole fraction", low, 0.68, 0.02)
	near(t, "azeotrope, °C", kelvin-zeroC, 80.3, 0.3)
}

// Ethanol and water at 30 °C. The source is in the table's head.
func TestEthanolWaterAt30(t *testing.T) {
	for _, row := range published(t, "testdata/ethanol-water-30c.csv") {
		x := row.number("x")
		pa, y := over(ethanol, x, 303.15)
		if math.Abs(pa/1e3/row.number("kpa")-1) > 0.02 || math.Abs(y-row.number("y")) > 0.012 {
			t.Errorf("x = %v: %.3f kPa with y = %.4f, measured %.3f and %.4f", x, pa/1e3, y, row.number("kpa"), row.number("y"))
		}
	}
}

// A trace of isopropanol in water at 25 °C: 7.5 to 8.2, of ethanol 3.7 to 3.9; measured, from memory, so loosely.
func TestInfiniteDilution(t *testing.T) {
	ln := activities(&[numParts]float64{water: 1})
	near(t, "γ of a trace of isopropanol", math.Exp(ln[isopropanol]), 7.8, 1.5)
	near(t, "γ of a trace of ethanol", math.Exp(ln[ethanol]), 3.8, 1)
}

// Gibbs and Duhem: along any change of make-up, Σ x·d(ln γ) is nothing. What is alone is ideal.
func TestActivitiesAreConsistent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var x, to [numParts]float64
		sum := 0.0
		for i := range x {
			x[i] = rapid.Float64Range(0.02, 1).Draw(t, "share")
			sum += x[i]
		}
		const step = 1e-6
		from, into := rapid.IntRange(0, 2).Draw(t, "from"), rapid.IntRange(0, 2).Draw(t, "to")
		for i := range x {
			x[i] /= sum
		}
		to = x
		to[from] -= step
		to[into] += step
		a, b := activities(&x), activities(&to)
		drift, size := 0.0, 0.0
		for i := range x {
			drift += (x[i] + to[i]) / 2 * (b[i] - a[i])
			size += math.Abs(b[i] - a[i])
		}
		if math.Abs(drift) > 1e-4*size+1e-14 {
			t.Fatalf("%v: Σ x d(ln γ) is %g of %g", x, drift, size)
		}
	})
	for i := range part(numParts) {
		var alone [numParts]float64
		alone[i] = 1
		if g := gammas(&alone); g != [numParts]float64{1, 1, 1} {
			t.Errorf("component %d alone has γ = %v", i, g)
		}
	}
}
