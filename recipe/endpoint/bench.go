package endpoint

import (
	"cmp"
	"math"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// A real bench's file states no film conductance, because nobody can read it off: 0.3 W/K at full stirring stands in,
// about 25 W/(m² K) on 120 cm². Assumed, not measured; a bench's exposure is learned as a factor on it.
const (
	UsualFilm    = 0.3
	restStirring = 0.15 // of that, when the fan stands; assumed
)

// StatesFilm tells whether the bench file gives the film conductance.
func StatesFilm(b *recipe.Bench) bool { return b.Simulated && b.Sim.Film > 0 }

// Around is the air of a stage on a bench, with no liquid in it yet. A laminar film's conductance goes with the square
// root of the speed over it, and the through-flow with the speed of the fan.
func Around(b *recipe.Bench, s recipe.Stage) drying.Case {
	film := UsualFilm
	if StatesFilm(b) {
		film = b.Sim.Film
	}
	air := drying.Case{Air: b.Room.Air, Humidity: b.Room.Humidity, Flow: b.Fan.Through * s.Fan,
		Film: max(film*max(restStirring, math.Sqrt(s.Fan)), 1e-3)}
	if s.Warm > b.Room.Air {
		air.Warm = s.Warm
	}
	return air
}

// ForStage plans the drying of a recipe's dry stage on a bench. A liner is taken to keep no more than it was given.
func ForStage(b drying.Belief, r recipe.Recipe, bench *recipe.Bench, s recipe.Stage) (*Plan, error) {
	c, err := CaseOf(b, r, bench, s)
	if err != nil {
		return nil, err
	}
	return New(b, c, ByBench(bench, c))
}

// CaseOf is the drying of a recipe's dry stage on a bench, from what the wet work made of the liquid on. Kept is 0, for what
// the belief holds, unless the recipe gives less than that.
func CaseOf(b drying.Belief, r recipe.Recipe, bench *recipe.Bench, s recipe.Stage) (drying.Case, error) {
	l, err := liquid.Parse(cmp.Or(r.Rinse, r.Liquid, "water"))
	if err != nil {
		return drying.Case{}, err
	}
	c := Around(bench, s)
	c.Liquid, c.Kept = begins(b, r, bench, l)
	return c, nil
}
