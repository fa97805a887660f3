package controller

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"fullery/recipe"
	"fullery/recipe/liquid"
)

// neverAbove is the most that air at a cartridge may ever be asked, in K, whatever a bench file says (50 °C): the
// media standards end at about 51.5 °C in use.
const neverAbove = 323.15

// atMostGrace is the longest a timed stage may take beyond its work when the recipe does not say.
const atMostGrace = 60 * time.Second

// Compile makes a checked recipe ready for one bench: it resolves flows to duties and pressures to forces, chooses
// the evidence of dryness, and refuses what this bench cannot do. The error is recipe.Problems, each at its place in
// the recipe's file. The Program is immutable.
func Compile(r recipe.Recipe, b recipe.Bench) (*Program, error) {
	c := compiler{r: own(r), b: b}
	c.b.Pump.Curve, c.b.RinsePump.Curve = slices.Clone(b.Pump.Curve), slices.Clone(b.RinsePump.Curve)
	p := c.program()
	c.stages(p)
	c.whole(p)
	if bad := c.problems.Sorted().Errors(); len(bad) > 0 {
		return nil, bad
	}
	return p, nil
}

// own copies what a recipe shares with whoever read it: a program is immutable.
func own(r recipe.Recipe) recipe.Recipe {
	r.Stages, r.Media = slices.Clone(r.Stages), slices.Clone(r.Media)
	return r
}

// Fit returns what Compile has to say about a recipe on a bench, warnings included.
func Fit(r recipe.Recipe, b recipe.Bench) recipe.Problems {
	c := compiler{r: r, b: b}
	p := c.program()
	c.stages(p)
	c.whole(p)
	return c.problems.Sorted()
}

type compiler struct {
	r        recipe.Recipe
	b        recipe.Bench
	problems recipe.Problems
}

// refuse notes a problem at a place in the recipe ("stage.2.flow").
func (c *compiler) refuse(at, hint, format string, args ...any) {
	c.problems = append(c.problems, recipe.Problem{Place: c.r.Place(at), Said: fmt.Sprintf(format, args...), Hint: hint})
}

func (c *compiler) warn(at, hint, format string, args ...any) {
	c.refuse(at, hint, format, args...)
	c.problems[len(c.problems)-1].Warning = true
}

// program resolves what holds for every stage.
func (c *compiler) program() *Program {
	p := &Program{
		recipe: c.r, bench: c.b, timing: usualTiming,
		forceLow:     c.r.Pads.Pressure * (1 - c.r.Pads.Within) * c.b.Pads.Area,
		forceHigh:    c.r.Pads.Pressure * (1 + c.r.Pads.Within) * c.b.Pads.Area,
		balance:      c.r.Pads.Balance,
		doseLimit:    c.r.Limits.Liquid,
		airLimit:     min(c.b.Heater.AirLimit, neverAbove),
		surfaceLimit: min(c.b.Heater.SurfaceLimit, neverAbove),
		always:       sensors(recipe.Lid, recipe.EStop, recipe.TrayFloat),
		arrives:      !wets(c.r),
	}
	p.flammable = c.burns("liquid", c.r.Liquid) || c.burns("rinse", c.r.Rinse) || c.burns("", c.b.PadsAndBathHeld)
	if c.b.Heater.Power == 0 { // nothing can warm: the limits are the media's
		p.airLimit, p.surfaceLimit = neverAbove, neverAbove
	}
	for s, spec := range c.b.Sensors {
		p.stale[s] = spec.Stale
	}
	return p
}

// burns tells whether a named liquid can burn; one that nobody knows is taken to.
func (c *compiler) burns(at, name string) bool {
	if name == "" {
		return false
	}
	l, err := liquid.Parse(name)
	if err != nil && at != "" {
		c.refuse(at, "", "%v", err)
	}
	return err != nil || l.Flammable
}

func wets(r recipe.Recipe) bool {
	for _, s := range r.Stages {
		if s.Do == recipe.Wet || s.Do == recipe.Rinse {
			return true
		}
	}
	return false
}

// stages resolves every stage in the order in which they run, and checks each as it is written once.
func (c *compiler) stages(p *Program) {
	for i := range c.r.Stages {
		c.check(p, i)
	}
	block := c.r.Block()
	for i, s := range c.r.Unrolled() {
		pass := 1
		if block > 0 && i < block*c.r.Repeat {
			pass = i/block + 1
		}
		p.stages = append(p.stages, c.stage(p, s, pass))
	}
}

// stage resolves one stage.
func (c *compiler) stage(p *Program, s recipe.Stage, pass int) stage {
	st := stage{Stage: s, pass: pass, planned: s.For}
	if st.AtMost == 0 {
		st.AtMost = s.For + atMostGrace
	}
	if p.flammable && st.Fan == 0 {
		st.Fan = 1
	}
	switch s.Do {
	case recipe.Wet:
		st.pump, _ = c.b.Pump.DutyFor(s.Flow)
	case recipe.Rinse:
		st.rinsePump, _ = c.b.RinsePump.DutyFor(s.Flow)
	case recipe.Dry:
		c.drying(p, &st)
	default:
	}
	st.needs = p.needs(&st)
	return st
}

// drying chooses what "dry" will rest on, and how long it may be expected to take. The usual times are common
// practice; they are what the clock falls back to and what the plan shows.
func (c *compiler) drying(p *Program, st *stage) {
	if !st.UntilDry {
		return
	}
	usual := 45 * time.Minute
	if l, err := liquid.Parse(cmp.Or(c.r.Rinse, c.r.Liquid, "water")); err == nil {
		usual = l.UsualDrying
	}
	st.planned = min(usual, st.AtMost)
	st.byClock = byClock(usual, st.AtMost)
	st.evidence = ByClock
	if !p.arrives && c.b.Sensors[recipe.Surface].Fitted && c.b.Sensors[recipe.Air].Fitted {
		st.evidence = BySurface
	} else {
		st.planned = st.byClock
	}
}

// needs lists the sensors that must be usable while a stage runs.
func (p *Program) needs(st *stage) SensorSet {
	need := p.always
	switch st.Do {
	case recipe.Wet:
		need |= sensors(recipe.TankFloat)
	case recipe.Rinse:
		need |= sensors(recipe.RinseFloat)
	default:
	}
	if st.Stage.Pads > 0 {
		need |= sensors(recipe.PadFront, recipe.PadBack, recipe.PadsSpeed)
	}
	if st.Hub > 0 {
		need |= sensors(recipe.HubSpeed)
	}
	if st.Hub > 0 && p.bench.Press && p.recipe.Pads.Pressure > 0 { // nothing else would see a press that jams
		need |= p.fitted(recipe.PadFront) | p.fitted(recipe.PadBack)
	}
	if st.Fan > 0 {
		need |= sensors(recipe.FanSpeed)
	}
	if st.Warm > 0 {
		need |= sensors(recipe.Air) | p.fitted(recipe.Surface)
	}
	if st.evidence == BySurface {
		need |= sensors(recipe.Air, recipe.Surface)
	}
	if p.flammable {
		need |= p.fitted(recipe.Vapour)
	}
	return need
}

// fitted returns the sensor as a set if the bench has it.
func (p *Program) fitted(s recipe.Sensor) SensorSet {
	if p.bench.Sensors[s].Fitted {
		return sensors(s)
	}
	return 0
}
