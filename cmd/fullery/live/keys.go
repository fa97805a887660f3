package live

import (
	"fmt"
	"slices"
	"strings"

	tea "charm.land/bubbletea/v2"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/recipe"
)

// keys is every key that gives an order, in the order in which they are offered, and the states that allow it.
var keys = []struct {
	key   string
	order controller.Order
	in    []controller.CycleState
}{
	{"b", controller.Start, []controller.CycleState{controller.Idle}},
	{"h", controller.Hold, []controller.CycleState{controller.Running, controller.Restarting}},
	{"r", controller.Resume, []controller.CycleState{controller.Held}},
	{"d", controller.ToDry, []controller.CycleState{controller.Held}},
	{"s", controller.Stop, []controller.CycleState{
		controller.Running, controller.Holding, controller.Held, controller.Restarting}},
	{"a", controller.Abort, []controller.CycleState{
		controller.Running, controller.Holding, controller.Held, controller.Restarting, controller.Stopping}},
	{"x", controller.Reset, []controller.CycleState{controller.Complete, controller.Stopped, controller.Aborted}},
}

// offers tells whether the state allows an order.
func (m *model) offers(o controller.Order) bool {
	if m.o.Orders == nil || m.now.Ticks == 0 {
		return false
	}
	for _, k := range keys {
		if k.order == o {
			return slices.Contains(k.in, m.now.State.Cycle) && (o != controller.ToDry || m.dryAhead())
		}
	}
	return false
}

// dryAhead tells whether a dry stage is under way or still to come.
func (m *model) dryAhead() bool {
	for i := max(int(m.now.State.Stage), 0); i < len(m.plan); i++ {
		if m.plan[i].Do == recipe.Dry {
			return true
		}
	}
	return false
}

// asksLook tells whether a person has to have looked before an order is taken.
func (m *model) asksLook(o controller.Order) bool {
	switch o {
	case controller.Start:
		return true
	case controller.Resume, controller.ToDry, controller.Reset:
		return m.now.State.MustLook
	default:
		return false
	}
}

// press does what a key asks.
func (m *model) press(key string) tea.Cmd {
	if key == "ctrl+c" {
		return m.interrupt()
	}
	if asked := m.asking; asked != controller.NoOrder && !m.ends(key) {
		m.asking = controller.NoOrder
		if key == "y" {
			m.give(controller.Command{Order: asked, Looked: true})
		} else {
			m.say(fmt.Sprintf("No order given: %s was not confirmed.", asked))
		}
		return nil
	}
	for _, k := range keys {
		if k.key != key || !m.offers(k.order) {
			continue
		}
		if m.asksLook(k.order) {
			m.asking = k.order
		} else {
			m.give(controller.Command{Order: k.order})
		}
		return nil
	}
	return nil
}

// ends tells whether a key holds, stops or aborts: those work at once, whatever question is open.
func (m *model) ends(key string) bool {
	for _, k := range keys {
		if k.key == key && (k.order == controller.Hold || k.order == controller.Stop || k.order == controller.Abort) {
			m.asking = controller.NoOrder
			return true
		}
	}
	return false
}

// interrupt is ctrl-c: stop, then abort, and when even that came to nothing, leave.
func (m *model) interrupt() tea.Cmd {
	m.asking = controller.NoOrder
	switch {
	case m.o.Orders == nil, m.now.State.Cycle == controller.Idle, m.breaks > 1 && m.since >= leaveAfter:
		m.left = true
		return tea.Quit
	case m.breaks > 1:
		return nil
	case m.breaks == 1 || m.now.State.Cycle == controller.Stopping:
		if m.give(controller.Command{Order: controller.Abort}) {
			m.breaks, m.since = 2, 0
		}
	default: // an ended cycle as well: a stop that has come true is taken as done
		if m.give(controller.Command{Order: controller.Stop}) {
			m.breaks, m.since = 1, 0
		}
	}
	return nil
}

// give hands an order to the loop, and tells when the loop has not taken the last one yet.
func (m *model) give(c controller.Command) bool {
	select {
	case m.o.Orders <- c:
		m.say(fmt.Sprintf("Order given: %s.", c.Order))
		return true
	default:
		m.say(fmt.Sprintf("%s was not taken: an earlier order still waits. Press again.", c.Order))
		return false
	}
}

// say shows a note for a while.
func (m *model) say(note string) { m.note, m.noteFor = note, noteFrames }

// foot is what stands at the bottom: the open question, or the note and the keys that mean something now.
func (m *model) foot(width int) []draw.Line {
	if m.asking != controller.NoOrder {
		return draw.Wrap(draw.Attention, m.question(), width, 2)
	}
	var lines []draw.Line
	if m.note != "" {
		lines = append(lines, draw.Say(draw.Strong, m.note).Clip(width))
	}
	var phrases []draw.Line
	for _, k := range keys {
		if m.offers(k.order) {
			phrases = append(phrases, draw.Say(draw.Strong, k.key).And(draw.Quiet, " "+k.order.String()))
		}
	}
	if last := m.sayInterrupt(); last != "" {
		phrases = append(phrases, draw.Say(draw.Strong, "ctrl-c").And(draw.Quiet, " "+last))
	}
	return append(lines, draw.Flow(phrases, width)...)
}

// sayInterrupt says what ctrl-c does now; empty when another key does the same.
func (m *model) sayInterrupt() string {
	switch {
	case m.o.Orders == nil || m.now.State.Cycle == controller.Idle:
		return "leave"
	case m.breaks > 1:
		return "leave, outputs off"
	case m.breaks == 1 || m.now.State.Cycle == controller.Stopping:
		return "abort"
	default:
		return "" // stop has a key of its own
	}
}

// question is what a person confirms before an order that moves something: what the guard asked for, or what to look
// at before a start.
func (m *model) question() string {
	look := "Look at the bench: nothing caught, nothing wet, nobody's hands in it."
	if m.asking == controller.Start {
		look = "Put the disk in, close the lid, fill the tanks with the right liquids, air the room."
	} else if _, _, doNow := m.now.State.Cause.Sentences(); doNow != "" {
		look = doNow
	}
	order := m.asking.String()
	return fmt.Sprintf("%s%s? %s Done? y yes, any other key no", strings.ToUpper(order[:1]), order[1:], look)
}
