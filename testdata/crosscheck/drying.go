package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

var dryings = comparison{
	name: "drying", reference: pythonLibraries, points: 1000,
	why: "the same equations written again and followed by LSODA a thousand times more closely",
	figures: []figure{
		{name: "minutes of a drying, SciPy", bound: 5e-3},
		{name: "coldest liner of a drying, SciPy", bound: 0.5, unit: "K"},
		{name: "minutes of a drying at a tolerance of 1e-6, SciPy", bound: 1e-4},
		{name: "coldest liner at a tolerance of 1e-6, SciPy", bound: 0.05, unit: "K"},
	},
	draw: func(random *rand.Rand) (point, bool) {
		c, o := anyDrying(random)
		r, err := drying.Run(c, o)
		if err != nil || r.Never {
			return point{}, false
		}
		o.Tolerance = 1e-6
		fine, err := drying.Run(c, o)
		if err != nil {
			return point{}, false
		}
		w := c.Liquid.Composition()
		// Composition and density have tables of their own in the tests of recipe/liquid, so they are given.
		given := append(w[:], r.KeptMass, c.Air, c.Humidity, max(c.Air, c.Warm), c.Film, c.Flow, c.Until, c.Pressure,
			o.Critical, o.Solid)
		return point{given, []float64{r.Minutes, r.Coldest, fine.Minutes, fine.Coldest}}, true
	},
}

// anyDrying draws from all that a bench might do, and some that none does.
func anyDrying(random *rand.Rand) (drying.Case, drying.Options) {
	c := drying.Case{
		Liquid: anyLiquid(random), Kept: across(random, 0.3e-6, 6e-6), Air: between(random, zeroC+10, zeroC+35),
		Humidity: between(random, 0, 0.85), Film: across(random, 0.03, 1), Flow: across(random, 0.3e-3, 10e-3),
		Until: across(random, 0.005, 0.2), Pressure: between(random, 80e3, 105e3),
	}
	if random.IntN(3) == 0 {
		c.Warm = c.Air + between(random, 0, 20)
	}
	return c, drying.Options{Critical: between(random, 0.1, 0.6), Solid: across(random, 3, 30)}
}

func anyLiquid(random *rand.Rand) liquid.Liquid {
	switch random.IntN(4) {
	case 0:
		return water
	case 1:
		return named(fmt.Sprintf("ethanol-%d", 1+random.IntN(100)))
	default:
		return named(fmt.Sprintf("isopropanol-%d", 1+random.IntN(100)))
	}
}

// serveMinutes answers each line of cases with a line of their minutes, for a method that needs the model inside. A case
// is eight numbers: which of the fitted liquids, room air in K and its relative humidity, W/K, m³/s, the fraction that counts
// as dry, and the logarithms of the exposure and of the m³ kept.
func serveMinutes(in io.Reader, out *bufio.Writer) error {
	lines := bufio.NewScanner(in)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		numbers, err := split(lines.Text())
		if err != nil || len(numbers)%caseNumbers != 0 {
			return fmt.Errorf("%q is not a line of cases", lines.Text())
		}
		var minutes []float64
		for at := 0; at < len(numbers); at += caseNumbers {
			m, err := minutesOf(numbers[at : at+caseNumbers])
			if err != nil {
				return err
			}
			minutes = append(minutes, m)
		}
		out.WriteString(join(minutes) + "\n")
		if err := out.Flush(); err != nil {
			return err
		}
	}
	return lines.Err()
}

const caseNumbers = 8

func minutesOf(x []float64) (float64, error) {
	c := drying.Case{Liquid: fitted[int(x[0])], Air: x[1], Humidity: x[2], Film: x[3] * math.Exp(x[6]), Flow: x[4],
		Until: x[5], Kept: math.Exp(x[7])}
	r, err := drying.Run(c, drying.Options{})
	return r.Minutes, err
}
