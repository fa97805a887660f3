package controller

import (
	"fmt"
	"strings"
)

// CycleState is the state of a cycle, named as in IEC 61512-1 (ISA-88).
type CycleState uint8

// The states of a cycle.
const (
	Idle CycleState = iota
	Running
	Holding
	Held
	Restarting
	Stopping
	Stopped
	Aborting
	Aborted
	Complete
	numStates
)

var stateNames = [numStates]string{
	"idle", "running", "holding", "held", "restarting", "stopping", "stopped", "aborting", "aborted", "complete",
}

// String returns the word for the state.
func (c CycleState) String() string {
	if c < numStates {
		return stateNames[c]
	}
	return "unknown state"
}

// Ended tells whether the state ends a cycle: only a reset leaves it.
func (c CycleState) Ended() bool { return c == Complete || c == Stopped || c == Aborted }

// Transition is one allowed change of state and what makes it.
type Transition struct {
	From, To CycleState
	On       string // an order, a guard's response, or "done"
}

// Transitions is every allowed change of state, and the only ones that Step makes: the example procedural states of
// IEC 61512-1 without pausing and paused, which a cleaning cycle does not need.
func Transitions() []Transition {
	return []Transition{
		{Idle, Running, "start"},
		{Running, Complete, "done"},
		{Running, Holding, "hold"},
		{Restarting, Holding, "hold"},
		{Holding, Held, "done"},
		{Held, Restarting, "resume"},
		{Restarting, Running, "done"},
		{Running, Stopping, "stop"},
		{Holding, Stopping, "stop"},
		{Held, Stopping, "stop"},
		{Restarting, Stopping, "stop"},
		{Stopping, Stopped, "done"},
		{Running, Aborting, "abort"},
		{Holding, Aborting, "abort"},
		{Held, Aborting, "abort"},
		{Restarting, Aborting, "abort"},
		{Stopping, Aborting, "abort"},
		{Aborting, Aborted, "done"},
		{Complete, Idle, "reset"},
		{Stopped, Idle, "reset"},
		{Aborted, Idle, "reset"},
	}
}

// Diagram draws Transitions as text, one line a state.
func Diagram() string {
	var b strings.Builder
	for from := range numStates {
		var ways []string
		for _, t := range Transitions() {
			if t.From == from {
				ways = append(ways, fmt.Sprintf("%s → %s", t.On, t.To))
			}
		}
		fmt.Fprintf(&b, "%-10s  %s\n", from, strings.Join(ways, ", "))
	}
	return b.String()
}
