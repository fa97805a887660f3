package live

import (
	"fmt"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/recipe"
)

// stage returns the index of the stage the state is in, always one that the plan has.
func (m *model) stage() int { return max(min(int(m.now.State.Stage), len(m.plan)-1), 0) }

// head is the state in words and the time of the cycle.
func (m *model) head(width int) []draw.Line {
	if m.now.Ticks == 0 {
		return []draw.Line{draw.Say(draw.Strong, "Waiting for the bench").Clip(width)}
	}
	left := draw.Say(m.headTone(), m.sayState())
	right := clock(m.now.At)
	if n := width - left.Width() - len(right); n > 1 {
		left = left.And(draw.Usual, strings.Repeat(" ", n)+right)
	}
	return []draw.Line{left.Clip(width)}
}

// headTone calls for attention in every state that is not on its way.
func (m *model) headTone() draw.Tone {
	switch m.now.State.Cycle {
	case controller.Running, controller.Restarting, controller.Complete, controller.Idle:
		return draw.Strong
	default:
		return draw.Attention
	}
}

// sayState says the state, where it is in the recipe and why.
func (m *model) sayState() string {
	s := &m.now.State
	word := strings.ToUpper(s.Cycle.String())
	where := m.program.StageName(m.stage())
	switch s.Cycle {
	case controller.Idle:
		return word
	case controller.Complete:
		if s.Drying.Evidence != controller.NoEvidence {
			return fmt.Sprintf("%s  dry after %.1f min, by %s", word, s.Drying.Took.Minutes(), sayEvidence(s.Drying.Evidence))
		}
		return word
	case controller.Running, controller.Restarting:
		return word + "  " + where
	default:
		by := "the operator"
		if s.Cause != 0 {
			by = s.Cause.String()
		}
		return fmt.Sprintf("%s  in %s, by %s", word, where, by)
	}
}

// sayEvidence names the evidence, with a warning where it proves nothing.
func sayEvidence(e controller.Evidence) string {
	if e == controller.ByClock {
		return "the clock only (timed): unproven"
	}
	return e.String()
}

// title is what is run on what: recipe, liquid, bench, disk, cycle and pace.
func (m *model) title(width int) []draw.Line {
	r := m.program.Recipe()
	liquid := r.Liquid
	if r.Rinse != "" {
		liquid = strings.Trim(liquid+", then "+r.Rinse, ", ")
	}
	phrases := []string{r.Title, liquid, m.program.Bench().Title}
	for _, p := range []struct{ name, said string }{{"disk ", m.o.Disk}, {"cycle ", m.o.Cycle}, {"", m.o.Pace}} {
		if p.said != "" {
			phrases = append(phrases, p.name+p.said)
		}
	}
	return draw.Phrases(draw.Quiet, phrases, width)
}

// alarms is every guard whose cause is there or that keeps the cycle from going on, with what to do.
func (m *model) alarms(width int) (lines []draw.Line) {
	s := &m.now.State
	say := func(g controller.Guard) {
		gone := ""
		if !s.Tripped.Has(g) {
			gone = " (its cause is no longer seen)"
		}
		lines = append(lines, draw.Wrap(draw.Attention, fmt.Sprintf("! %s%s: %s", g, gone, g.Said()), width, 2)...)
	}
	if s.Cause != 0 {
		say(s.Cause)
	}
	for _, row := range controller.Guards() {
		if s.Tripped.Has(row.Guard) && row.Guard != s.Cause {
			say(row.Guard)
		}
	}
	return lines
}

// events sets the last events as sentences, newest at the bottom, in at most height lines.
func (m *model) events(width, height int) (lines []draw.Line) {
	for i := len(m.now.Events) - 1; i >= 0 && len(lines) < height; i-- {
		e := m.now.Events[i]
		said, tone := m.sayEvent(e.Event)
		if said == "" {
			continue
		}
		more := draw.Wrap(tone, clock(e.At)+"  "+said, width, 9)
		if len(more)+len(lines) > height {
			if len(lines) > 0 {
				break
			}
			more = more[:height]
		}
		lines = append(more, lines...)
	}
	return lines
}

// sayEvent says an event in short: what a guard did and what to do stands with the alarms, or is over.
func (m *model) sayEvent(ev controller.Event) (string, draw.Tone) {
	switch {
	case ev.Kind == controller.GuardTripped:
		what, _, _ := ev.Guard.Sentences()
		if ev.Sensor < recipe.NumSensors {
			what = fmt.Sprintf("(%s) %s", ev.Sensor, what)
		}
		return fmt.Sprintf("%s: %s", ev.Guard, what), draw.Attention
	case ev.Kind == controller.OrderRefused && ev.Guard != 0:
		return fmt.Sprintf("Order refused: %s. The cause of %s is still there.", ev.Order, ev.Guard), draw.Attention
	case ev.Kind == controller.OrderRefused:
		return m.program.Say(ev), draw.Attention
	default:
		return m.program.Say(ev), draw.Usual
	}
}
