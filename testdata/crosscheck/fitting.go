package main

import (
	"math"
	"math/rand/v2"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// fitted are the liquids that synthetic logs are of.
var fitted = []liquid.Liquid{named("water-detergent"), named("isopropanol-99")}

// evidences are those that say when a liner got dry; the reference knows them by their place here.
var evidences = []drying.Evidence{drying.ByWeight, drying.BySurface, drying.ByAir, drying.ByDrag}

// SciPy calls drying.Run for minutes, because the equations are compared elsewhere, and knows the rest from the written
// description: residuals in standard deviations of the logarithm, log-normal priors, the covariance from the curvature,
// widened when the logs scatter more than assumed. The rule for outliers is left out: such draws are thrown away.
var fits = comparison{
	name: "fit", reference: pythonLibraries, points: 1000,
	why: "the least sum of squares by SciPy's trust region; a Run is exact to one or two in a thousand, so that slopes from " +
		"nudges of a twentieth are to a few in a hundred",
	figures: []figure{
		{name: "fitted exposure, SciPy least_squares", bound: 0.02},
		{name: "fitted volume of the first liquid, SciPy least_squares", bound: 0.02},
		{name: "width of the exposure's interval, SciPy least_squares", bound: 0.04},
		{name: "width of the volume's interval, SciPy least_squares", bound: 0.04},
	},
	draw: func(random *rand.Rand) (point, bool) {
		logs, given := anyLogs(random)
		belief, report, err := drying.Fit(drying.Belief{}, logs)
		if err != nil || report.Outliers > 0 {
			return point{}, false
		}
		return point{given, []float64{
			math.Exp(belief.Mean[0]), math.Exp(belief.Mean[1]), math.Sqrt(belief.Cov[0][0]), math.Sqrt(belief.Cov[1][1]),
		}}, true
	},
}

// anyLogs draws a bench, and two to six dryings on it with noise; the first is of the first liquid that a belief lists.
// A log is given to the reference as liquid, air, humidity, film, flow, until, evidence, minutes, and m³ weighed or 0.
func anyLogs(random *rand.Rand) (logs []drying.Log, given []float64) {
	exposure := 0.2 * random.NormFloat64()
	kept := []float64{math.Log(2e-6) + 0.2*random.NormFloat64(), math.Log(2e-6) + 0.2*random.NormFloat64()}
	for range 2 + random.IntN(5) {
		which, sees := random.IntN(len(fitted)), random.IntN(len(evidences))
		c := drying.Case{Liquid: fitted[which], Air: between(random, zeroC+16, zeroC+26),
			Humidity: between(random, 0.25, 0.65), Film: across(random, 0.1, 0.5), Flow: across(random, 1e-3, 6e-3), Until: 0.01}
		this := kept[which] + 0.05*random.NormFloat64()
		minutes, err := minutesOf([]float64{float64(which), c.Air, c.Humidity, c.Film, c.Flow, c.Until, exposure, this})
		if err != nil {
			continue
		}
		minutes *= math.Exp(0.12 * random.NormFloat64())
		if random.IntN(3) == 0 {
			c.Kept = math.Exp(this + 0.03*random.NormFloat64())
		}
		logs = append(logs, drying.Log{Case: c, Minutes: minutes, Evidence: evidences[sees]})
		given = append(given, float64(which), c.Air, c.Humidity, c.Film, c.Flow, c.Until, float64(sees), minutes, c.Kept)
	}
	return logs, given
}
