package controller

import (
	"testing"
	"time"

	"fullery/recipe"
)

// TestFanWhereNothingWorks: in the states that do no work the fan clears vapour after a flammable liquid, cools after
// the heater, and blows where heat was the trouble; a fan that failed, or that is not there, is left alone.
func TestFanWhereNothingWorks(t *testing.T) {
	const wet, dry = 0, 5
	cool := usualTiming.cool
	for _, c := range []struct {
		name   string
		liquid string
		bench  func(*recipe.Bench)
		s      State
		want   float64
	}{
		{"idle, whatever was before", "isopropanol-91", nil, State{Cause: VapourHigh}, 0},
		{"held after alcohol", "isopropanol-91", nil, State{Cycle: Held, Stage: dry}, 1},
		{"aborted after alcohol", "isopropanol-91", nil, State{Cycle: Aborted}, 1},
		{"complete after alcohol", "isopropanol-91", nil, State{Cycle: Complete}, 0},
		{"the fan has failed", "isopropanol-91", nil, State{Cycle: Held, FanBad: true}, 0},
		{"no fan there", "water-detergent", func(b *recipe.Bench) { b.Fan, b.Heater = recipe.Fan{}, recipe.Heater{} },
			State{Cycle: Aborted, Cause: AirTooHot}, 0},
		{"held after water", "water-detergent", nil, State{Cycle: Held, Stage: dry}, 0},
		{"vapour high with water", "water-detergent", nil, State{Cycle: Aborted, Cause: VapourHigh}, 1},
		{"heater stuck", "water-detergent", nil, State{Cycle: Aborted, Cause: HeaterStuck}, 1},
		{"too hot", "water-detergent", nil, State{Cycle: Aborted, Cause: AirTooHot}, 1},
		{"another cause", "water-detergent", nil, State{Cycle: Aborted, Cause: TrayWet}, 0},
		{"idle, though it blew", "water-detergent", nil, State{Blow: true}, 0},
		{"heat or vapour was seen, and something else stopped it", "water-detergent", nil, State{Cycle: Stopped, Cause: LidOpen, Blow: true}, 1},
		{"still cooling", "water-detergent", nil, State{Cycle: Complete, Heated: true, HeaterOff: cool - 1}, 1},
		{"cooled", "water-detergent", nil, State{Cycle: Complete, Heated: true, HeaterOff: cool}, 0},
		{"never heated", "water-detergent", nil, State{Cycle: Complete, HeaterOff: 0}, 0},
		{"restarting a drying", "water-detergent", nil, State{Cycle: Restarting, Stage: dry}, 0.7},
		{"restarting without a fan", "water-detergent", nil, State{Cycle: Restarting, Stage: wet}, 0},
		{"restarting without a fan, still warm", "water-detergent", nil, State{Cycle: Restarting, Stage: wet, Heated: true}, 1},
	} {
		r, b := testRecipe(c.liquid), testBench()
		if r.Stages[dry].Fan = 0.7; c.bench != nil {
			c.bench(&b)
			r.Stages = r.Stages[:dry]
		}
		p := mustCompile(t, r, b)
		var got Levels
		if p.air(&c.s, &got); got != (Levels{Fan: c.want}) {
			t.Errorf("%s: %+v, want the fan at %g", c.name, got, c.want)
		}
	}
}

// TestStageKeepsItsOwnFan: while a stage works its own fan counts, also with a liquid that would have it at full speed
// elsewhere; and a fan that fits both stages does not blink at the change.
func TestStageKeepsItsOwnFan(t *testing.T) {
	r := testRecipe("isopropanol-91")
	for i := range r.Stages {
		r.Stages[i].Fan = 0.5
	}
	u := newPuppet(mustCompile(t, r, testBench()))
	u.dryOut()
	u.tick()
	u.order(Start)
	u.until(t, "complete", func() bool {
		if u.s.Cycle == Running && u.out.Levels.Fan != 0.5 {
			t.Fatalf("the fan is at %g in stage %d, want 0.5", u.out.Levels.Fan, u.s.Stage)
		}
		return u.s.Cycle == Complete
	})
	if u.out.Levels != (Levels{}) {
		t.Errorf("in the step that completes the cycle %+v is asked", u.out.Levels)
	}
}

// TestRestBetweenStages: in the step that ends a stage nothing but the fan is asked.
func TestRestBetweenStages(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("isopropanol-91"), testBench()))
	u.dryOut()
	u.tick()
	u.order(Start)
	ends := 0
	for u.s.Cycle == Running {
		for _, ev := range u.tick() {
			if ev.Kind == StageEnded {
				ends++
				if rest := u.out.Levels; rest != (Levels{Fan: rest.Fan}) {
					t.Errorf("stage %d ended and %+v is asked", ev.Stage, rest)
				}
			}
		}
	}
	if ends != 6 {
		t.Errorf("%d stages ended, want 6", ends)
	}
}

// TestRestartWaitsForTheFan: a drying goes on only once the fan is proven, and the fan does not stop for it.
func TestRestartWaitsForTheFan(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.Dry)
	u.order(Hold)
	u.until(t, "held, and cool", func() bool { return u.s.Cycle == Held && u.s.Drove.Fan == 0 })
	u.twist = func(in *Inputs) { in.Readings[recipe.FanSpeed].Value = 0 }
	u.order(Resume)
	for range 2 * 20 {
		u.tick()
	}
	if u.s.Cycle != Restarting || u.out.Levels.Fan != 1 {
		t.Fatalf("%s with the fan at %g before it turned", u.s.Cycle, u.out.Levels.Fan)
	}
	u.twist = nil
	u.until(t, "running", func() bool {
		if u.out.Levels.Fan != 1 {
			t.Fatalf("%s, and the fan is asked for %g", u.s.Cycle, u.out.Levels.Fan)
		}
		return u.s.Cycle == Running
	})
}

// TestRestComesToAnEnd: stopping and aborting end when what turned is at rest and the vapour is cleared, or when it
// cannot be: the fan failed, or three times the purge have passed.
func TestRestComesToAnEnd(t *testing.T) {
	p := mustCompile(t, testRecipe("isopropanol-91"), testBench())
	rundown, purge := p.timing.rundown, p.timing.purge
	for _, c := range []struct {
		s    State
		want bool
	}{
		{State{InState: rundown}, true},
		{State{InState: rundown - 1}, false},
		{State{InState: rundown, PurgeLeft: 1}, false},
		{State{InState: rundown, PurgeLeft: 1, FanBad: true}, true},
		{State{InState: 3*purge - 1, PurgeLeft: 1}, false},
		{State{InState: 3 * purge, PurgeLeft: 1}, true},
	} {
		if got := p.cleared(&c.s); got != c.want {
			t.Errorf("%v in the state, purge left %v, fan bad %v: cleared is %v", c.s.InState, c.s.PurgeLeft, c.s.FanBad, got)
		}
	}
	if longest := p.timing.longest(Aborting); longest < 3*purge {
		t.Errorf("time in aborting is counted to %v only", longest)
	}
}

// TestNoFanNoEndlessPurge: a purge that no tach proves ends by itself, in words of time and not at once.
func TestNoFanNoEndlessPurge(t *testing.T) {
	u := inState(t, Running)
	u.order(Abort)
	u.twist = func(in *Inputs) { in.Readings[recipe.FanSpeed].Value = 0 }
	since := u.s.Last
	u.s.FanProof = 0
	u.until(t, "aborted", func() bool { return u.s.Cycle == Aborted })
	if took := u.s.Last - since; took > 3*u.p.timing.purge+time.Second {
		t.Errorf("aborted after %v", took)
	}
}
