package controller

import (
	"testing"
	"time"

	"fullery/recipe"
)

// TestWhatCountsAsWork: a stage's time counts only while what it is for was really driven.
func TestWhatCountsAsWork(t *testing.T) {
	fan := time.Second
	for _, c := range []struct {
		do   recipe.Kind
		s    State
		want bool
	}{
		{recipe.Wet, State{Drove: Levels{Pump: 0.2}}, true},
		{recipe.Wet, State{Drove: Levels{RinsePump: 1, Hub: 1, Pads: 1, Fan: 1}, FanProof: fan}, false},
		{recipe.Scrub, State{Drove: Levels{Pads: 1}}, true},
		{recipe.Scrub, State{Drove: Levels{Pads: -1}}, true},
		{recipe.Scrub, State{Drove: Levels{Pump: 1, RinsePump: 1, Hub: 1, Fan: 1}, FanProof: fan}, false},
		{recipe.Rinse, State{Drove: Levels{RinsePump: 0.2}}, true},
		{recipe.Rinse, State{Drove: Levels{Pump: 1, Hub: 1, Pads: 1, Fan: 1}, FanProof: fan}, false},
		{recipe.SpinOut, State{Drove: Levels{Hub: 0.2}}, true},
		{recipe.SpinOut, State{Drove: Levels{Pump: 1, RinsePump: 1, Pads: 1, Fan: 1}, FanProof: fan}, false},
		{recipe.Dry, State{Drove: Levels{Fan: 0.2}, FanProof: 1}, true},
		{recipe.Dry, State{Drove: Levels{Fan: 1}}, false},
		{recipe.Dry, State{Drove: Levels{Pump: 1, RinsePump: 1, Pads: 1, Hub: 1}, FanProof: fan}, false},
		{recipe.Soak, State{}, true},
	} {
		st := stage{Stage: recipe.Stage{Do: c.do}}
		if got := st.working(&c.s, nil); got != c.want {
			t.Errorf("%s with %+v: works is %v", c.do, c.s.Drove, got)
		}
	}
}

// TestTimedWorkEndsWithTheLastWholeTick: not a tick before its time is filled, and not a tick past it.
func TestTimedWorkEndsWithTheLastWholeTick(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	v := view{stage: &stage{Stage: recipe.Stage{For: 10 * time.Second}}}
	for worked, want := range map[time.Duration]Ending{
		10*time.Second - p.timing.tick - 1: NotEnded,
		10*time.Second - p.timing.tick:     NotEnded,
		10*time.Second - p.timing.tick + 1: WorkDone,
		10 * time.Second:                   WorkDone,
	} {
		if got := p.lasts(&State{Worked: worked}, &v); got != want {
			t.Errorf("after %v of 10 s: %s, want %s", worked, got, want)
		}
	}
}

// TestLastDropEndsTheStage: a stage that gives liquid is done when the dose is given, though its time is not over.
func TestLastDropEndsTheStage(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	v := view{stage: &p.stages[0]}
	if got := p.pours(&State{}, &v); got != NotEnded {
		t.Errorf("with all of the dose left: %s", got)
	}
	if got := p.pours(&State{Dosed: p.doseLimit}, &v); got != WorkDone {
		t.Errorf("with none of the dose left: %s", got)
	}
}

// TestPadsTurnRound: each span of work they turn the other way, and without a span always the same way.
func TestPadsTurnRound(t *testing.T) {
	st := stage{Stage: recipe.Stage{Reverse: 10 * time.Second}}
	for worked, want := range map[time.Duration]bool{
		0: false, 10*time.Second - 1: false, 10 * time.Second: true, 20*time.Second - 1: true, 20 * time.Second: false,
		31 * time.Second: true, 75 * time.Second: true, 82 * time.Second: false,
	} {
		if got := st.reversed(worked); got != want {
			t.Errorf("after %v of work: the other way is %v", worked, got)
		}
	}
	if (&stage{}).reversed(time.Hour) {
		t.Error("turned round without being asked to")
	}
}

// TestScrubTurnsBothWays: over a whole scrub the pads are driven both ways, and rest between.
func TestScrubTurnsBothWays(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.Scrub)
	turned := map[float64]int{}
	u.until(t, "rinse", func() bool {
		turned[u.out.Levels.Pads]++
		return u.s.Stage > 2
	})
	if turned[1] < 300 || turned[-1] < 300 || turned[0] < 30 {
		t.Errorf("ticks by way of turning: %v", turned)
	}
}

// TestRinseTurnsPadsOnlyWhenAsked: a rinse with pads presses and turns them; one without leaves them away.
func TestRinseTurnsPadsOnlyWhenAsked(t *testing.T) {
	for _, pads := range []float64{0, 0.5} {
		r := testRecipe("water-detergent")
		r.Stages[3].Pads = pads
		p := mustCompile(t, r, testBench())
		var want Levels
		p.rinse(&State{}, &view{stage: &p.stages[3]}, &want)
		if want.Pads != pads || want.Press != (pads > 0) || want.RinsePump == 0 {
			t.Errorf("rinse with pads at %g asks for %+v", pads, want)
		}
	}
}

// TestSpinOutWaitsForThePress: the hub turns at its speed only once the pads have had time to come off; a bench without
// a press has nothing to wait for.
func TestSpinOutWaitsForThePress(t *testing.T) {
	for _, c := range []struct {
		press bool
		away  time.Duration
		want  float64
	}{
		{true, usualTiming.settle - 1, 0}, {true, usualTiming.settle, 4}, {false, 0, 4},
	} {
		p := mustCompile(t, testRecipe("water-detergent"), testBench())
		p.bench.Press = c.press
		want := Levels{Hub: 4}
		p.spinOut(&State{AwayFor: c.away}, &view{stage: &p.stages[4]}, &want)
		if want.Hub != c.want {
			t.Errorf("press %v, away for %v: hub at %g, want %g", c.press, c.away, want.Hub, c.want)
		}
	}
}

// TestUnknownWorkIsDone: a stage of a kind that nobody knows asks for nothing of its own and is over at once.
func TestUnknownWorkIsDone(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	var want Levels
	if got := p.work(&State{}, &view{stage: &stage{}}, &want); got != WorkDone || want != (Levels{}) {
		t.Errorf("%s, asking for %+v", got, want)
	}
}

// TestTimedDryingClaimsNothing: a drying for a time ends by the clock and says so.
func TestTimedDryingClaimsNothing(t *testing.T) {
	r := testRecipe("water-detergent")
	r.Stages[5] = recipe.Stage{Do: recipe.Dry, Fan: 1, For: 20 * time.Minute, AtMost: 25 * time.Minute}
	u := newPuppet(mustCompile(t, r, testBench()))
	u.tick()
	u.order(Start)
	u.until(t, "complete", func() bool { return u.s.Cycle == Complete })
	if u.s.Drying.Evidence != ByClock || u.s.Drying.Took < 20*time.Minute-u.p.timing.tick || u.s.Drying.Took > 20*time.Minute {
		t.Errorf("dry by %s after %v", u.s.Drying.Evidence, u.s.Drying.Took)
	}
}
