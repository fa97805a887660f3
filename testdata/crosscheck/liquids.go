package main

import (
	"math/rand/v2"

	"fullery/recipe/liquid"
)

const zeroC = 273.15

// water is pure water by name; the names used in this program are all known, so that an error is a mistake in it.
var water = named("water")

func named(name string) liquid.Liquid {
	l, err := liquid.Parse(name)
	if err != nil {
		panic(err)
	}
	return l
}

// atBench returns a draw of figures of water at a temperature from 0 to 60 °C.
func atBench(figures func(kelvin float64) []float64) func(*rand.Rand) (point, bool) {
	return func(random *rand.Rand) (point, bool) {
		kelvin := between(random, zeroC, zeroC+60)
		return point{[]float64{kelvin}, figures(kelvin)}, true
	}
}

var saturation97 = comparison{
	name: "saturation-if97", reference: pythonLibraries, points: 5000,
	why:     "the same equation written twice: the release's digits, and rounding",
	figures: []figure{{name: "saturation pressure of water, iapws IF97", bound: 1e-9}},
	draw:    atBench(func(k float64) []float64 { return []float64{liquid.Water.Saturation(k)} }),
}

var saturation95 = comparison{
	name: "saturation-iapws95", reference: pythonLibraries, points: 1000,
	why:     "another formulation, solved for equal Gibbs energies of both phases; 0.1 % is what was promised",
	figures: []figure{{name: "saturation pressure of water, iapws IAPWS-95", bound: 1e-3}},
	draw:    atBench(func(k float64) []float64 { return []float64{liquid.Water.Saturation(k)} }),
}

var latent = comparison{
	name: "latent", reference: pythonLibraries, points: 1000,
	why:     "Watson's rule through two handbook values: 0.2 % is what its comment promises",
	figures: []figure{{name: "latent heat of water, iapws IF97", bound: 2e-3}},
	draw:    atBench(func(k float64) []float64 { return []float64{liquid.Water.Latent(k)} }),
}

var liquidWater = comparison{
	name: "liquid-water", reference: pythonLibraries, points: 1000,
	why: "density: Kell's equation; viscosity: Vogel's, 3 % promised; tension: the same equation; heat: one number for all",
	figures: []figure{
		{name: "density of water, iapws IF97", bound: 1e-4},
		{name: "viscosity of water, iapws", bound: 0.03},
		{name: "surface tension of water, iapws", bound: 1e-6},
		{name: "heat capacity of water, iapws IF97", bound: 0.01},
	},
	draw: atBench(func(k float64) []float64 {
		return []float64{liquid.Density(liquid.Amounts{liquid.Water: 1}, k), water.Viscosity(k), water.SurfaceTension(k),
			liquid.Water.HeatCapacity()}
	}),
}

var activities = comparison{
	name: "activity", reference: pythonLibraries, points: 5000,
	why: "the excess Gibbs energies of Wilson and van Laar, differentiated by the complex step: rounding",
	figures: []figure{
		{name: "activity coefficient of water, NumPy", bound: 1e-9},
		{name: "activity coefficient of isopropanol, NumPy", bound: 1e-9},
		{name: "activity coefficient of ethanol, NumPy", bound: 1e-9},
	},
	draw: func(random *rand.Rand) (point, bool) {
		x := [liquid.NumComponents]float64{random.ExpFloat64(), random.ExpFloat64(), random.ExpFloat64()}
		if rare := random.IntN(6); rare < len(x) {
			x[rare] *= 1e-6 // traces, where quotients of small numbers would show
		}
		sum := x[0] + x[1] + x[2]
		for i := range x {
			x[i] /= sum
		}
		kelvin := between(random, zeroC, zeroC+60)
		gamma := liquid.Activity(x, kelvin)
		return point{append(x[:], kelvin), gamma[:]}, true
	},
}
