package controller

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
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
	return CompileKnowing(r, b, drying.Belief{})
}

// CompileKnowing is Compile for a bench of whose drying something was learned.
func CompileKnowing(r recipe.Recipe, b recipe.Bench, belief drying.Belief) (*Program, error) {
	c := compiler{r: own(r), b: b, belief: belief}
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
	belief   drying.Belief
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
		lastDry:      -1,
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
		if s.Do == recipe.Dry {
			p.lastDry = i
		}
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

// drying foresees how a dry stage will go, and chooses what "dry" will rest on. Of a bench or a liquid that the physics
// cannot work with it knows nothing; then the liquid's usual time, which is common practice, has to do.
func (c *compiler) drying(p *Program, st *stage) {
	st.end, _ = endpoint.ForStage(c.belief, c.r, &c.b, st.Stage)
	if !st.UntilDry {
		return
	}
	usual := usualDrying(c.r)
	st.planned, st.evidence = usual, ByClock
	st.byClock = time.Duration(float64(usual) * clockFactor)
	if st.end != nil && !st.end.Expected.Never {
		st.planned = seconds(st.end.Expected.Minutes.Median * 60)
		st.byClock = seconds(st.end.ByClock())
		if !p.arrives {
			st.evidence = st.end.Best()
		}
	}
	// The clock ends a drying a little before the stage's own end, which is a guard's business.
	st.byClock = min(st.byClock, st.AtMost-st.AtMost/50)
	if st.evidence == ByClock {
		st.planned = st.byClock
	}
	st.planned = min(st.planned, st.AtMost)
}

// clockFactor is how much longer than its liquid usually takes a disk is dried when there is neither evidence nor an
// estimate.
const clockFactor = 1.5

func usualDrying(r recipe.Recipe) time.Duration {
	if l, err := liquid.Parse(cmp.Or(r.Rinse, r.Liquid, "water")); err == nil {
		return l.UsualDrying
	}
	return 45 * time.Minute
}

// seconds returns a span to the second.
func seconds(s float64) time.Duration {
	return time.Duration(s * float64(time.Second)).Round(time.Second)
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
	need |= p.witnesses(st.evidence)
	if p.flammable {
		need |= p.fitted(recipe.Vapour)
	}
	return need
}

// witnesses lists the sensors that an evidence rests on.
func (p *Program) witnesses(e Evidence) SensorSet {
	in := p.fitted(recipe.Air)
	if in == 0 {
		in = p.fitted(recipe.AirIn)
	}
	switch e {
	case ByWeight:
		return sensors(recipe.Weight)
	case BySurface:
		return in | sensors(recipe.Surface)
	case ByAir:
		return in | sensors(recipe.AirOut)
	default:
		return 0
	}
}

// fitted returns the sensor as a set if the bench has it.
func (p *Program) fitted(s recipe.Sensor) SensorSet {
	if p.bench.Sensors[s].Fitted {
		return sensors(s)
	}
	return 0
}
