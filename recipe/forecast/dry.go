package forecast

import (
	"fmt"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
	"fullery/recipe/liquid"
)

// Dry is how long the liner takes to dry, whatever the recipe allows for it.
type Dry struct {
	Minutes  drying.Spread // median and 80 % interval; all zero when Never
	Never    bool
	Blushing bool // water from damp air lengthens it
	Basis    string
	Notes    []string // one sentence each
}

// dryWork goes through the dry stages. Several in a row share one drying, in the air of the one that ends when dry.
func (c *cycle) dryWork() error {
	at := -1
	for i, s := range c.run {
		if s.Do == recipe.Dry && (at < 0 || s.UntilDry) {
			at = i
		}
	}
	if at < 0 {
		return nil
	}
	var err error
	if c.air, err = endpoint.CaseOf(c.belief, c.recipe, &c.bench, c.run[at]); err != nil {
		return err
	}
	e, err := drying.Estimate(c.belief, c.air, drying.Options{})
	if err != nil {
		return err
	}
	c.dry = &Dry{Minutes: e.Minutes, Never: e.Never, Blushing: e.Middle.Blushing, Basis: c.basis()}
	c.noteDrying(e)
	if err := c.vapourOfLiner(); err != nil {
		return err
	}
	before := drying.Spread{}
	for i, s := range c.run {
		if s.Do != recipe.Dry {
			continue
		}
		t := c.lasts(s, before)
		c.stages[i].Seconds = t
		if c.burning {
			c.pieces = append(c.pieces, piece{start: c.begins(i), from: before.Median, long: t.Median, of: c.vapour,
				how: drying.Options{Curve: true}, beside: c.beside(c.air.Flow, c.passing)})
			c.follow(i, c.air.Flow, c.curve, before.Median, t.Median, c.passing)
		} else {
			c.spans = append(c.spans, Span{Seconds: t.Median})
		}
		before = drying.Spread{Median: before.Median + t.Median, Low: before.Low + t.Low, High: before.High + t.High}
	}
	return nil
}

// lasts returns the seconds of a dry stage after so many seconds of drying.
func (c *cycle) lasts(s recipe.Stage, before drying.Spread) drying.Spread {
	most := s.AtMost.Seconds()
	if most == 0 {
		most = s.For.Seconds()
	}
	fixed := func(t float64) drying.Spread { return drying.Spread{Median: t, Low: t, High: t} }
	switch {
	case !s.UntilDry:
		return fixed(s.For.Seconds())
	case c.clock > 0:
		return fixed(min(c.clock, most))
	case c.dry.Never:
		return fixed(most)
	}
	left := func(minutes, gone float64) float64 { return min(max(minutes*60-gone, 0), most) }
	m := c.dry.Minutes
	return drying.Spread{Median: left(m.Median, before.Median), Low: left(m.Low, before.Low), High: left(m.High, before.High)}
}

// vapourOfLiner keeps the curve whose vapour counts, and works out what leaves pads and tray beside it: all that was given
// and neither evaporated during the wet work nor is kept by the liner, evenly while the liner dries.
func (c *cycle) vapourOfLiner() error {
	if !c.burning {
		return nil
	}
	kept := c.air.Kept
	if kept == 0 {
		kept = c.belief.Kept(c.dries).Median
	}
	c.vapour = c.air
	c.vapour.Liquid, c.vapour.Kept = c.burns, kept
	c.vapour.Film *= c.belief.Exposure().Median
	if c.burns.Name != c.dries.Name {
		c.vapour.Warm = 0
	}
	// What burns counts as fresh, whatever the wet work made of it: that errs to more vapour.
	middle, err := drying.Run(c.vapour, drying.Options{Curve: true})
	if err != nil {
		return err
	}
	c.curve = middle.Curve
	of, share := c.fuel()
	rest := max(c.given-c.gone-kept, 0) * liquid.Density(c.burns.Composition(), c.bench.Room.Air) * share
	c.passing = VapourVolume(of, rest, c.bench.Room.Air) / (middle.Minutes * 60)
	return nil
}

// basis says what the estimate rests on.
func (c *cycle) basis() string {
	kept, width := c.belief.Kept(c.dries), c.belief.Exposure()
	learned := "a prior, no logged time on this bench yet"
	if len(c.belief.Liquids) > 0 {
		learned = "fitted to the times logged on this bench"
	}
	return fmt.Sprintf("Estimated from the physics: %.1f mL kept by the liner (%.1f to %.1f), exposure %.2f (%.2f to %.2f); %s.",
		kept.Median*1e6, kept.Low*1e6, kept.High*1e6, width.Median, width.Low, width.High, learned)
}

// worthSaying is how much more water than the bottle has, by mass, must dry to be told.
const worthSaying = 0.03

// noteDrying says what is special about the drying itself.
func (c *cycle) noteDrying(e drying.Expected) {
	if e.Reason != "" {
		c.note("It may not get dry at all: %s", e.Reason)
	}
	if e.Middle.Blushing {
		c.note("Blushing: the cold film takes up water from the damp air; without that it would take %.0f min.", e.Middle.WithoutUptake)
	}
	if bottle, dries := c.dries.Composition()[liquid.Water], c.air.Liquid.Composition()[liquid.Water]; dries > bottle+worthSaying {
		c.note("While it is wetted and scrubbed the alcohol leaves first: what then dries holds %.0f %% of water by mass, "+
			"the bottle %.0f %%, and it takes the longer for it.", dries*100, bottle*100)
	}
	if e.Middle.Coldest < 273.15 {
		c.note("The liner cools below 0 °C, where water freezes; the estimate leaves that out.")
	}
	if !endpoint.StatesFilm(&c.bench) {
		c.note("The bench file gives no film conductance; 0.3 W/K was assumed.")
	}
}

// noteTimes says where the drying and the recipe's own limits do not agree.
func (c *cycle) noteTimes(total drying.Spread) {
	if c.dry == nil {
		return
	}
	for _, s := range c.run {
		switch {
		case s.Do != recipe.Dry:
		case s.UntilDry && (c.dry.Never || c.dry.Minutes.High*60 > s.AtMost.Seconds()):
			c.note("The recipe ends the drying after %s, which may come before it is dry.", recipe.SayTime(s.AtMost))
		case s.UntilDry && c.clock > 0 && c.dry.Minutes.High*60 > c.clock:
			c.note("Only the clock ends the drying, after %s, which may come before it is dry.",
				recipe.SayTime(min(time.Duration(c.clock*float64(time.Second)), s.AtMost)))
		case !s.UntilDry && c.dry.Minutes.High*60 > s.For.Seconds():
			c.note("The recipe dries for %s, which may end before it is dry.", recipe.SayTime(s.For))
		}
	}
	if most := c.recipe.Limits.Time; most > 0 && total.High*60 > most.Seconds() {
		c.note("The recipe's limit of %s may cut the cycle short.", recipe.SayTime(most))
	}
}

func (c *cycle) note(format string, args ...any) {
	c.dry.Notes = append(c.dry.Notes, fmt.Sprintf(format, args...))
}
