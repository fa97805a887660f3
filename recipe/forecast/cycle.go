package forecast

import (
	"cmp"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
	"fullery/recipe/liquid"
)

// cycle is one run of the recipe, worked out stage by stage.
type cycle struct {
	recipe  recipe.Recipe
	bench   recipe.Bench
	belief  drying.Belief
	clock   float64       // s, 0: evidence ends a drying
	dries   liquid.Liquid // what the liner is wet with in the end
	burns   liquid.Liquid // whose vapour is followed
	burning bool

	run    []recipe.Stage
	stages []Stage
	dry    *Dry

	// What was given counts from the start of its stage: earlier is more vapour.
	given   float64 // m³ of all liquids, from both pumps
	gone    float64 // m³ that evaporated, while it was wet work, if it was all of the liquid that burns
	air     drying.Case
	vapour  drying.Case    // the drying whose vapour counts
	curve   []drying.Point // of the liner as it dries
	passing float64        // m³/s of vapour from pads and tray while it does
	spans   []Span
	peak    Peak
	pieces  []piece // of the curve in the duct, to be followed closely when it is asked for
}

// newCycle works everything out but what is derived from it: the needs and the choice of flows do it again and again with
// another bench.
func newCycle(a Ask) (*cycle, error) {
	c := &cycle{recipe: a.Recipe, bench: a.Bench, belief: a.Belief, clock: a.ByClock.Seconds(), run: a.Recipe.Unrolled()}
	if err := c.liquids(); err != nil {
		return nil, err
	}
	if err := a.check(c.burning); err != nil {
		return nil, err
	}
	c.stages = make([]Stage, len(c.run))
	for i := range c.run {
		// As the controller does it: after a liquid that burns the fan turns in every stage.
		if s := &c.run[i]; c.burning && s.Fan == 0 {
			s.Fan = 1
		}
	}
	if err := c.wetWork(); err != nil {
		return nil, err
	}
	return c, c.dryWork()
}

// liquids finds out what dries and what burns. Of two liquids that burn the last on the disk is followed; one that burns
// goes on to count for all of the liquid when water has rinsed it, or when pads and bath held it before.
func (c *cycle) liquids() error {
	last := cmp.Or(c.recipe.Rinse, c.recipe.Liquid, "water")
	for _, name := range []string{last, c.recipe.Rinse, c.recipe.Liquid, c.bench.PadsAndBathHeld} {
		if name == "" {
			continue
		}
		l, err := liquid.Parse(name)
		if err != nil {
			return err
		}
		if c.dries.Name == "" {
			c.dries = l
		}
		if l.Flammable && !c.burning {
			c.burns, c.burning = l, true
		}
	}
	return nil
}

// around is the air of a stage, with what dries in the end.
func (c *cycle) around(s recipe.Stage) drying.Case {
	air := endpoint.Around(&c.bench, s)
	air.Liquid = c.dries
	return air
}

// fuel returns which substance burns and its share of the mass of the liquid.
func (c *cycle) fuel() (of liquid.Component, share float64) {
	for i, w := range c.burns.Composition() {
		if liquid.Component(i).LowerLimit() > 0 && w > share {
			of, share = liquid.Component(i), w
		}
	}
	return of, share
}

// wetWork goes through the stages before the first dry: their times, and the vapour of a liner that is fully wet with all
// that was given so far, fresh and as warm as the room at the start of every stage. All of that errs to more vapour.
func (c *cycle) wetWork() error {
	const most = 1e-4 // m³, as much as a drying is computed for
	for i, s := range c.run {
		if s.Do == recipe.Dry {
			return nil
		}
		d := s.For.Seconds()
		c.stages[i].Seconds = drying.Spread{Median: d, Low: d, High: d}
		c.given += s.Flow * d
		left := min(c.given-c.gone, most)
		if !c.burning || left < 1e-9 {
			c.spans = append(c.spans, Span{Seconds: d})
			continue
		}
		// Critical at its least: the pads keep the disk wetted, so that its mass transfer does not fall off as it empties.
		air := c.around(s)
		air.Liquid, air.Kept, air.Until = c.burns, left, 1e-3
		air.Film *= c.belief.Exposure().Median
		followed := drying.Options{Horizon: max(d, 1), Critical: 1e-3, Curve: true}
		r, err := drying.Run(air, followed)
		if err != nil {
			return err
		}
		before := c.out()
		c.pieces = append(c.pieces, piece{start: c.begins(i), long: d, of: air, how: followed})
		c.follow(i, air.Flow, r.Curve, 0, d, 0)
		of, share := c.fuel()
		mass := (c.out() - before) / molarVolume(c.bench.Room.Air) * of.MolarMass()
		c.gone += mass / share / liquid.Density(c.burns.Composition(), c.bench.Room.Air)
	}
	return nil
}

// out returns the vapour so far, m³.
func (c *cycle) out() (sum float64) {
	for _, s := range c.spans {
		sum += s.Vapour * s.Seconds
	}
	return sum
}
