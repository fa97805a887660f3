package controller

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Tick is one step as it happened: what was seen, what was decided, and what is remembered after it.
type Tick struct {
	State   State
	Inputs  Inputs
	Outputs Outputs
}

// Watcher is shown every tick, on the loop's own goroutine, and must return at once: whatever it does with a disk, a
// screen or a network belongs behind a bounded queue. The tick is the loop's; a watcher copies what it keeps.
type Watcher interface {
	Watch(*Tick)
}

// Recorder is a watcher that can tell whether it still gets written what it was shown.
type Recorder interface {
	Watcher
	Failing() bool
}

// Loop is the shell around Step: one goroutine that reads the bench, steps, drives the bench, shows the tick to its
// watchers and beats the watchdog, which is beaten nowhere else.
type Loop struct {
	Program  *Program
	Bench    Bench
	Clock    Clock
	Commands <-chan Command   // the operator's orders, at most one a tick; may be nil
	Recorder Recorder         // may be nil
	Watchers []Watcher        // shown every tick after the recorder
	Beat     func()           // called once a tick whose outputs could be driven; may be nil
	Until    func(State) bool // tells when the loop's work is done
}

// Run steps from a state until Until says so or the context ends, and leaves every output off whichever way it ends,
// a panic included. It returns the last state.
func (l *Loop) Run(ctx context.Context, s State) (last State, err error) {
	defer func() {
		if closing := l.Bench.Close(); closing != nil {
			err = errors.Join(err, fmt.Errorf("the outputs could not be switched off at the end (%w): "+
				"cut the power of the bench by hand", closing))
		}
	}()
	tick := Tick{State: s}
	for driveFailed := false; ; {
		if ctx.Err() != nil {
			return tick.State, context.Cause(ctx)
		}
		l.step(&tick, driveFailed)
		driveFailed = l.Bench.Drive(tick.Inputs.Now, tick.Outputs.Levels) != nil
		l.show(&tick)
		if l.Beat != nil && !driveFailed {
			l.Beat()
		}
		if l.Until != nil && l.Until(tick.State) {
			return tick.State, nil
		}
		if err := l.Clock.Wait(ctx, tick.Outputs.Next); err != nil {
			return tick.State, err
		}
	}
}

// step reads the bench and decides, in place: a tick is large and comes often.
func (l *Loop) step(tick *Tick, driveFailed bool) {
	in := &tick.Inputs
	in.Now, in.DriveFailed, in.Command = l.Clock.Now(), driveFailed, l.order()
	in.RecordFailing = l.Recorder != nil && l.Recorder.Failing()
	var err error
	if in.Readings, err = l.Bench.Read(in.Now); err != nil {
		in.Readings = Readings{} // absent: every guard that needs one trips
	}
	l.Program.step(&tick.State, in, &tick.Outputs)
}

// order takes the next of the operator's orders, if there is one.
func (l *Loop) order() Command {
	select {
	case c := <-l.Commands:
		return c
	default:
		return Command{}
	}
}

// show hands the tick on.
func (l *Loop) show(tick *Tick) {
	if l.Recorder != nil {
		l.Recorder.Watch(tick)
	}
	for _, w := range l.Watchers {
		w.Watch(tick)
	}
}

// Ended is an Until for one cycle: the loop's work is done when the cycle has ended and the fan has nothing left to
// do.
func Ended(s State) bool {
	return s.Cycle.Ended() && s.Drove.Heater == 0 && (!s.Heated || s.HeaterOff >= usualTiming.cool) && !s.Tripped.Has(HeaterStuck)
}

// Clock is the loop's time: monotonic, starting near zero.
type Clock interface {
	Now() time.Duration
	Wait(ctx context.Context, until time.Duration) error
}
