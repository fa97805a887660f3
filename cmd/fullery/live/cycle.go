package live

import (
	"fmt"
	"math"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/recipe"
)

// underWay tells whether the cycle is in its stages, moving or held.
func (m *model) underWay() bool {
	switch m.now.State.Cycle {
	case controller.Running, controller.Holding, controller.Held, controller.Restarting:
		return true
	default:
		return false
	}
}

// ribbon draws the cycle's stages as planned and as they went.
func (m *model) ribbon(width int) []draw.Line {
	r := draw.Ribbon{Running: -1, Actual: m.now.Stretches}
	for _, s := range m.plan {
		r.Stages = append(r.Stages, draw.Stage{Name: s.Do.String(), Planned: s.Planned})
	}
	if m.underWay() {
		r.Running = int(m.now.State.Stage)
	}
	return r.Draw(width)
}

// pads draws the pressures while a stage presses them.
func (m *model) pads(width int) []draw.Line {
	if !m.now.Levels.Press {
		return nil
	}
	least, most := m.program.PressureWindow()
	area := m.program.Bench().Pads.Area
	p := draw.Pads{
		Front: m.value(recipe.PadFront) / area, Back: m.value(recipe.PadBack) / area,
		Least: least, Most: most, Balance: m.program.Recipe().Pads.Balance,
	}
	return p.Draw(width)
}

// work says what runs now, for how long of how long, and what will end it.
func (m *model) work(width int) []draw.Line {
	s, plan := &m.now.State, m.plan[m.stage()]
	switch {
	case m.now.Ticks == 0 || s.Cycle == controller.Idle:
		return nil
	case s.PurgeLeft > 0 && !s.FanBad && s.Cycle != controller.Running && m.now.Levels.Fan > 0:
		return draw.Wrap(draw.Usual, fmt.Sprintf("The fan clears the vapour for another %s.", clock(s.PurgeLeft)), width, 2)
	case !m.underWay():
		return nil
	}
	name := m.program.StageName(m.stage())
	if plan.Evidence == controller.NoEvidence {
		return draw.Wrap(draw.Usual, fmt.Sprintf("%s for %s of %s.", name, clock(s.Worked), clock(plan.Planned)), width, 2)
	}
	said := fmt.Sprintf("%s for %s of about %s.", name, clock(s.Worked), clock(plan.Planned))
	if width >= roomy {
		said = strings.TrimSuffix(said, ".") + ", at most " + clock(plan.AtMost) + "."
	}
	return append(draw.Wrap(draw.Usual, said, width, 2), draw.Wrap(draw.Usual, m.sayEnd(width), width, 2)...)
}

// roomy is the width from which sentences need not be short.
const roomy = 60

// sayEnd says on what the end of the drying will rest, and how near it is.
func (m *model) sayEnd(width int) string {
	d, below := &m.now.State.Drying, m.dryBelow()
	switch {
	case math.IsNaN(below):
		return "Dry will rest on the clock only (timed): unproven."
	case width < roomy:
		return fmt.Sprintf("Jacket %.1f K colder; dry below %.1f K.", d.Depression, below)
	case d.Since > 0:
		return fmt.Sprintf("Dry will rest on surface: the jacket less than %.2g K colder than the air, for %s of %s now.",
			below, clock(d.Since), clock(m.program.DryFor()))
	default:
		return fmt.Sprintf("Dry will rest on surface: the jacket less than %.2g K colder than the air for %s; now %.1f K.",
			below, clock(m.program.DryFor()), d.Depression)
	}
}

// dryBelow is the depression below which the jacket counts as dry; NaN when only the clock will tell.
func (m *model) dryBelow() float64 {
	d := &m.now.State.Drying
	if !d.Zeroed || m.plan[m.stage()].Evidence != controller.BySurface {
		return math.NaN()
	}
	return d.DryBelow()
}

// curve draws the drying that runs or ran last, in at most height lines, once there is something to draw.
func (m *model) curve(width, height int) []draw.Line {
	if m.plan[m.stage()].Do != recipe.Dry || len(m.now.Curve) < 2 || height < leastCurve {
		return nil
	}
	c := draw.Curve{Points: m.now.Curve, DryBelow: m.dryBelow(), Span: m.plan[m.stage()].Planned}
	return c.Draw(width, height)
}
