package controller

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"fullery/recipe"

	"github.com/google/go-cmp/cmp"
)

// golden compares text with a file under testdata, which FULLERY_UPDATE=1 rewrites.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if os.Getenv("FULLERY_UPDATE") != "" {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s changed (FULLERY_UPDATE=1 accepts it):\n%s", path, diff)
	}
}

func TestDiagram(t *testing.T) { golden(t, "transitions.txt", Diagram()) }

// TestTransitionsAreTheStandards compares with the example procedural states of IEC 61512-1 / ISA-88: the orders of
// its groups (hold from what runs, stop from what is active, abort from what operates, reset from what ended), as
// public descriptions of the standard give them; the standard's own table was not seen. Pausing and paused are left
// out on purpose.
func TestTransitionsAreTheStandards(t *testing.T) {
	run := []CycleState{Running, Restarting}
	activeStates := append([]CycleState{Holding, Held}, run...)
	operate := append([]CycleState{Stopping}, activeStates...)
	want := map[Transition]bool{
		{Idle, Running, "start"}: true, {Running, Complete, "done"}: true, {Holding, Held, "done"}: true,
		{Held, Restarting, "resume"}: true, {Restarting, Running, "done"}: true, {Stopping, Stopped, "done"}: true,
		{Aborting, Aborted, "done"}: true, {Complete, Idle, "reset"}: true, {Stopped, Idle, "reset"}: true,
		{Aborted, Idle, "reset"}: true,
	}
	for _, from := range run {
		want[Transition{from, Holding, "hold"}] = true
	}
	for _, from := range activeStates {
		want[Transition{from, Stopping, "stop"}] = true
	}
	for _, from := range operate {
		want[Transition{from, Aborting, "abort"}] = true
	}
	got := map[Transition]bool{}
	for _, tr := range Transitions() {
		if got[tr] {
			t.Errorf("%v stands twice", tr)
		}
		got[tr] = true
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// inState brings a puppet to each state of a cycle.
func inState(t *testing.T, want CycleState) *puppet {
	t.Helper()
	u := newPuppet(mustCompile(t, testRecipe("isopropanol-91"), testBench()))
	u.dryOut()
	u.tick()
	if want == Idle {
		return u
	}
	u.order(Start)
	u.until(t, "wet", func() bool { return u.s.Dosed > 0 })
	way := map[CycleState][]Order{
		Holding: {Hold}, Held: {Hold}, Restarting: {Hold, Resume}, Stopping: {Stop}, Stopped: {Stop},
		Aborting: {Abort}, Aborted: {Abort},
	}
	for _, o := range way[want] {
		if o == Resume {
			u.until(t, "held", func() bool { return u.s.Cycle == Held })
		}
		u.order(o)
	}
	u.until(t, want.String(), func() bool { return u.s.Cycle == want })
	return u
}

// TestOrdersInEveryState: each order in each state does what the table of transitions allows and nothing else.
func TestOrdersInEveryState(t *testing.T) {
	type key struct {
		s CycleState
		o Order
	}
	want := map[key]CycleState{
		{Idle, Start}: Running, {Running, Hold}: Holding, {Restarting, Hold}: Holding, {Held, Resume}: Restarting,
		{Held, ToDry}: Restarting, {Complete, Reset}: Idle, {Stopped, Reset}: Idle, {Aborted, Reset}: Idle,
	}
	for _, s := range []CycleState{Running, Holding, Held, Restarting} {
		want[key{s, Stop}] = Stopping
	}
	for _, s := range []CycleState{Running, Holding, Held, Restarting, Stopping} {
		want[key{s, Abort}] = Aborting
	}
	for s := range numStates {
		for o := Start; o < numOrders; o++ {
			u := inState(t, s)
			u.order(o)
			to, ok := want[key{s, o}]
			if !ok {
				to = s
			}
			if u.s.Cycle != to {
				t.Errorf("%s in %s leads to %s, want %s", o, s, u.s.Cycle, to)
			}
		}
	}
}

// TestStopTwiceIsStopOnce: a second press of stop never does more than the first.
func TestStopTwiceIsStopOnce(t *testing.T) {
	u := inState(t, Running)
	for range 4 {
		u.order(Stop)
	}
	u.until(t, "stopped", func() bool { return u.s.Cycle == Stopped })
	u.order(Stop)
	if u.s.Cycle != Stopped || u.out.Levels.Pump > 0 {
		t.Errorf("after five stops the cycle is %s, %+v", u.s.Cycle, u.out.Levels)
	}
}

// TestLidNeverStarts: closing the lid, and a reading that comes back, start nothing: only a resume does, and only
// after a look.
func TestLidNeverStarts(t *testing.T) {
	u := inState(t, Running)
	u.twist = func(in *Inputs) { in.Readings[recipe.Lid].Value = 0 }
	u.tick()
	u.until(t, "held", func() bool { return u.s.Cycle == Held })
	events := u.order(Resume)
	if u.s.Cycle != Held || !has(events, OrderRefused, LidOpen) {
		t.Fatalf("resume with the lid open: %s, %+v", u.s.Cycle, events)
	}
	u.twist = nil
	for range 20 * 60 {
		u.tick()
	}
	if u.s.Cycle != Held {
		t.Fatalf("closing the lid led to %s", u.s.Cycle)
	}
	u.step(u.p.timing.tick, Command{Order: Resume})
	if u.s.Cycle != Held {
		t.Fatal("resumed without a look")
	}
	u.order(Resume)
	u.until(t, "running", func() bool { return u.s.Cycle == Running })
}

// TestCauseCannotBeResetAway: an abort whose cause is still there is not reset.
func TestCauseCannotBeResetAway(t *testing.T) {
	causes := map[Guard]func(*Inputs){
		EStopPressed: func(in *Inputs) { in.Readings[recipe.EStop].Value = 0 },
		VapourHigh:   func(in *Inputs) { in.Readings[recipe.Vapour].Value = 0.3 },
		TrayWet:      func(in *Inputs) { in.Readings[recipe.TrayFloat].Value = 0 },
		AirTooHot:    func(in *Inputs) { in.Readings[recipe.Air].Value = celsius0 + 60 },
		DriveFailing: func(in *Inputs) { in.DriveFailed = true },
	}
	for g, cause := range causes {
		u := inState(t, Running)
		u.twist = cause
		u.until(t, "aborted by "+g.String(), func() bool { return u.s.Cycle == Aborted })
		if events := u.order(Reset); u.s.Cycle != Aborted || !has(events, OrderRefused, g) {
			t.Errorf("%s: reset with the cause there led to %s, %+v", g, u.s.Cycle, events)
		}
		u.twist = nil
		u.tick()
		u.step(u.p.timing.tick, Command{Order: Reset})
		if u.s.Cycle != Aborted {
			t.Errorf("%s: reset without a look", g)
		}
		if u.order(Reset); u.s.Cycle != Idle {
			t.Errorf("%s: cannot be reset when its cause is gone", g)
		}
	}
}

// TestStartNeedsALookAndNoCause: a start without a look, or with the lid open, is refused.
func TestStartNeedsALookAndNoCause(t *testing.T) {
	u := inState(t, Idle)
	u.step(u.p.timing.tick, Command{Order: Start})
	if u.s.Cycle != Idle {
		t.Error("started without a look")
	}
	u.twist = func(in *Inputs) { in.Readings[recipe.Lid].Value = 0 }
	if events := u.order(Start); u.s.Cycle != Idle || !has(events, OrderRefused, LidOpen) {
		t.Errorf("start with the lid open: %s %+v", u.s.Cycle, events)
	}
}

// TestInterrupted: after power came back the bench is held, the fan purges first where something can burn, nothing
// starts by itself, and the operator may resume the stage from its start, go to drying, or stop.
func TestInterrupted(t *testing.T) {
	for _, c := range []struct {
		order Order
		stage recipe.Kind
		state CycleState
	}{{Resume, recipe.Scrub, Running}, {ToDry, recipe.Dry, Running}, {Stop, recipe.Scrub, Stopped}} {
		p := mustCompile(t, testRecipe("isopropanol-91"), testBench())
		u := newPuppet(p)
		u.s = p.Interrupted(2, 5*mL)
		u.tick()
		if events := u.order(Resume); c.order == Resume && (u.s.Cycle != Held || !has(events, OrderRefused, CutShort)) {
			t.Fatalf("resumed before the purge: %s", u.s.Cycle)
		}
		u.until(t, "purged", func() bool {
			if u.s.PurgeLeft > 0 && u.s.Ticking && u.s.Last > p.timing.tick && u.out.Levels.Fan == 0 {
				t.Fatal("no fan while vapour may be there")
			}
			return u.s.PurgeLeft == 0
		})
		for range 20 * 60 {
			u.tick()
		}
		if u.s.Cycle != Held {
			t.Fatalf("started by itself: %s", u.s.Cycle)
		}
		u.order(c.order)
		u.until(t, c.state.String(), func() bool { return u.s.Cycle == c.state })
		if u.p.stages[u.s.Stage].Do != c.stage || u.s.Dosed < 5*mL {
			t.Errorf("%s leads to stage %d with %g m³ dosed", c.order, u.s.Stage, u.s.Dosed)
		}
	}
}

// TestOvertimeTwice: a stage that ran out of time gets its time once more on resume, and is held again.
func TestOvertimeTwice(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.Dry)
	u.twist = func(in *Inputs) { in.Readings[recipe.Surface].Value = in.Readings[recipe.Air].Value - 5 }
	for range 2 {
		since := u.s.Last
		u.history = nil
		u.until(t, "overtime", func() bool { return has(u.history, GuardTripped, StageOvertime) })
		if took := u.s.Last - since; took < 89*time.Minute {
			t.Fatalf("held after %v, want about 90 min", took)
		}
		u.until(t, "held", func() bool { return u.s.Cycle == Held })
		u.order(Resume)
		u.until(t, "running", func() bool { return u.s.Cycle == Running })
	}
}

// TestWallOfTime: a stage's length is the loop's monotonic time and nothing else; two runs whose clocks start
// elsewhere are alike step by step.
func TestWallOfTime(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	a, b := newPuppet(p), newPuppet(p)
	const apart = 77 * time.Hour
	b.s.Last, b.s.Ticking, a.s.Ticking = apart, true, true
	for i := range 20 * 120 {
		c := Command{}
		if i == 3 {
			c = Command{Order: Start, Looked: true}
		}
		a.step(p.timing.tick, c)
		b.step(p.timing.tick, c)
		moved := b.s
		moved.Last -= apart
		if a.s != moved || a.out.Levels != b.out.Levels {
			t.Fatalf("tick %d: the moment at which the clock started made a difference", i)
		}
	}
}
