package controller

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"fullery/recipe"
)

// fakeBench does at once what it is asked and keeps a diary of the calls. Faults are hooks, asked by the number of the
// call, from 1.
type fakeBench struct {
	u        puppet
	diary    []string
	driven   []Levels
	reads    int
	drives   int
	readErr  func(n int) error
	driveErr func(n int) error
	closeErr error
}

func newFakeBench(p *Program) *fakeBench { return &fakeBench{u: puppet{p: p}} }

func (b *fakeBench) Read(time.Duration) (Readings, error) {
	b.reads++
	b.diary = append(b.diary, "read")
	in := Inputs{}
	b.u.well(&in)
	if b.readErr != nil {
		if err := b.readErr(b.reads); err != nil {
			return in.Readings, err // good readings beside an error must not be used
		}
	}
	return in.Readings, nil
}

func (b *fakeBench) Drive(_ time.Duration, l Levels) error {
	b.drives++
	b.diary = append(b.diary, "drive")
	b.driven = append(b.driven, l)
	if b.driveErr != nil {
		if err := b.driveErr(b.drives); err != nil {
			return err
		}
	}
	b.u.s.Drove = l
	return nil
}

func (b *fakeBench) Close() error {
	b.diary = append(b.diary, "close")
	return b.closeErr
}

// watcherFunc is a watcher made of a function.
type watcherFunc func(*Tick)

func (f watcherFunc) Watch(t *Tick) { f(t) }

// fakeRecorder is a recorder that fails from a tick on; zero: never.
type fakeRecorder struct {
	watcherFunc
	shown    int
	failFrom int
}

func (r *fakeRecorder) Watch(t *Tick) {
	r.shown++
	r.watcherFunc(t)
}

func (r *fakeRecorder) Failing() bool { return r.failFrom > 0 && r.shown >= r.failFrom }

// rig is a loop on a fake bench, and the ticks that it showed.
type rig struct {
	Loop
	bench *fakeBench
	ticks []Tick
}

// newRig makes a loop that ends by itself after so many ticks.
func newRig(t testing.TB, ticks int) *rig {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	r := &rig{bench: newFakeBench(p)}
	r.Loop = Loop{Program: p, Bench: r.bench, Clock: &FastClock{}}
	r.Watchers = []Watcher{watcherFunc(func(t *Tick) { r.ticks = append(r.ticks, *t) })}
	r.Until = func(State) bool { return len(r.ticks) >= ticks }
	return r
}

// orders makes a full queue of orders, each looked at.
func orders(list ...Order) <-chan Command {
	queue := make(chan Command, len(list))
	for _, o := range list {
		queue <- Command{Order: o, Looked: true}
	}
	return queue
}

var errTest = errors.New("the test says no")

// TestReadErrorMeansAbsent: when the bench cannot be read every reading is absent in that step, whatever it gave beside
// the error, and all but the fan is off in it.
func TestReadErrorMeansAbsent(t *testing.T) {
	const bad = 100 // of the tick; by then the wet runs
	r := newRig(t, bad+1)
	r.Commands = orders(Start)
	r.bench.readErr = func(n int) error {
		if n == bad {
			return errTest
		}
		return nil
	}
	if _, err := r.Run(context.Background(), State{}); err != nil {
		t.Fatal(err)
	}
	before, at, after := r.ticks[bad-2], r.ticks[bad-1], r.ticks[bad]
	if before.Outputs.Levels.Pump == 0 {
		t.Fatal("the pump was not on before; the test tests nothing")
	}
	if at.Inputs.Readings != (Readings{}) {
		t.Errorf("readings used in spite of the error: %+v", at.Inputs.Readings)
	}
	if l := r.bench.driven[bad-1]; l != (Levels{Fan: l.Fan}) {
		t.Errorf("driven in the step of the error: %+v", l)
	}
	if at.State.Cycle != Aborting { // an emergency stop that cannot be read is a pressed one
		t.Errorf("the cycle is %s, want aborting", at.State.Cycle)
	}
	if after.Inputs.Readings == (Readings{}) {
		t.Error("the readings did not come back")
	}
}

// TestDriveErrorAborts: outputs that could not be driven are told to the next step, which aborts, and to no other.
func TestDriveErrorAborts(t *testing.T) {
	const bad = 100
	r := newRig(t, bad+2)
	r.Commands = orders(Start)
	r.bench.driveErr = func(n int) error {
		if n == bad {
			return errTest
		}
		return nil
	}
	if _, err := r.Run(context.Background(), State{}); err != nil {
		t.Fatal(err)
	}
	for i, tick := range r.ticks {
		want := Running
		if i >= bad {
			want = Aborting
		}
		if i > 0 && tick.State.Cycle != want {
			t.Fatalf("tick %d: the cycle is %s, want %s", i+1, tick.State.Cycle, want)
		}
		if tick.Inputs.DriveFailed != (i == bad) {
			t.Errorf("tick %d: DriveFailed is %v", i+1, tick.Inputs.DriveFailed)
		}
	}
	if at := r.ticks[bad].State; at.Cause != DriveFailing {
		t.Errorf("cause is %s", at.Cause)
	}
}

// TestOrdersOneATick: orders that wait are taken one a tick, in order; a closed or empty queue gives none.
func TestOrdersOneATick(t *testing.T) {
	queue := make(chan Command, 3)
	for _, o := range []Order{Hold, Start, Stop} {
		queue <- Command{Order: o, Looked: true}
	}
	close(queue)
	r := newRig(t, 5)
	r.Commands = queue
	if _, err := r.Run(context.Background(), State{}); err != nil {
		t.Fatal(err)
	}
	var took []Order
	for _, tick := range r.ticks {
		took = append(took, tick.Inputs.Command.Order)
	}
	if want := []Order{Hold, Start, Stop, NoOrder, NoOrder}; !slices.Equal(took, want) {
		t.Errorf("orders taken %v, want %v", took, want)
	}
}

// TestNilsAreFine: a loop needs no orders, no recorder, no watchers and no watchdog.
func TestNilsAreFine(t *testing.T) {
	r := newRig(t, 0)
	r.Commands, r.Recorder, r.Watchers, r.Beat = nil, nil, nil, nil
	r.Until = func(s State) bool { return s.Last >= time.Second }
	if last, err := r.Run(context.Background(), State{}); err != nil || last.Cycle != Idle {
		t.Errorf("%s, %v", last.Cycle, err)
	}
	r = newRig(t, 0)
	r.Until = nil
	ctx, cancel := context.WithCancelCause(context.Background())
	defer cancel(nil)
	r.Beat = func() {
		if len(r.ticks) == 50 {
			cancel(errTest)
		}
	}
	if _, err := r.Run(ctx, State{}); !errors.Is(err, errTest) || len(r.ticks) != 50 {
		t.Errorf("without Until: %v after %d ticks", err, len(r.ticks))
	}
}

// TestOrderWithinATick: read, drive, recorder, watchers in their order, beat; once a tick, and every tick at its time.
func TestOrderWithinATick(t *testing.T) {
	r := newRig(t, 4)
	note := func(what string) watcherFunc {
		return func(tick *Tick) {
			r.bench.diary = append(r.bench.diary, fmt.Sprintf("%s %d", what, tick.Inputs.Now.Milliseconds()))
		}
	}
	r.Recorder = &fakeRecorder{watcherFunc: note("record")}
	r.Watchers = append(r.Watchers, note("first"), note("second"))
	r.Beat = func() { r.bench.diary = append(r.bench.diary, "beat") }
	if _, err := r.Run(context.Background(), State{}); err != nil {
		t.Fatal(err)
	}
	var want []string
	for i := range 4 {
		ms := fmt.Sprint(50 * i)
		want = append(want, "read", "drive", "record "+ms, "first "+ms, "second "+ms, "beat")
	}
	if want = append(want, "close"); !slices.Equal(r.bench.diary, want) {
		t.Errorf("got  %v\nwant %v", r.bench.diary, want)
	}
}

// TestRecorderFailingHolds: a recorder that says that it fails holds the cycle in the next step.
func TestRecorderFailingHolds(t *testing.T) {
	const from = 50
	r := newRig(t, from+1)
	r.Commands = orders(Start)
	r.Recorder = &fakeRecorder{watcherFunc: func(*Tick) {}, failFrom: from}
	last, err := r.Run(context.Background(), State{})
	if err != nil || last.Cycle != Holding || last.Cause != RecordFailing {
		t.Errorf("%s because of %s, %v", last.Cycle, last.Cause, err)
	}
	if before := r.ticks[from-1].State.Cycle; before != Running {
		t.Errorf("%s before", before)
	}
}

// TestNoBeatWhileDriveBlocks: the watchdog is not fed while the outputs hang, by the loop or by anything else.
func TestNoBeatWhileDriveBlocks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const hangs = 5
		r, beats, gate := newRig(t, hangs+1), 0, make(chan struct{})
		r.Clock = NewRealClock()
		r.Beat = func() { beats++ }
		r.bench.driveErr = func(n int) error {
			if n == hangs {
				<-gate
			}
			return nil
		}
		done := make(chan error)
		go func() {
			_, err := r.Run(context.Background(), State{})
			done <- err
		}()
		time.Sleep(time.Hour) // of the bubble's time; passes at once
		synctest.Wait()
		if beats != hangs-1 || r.bench.drives != hangs {
			t.Errorf("%d beats with %d drives, want one less", beats, r.bench.drives)
		}
		close(gate)
		if err := <-done; err != nil || beats != hangs+1 {
			t.Errorf("%v; %d beats in the end, want %d", err, beats, hangs+1)
		}
	})
}

// TestHungDriveIsLate: after outputs that hung the next step is late, and holds what ran.
func TestHungDriveIsLate(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const hangs = 40
		r := newRig(t, hangs+1)
		r.Clock, r.Commands = NewRealClock(), orders(Start)
		r.bench.driveErr = func(n int) error {
			if n == hangs {
				time.Sleep(251 * time.Millisecond)
			}
			return nil
		}
		last, err := r.Run(context.Background(), State{})
		if err != nil || last.Cycle != Holding || last.Cause != LoopLate {
			t.Errorf("%s because of %s, %v", last.Cycle, last.Cause, err)
		}
	})
}

// TestEnded: a loop goes on for as long as the fan has to cool what the heater warmed.
func TestEnded(t *testing.T) {
	for _, c := range []struct {
		name string
		s    State
		want bool
	}{
		{"running", State{Cycle: Running}, false},
		{"held", State{Cycle: Held}, false},
		{"aborting", State{Cycle: Aborting}, false},
		{"complete", State{Cycle: Complete}, true},
		{"stopped", State{Cycle: Stopped}, true},
		{"aborted", State{Cycle: Aborted}, true},
		{"hot", State{Cycle: Complete, Heated: true, HeaterOff: 299 * time.Second}, false},
		{"cooled", State{Cycle: Complete, Heated: true, HeaterOff: 300 * time.Second}, true},
		{"heating", State{Cycle: Complete, Drove: Levels{Heater: 1}}, false},
	} {
		if got := Ended(c.s); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// TestLoopStepsAsStep: the loop's step in place and the pure Step come to the same, tick by tick.
func TestLoopStepsAsStep(t *testing.T) {
	r := newRig(t, 4000)
	r.Commands = orders(Start)
	if _, err := r.Run(context.Background(), State{}); err != nil {
		t.Fatal(err)
	}
	s, last := State{}, recipe.NoStage
	for i, tick := range r.ticks {
		next, out := r.Program.Step(s, tick.Inputs)
		if next != tick.State || out.Levels != tick.Outputs.Levels || !slices.Equal(out.Events.All(), tick.Outputs.Events.All()) {
			t.Fatalf("tick %d comes out differently", i)
		}
		s, last = next, r.Program.Kind(next.Stage)
	}
	if last != recipe.Dry {
		t.Errorf("came only to %s", last)
	}
}
