// Package benchtest is the conformance suite for controller.Bench: what every bench must do, simulated, on fakes, or on
// a real kernel. It asks for no testing.T, so that a program inside a guest can run it as well as a test.
package benchtest

import (
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// Rig is a bench on the bench: the bench under test, just opened, and what the suite needs around it. Every case gets a
// rig of its own.
type Rig interface {
	// Bench is the bench, opened and never driven.
	Bench() controller.Bench
	// Spec is its bench file.
	Spec() recipe.Bench
	// Now is the loop's clock.
	Now() time.Duration
	// Sleep lets time pass: on the bench's own clock, however long that takes.
	Sleep(time.Duration)
	// Share is what an outside observer sees at an output's wire: the share of full that its load gets now, 0 for off. It
	// must not ask the bench. seen is false for what cannot be observed here.
	Share(recipe.Output) (share float64, seen bool)
	// Make puts a sensor into a state. It returns false if this rig cannot.
	Make(recipe.Sensor, State) bool
	// End closes what the rig holds besides the bench.
	End()
}

// State is how a sensor is doing.
type State uint8

// The states of a sensor.
const (
	Well    State = iota // it gives plausible values; a contact says that all is well
	Tripped              // a contact is open
	Failing              // it cannot be read: every transfer fails, the line is lost
	Silent               // it makes no new value, and there is no error either
	Hanging              // to ask it takes for ever
)

var stateNames = [...]string{"well", "tripped", "failing", "silent", "hanging"}

// String returns the state in a word.
func (s State) String() string {
	if int(s) < len(stateNames) {
		return stateNames[s]
	}
	return "unknown state"
}

// T is what the suite tells its findings to. *testing.T is one. Fatalf must not return.
type T interface {
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
	Logf(format string, args ...any)
}

// Case is one thing that every bench must do.
type Case struct {
	Name string
	Run  func(T, Rig)
}

// tick is the loop's own rhythm.
const tick = 50 * time.Millisecond

// driver is a rig with its clock and the readings of the last tick.
type driver struct {
	T
	Rig
	last controller.Readings
}

// tick reads and drives once, and lets a tick pass. It fails when the bench does.
func (d *driver) tick(levels controller.Levels) {
	d.read()
	if err := d.Bench().Drive(d.Now(), levels); err != nil {
		d.Fatalf("Drive: %v", err)
	}
	d.Sleep(tick)
}

// read reads once. Asking must not take time.
func (d *driver) read() {
	before := d.Now()
	var err error
	if d.last, err = d.Bench().Read(before); err != nil {
		d.Fatalf("Read: %v", err)
	}
	if took := d.Now() - before; took > tick {
		d.Errorf("Read took %v, longer than a tick", took)
	}
	for s := range recipe.NumSensors {
		d.judge(s, d.last[s])
	}
}

// run drives levels for a span.
func (d *driver) run(span time.Duration, levels controller.Levels) {
	for end := d.Now() + span; d.Now() < end; {
		d.tick(levels)
	}
}

// until drives levels until a question is answered with yes, at most for a span.
func (d *driver) until(span time.Duration, levels controller.Levels, done func() bool) bool {
	for end := d.Now() + span; d.Now() < end; {
		d.tick(levels)
		if done() {
			return true
		}
	}
	return false
}

// on lists the loads that an observer sees on. A sign of life is no load.
func (d *driver) on() (on []recipe.Output) {
	for o := range recipe.OutAlive {
		if share, seen := d.Share(o); seen && share > 0 {
			on = append(on, o)
		}
	}
	return on
}
