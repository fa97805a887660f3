package controller

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"

	"github.com/google/go-cmp/cmp"
)

// after makes one step's counting, dt after the state's last, with the readings of a bench on which all is well.
func after(p *Program, s State, dt time.Duration, twist func(*Inputs)) (State, time.Duration) {
	in := Inputs{Now: s.Last + dt}
	u := puppet{p: p, s: s}
	u.well(&in)
	if twist != nil {
		twist(&in)
	}
	v := p.see(&s, &in)
	v.dt = p.advance(&s, &v)
	return s, v.dt
}

// TestSpansAreCounted: in one step, everything that was on has been on for so much longer, and what rests has so much
// less to rest; each up to the cap beyond which nothing depends on it.
func TestSpansAreCounted(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	const tick = 50 * time.Millisecond
	begun := State{Last: time.Minute, Ticking: true, Cycle: Running, Stage: 2, InStage: time.Second, Worked: time.Second, Total: time.Second,
		Drove: Levels{Press: true, Pads: 1, Hub: 1, Fan: 1}}
	on := begun
	on.FanAsked, on.FanDoubt, on.PressedFor, on.PadsFor, on.HubFor = tick, tick, tick, tick, tick
	on.AwayFor, on.PadsRest, on.PumpRest, on.HeaterRest, on.HeaterOff = tick, 3*tick, tick/2, 4*tick, tick
	on.AirLow = celsius0 + 30
	want := on
	want.Last, want.InStage, want.Worked, want.Total = time.Minute+tick, time.Second+tick, time.Second+tick, time.Second+tick
	want.FanAsked, want.FanDoubt, want.PressedFor, want.PadsFor, want.HubFor, want.FanProof = 2*tick, 2*tick, 2*tick, 2*tick, 2*tick, tick
	want.AwayFor, want.PadsRest, want.PumpRest, want.HeaterRest, want.HeaterOff = 0, 2*tick, 0, 3*tick, 2*tick
	want.AirLow = celsius0 + 21
	got, dt := after(p, on, tick, nil)
	if diff := cmp.Diff(want, got); diff != "" || dt != tick {
		t.Errorf("on, %v later:\n%s", dt, diff)
	}

	long, _ := after(p, begun, time.Hour, nil)
	caps := p.timing
	if long.FanAsked != caps.spinUp || long.FanProof != caps.proof || long.PressedFor != caps.settle || long.PadsFor != caps.padsSpin ||
		long.HubFor != caps.hubSpin || long.InStage != p.stages[2].AtMost || long.Worked != p.stages[2].AtMost ||
		long.HeaterOff != caps.cool || long.InState != 0 {
		t.Errorf("an hour on is counted as %+v", long)
	}
	doubtful, _ := after(p, begun, 10*time.Hour, func(in *Inputs) { in.Readings[recipe.FanSpeed].Value = 0 })
	if doubtful.FanDoubt != 3*caps.spinUp || doubtful.FanProof != 0 || doubtful.Total != p.recipe.Limits.Time {
		t.Errorf("ten hours of a fan that stands are counted as %+v", doubtful)
	}

	on.Drove = Levels{}
	off, _ := after(p, on, tick, nil)
	if off.FanAsked != 0 || off.FanProof != 0 || off.FanDoubt != 0 || off.PressedFor != 0 || off.PadsFor != 0 || off.HubFor != 0 ||
		off.AwayFor != 2*tick || off.Worked != time.Second || off.InStage != time.Second+tick {
		t.Errorf("off is counted as %+v", off)
	}
	if away, _ := after(p, off, time.Hour, nil); away.AwayFor != caps.settle {
		t.Errorf("away for an hour is counted as %v", away.AwayFor)
	}
}

// TestPadsTurningBackCount: turning the other way is turning.
func TestPadsTurningBackCount(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	if s, _ := after(p, State{Ticking: true, Drove: Levels{Pads: -1}}, 20, nil); s.PadsFor != 20 {
		t.Errorf("counted %v", s.PadsFor)
	}
}

// TestTimeOutsideOfRunning counts for the state and not for the stage.
func TestTimeOutsideOfRunning(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for c, most := range map[CycleState]time.Duration{
		Idle: 0, Held: 0, Holding: 3 * time.Second, Restarting: time.Second, Stopping: 6 * time.Minute, Aborting: 6 * time.Minute,
		Stopped: 0, Aborted: 0, Complete: 0, Running: 0,
	} {
		s, _ := after(p, State{Ticking: true, Cycle: c}, time.Hour, nil)
		if running := c == Running; s.InState != most || (s.InStage > 0) != running || (s.Total > 0) != running {
			t.Errorf("%s: %v in the state, want %v; %v in the stage", c, s.InState, most, s.InStage)
		}
	}
}

// TestDoseIsFlowTimesTime, for either pump, and for neither nothing.
func TestDoseIsFlowTimesTime(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for _, c := range []struct {
		stage int8
		drove Levels
		want  float64
	}{
		{0, Levels{Pump: 0.1}, 6 * mL * perMin / 5}, {3, Levels{RinsePump: 0.1}, 10 * mL * perMin / 5}, {0, Levels{Hub: 1}, 0},
	} {
		s, _ := after(p, State{Ticking: true, Cycle: Running, Stage: c.stage, Drove: c.drove, Dosed: mL}, 200*time.Millisecond, nil)
		if math.Abs(s.Dosed-mL-c.want) > 1e-15 {
			t.Errorf("stage %d, %+v: %g m³ more, want %g", c.stage, c.drove, s.Dosed-mL, c.want)
		}
	}
}

// TestLateSteps: more than a quarter of a second after the last, or a clock that went back; never the first.
func TestLateSteps(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for _, c := range []struct {
		ticking bool
		dt      time.Duration
		late    bool
		counts  time.Duration
	}{
		{true, p.timing.late, false, p.timing.late}, {true, p.timing.late + 1, true, p.timing.late + 1}, {true, 0, false, 0},
		{true, -1, true, 0}, {false, time.Hour, false, 0}, {false, -1, false, 0},
	} {
		s, dt := after(p, State{Last: time.Minute, Ticking: c.ticking}, c.dt, nil)
		if s.Late != c.late || dt != c.counts || s.Last != time.Minute+c.dt || !s.Ticking {
			t.Errorf("%v after the last (ticking %v): late %v, counted %v, %+v", c.dt, c.ticking, s.Late, dt, s.Last)
		}
	}
}

// TestPurgeNeedsAProvenFan: only time in which the fan surely moves air clears vapour.
func TestPurgeNeedsAProvenFan(t *testing.T) {
	p := mustCompile(t, testRecipe("isopropanol-91"), testBench())
	blowing := State{Ticking: true, Cycle: Aborting, Drove: Levels{Fan: 1}, FanProof: p.timing.proof, PurgeLeft: time.Second}
	for _, c := range []struct {
		name  string
		dt    time.Duration
		twist func(*Inputs)
		want  time.Duration
	}{
		{"proven", 200 * time.Millisecond, nil, 800 * time.Millisecond}, {"long", time.Minute, nil, 0},
		{"standing", 200 * time.Millisecond, func(in *Inputs) { in.Readings[recipe.FanSpeed].Value = 0 }, time.Second},
	} {
		s, _ := after(p, blowing, c.dt, c.twist)
		if s.PurgeLeft != c.want || (c.want < time.Second) != (s.FanDoubt == 0) {
			t.Errorf("%s: %v left to purge, want %v; in doubt for %v", c.name, s.PurgeLeft, c.want, s.FanDoubt)
		}
	}
}

// TestCoastingFanProvesNothing: a fan that is not asked may still turn, or be blown on; it moves no air for anybody.
func TestCoastingFanProvesNothing(t *testing.T) {
	p := mustCompile(t, testRecipe("isopropanol-91"), testBench())
	s, _ := after(p, State{Ticking: true, FanProof: p.timing.proof, PurgeLeft: time.Second}, 200*time.Millisecond, func(in *Inputs) {
		in.Readings[recipe.FanSpeed].Value = 20
	})
	if s.FanProof != 0 || s.PurgeLeft != time.Second {
		t.Errorf("proven for %v, %v left to purge", s.FanProof, s.PurgeLeft)
	}
}

// TestHeaterOffIsWatched: since the heater went off the time and the coolest air are kept; while it is on, neither; and
// air that is not measured leaves no mark.
func TestHeaterOffIsWatched(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	air := func(x float64) func(*Inputs) { return func(in *Inputs) { in.Readings[recipe.Air].Value = x } }
	off := State{Ticking: true, HeaterOff: time.Second, AirLow: 300}
	for _, c := range []struct {
		name  string
		s     State
		twist func(*Inputs)
		off   time.Duration
		low   float64
	}{
		{"cooler", off, air(299), 2 * time.Second, 299}, {"warmer", off, air(301), 2 * time.Second, 300},
		{"not seen before", State{Ticking: true}, air(301), time.Second, 301},
		{"not measured", State{Ticking: true}, air(math.NaN()), time.Second, 0},
		{"not measured now", off, air(math.NaN()), 2 * time.Second, 300},
		{"on", State{Ticking: true, HeaterOff: 1, AirLow: 300, Drove: Levels{Heater: 0.1}}, air(299), 0, 0},
	} {
		s, _ := after(p, c.s, time.Second, c.twist)
		if s.HeaterOff != c.off || s.AirLow != c.low || s.Heated != (c.name == "on") {
			t.Errorf("%s: off for %v, coolest %g, heated %v", c.name, s.HeaterOff, s.AirLow, s.Heated)
		}
	}
	p.timing.cool = time.Second
	if s, _ := after(p, off, time.Hour, nil); s.HeaterOff != p.timing.stuck {
		t.Errorf("counted to %v only", s.HeaterOff)
	}
}

// TestNextStepIsDueATickLater.
func TestNextStepIsDueATickLater(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.tick()
	u.tick()
	if u.out.Next != u.s.Last+50*time.Millisecond || u.p.Tick() != 50*time.Millisecond {
		t.Errorf("at %v the next step is due at %v", u.s.Last, u.out.Next)
	}
}

// TestSpansOfTheKernel writes down the spans that are promised and neither the recipe's nor the bench's. Common practice
// or choice, no source; who changes one must mean to.
func TestSpansOfTheKernel(t *testing.T) {
	const ms, s = time.Millisecond, time.Second
	want := timing{tick: 50 * ms, late: 250 * ms, rundown: 3 * s, restart: s, spinUp: 4 * s, proof: s, purge: 2 * time.Minute, cool: 5 * time.Minute,
		settle: 1500 * ms, padsSpin: s, hubSpin: 3 * s, padsRest: 500 * ms, padsMiss: 3 * s, pumpRest: s, heaterRest: 5 * s, stuck: 30 * s,
		ask: s, again: 10 * time.Minute, clear: 2 * s}
	if usualTiming != want {
		t.Errorf("%+v\nwant %+v", usualTiming, want)
	}
}

// TestFanThatNeverTurns is told when it has had four seconds to come up, and another to be sure.
func TestFanThatNeverTurns(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("isopropanol-91"), testBench()))
	u.twist = func(in *Inputs) { in.Readings[recipe.FanSpeed].Value = 0 }
	u.tick()
	u.order(Start)
	since := u.s.Last
	u.until(t, "a word", func() bool { return has(u.history, GuardTripped, FanUnproven) })
	if took := u.s.Last - since - 5*time.Second; took.Abs() > u.p.timing.tick {
		t.Errorf("told %v off five seconds", took)
	}
}
