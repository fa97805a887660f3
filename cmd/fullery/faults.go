package main

import (
	"context"
	"time"

	"fullery/controller"
	"fullery/controller/simbench"
)

// The faults that are not the bench's but the loop's own: a record that fails, a tick that comes too late.

// faultyRecord is a recorder that fails while the simulated bench has that fault.
type faultyRecord struct {
	controller.Recorder
	sim *simbench.Bench
}

// Failing tells whether the record fails, or is made to seem so.
func (f faultyRecord) Failing() bool { return f.Recorder.Failing() || f.sim.Armed("record-failing") }

// faultyClock is a clock whose next tick comes too late once the simulated bench has that fault.
type faultyClock struct {
	controller.Clock
	sim *simbench.Bench
}

// tooLate is by how much: more than the loop forgives.
const tooLate = 400 * time.Millisecond

// Wait waits until a moment, or beyond it.
func (f faultyClock) Wait(ctx context.Context, until time.Duration) error {
	if f.sim.Armed("loop-late") {
		f.sim.Disarm("loop-late")
		until += tooLate
	}
	return f.Clock.Wait(ctx, until)
}
