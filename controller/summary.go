package controller

import (
	"time"

	"fullery/recipe"
)

// Summary follows a cycle and tells at its end what came of it. It is a Watcher; its zero value needs Program.
type Summary struct {
	Program *Program

	Stages []StageResult
	Guards []GuardResult
	Final  State
	Hold   Guard // the guard that held the cycle, until it ran again

	front, back mean
	last        time.Duration
	wasRunning  bool
	wasStage    int8
}

// StageResult is what became of one stage.
type StageResult struct {
	Do      recipe.Kind
	Pass    int
	Planned time.Duration
	Actual  time.Duration // running time, holds not counted
	Ended   Ending
}

// GuardResult is one guard that tripped.
type GuardResult struct {
	Guard    Guard
	At       time.Duration
	Stage    int
	Response Response
	Sensor   recipe.Sensor
	Said     string
}

// mean is a running mean.
type mean struct {
	sum float64
	n   int
}

func (m *mean) add(x float64) { m.sum += x; m.n++ }

func (m *mean) value() float64 {
	if m.n == 0 {
		return 0
	}
	return m.sum / float64(m.n)
}

// Watch follows one tick.
func (u *Summary) Watch(t *Tick) {
	if u.Stages == nil {
		for _, plan := range u.Program.Stages() {
			u.Stages = append(u.Stages, StageResult{Do: plan.Do, Pass: plan.Pass, Planned: plan.Planned})
		}
	}
	if u.wasRunning {
		u.Stages[u.wasStage].Actual += t.Inputs.Now - u.last
	}
	u.wasRunning, u.wasStage, u.last = t.State.Cycle == Running, t.State.Stage, t.Inputs.Now
	if t.State.Drove.Pads != 0 {
		u.front.add(t.Inputs.Readings[recipe.PadFront].Value)
		u.back.add(t.Inputs.Readings[recipe.PadBack].Value)
	}
	if t.State.Cause != noGuard { // also while it is still coming to rest: a stop may come before it is held
		u.Hold = t.State.Cause
	}
	for _, ev := range t.Outputs.Events.All() {
		u.note(t, ev)
	}
	if !u.Final.Cycle.Ended() { // a reset after the end tells nothing of the cycle
		u.Final = t.State
	}
}

func (u *Summary) note(t *Tick, ev Event) {
	switch ev.Kind {
	case StateChanged:
		if ev.To == Restarting {
			u.Hold = noGuard
		}
	case StageEnded:
		u.Stages[ev.Stage].Ended = ev.Ending
	case GuardTripped:
		u.Guards = append(u.Guards, GuardResult{Guard: ev.Guard, At: t.Inputs.Now, Stage: int(ev.Stage),
			Response: guards[ev.Guard].response, Sensor: ev.Sensor, Said: u.Program.Say(ev)})
	default:
	}
}

// Pressure returns the mean pressure (Pa) of each pad while the pads turned; zeros when they never did.
func (u *Summary) Pressure() (front, back float64) {
	area := u.Program.bench.Pads.Area
	if area == 0 {
		return 0, 0
	}
	return u.front.value() / area, u.back.value() / area
}

// Reason says in a sentence why the cycle ended as it did; empty when it completed.
func (u *Summary) Reason() string {
	switch {
	case u.Final.Cycle == Complete:
		return ""
	case u.Final.Cause != noGuard:
		return u.Final.Cause.Said()
	case u.Hold != noGuard:
		return "Held by " + u.Hold.String() + " and then " + u.Final.Cycle.String() + ". " + u.Hold.Said()
	case u.Final.Cycle == Aborted:
		return "Aborted by the operator."
	default:
		return "Stopped by the operator."
	}
}

// ByGuard tells whether a guard, and not a person's own wish, ended the cycle.
func (u *Summary) ByGuard() bool {
	return u.Final.Cycle != Complete && u.Hold != noGuard
}
