package controller

import (
	"slices"
	"strings"
	"testing"
	"time"

	"fullery/recipe"

	"github.com/google/go-cmp/cmp"
)

// TestDebounceToTheTick: a guard trips in the tick in which its cause has been there for its debounce, and not before.
func TestDebounceToTheTick(t *testing.T) {
	for _, c := range guardCases {
		r := guards[c.guard]
		if r.debounce == 0 || c.guard == HeaterStuck || c.guard == FanUnproven { // these wait for a span of their own before
			continue
		}
		u := c.puppet(t)
		u.twist = func(in *Inputs) { c.twist(u, in) }
		ticks := 0
		for !has(u.history, GuardTripped, c.guard) && ticks < 200 {
			before := u.s
			u.tick()
			if v := u.p.see(&before, &u.in); u.s.Waiting.Has(c.guard) || u.p.present(c.guard, &before, &v) {
				ticks++
			}
		}
		if want := int(r.debounce / u.p.timing.tick); ticks != want {
			t.Errorf("%s: tripped with the cause seen in %d ticks, want %d", c.name(), ticks, want)
		}
	}
}

// TestWarningIsToldOnceAndForgottenSlowly: a cause at its edge is told once; it is forgotten when it has been gone for two
// seconds together with what it was there for, and its going is told with the stage.
func TestWarningIsToldOnceAndForgottenSlowly(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.SpinOut)
	rising := func(in *Inputs) { in.Readings[recipe.Vapour].Value = 0.12 }
	u.history, u.twist = nil, rising
	for range 5 * 20 {
		u.tick()
	}
	if n := len(u.history); n != 1 || !has(u.history, GuardTripped, VapourRising) || u.s.Held[VapourRising] != u.p.timing.clear {
		t.Fatalf("told %+v; held for %v", u.history, u.s.Held[VapourRising])
	}
	if want := (Event{Kind: GuardTripped, Guard: VapourRising, Stage: 4, From: Running, Sensor: recipe.NumSensors}); u.history[0] != want {
		t.Errorf("told %+v, want %+v", u.history[0], want)
	}
	u.history, u.twist = nil, nil
	for range 39 {
		u.tick()
	}
	if len(u.history) != 0 || !u.s.Tripped.Has(VapourRising) {
		t.Fatalf("forgotten too soon: %+v", u.history)
	}
	u.tick()
	if diff := cmp.Diff([]Event{{Kind: GuardCleared, Guard: VapourRising, Stage: 4}}, u.history); diff != "" {
		t.Error(diff)
	}
	if u.s.Tripped != 0 || u.s.Waiting != 0 || u.s.Held != [numGuards]time.Duration{} {
		t.Errorf("something is left: %+v", u.s)
	}
}

// TestBlipIsForgottenAtOnce: a cause that has not tripped its guard begins anew when it comes back.
func TestBlipIsForgottenAtOnce(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.Scrub)
	u.until(t, "speed", func() bool { return u.s.InStage > 6*time.Second })
	u.twist = func(in *Inputs) { in.Readings[recipe.HubSpeed].Value = 0 }
	u.tick()
	if !u.s.Waiting.Has(HubSlow) || u.s.Held[HubSlow] != u.p.timing.tick {
		t.Fatalf("a hub that stands is counted as %v", u.s.Held[HubSlow])
	}
	u.twist = nil
	u.tick()
	if u.s.Waiting != 0 || u.s.Held[HubSlow] != 0 {
		t.Errorf("a blip left %v", u.s.Held[HubSlow])
	}
}

// TestGuardForgetsWhereItDoesNotLook: a cause that had not been there for long enough when the cycle left its work does
// not trip a guard that looks at work only, however long it stays.
func TestGuardForgetsWhereItDoesNotLook(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.SpinOut)
	u.twist = func(in *Inputs) { in.Readings[recipe.PadBack].Value = 1 }
	for range 5 {
		u.tick()
	}
	if u.s.Held[PadsOn] != 250*time.Millisecond {
		t.Fatalf("a pad on the disk is counted as %v", u.s.Held[PadsOn])
	}
	u.order(Hold)
	for range 100 {
		u.tick()
	}
	if has(u.history, GuardTripped, PadsOn) || u.s.Held[PadsOn] != 0 || u.s.Cycle != Held {
		t.Errorf("%s, counted as %v: %+v", u.s.Cycle, u.s.Held[PadsOn], u.history)
	}
}

// TestGuardsLookWhereTheirRowSays, in every state and stage.
func TestGuardsLookWhereTheirRowSays(t *testing.T) {
	for _, row := range Guards() {
		for c := range numStates {
			for k := recipe.Wet; k <= recipe.Dry; k++ {
				want := slices.Contains(row.States, c) && slices.Contains(row.Stages, k)
				if got := lookouts[c][k].Has(row.Guard); got != want {
					t.Errorf("%s looks in %s of %s: %v, want %v", row.Guard, k, c, got, want)
				}
			}
		}
	}
}

// TestCauseThatStaysIsNotForgotten: while it is there, in a state where its guard does not look any more, it counts as
// there; once gone it is forgotten, and told, after two seconds.
func TestCauseThatStaysIsNotForgotten(t *testing.T) {
	u := inState(t, Running)
	u.twist = openLid
	u.tick()
	if u.s.Held[LidOpen] != u.p.timing.clear {
		t.Errorf("tripped, and counted as %v", u.s.Held[LidOpen])
	}
	for range 10 * 20 {
		u.tick()
	}
	if !u.s.Tripped.Has(LidOpen) || has(u.history, GuardCleared, LidOpen) {
		t.Fatal("an open lid was forgotten")
	}
	u.twist = nil
	gone := 0
	for ; !has(u.history, GuardCleared, LidOpen) && gone < 100; gone++ {
		u.tick()
	}
	if gone != 40 {
		t.Errorf("forgotten after %d ticks, want 40", gone)
	}
}

// TestStrongerResponseWins: of two causes in one step the one that aborts is the cause, though the other is looked at
// first; and of two that hold, the first.
func TestStrongerResponseWins(t *testing.T) {
	u := inState(t, Running)
	u.twist = func(in *Inputs) {
		openLid(in)
		in.Readings[recipe.TrayFloat].Value = 0
	}
	events := u.tick()
	if u.s.Cycle != Aborting || u.s.Cause != TrayWet || !has(events, GuardTripped, LidOpen) || !has(events, GuardTripped, TrayWet) {
		t.Errorf("%s by %s", u.s.Cycle, u.s.Cause)
	}
	u = inState(t, Running)
	u.twist = func(in *Inputs) { openLid(in); in.RecordFailing = true }
	if u.tick(); u.s.Cycle != Holding || u.s.Cause != LidOpen {
		t.Errorf("%s by %s", u.s.Cycle, u.s.Cause)
	}
}

// TestWhatATripLeaves: the fan counts as bad only when it is what failed; it blows on after heat and after vapour, which is
// to be purged also where the cycle had ended before; every guard is remembered, and answers as its row says.
func TestWhatATripLeaves(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for g := noGuard + 1; g < numGuards; g++ {
		s, v, ev := State{Cycle: Running}, view{in: &Inputs{}, stage: &p.stages[0]}, Events{}
		p.trip(&s, &v, g, &ev)
		if s.FanBad != (g == FanUnproven) || s.Held[g] != max(guards[g].debounce, p.timing.clear) || !s.Tripped.Has(g) {
			t.Errorf("%s: %+v", g, s)
		}
		if blow := g == VapourHigh || g == AirTooHot || g == HeaterStuck; s.Blow != blow {
			t.Errorf("%s: the fan blows on: %v", g, s.Blow)
		}
		ended := State{Cycle: Stopped}
		p.trip(&ended, &v, g, &ev)
		if purge := ended.PurgeLeft == p.timing.purge; ended.Cycle != Stopped || purge != (g == VapourHigh) {
			t.Errorf("%s after the end: %s, %v to purge", g, ended.Cycle, ended.PurgeLeft)
		}
		if want := map[Response]CycleState{Warn: Running, ToHold: Holding, ToAbort: Aborting}[guards[g].response]; s.Cycle != want {
			t.Errorf("%s leads to %s, want %s", g, s.Cycle, want)
		}
	}
}

// TestSuspect: the sensor is named whose reading the stage needs, the first of several; of a guard that watches no single
// reading none is.
func TestSuspect(t *testing.T) {
	v := view{
		stage: &stage{needs: sensors(recipe.HubSpeed, recipe.Air)},
		stale: sensors(recipe.Lid, recipe.Weight, recipe.Air), implausible: sensors(recipe.Lid, recipe.HubSpeed, recipe.Vapour),
	}
	for g := range numGuards {
		want := recipe.NumSensors
		switch g {
		case ReadingStale:
			want = recipe.Air
		case ReadingImplausible:
			want = recipe.HubSpeed
		}
		if got := v.suspect(g); got != want {
			t.Errorf("%s: %s, want %s", g, got, want)
		}
	}
}

// TestWhichCauseRemains: the most urgent of those that would hold or abort the stage; a warning, or the cause of a guard
// that does not look in this stage, is none.
func TestWhichCauseRemains(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for _, c := range []struct {
		name  string
		stage int8
		twist func(*Inputs)
		want  Guard
	}{
		{"all well", 2, func(*Inputs) {}, noGuard},
		{"rising", 2, func(in *Inputs) { in.Readings[recipe.Vapour].Value = 0.12 }, noGuard},
		{"high", 2, func(in *Inputs) { in.Readings[recipe.Vapour].Value = 0.25 }, VapourHigh},
		{"lid and tray", 2, func(in *Inputs) { openLid(in); in.Readings[recipe.TrayFloat].Value = 0 }, LidOpen},
		{"tank in its stage", 0, func(in *Inputs) { in.Readings[recipe.TankFloat].Value = 0 }, TankLow},
		{"tank in another", 3, func(in *Inputs) { in.Readings[recipe.TankFloat].Value = 0 }, noGuard},
		{"dose, where none is given", 1, func(*Inputs) {}, noGuard},
		{"dose, where it is given", 3, func(*Inputs) {}, DoseOver},
	} {
		s, in := State{Cycle: Held, Stage: c.stage}, Inputs{}
		if strings.HasPrefix(c.name, "dose") { // as after a cut, when the record knows of more than the recipe allows
			s.Dosed = 21 * mL
		}
		u := puppet{p: p, s: s}
		u.well(&in)
		c.twist(&in)
		v := p.see(&s, &in)
		if got := p.causeRemains(&s, &v); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}
