package sweep

import (
	"math"
	"slices"
	"strings"

	"fullery/recipe"
	"fullery/recipe/liquid"
)

// Usual returns the values to try when nobody names any: about three on every axis that the recipe and the bench have,
// the recipe's own among them. An axis whose stages differ from each other is left alone: one value for all would be
// another recipe.
func Usual(r recipe.Recipe, b recipe.Bench) (g Grid) {
	own := Own(r)
	if own[Scrub] != AsRecipe {
		g[Scrub] = around(own[Scrub], 2.0/3, 4.0/3, 5)
	}
	if own[SpinOut] != AsRecipe {
		g[SpinOut] = around(own[SpinOut], 0.5, 2, 5)
	}
	if own[Fan] != AsRecipe {
		g[Fan] = usualFan(own[Fan], b.Fan.Least)
	}
	g[Strength] = usualStrengths(r)
	if own[Warm] != AsRecipe && !burns(r, b, g[Strength]) {
		g[Warm] = usualWarmth(own[Warm], b)
	}
	for a, list := range g {
		slices.Sort(list)
		if g[a] = slices.Compact(list); len(g[a]) < 2 {
			g[a] = nil
		}
	}
	return g
}

// around is a value with a smaller and a larger one, both rounded to a step.
func around(v, less, more, step float64) []float64 {
	list := []float64{v}
	for _, x := range []float64{v * less, v * more} {
		if x = math.Round(x/step) * step; x > 0 {
			list = append(list, x)
		}
	}
	return list
}

// usualFan is full, three quarters and half, as far as the fan turns reliably.
func usualFan(own, least float64) []float64 {
	list := []float64{own}
	for _, x := range []float64{0.5, 0.75, 1} {
		if x >= least {
			list = append(list, x)
		}
	}
	return list
}

// usualStrengths are those that liquid lists of the same alcohol. A recipe that gives nothing only dries what is there:
// its strength is no choice.
func usualStrengths(r recipe.Recipe) (list []float64) {
	own, err := liquid.Parse(r.Liquid)
	if err != nil || own.Alcohol == 0 || r.Dose() == 0 {
		return nil
	}
	if s := ownStrength(r.Liquid); s != AsRecipe {
		list = append(list, s)
	}
	kind, _, _ := strings.Cut(r.Liquid, "-")
	for _, name := range liquid.Usual() {
		if l, err := liquid.Parse(name); err == nil && strings.HasPrefix(name, kind+"-") {
			list = append(list, l.Alcohol)
		}
	}
	return list
}

// usualWarmth is unwarmed, half-way to the warmest that the bench may ask for, and that. The controller holds the air
// at no more than its limit; a step of 1 K below it leaves room for its swing.
func usualWarmth(own float64, b recipe.Bench) []float64 {
	if b.Heater.Power == 0 {
		return nil
	}
	const margin, fine = 1, 1
	most := math.Floor((b.Heater.AirLimit-margin-celsius)/fine)*fine + celsius
	half := math.Round((b.Room.Air+most)/2-celsius) + celsius
	list := []float64{0, own}
	for _, v := range []float64{half, most} {
		if v > b.Room.Air && Warm.Check(v) == nil {
			list = append(list, v)
		}
	}
	return list
}

// burns tells whether anything flammable is about: in the recipe, at one of the strengths, or on pads and bath.
func burns(r recipe.Recipe, b recipe.Bench, strengths []float64) bool {
	names := []string{r.Liquid, r.Rinse}
	for _, s := range strengths {
		names = append(names, ofStrength(r.Liquid, s))
	}
	for _, name := range names {
		if l, err := liquid.Parse(name); name != "" && (err != nil || l.Flammable) {
			return true
		}
	}
	return b.PadsAndBathHeld != ""
}

// Burns tells whether a liquid of the recipe can burn, so that its vapour counts.
func Burns(r recipe.Recipe) bool { return burns(r, recipe.Bench{}, nil) }
