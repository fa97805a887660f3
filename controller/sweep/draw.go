package sweep

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// Draws are simulated benches drawn from what is believed of one. Draw number n is the same however many are drawn, and
// whatever the recipe: all candidates meet the same chance.
type Draws struct {
	Belief drying.Belief
	Seed   uint64
}

// What a bench file of a real bench does not say. 0.3 W/K is what the forecast assumes as well; the rest is that of
// the shipped simulated bench. Assumed, not measured.
const (
	usualFilm     = 0.3 // W/K
	usualFriction = 0.3
	usualUneven   = 0.1
)

// Where a simulated bench still makes sense; a belief may be so wide that a draw leaves it.
const (
	leastFilm, mostFilm = 0.001, 10.0 // W/K
	leastKept, mostKept = 1e-9, 20e-6 // m³
)

// Bench returns the bench of one draw for a recipe: what the liner keeps and how exposed it is are drawn, and so is the
// noise of its sensors. A bench of which no [sim] is known, because it is real, gets assumed figures and sensors without
// noise. The error is one sentence for a liquid that nobody knows.
func (d Draws) Bench(b recipe.Bench, r recipe.Recipe, number int) (recipe.Bench, error) {
	dries, err := liquid.Parse(cmp.Or(r.Rinse, r.Liquid, "water"))
	if err != nil {
		return b, err
	}
	if !b.Simulated {
		b.Sim = recipe.Sim{Film: usualFilm, Uneven: usualUneven, Friction: usualFriction, Front: 1, Back: 1}
	}
	if !(b.Sim.Film > 0) {
		return b, fmt.Errorf("the bench file gives a film conductance of %g W/K, with which nothing dries", b.Sim.Film)
	}
	random := rand.New(rand.NewPCG(d.Seed, uint64(number)))
	u, v, w := random.NormFloat64(), random.NormFloat64(), random.NormFloat64()
	exposure, kept := d.pair(dries, u, v)
	// One drying scatters around the model: another disk, another place in the cell. In the exposure it makes about the
	// same difference to the time.
	exposure *= math.Exp(cmp.Or(d.Belief.Jitter, drying.Prior().Jitter) * w)
	b.Sim.Film = min(max(b.Sim.Film*exposure, leastFilm), mostFilm)
	b.Sim.Kept = min(max(kept, leastKept), mostKept)
	b.Sim.Seed = random.Uint64()
	return b, nil
}

// pair is exposure (a factor) and what is kept (m³) at two independent standard normal numbers.
func (d Draws) pair(l liquid.Liquid, u, v float64) (exposure, kept float64) {
	e, k := d.Belief.Exposure(), d.Belief.Kept(l)
	wideE, wideK := width(e), width(k)
	along := 0.0
	if at := 1 + slices.Index(d.Belief.Liquids, l.Name); at > 0 && len(d.Belief.Cov) > at && wideE > 0 && wideK > 0 {
		along = min(max(d.Belief.Cov[0][at]/(wideE*wideK), -1), 1)
	}
	return e.Median * math.Exp(wideE*u), k.Median * math.Exp(wideK*(along*u+math.Sqrt(1-along*along)*v))
}

// width is the standard deviation of the logarithm: 80 % lie within 1.28 of it.
func width(s drying.Spread) float64 {
	const eighty = 1.2815515655446004
	return math.Log(s.High/s.Median) / eighty
}
