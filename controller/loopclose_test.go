package controller

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
)

// failingClock is a clock that refuses to wait after so many waits.
type failingClock struct {
	FastClock
	left int
}

func (c *failingClock) Wait(ctx context.Context, until time.Duration) error {
	if c.left--; c.left < 0 {
		return errTest
	}
	return c.FastClock.Wait(ctx, until)
}

// TestCloseInEveryWayOut: the outputs are switched off last, and once, whichever way the loop ends.
func TestCloseInEveryWayOut(t *testing.T) {
	defer goleak.VerifyNone(t)
	for _, c := range []struct {
		name string
		ways func(*rig, context.CancelCauseFunc)
		want error
	}{
		{"until", func(*rig, context.CancelCauseFunc) {}, nil},
		{"until the first tick", func(r *rig, _ context.CancelCauseFunc) {
			r.Clock, r.Until = &failingClock{}, func(State) bool { return true } // it never comes to waiting
		}, nil},
		{"cancelled before", func(_ *rig, cancel context.CancelCauseFunc) { cancel(errTest) }, errTest},
		{"cancelled under way", func(r *rig, cancel context.CancelCauseFunc) {
			r.Beat = func() {
				if len(r.ticks) == 3 {
					cancel(errTest)
				}
			}
		}, errTest},
		{"clock", func(r *rig, _ context.CancelCauseFunc) { r.Clock = &failingClock{left: 3} }, errTest},
	} {
		r := newRig(t, 10)
		r.Commands = orders(Start)
		ctx, cancel := context.WithCancelCause(context.Background())
		c.ways(r, cancel)
		last, err := r.Run(ctx, State{})
		cancel(nil)
		if !errors.Is(err, c.want) {
			t.Errorf("%s: error %v, want %v", c.name, err, c.want)
		}
		r.closedLast(t, c.name)
		if n := len(r.ticks); n > 0 && last != r.ticks[n-1].State {
			t.Errorf("%s: the state returned is not the last one", c.name)
		}
	}
}

// closedLast checks that Close was the last thing asked of the bench, and asked once.
func (r *rig) closedLast(t *testing.T, name string) {
	t.Helper()
	d := r.bench.diary
	if len(d) == 0 || slices.Index(d, "close") != len(d)-1 {
		t.Errorf("%s: the bench was asked %v, want one close at the end", name, d)
	}
}

// TestCloseBeforeAPanicGoesOn: a panic is a defect and is not swallowed, but the outputs are off before it goes on.
func TestCloseBeforeAPanicGoesOn(t *testing.T) {
	bang := func(*Tick) { panic("bang") }
	for name, break_ := range map[string]func(*rig){
		"read": func(r *rig) {
			r.bench.readErr = func(n int) error {
				if n == 3 {
					panic("bang")
				}
				return nil
			}
		},
		"drive":    func(r *rig) { r.bench.driveErr = func(int) error { panic("bang") } },
		"watcher":  func(r *rig) { r.Watchers = append(r.Watchers, watcherFunc(bang)) },
		"recorder": func(r *rig) { r.Recorder = &fakeRecorder{watcherFunc: bang} },
		"beat":     func(r *rig) { r.Beat = func() { panic("bang") } },
		"until":    func(r *rig) { r.Until = func(State) bool { panic("bang") } },
	} {
		r := newRig(t, 10)
		break_(r)
		func() {
			defer func() {
				if said := recover(); said != "bang" {
					t.Errorf("%s: the panic ended as %v", name, said)
				}
			}()
			_, _ = r.Run(context.Background(), State{})
			t.Errorf("%s: the panic was swallowed", name)
		}()
		r.closedLast(t, name)
	}
}

// TestCloseErrorHasAWayOut: outputs that cannot be switched off are said, beside whatever else went wrong, with what a
// person must do.
func TestCloseErrorHasAWayOut(t *testing.T) {
	stuck := errors.New("line 17 is stuck")
	for _, c := range []struct {
		clock Clock
		also  error
	}{{&FastClock{}, nil}, {&failingClock{}, errTest}} {
		r := newRig(t, 3)
		r.bench.closeErr, r.Clock = stuck, c.clock
		_, err := r.Run(context.Background(), State{})
		if !errors.Is(err, stuck) || c.also != nil && !errors.Is(err, c.also) {
			t.Fatalf("error %v, want it to hold %v and %v", err, stuck, c.also)
		}
		if !strings.Contains(err.Error(), "cut the power of the bench by hand") {
			t.Errorf("no way out in %q", err)
		}
	}
}
