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
	case m.now.Ticks == 0:
		return nil
	case s.Cycle == controller.Idle:
		return m.readsDry(width)
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

// readsDry says what an idle bench waits for.
func (m *model) readsDry(width int) []draw.Line {
	yet := m.program.ReadsDry(&m.now.State)
	if yet <= 0 {
		return nil
	}
	return draw.Wrap(draw.Usual, fmt.Sprintf("The dry disk is read for another %s: dryness will be told by that.", clock(yet)), width, 2)
}

// roomy is the width from which sentences need not be short.
const roomy = 60

// sayEnd says on what the end of the drying will rest, and how near it is.
func (m *model) sayEnd(width int) string {
	s, e := &m.now.State, m.plan[m.stage()].Evidence
	rest := "Dry will rest on " + sayEvidence(e)
	if e.Proven() && !s.Drying.Seen.Zeroed(e) {
		rest = "Dry will rest on " + sayEvidence(controller.ByClock)
	} else if e.Proven() {
		rest += ": " + saySignal(e, shownSignal(e, s))
		if below := m.dryBelow(); !math.IsNaN(below) && width >= roomy {
			rest += ", dry near " + signalWords(e, below)
		}
	}
	if end := left(m.program, s); end.High > 0 {
		return rest + ". " + upper(sayLeft(end)) + "."
	}
	return rest + "."
}

// dryBelow is the signal below which the liner counts as dry, as it is shown; NaN when that cannot be told yet.
func (m *model) dryBelow() float64 {
	plan, seen := m.plan[m.stage()], &m.now.State.Drying.Seen
	if plan.End == nil || !seen.Zeroed(plan.Evidence) || seen.By != plan.Evidence {
		return math.NaN()
	}
	return plan.End.DryBelow(seen) * shownScale(plan.Evidence)
}

// curve draws the drying that runs or ran last, in at most height lines, once there is something to draw.
func (m *model) curve(width, height int) []draw.Line {
	plan := m.plan[m.stage()]
	if plan.Do != recipe.Dry || len(m.now.Curve) < 2 || height < leastCurve {
		return nil
	}
	c := draw.Curve{Points: m.now.Curve, Unit: shownUnit(plan.Evidence), DryBelow: m.dryBelow(), Span: plan.Planned}
	if end := left(m.program, &m.now.State); end.High > 0 {
		worked := m.now.State.Worked
		c.End = draw.Interval{Low: worked + end.Low, Median: worked + end.Median, High: worked + end.High}
	}
	return c.Draw(width, height)
}
