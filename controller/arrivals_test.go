package controller

import (
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/endpoint"

	"github.com/google/go-cmp/cmp"
)

// usedState is a state in which everything that could be left from an earlier cycle is left.
func usedState(p *Program) State {
	s := State{
		Last: time.Hour, Ticking: true, Late: true, Cycle: Idle, InState: 1, Cause: LidOpen, MustLook: true,
		Stage: 3, InStage: 2, Worked: 3, Total: 4, Dosed: 5 * mL, Drove: Levels{Fan: 1},
		FanAsked: 5, FanProof: 6, FanDoubt: 7, FanBad: true, Blow: true, PurgeLeft: 8, PressedFor: 9, AwayFor: 10, PadsFor: 11, HubFor: 12,
		PadsRest: 13, PumpRest: 14, HeaterRest: 15, HeaterOff: 16, Heated: true, Warmth: 0.5, AirLow: 290,
		Drying:  Drying{Unseen: 17, Broken: true, Resumed: 18, Took: 19, Evidence: ByClock},
		Tripped: 1 << TankLow, Waiting: 1 << TankLow,
	}
	s.Held[TankLow] = p.timing.clear
	s.Drying.Seen.Tracks[BySurface-1] = endpoint.Track{Zero: 0.1, Read: 7}
	return s
}

// TestStartForgetsTheCycleBefore: of an earlier cycle a start keeps what is true of the bench (its clock, what it was
// last asked, how long its parts must rest, how long the heater has been off) and what was read of the dry disk; everything else begins anew.
func TestStartForgetsTheCycleBefore(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	used := usedState(p)
	s, v, ev := used, view{stage: &p.stages[3], in: &Inputs{}}, Events{}
	p.begin(&s, &v, &ev)
	want := State{Last: used.Last, Ticking: true, Cycle: Running, HeaterOff: used.HeaterOff, AirLow: used.AirLow, Drove: used.Drove,
		PadsRest: used.PadsRest, PumpRest: used.PumpRest, HeaterRest: used.HeaterRest}
	want.Drying.Seen.Tracks[BySurface-1] = endpoint.Track{Zero: 0.1, Read: 7}
	if diff := cmp.Diff(want, s); diff != "" {
		t.Error(diff)
	}
	events := []Event{{Kind: StateChanged, From: Idle, To: Running}, {Kind: StageBegun, Stage: 0}}
	if diff := cmp.Diff(events, ev.All()); diff != "" {
		t.Error(diff)
	}
	if v.stage != &p.stages[0] {
		t.Error("the step goes on with another stage")
	}
}

// TestResetForgetsTheCycle: a reset keeps the bench's own, and the guards that have tripped until their cause is gone.
func TestResetForgetsTheCycle(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	used := usedState(p)
	used.Cycle = Aborted
	s, v, ev := used, view{stage: &p.stages[3]}, Events{}
	p.carryOut(&s, &v, Reset, &ev)
	want := State{Last: used.Last, Ticking: true, HeaterOff: used.HeaterOff, AirLow: used.AirLow, Drove: used.Drove,
		PadsRest: used.PadsRest, PumpRest: used.PumpRest, HeaterRest: used.HeaterRest,
		Tripped: used.Tripped, Waiting: used.Waiting, Held: used.Held}
	if diff := cmp.Diff(want, s); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]Event{{Kind: StateChanged, From: Aborted, To: Idle}}, ev.All()); diff != "" {
		t.Error(diff)
	}
}

// TestStageArrivesClean: a new stage has no time of the one before; only of two dryings in a row the second goes on
// with what the sensors have shown, and any other begins again from the dry disk.
func TestStageArrivesClean(t *testing.T) {
	r := testRecipe("water-detergent")
	r.Stages = append(r.Stages, r.Stages[5])
	p := mustCompile(t, r, testBench())
	for _, c := range []struct {
		from, to int8
		goesOn   bool
	}{{5, 6, true}, {4, 5, false}, {5, 4, false}, {0, 1, false}} {
		s, ev := usedState(p), Events{}
		shown := endpoint.Track{Zero: 0.1, Read: 7, Sum: 3, Started: true}
		s.Stage, s.Drying.Seen.Tracks[BySurface-1] = c.from, shown
		v := view{stage: &p.stages[c.from]}
		p.beginStage(&s, &v, c.to, &ev)
		want := Drying{}
		if want.Seen.Tracks[BySurface-1] = shown; !c.goesOn {
			want.Seen.Tracks[BySurface-1] = endpoint.Track{Zero: 0.1, Read: 7}
		}
		if diff := cmp.Diff(want, s.Drying); diff != "" {
			t.Errorf("stage %d to %d:\n%s", c.from, c.to, diff)
		}
		if s.Stage != c.to || s.InStage != 0 || s.Worked != 0 || s.Warmth != 0 || v.stage != &p.stages[c.to] {
			t.Errorf("stage %d to %d: %+v", c.from, c.to, s)
		}
		if diff := cmp.Diff([]Event{{Kind: StageBegun, Stage: c.to}}, ev.All()); diff != "" {
			t.Error(diff)
		}
	}
}

// TestEndOfDryingIsTold: with its stage, how long it took, and on what it rests.
func TestEndOfDryingIsTold(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.dryOut()
	u.tick()
	u.order(Start)
	u.until(t, "complete", func() bool { return u.s.Cycle == Complete })
	told := 0
	for _, ev := range u.history {
		if ev.Kind == LiquidDried {
			told++
			if want := (Event{Kind: LiquidDried, Stage: 5, Value: u.s.Worked.Minutes(), Evidence: BySurface}); ev != want {
				t.Errorf("told %+v, want %+v", ev, want)
			}
		}
	}
	if told != 1 || u.s.Drying.Took != u.s.Worked || u.s.Worked < 5*time.Minute {
		t.Errorf("told %d times; took %v of %v", told, u.s.Drying.Took, u.s.Worked)
	}
}

// TestEveryChangeSaysWhereAndWhy: a change of state is told with its stage and with the guard that caused it.
func TestEveryChangeSaysWhereAndWhy(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.Scrub)
	u.twist = func(in *Inputs) { in.Readings[recipe.TrayFloat].Value = 0 }
	want := Event{Kind: StateChanged, From: Running, To: Aborting, Stage: 2, Guard: TrayWet}
	for _, ev := range u.tick() {
		if ev.Kind == StateChanged && ev != want {
			t.Errorf("told %+v, want %+v", ev, want)
		}
	}
	if u.s.Cycle != Aborting {
		t.Errorf("the cycle is %s", u.s.Cycle)
	}
}

// TestStageEndsOnce: an abort out of stopping does not end the stage that the stop has ended.
func TestStageEndsOnce(t *testing.T) {
	u := inState(t, Running)
	u.history = nil
	u.order(Stop)
	u.order(Abort)
	ends := 0
	for _, ev := range u.history {
		if ev.Kind == StageEnded {
			ends++
		}
	}
	if ends != 1 || u.s.Cycle != Aborting {
		t.Errorf("%d ends of the stage, %s", ends, u.s.Cycle)
	}
}

// TestWhoMustLook: after a guard that asks for a look it is owed until it was given, a stop in between changes nothing;
// after one that asks for none it is not.
func TestWhoMustLook(t *testing.T) {
	u := inState(t, Running)
	u.twist = func(in *Inputs) { in.RecordFailing = true }
	u.tick()
	u.twist = nil
	if u.s.Cycle != Holding || u.s.Cause != RecordFailing || u.s.MustLook {
		t.Errorf("held by %s, a look is owed: %v", u.s.Cause, u.s.MustLook)
	}
	u = inState(t, Running)
	u.twist = openLid
	u.tick()
	u.twist = nil
	if u.order(Stop); u.s.Cycle != Stopping || !u.s.MustLook {
		t.Errorf("%s after an open lid, a look is owed: %v", u.s.Cycle, u.s.MustLook)
	}
}

// TestHoldOfAScrubBreaksNoDrying, and that of a drying does: from then on its sensors must show the liner wet anew.
func TestHoldBreaksOnlyADrying(t *testing.T) {
	u := inState(t, Running)
	if u.order(Hold); u.s.Drying.Broken || u.s.Drying.Resumed != 0 {
		t.Errorf("a hold of the wetting left %+v", u.s.Drying)
	}
	u = newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.dryOut()
	u.toStage(t, recipe.Dry)
	track := &u.s.Drying.Seen.Tracks[BySurface-1]
	u.until(t, "a jacket that shows itself wet", func() bool { return track.Started })
	worked := u.s.Worked
	if u.order(Hold); !u.s.Drying.Broken || track.Started || u.s.Drying.Resumed < worked {
		t.Errorf("a hold of the drying left %+v", u.s.Drying)
	}
}

// TestPurgeIsOwedAfterAlcoholOnly.
func TestPurgeIsOwedAfterAlcoholOnly(t *testing.T) {
	for liquid, want := range map[string]time.Duration{"isopropanol-91": usualTiming.purge, "water-detergent": 0} {
		u := newPuppet(mustCompile(t, testRecipe(liquid), testBench()))
		u.toStage(t, recipe.Wet)
		if u.order(Abort); u.s.PurgeLeft != want {
			t.Errorf("%s: aborted with %v to purge, want %v", liquid, u.s.PurgeLeft, want)
		}
		if s := u.p.Interrupted(0, 0); s.PurgeLeft != want {
			t.Errorf("%s: cut short with %v to purge, want %v", liquid, s.PurgeLeft, want)
		}
	}
}

// TestGuardTripsAnewAfterAResume: a cause that went and came back within the time that it takes to be forgotten still
// holds the cycle again.
func TestGuardTripsAnewAfterAResume(t *testing.T) {
	u := inState(t, Running)
	u.twist = openLid
	u.until(t, "held", func() bool { return u.s.Cycle == Held })
	u.twist = nil
	u.order(Resume)
	u.until(t, "running", func() bool { return u.s.Cycle == Running })
	if u.s.Last > time.Hour {
		t.Fatal("too late for the test to mean anything")
	}
	u.history, u.twist = nil, openLid
	u.tick()
	if !has(u.history, GuardTripped, LidOpen) || u.s.Cycle != Holding {
		t.Errorf("the lid opened again: %s, %+v", u.s.Cycle, u.history)
	}
}

// TestCutShortBeginsItsStageAgain: whatever a stage had done before the power failed counts for nothing.
func TestCutShortBeginsItsStageAgain(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for cause, want := range map[Guard]time.Duration{CutShort: 0, LidOpen: 5 * time.Second, noGuard: 5 * time.Second} {
		s := State{Cycle: Held, Cause: cause, InStage: 5 * time.Second, Worked: 5 * time.Second}
		p.restart(&s, &view{stage: &p.stages[0]}, &Events{})
		if s.InStage != want || s.Worked != want {
			t.Errorf("resumed after %s at %v of work, want %v", cause, s.Worked, want)
		}
	}
}

// TestInterruptedState: the stage is one that the program has, a look is owed, and what was warm is taken to be warm.
func TestInterruptedState(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for asked, want := range map[int]int8{-1: 0, 0: 0, 3: 3, 5: 5, 6: 5, 1000: 5} {
		s := p.Interrupted(asked, 3*mL)
		if s.Stage != want || !s.MustLook || s.Cycle != Held || s.Cause != CutShort || s.Dosed != 3*mL {
			t.Errorf("stage %d: %+v", asked, s)
		}
		if warm := want == 5; s.Heated != warm {
			t.Errorf("stage %d: taken for warm: %v", asked, s.Heated)
		}
	}
}

// TestWhatIsTakenToEvaporate: after a flammable liquid everywhere but in idle; and wherever vapour stopped the cycle.
func TestWhatIsTakenToEvaporate(t *testing.T) {
	for _, c := range []struct {
		liquid string
		s      State
		want   bool
	}{
		{"isopropanol-91", State{Cycle: Held}, true}, {"isopropanol-91", State{}, false},
		{"water-detergent", State{Cycle: Held}, false}, {"water-detergent", State{Cycle: Held, Cause: VapourHigh}, true},
	} {
		p := mustCompile(t, testRecipe(c.liquid), testBench())
		if got := p.wetWithFlammable(&c.s); got != c.want {
			t.Errorf("%s, %s, cause %s: %v", c.liquid, c.s.Cycle, c.s.Cause, got)
		}
	}
}
