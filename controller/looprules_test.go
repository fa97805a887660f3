package controller

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"fullery/recipe"
)

// TestLoopGoesOnFromItsState: a loop that is given a cycle that was cut short begins with it, and not with an idle bench.
func TestLoopGoesOnFromItsState(t *testing.T) {
	r := newRig(t, 3)
	last, err := r.Run(context.Background(), r.Program.Interrupted(2, 5*mL))
	if err != nil || last.Cycle != Held || last.Cause != CutShort || last.Stage != 2 || last.Dosed != 5*mL {
		t.Errorf("%v; %s by %s in stage %d, %g m³ given", err, last.Cycle, last.Cause, last.Stage, last.Dosed)
	}
}

// TestLoopStaysWhileTheHeaterIsStuck: a cycle that has ended is not left alone with air that does not cool.
func TestLoopStaysWhileTheHeaterIsStuck(t *testing.T) {
	s := State{Cycle: Aborted, Heated: true, HeaterOff: usualTiming.cool}
	if !Ended(s) {
		t.Error("cooled, and not ended")
	}
	s.Tripped.put(TankLow)
	if !Ended(s) {
		t.Error("not ended for a guard that does not heat")
	}
	if s.Tripped.put(HeaterStuck); Ended(s) {
		t.Error("ended with a heater that is stuck")
	}
}

// TestNoBeatForOutputsThatFail: the watchdog is fed in every tick whose outputs could be driven, and in no other.
func TestNoBeatForOutputsThatFail(t *testing.T) {
	r, beats := newRig(t, 10), 0
	r.Beat = func() { beats++ }
	r.bench.driveErr = func(n int) error {
		if n == 4 || n == 5 {
			return errTest
		}
		return nil
	}
	if _, err := r.Run(context.Background(), State{}); err != nil || beats != 8 {
		t.Errorf("%v; %d beats in 10 ticks of which 2 failed", err, beats)
	}
}

// TestPastMomentIsNotWaitedFor: a wait for what is over ends at once and well, also when its context has ended; a wait
// for what is to come tells why the context ended.
func TestPastMomentIsNotWaitedFor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithCancelCause(context.Background())
		cancel(errTest)
		start := time.Now()
		for range 100 { // a timer of no length would race with the context
			for _, d := range []time.Duration{0, -1, -time.Hour} {
				if err := sleep(ctx, d); err != nil {
					t.Fatalf("a wait of %v: %v", d, err)
				}
			}
		}
		if err := sleep(ctx, time.Hour); !errors.Is(err, errTest) || time.Since(start) != 0 {
			t.Errorf("%v after %v", err, time.Since(start))
		}
	})
}

// TestStageAfterTheLastHasNoName.
func TestStageAfterTheLastHasNoName(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for i, want := range map[int]string{0: "Wet", 5: "Dry", 6: "Stage", -1: "Stage"} {
		if got := p.StageName(i); got != want {
			t.Errorf("stage %d is called %q, want %q", i, got, want)
		}
	}
}

// TestResetTellsNothingOfTheCycle: the summary of a cycle that has ended stays as it was when the bench is reset.
func TestResetTellsNothingOfTheCycle(t *testing.T) {
	w := newWatched(t, "water-detergent")
	w.at(t, recipe.Wet, time.Second)
	w.give(Abort)
	w.to(t, Aborted)
	w.give(Reset)
	w.give(NoOrder)
	if w.s.Cycle != Idle || w.sum.Final.Cycle != Aborted || w.sum.Reason() != "Aborted by the operator." {
		t.Errorf("the bench is %s; the cycle %s: %q", w.s.Cycle, w.sum.Final.Cycle, w.sum.Reason())
	}
}
