package controller

import (
	"cmp"
	"fmt"

	"fullery/recipe"
	"fullery/recipe/endpoint"
	"fullery/recipe/liquid"
)

// The third depth of checking: has this bench what the recipe asks for, and enough of it?

// mostStages bounds a program, so that a stage's number fits the state.
const mostStages = 100

// check checks one stage as it is written.
func (c *compiler) check(p *Program, i int) {
	s := &c.r.Stages[i]
	at := func(key string) string { return fmt.Sprintf("stage.%d.%s", i, key) }
	switch s.Do {
	case recipe.Wet:
		c.checkPump(at("flow"), "pump", c.b.Pump, s.Flow)
	case recipe.Rinse:
		c.checkPump(at("flow"), "rinse pump", c.b.RinsePump, s.Flow)
	default:
	}
	if s.Pads > 0 {
		c.checkSpeed(at("pads"), "pads", s.Pads, c.b.Pads.Fastest)
		c.require(at("pads"), "pads", recipe.PadFront, recipe.PadBack, recipe.PadsSpeed)
	}
	if s.Reverse > 0 && s.Pads > 0 && !c.b.Simulated && !c.b.Board.Outputs[recipe.OutPadsReverse].Fitted {
		c.refuse(at("reverse"), "leave it out, or fit a driver that turns both ways and name it in the bench file as [outputs.pads-reverse]",
			"the pads of this bench turn one way only")
	}
	if s.Hub > 0 {
		c.checkSpeed(at("hub"), "hub", s.Hub, c.b.Hub.Fastest)
		c.require(at("hub"), "hub", recipe.HubSpeed)
	}
	if s.Fan > 0 {
		c.checkFan(at("fan"), s.Fan)
	}
	if s.Warm > 0 {
		c.checkWarm(p, at("warm"), s)
	}
}

func (c *compiler) checkPump(at, what string, pump recipe.Pump, flow float64) {
	least, most := pump.Range()
	if most == 0 {
		c.refuse(at, "leave the stage out, or use a bench that has one", "this bench has no %s", what)
		return
	}
	if _, ok := pump.DutyFor(flow); !ok {
		c.refuse(at, fmt.Sprintf("ask for %s to %s, or measure the pump there", recipe.SayFlow(least), recipe.SayFlow(most)),
			"the %s was never measured at %s, and a pump is not proportional to its power", what, recipe.SayFlow(flow))
	}
}

func (c *compiler) checkSpeed(at, what string, asked, fastest float64) {
	switch {
	case fastest == 0:
		c.refuse(at, "leave it out, or use a bench that has one", "this bench has no %s to turn", what)
	case asked > fastest:
		c.refuse(at, "ask for "+recipe.SayTurning(fastest)+" at most",
			"%s is faster than the %s of this bench can turn", recipe.SayTurning(asked), what)
	}
}

func (c *compiler) checkPressure() {
	if most := c.b.Pads.Most; most > 0 && c.r.Pads.Pressure*(1+c.r.Pads.Within) > most {
		c.refuse("pads.pressure", "ask for less, or allow less above it with \"within\"",
			"%s and what it may be above it is more than the %s that pads and disk of this bench may bear",
			recipe.SayPressure(c.r.Pads.Pressure), recipe.SayPressure(most))
	}
}

func (c *compiler) checkFan(at string, asked float64) {
	switch fan := c.b.Fan; {
	case fan.Fastest == 0:
		c.refuse(at, "use a bench that has one", "this bench has no fan")
	case asked < fan.Least:
		c.refuse(at, fmt.Sprintf("ask for %.0f %% at least", fan.Least*100),
			"at %.0f %% the fan of this bench does not turn reliably", asked*100)
	}
	c.require(at, "fan", recipe.FanSpeed)
}

func (c *compiler) checkWarm(p *Program, at string, s *recipe.Stage) {
	switch {
	case p.flammable:
		c.refuse(at, "dry unwarmed, or change pads and bath to water first",
			"the heater is never used with a flammable liquid: %s", c.burning())
	case c.b.Heater.Power == 0:
		c.refuse(at, "leave \"warm\" out", "this bench has no heater")
	case s.Warm > p.airLimit:
		c.refuse(at, "ask for "+recipe.SayTemperature(p.airLimit)+" at most",
			"%s is more than this bench allows at the cartridge", recipe.SayTemperature(s.Warm))
	case s.Fan == 0:
		c.refuse(at, "give the stage a fan", "the heater works only in moving air")
	}
	c.require(at, "heater", recipe.Air, recipe.FanSpeed)
}

// burning names what can burn.
func (c *compiler) burning() string {
	for _, name := range []string{c.r.Liquid, c.r.Rinse} {
		if c.burns("", name) {
			return "this recipe uses " + name
		}
	}
	return "pads and bath of this bench held " + c.b.PadsAndBathHeld + " last"
}

// require refuses a recipe whose guards would be blind on this bench.
func (c *compiler) require(at, what string, list ...recipe.Sensor) {
	for _, s := range list {
		if !c.b.Sensors[s].Fitted {
			c.refuse(at, fmt.Sprintf("fit it and name it in the bench file as [sensors.%s]", s),
				"this bench has no %s sensor, without which nothing would notice a failing %s", s, what)
		}
	}
}

// whole checks what holds over the whole recipe.
func (c *compiler) whole(p *Program) {
	if len(p.stages) > mostStages {
		c.refuse("repeat", fmt.Sprintf("a cycle has %d stages at most", mostStages), "repeated, this makes %d stages", len(p.stages))
	}
	if c.r.Limits.Liquid > c.b.Tray {
		c.refuse("limits.liquid", "ask for less, or fit a larger tray",
			"the cycle may give %s and the tray of this bench holds %s", recipe.SayMillilitres(c.r.Limits.Liquid), recipe.SayMillilitres(c.b.Tray))
	}
	c.checkPressure()
	wet, rinse := p.doses()
	c.checkTank("tank", wet, c.b.Tank)
	c.checkTank("rinse tank", rinse, c.b.RinseTank)
	if len(p.stages) == 0 {
		c.refuse("", "add a [[stage]]", "this recipe has no stages")
	}
	if p.flammable && c.b.Fan.Fastest > 0 {
		c.require("liquid", "fan", recipe.FanSpeed)
	}
	if p.flammable && c.b.Fan.Fastest == 0 {
		c.refuse("liquid", "use water, or a bench with a fan", "a flammable liquid needs a fan that carries its vapour away")
	}
	if p.flammable && !c.b.Sensors[recipe.Vapour].Fitted {
		c.warn("liquid", "a vapour sensor in the duct would let the bench stop by itself",
			"vapour is not measured on this bench; only the proven fan stands against it")
	}
	for i, s := range c.r.Stages {
		if s.Do == recipe.SpinOut && !c.b.Press && c.r.Pads.Pressure > 0 {
			c.warn(fmt.Sprintf("stage.%d.hub", i), "turn slowly, or fit a press that takes the pads off",
				"this bench cannot take its pads off the disk, and the disk would be spun under them")
		}
		c.warnShort(i, s)
		if s.UntilDry {
			c.warnBlind(p, i, p.stages[len(p.stages)-len(c.r.Stages)+i])
		}
	}
}

// warnBlind warns of a drying whose end nothing will see, and of one that has no end.
func (c *compiler) warnBlind(p *Program, i int, st stage) {
	at := fmt.Sprintf("stage.%d.until", i)
	switch end := st.end; {
	case st.evidence != ByClock || st.Fan == 0 || c.b.Fan.Fastest == 0:
	case p.arrives:
		c.warn(at, "a disk that is wetted on the bench is read dry before",
			"a disk that arrives wet was never read dry, so that nothing can tell when it is: the clock will end the drying, unproven")
	case end != nil && end.Expected.Never:
		c.warn(at, "dry the room's air, or warm the air if the liquid allows it", "it will not get dry: %s", end.Expected.Reason)
	default:
		c.warn(at, endpoint.Help(c.belief, c.r, &c.b, st.Stage),
			"nothing on this bench can tell when this disk is dry: the clock will end the drying, unproven")
	}
}

// warnShort warns of a drying that the clock ends long before its liquid is usually gone.
func (c *compiler) warnShort(i int, s recipe.Stage) {
	l, err := liquid.Parse(cmp.Or(c.r.Rinse, c.r.Liquid))
	if s.Do != recipe.Dry || s.UntilDry || err != nil || s.For >= l.UsualDrying {
		return
	}
	c.warn(fmt.Sprintf("stage.%d.for", i), "let it end with until = \"dry\", or take longer",
		"%s usually takes about %s to dry (common practice), and this drying ends after %s", l.Title,
		recipe.SayTime(l.UsualDrying), recipe.SayTime(s.For))
}

// doses sums what each pump gives, in m³.
func (p *Program) doses() (wet, rinse float64) {
	for _, s := range p.stages {
		switch s.Do {
		case recipe.Wet:
			wet += s.Flow * s.For.Seconds()
		case recipe.Rinse:
			rinse += s.Flow * s.For.Seconds()
		default:
		}
	}
	return wet, rinse
}

func (c *compiler) checkTank(what string, asked float64, tank recipe.Tank) {
	if asked > tank.Capacity {
		c.refuse("limits.liquid", "ask for less, or fit a larger one",
			"the stages give %s and the %s of this bench holds %s", recipe.SayMillilitres(asked), what, recipe.SayMillilitres(tank.Capacity))
	}
}
