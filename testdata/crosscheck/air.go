package main

import (
	"math/rand/v2"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

var saturationAir = comparison{
	name: "saturation", reference: psychrolib, points: 1000,
	why:     "after ASHRAE, an older formulation than ours: 0.1 % is what was promised",
	figures: []figure{{name: "saturation pressure of water, psychrolib", bound: 1e-3}},
	draw:    atBench(func(k float64) []float64 { return []float64{liquid.Water.Saturation(k)} }),
}

// The reference adds what left the liner to what the room's air brought, and says how damp that is at the outlet.
var outletHumidity = comparison{
	name: "outlet", reference: psychrolib, points: 1000,
	why:     "a balance of water over the cell in psychrolib's humidity ratios: its gas constants and saturation pressures",
	figures: []figure{{name: "relative humidity at the outlet of a drying, psychrolib", bound: 1e-3}},
	draw: func(random *rand.Rand) (point, bool) {
		c := drying.Case{Liquid: water, Kept: across(random, 0.3e-6, 6e-6), Air: between(random, zeroC+10, zeroC+40),
			Humidity: between(random, 0.05, 0.9), Film: across(random, 0.03, 1), Flow: across(random, 0.3e-3, 10e-3),
			Pressure: between(random, 70e3, 105e3)}
		if random.IntN(2) == 0 {
			c.Warm = c.Air + between(random, 0, 20)
		}
		r, err := drying.Run(c, drying.Options{Curve: true})
		if err != nil || r.Never {
			return point{}, false
		}
		p := r.Curve[random.IntN(len(r.Curve))]
		if p.Outlet < zeroC+1 {
			return point{}, false // psychrolib goes on with ice
		}
		given := []float64{c.Air - zeroC, c.Humidity, c.Pressure, c.Flow, p.Outlet - zeroC, p.Rate}
		return point{given, []float64{p.Humidity}}, true
	},
}

// A liner with much liquid in much air sits at its wet bulb for long.
var wetBulb = comparison{
	name: "wet-bulb", reference: psychrolib, points: 1000,
	why: "theirs is adiabatic saturation, ours a wet surface: vapour spreads faster than heat, so that it lies up to 0.6 K " +
		"lower in hot dry air; from 10 % humidity",
	figures: []figure{{name: "wet bulb of water, psychrolib", bound: 0.7, unit: "K"}},
	draw: func(random *rand.Rand) (point, bool) {
		c := drying.Case{Liquid: water, Kept: 50e-6, Air: between(random, zeroC+5, zeroC+45),
			Humidity: between(random, 0.1, 0.95), Film: 0.5, Flow: 1, Pressure: between(random, 80e3, 105e3)}
		r, err := drying.Run(c, drying.Options{})
		if err != nil || r.Coldest < zeroC+1 {
			return point{}, false // psychrolib goes on with ice
		}
		return point{[]float64{c.Air - zeroC, c.Humidity, c.Pressure}, []float64{r.Coldest - zeroC}}, true
	},
}
