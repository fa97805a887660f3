package controller

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"

	"github.com/google/go-cmp/cmp"
)

// watched is a puppet whose every tick a Summary follows.
type watched struct {
	*puppet
	sum Summary
}

func newWatched(t *testing.T, liquid string) *watched {
	t.Helper()
	p := mustCompile(t, testRecipe(liquid), testBench())
	w := &watched{puppet: newPuppet(p), sum: Summary{Program: p}}
	w.dryOut()
	w.give(NoOrder)
	w.give(Start)
	return w
}

// give gives one order, looked at, and shows the tick.
func (w *watched) give(o Order) {
	w.order(o)
	w.sum.Watch(&Tick{State: w.s, Inputs: w.in, Outputs: w.out})
}

// follow ticks until done says so.
func (w *watched) follow(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := w.s.Last + 3*time.Hour; !done(); w.give(NoOrder) {
		if w.s.Last > end {
			t.Fatalf("never came to %s; the cycle is %s in stage %d, cause %s", what, w.s.Cycle, w.s.Stage, w.s.Cause)
		}
	}
}

func (w *watched) to(t *testing.T, c CycleState) {
	t.Helper()
	w.follow(t, c.String(), func() bool { return w.s.Cycle == c })
}

// at follows until a stage of that kind has worked for so long.
func (w *watched) at(t *testing.T, kind recipe.Kind, worked time.Duration) {
	t.Helper()
	w.follow(t, kind.String(), func() bool {
		return w.s.Cycle == Running && w.p.stages[w.s.Stage].Do == kind && w.s.Worked >= worked
	})
}

// withTwist ticks for a span with a reading twisted.
func (w *watched) withTwist(t *testing.T, span time.Duration, twist func(*Inputs)) {
	t.Helper()
	usual := w.twist
	w.twist = func(in *Inputs) {
		usual(in)
		twist(in)
	}
	until := w.s.Last + span
	w.follow(t, "the end of the trouble", func() bool { return w.s.Last >= until })
	w.twist = usual
}

func openLid(in *Inputs) { in.Readings[recipe.Lid].Value = 0 }

// endings returns how each stage ended.
func (w *watched) endings() (list []Ending) {
	for _, s := range w.sum.Stages {
		list = append(list, s.Ended)
	}
	return list
}

// TestSummaryOfAWholeCycle: planned and actual stand beside each other, nothing else is to be told.
func TestSummaryOfAWholeCycle(t *testing.T) {
	w := newWatched(t, "water-detergent")
	w.to(t, Complete)
	var actual time.Duration
	for i, got := range w.sum.Stages {
		plan := w.p.Stages()[i]
		if got.Do != plan.Do || got.Pass != plan.Pass || got.Planned != plan.Planned {
			t.Errorf("stage %d: %+v, planned %+v", i, got, plan)
		}
		if got.Do == recipe.Dry {
			continue
		}
		// To press, to turn round and to come to speed takes some seconds that are not work.
		if over := got.Actual - got.Planned; over < -100*time.Millisecond || over > 6*time.Second {
			t.Errorf("%s took %v, planned %v", got.Do, got.Actual, got.Planned)
		}
	}
	for _, s := range w.sum.Stages {
		actual += s.Actual
	}
	if off := actual - w.s.Total; off.Abs() > w.p.timing.tick {
		t.Errorf("the stages took %v together, the cycle %v", actual, w.s.Total)
	}
	want := []Ending{WorkDone, WorkDone, WorkDone, WorkDone, WorkDone, FoundDry}
	if diff := cmp.Diff(want, w.endings()); diff != "" {
		t.Error(diff)
	}
	if w.sum.Final != w.s || w.sum.Reason() != "" || w.sum.ByGuard() || len(w.sum.Guards) > 0 {
		t.Errorf("%s, %q, %v, %v", w.sum.Final.Cycle, w.sum.Reason(), w.sum.ByGuard(), w.sum.Guards)
	}
}

// TestSummaryAgreesWithTheEvents: each stage's length is the one that its ending tells.
func TestSummaryAgreesWithTheEvents(t *testing.T) {
	w := newWatched(t, "isopropanol-91")
	w.at(t, recipe.Scrub, 10*time.Second)
	w.withTwist(t, 20*time.Second, openLid)
	w.give(Resume)
	w.to(t, Complete)
	ended := 0
	for _, ev := range w.history {
		if ev.Kind != StageEnded {
			continue
		}
		ended++
		told := time.Duration(ev.Value * float64(time.Second))
		if off := w.sum.Stages[ev.Stage].Actual - told; off.Abs() > time.Microsecond {
			t.Errorf("stage %d: summed %v, told %v", ev.Stage, w.sum.Stages[ev.Stage].Actual, told)
		}
	}
	if ended != len(w.sum.Stages) {
		t.Errorf("%d stages ended of %d", ended, len(w.sum.Stages))
	}
}

// TestSummaryDoesNotCountHolds: ten minutes with the lid open make a scrub no longer.
func TestSummaryDoesNotCountHolds(t *testing.T) {
	scrub := func(held bool) time.Duration {
		w := newWatched(t, "water-detergent")
		w.at(t, recipe.Scrub, 10*time.Second)
		if held {
			w.withTwist(t, 10*time.Minute, openLid)
			w.give(Resume)
		}
		w.at(t, recipe.SpinOut, 0)
		return w.sum.Stages[2].Actual
	}
	// After a hold the pads have to press once more, a second and a half.
	if more := scrub(true) - scrub(false); more < 0 || more > 3*time.Second {
		t.Errorf("a hold of ten minutes made the scrub %v longer", more)
	}
}

// TestSummaryTells: how a cycle ended, and whether a guard or a person ended it.
func TestSummaryTells(t *testing.T) {
	lid := "Held by lid-open and then stopped. " + LidOpen.Said()
	const n, d, g, o = NotEnded, WorkDone, CutByGuard, CutByOrder
	for _, c := range []struct {
		name    string
		do      func(*watched)
		ends    CycleState
		reason  string
		byGuard bool
		endings []Ending
	}{
		{"complete after a hold", func(w *watched) {
			w.withTwist(t, 10*time.Second, openLid)
			w.give(Resume)
		}, Complete, "", false, []Ending{d, d, d, d, d, FoundDry}},
		{"stopped", func(w *watched) { w.give(Stop) }, Stopped,
			"Stopped by the operator.", false, []Ending{d, d, o, n, n, n}},
		{"aborted", func(w *watched) { w.give(Abort) }, Aborted,
			"Aborted by the operator.", false, []Ending{d, d, o, n, n, n}},
		{"held and stopped", func(w *watched) {
			w.give(Hold)
			w.to(t, Held)
			w.give(Stop)
		}, Stopped, "Stopped by the operator.", false, []Ending{d, d, o, n, n, n}},
		{"held by a guard and stopped", func(w *watched) {
			w.withTwist(t, 10*time.Second, openLid)
			w.give(Stop)
		}, Stopped, lid, true, []Ending{d, d, g, n, n, n}},
		{"held by a guard, its cause gone for long, and stopped", func(w *watched) {
			w.withTwist(t, time.Second, openLid)
			w.withTwist(t, 10*time.Minute, func(*Inputs) {})
			w.give(Stop)
		}, Stopped, lid, true, []Ending{d, d, g, n, n, n}},
		{"held by a guard, resumed and stopped", func(w *watched) {
			w.withTwist(t, 10*time.Second, openLid)
			w.give(Resume)
			w.to(t, Running)
			w.give(Stop)
		}, Stopped, "Stopped by the operator.", false, []Ending{d, d, o, n, n, n}},
		{"aborted by a guard", func(w *watched) {
			w.withTwist(t, 10*time.Second, func(in *Inputs) { in.Readings[recipe.TrayFloat].Value = 0 })
		}, Aborted, TrayWet.Said(), true, []Ending{d, d, g, n, n, n}},
		{"held by one guard, aborted by another", func(w *watched) {
			w.withTwist(t, 10*time.Second, openLid)
			w.withTwist(t, time.Second, func(in *Inputs) { in.Readings[recipe.EStop].Value = 0 })
		}, Aborted, EStopPressed.Said(), true, []Ending{d, d, g, n, n, n}},
		{"skipped to the dry", func(w *watched) {
			w.give(Hold)
			w.to(t, Held)
			w.give(ToDry)
		}, Complete, "", false, []Ending{d, d, o, n, n, FoundDry}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := newWatched(t, "water-detergent")
			w.at(t, recipe.Scrub, 10*time.Second)
			c.do(w)
			w.to(t, c.ends)
			w.withTwist(t, 5*time.Minute, func(*Inputs) {}) // what comes after the end changes nothing
			if got := w.sum.Reason(); got != c.reason {
				t.Errorf("reason %q\nwant   %q", got, c.reason)
			}
			if w.sum.ByGuard() != c.byGuard || w.sum.Final.Cycle != c.ends {
				t.Errorf("by guard: %v, want %v; ended %s", w.sum.ByGuard(), c.byGuard, w.sum.Final.Cycle)
			}
			if diff := cmp.Diff(c.endings, w.endings()); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// TestSummaryListsGuards: each guard that tripped, with when, where, what it did, which sensor, and its sentence.
func TestSummaryListsGuards(t *testing.T) {
	w := newWatched(t, "isopropanol-91")
	w.at(t, recipe.Wet, 10*time.Second)
	w.withTwist(t, 5*time.Second, func(in *Inputs) { in.Readings[recipe.Vapour].Value = 0.12 })
	warned := w.s.Last
	w.at(t, recipe.Scrub, 10*time.Second)
	w.withTwist(t, 5*time.Second, func(in *Inputs) { in.Readings[recipe.PadBack].Age = time.Minute })
	w.give(Stop)
	w.to(t, Stopped)
	if len(w.sum.Guards) != 2 {
		t.Fatalf("%+v", w.sum.Guards)
	}
	first, second := w.sum.Guards[0], w.sum.Guards[1]
	if off := warned - 5*time.Second + time.Second - first.At; off.Abs() > 3*w.p.timing.tick {
		t.Errorf("the vapour was told at %v, %v off", first.At, off)
	}
	first.At, second.At = 0, 0
	want := []GuardResult{
		{Guard: VapourRising, Stage: 0, Response: Warn, Sensor: recipe.NumSensors, Said: VapourRising.Said()},
		{Guard: ReadingStale, Stage: 2, Response: ToHold, Sensor: recipe.PadBack, Said: "(pad-back) " + ReadingStale.Said()},
	}
	if diff := cmp.Diff(want, []GuardResult{first, second}); diff != "" {
		t.Error(diff)
	}
	if got, want := w.sum.Reason(), "Held by reading-stale and then stopped. "+ReadingStale.Said(); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestSummaryPressure: the means are over the time in which the pads turned and no other.
func TestSummaryPressure(t *testing.T) {
	w := newWatched(t, "water-detergent")
	usual := w.twist
	w.twist = func(in *Inputs) {
		usual(in)
		in.Readings[recipe.PadFront].Value *= 1.05
		in.Readings[recipe.PadBack].Value *= 0.95
	}
	w.at(t, recipe.Wet, time.Second)
	if front, back := w.sum.Pressure(); front != 0 || back != 0 {
		t.Errorf("%g and %g Pa before the pads turned", front, back)
	}
	w.to(t, Complete)
	front, back := w.sum.Pressure()
	if math.Abs(front-2100) > 1e-6 || math.Abs(back-1900) > 1e-6 { // 2 kPa is asked
		t.Errorf("%g and %g Pa, want 2100 and 1900", front, back)
	}
	w.p.bench.Pads.Area = 0
	if front, back = w.sum.Pressure(); front != 0 || back != 0 {
		t.Errorf("%g and %g Pa of pads without an area", front, back)
	}
}

// TestSummaryOfNothing: before any tick there is nothing to tell and nothing to stumble over.
func TestSummaryOfNothing(t *testing.T) {
	sum := Summary{Program: mustCompile(t, testRecipe("water-detergent"), testBench())}
	if front, back := sum.Pressure(); front != 0 || back != 0 || sum.ByGuard() || len(sum.Guards) > 0 {
		t.Error("something came of nothing")
	}
	_ = sum.Reason()
}

// TestByGuardAgreesWithTheStage: a cycle was ended by a guard if the stage that it cut off says so, and not otherwise.
func TestByGuardAgreesWithTheStage(t *testing.T) {
	for _, c := range []struct {
		name   string
		start  State
		orders []Order
		want   Ending
	}{
		{"cut short and stopped", State{Cycle: Held, Cause: CutShort, MustLook: true, Stage: 2}, []Order{Stop}, CutByGuard},
		{"held by a guard and stopped", State{Cycle: Running, Stage: 2}, []Order{Stop}, CutByGuard},
		{"held by a guard, resumed and stopped at once", State{Cycle: Running, Stage: 2}, []Order{Resume, Stop}, CutByOrder},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := mustCompile(t, testRecipe("water-detergent"), testBench())
			w := &watched{puppet: newPuppet(p), sum: Summary{Program: p}}
			w.dryOut()
			w.s = c.start
			w.withTwist(t, time.Second, openLid)
			w.to(t, Held)
			for _, o := range c.orders {
				w.give(o)
			}
			w.to(t, Stopped)
			if got := w.sum.Stages[2].Ended; got != c.want {
				t.Fatalf("the stage ended by %s, want %s", got, c.want)
			}
			if w.sum.ByGuard() != (c.want == CutByGuard) {
				t.Errorf("the stage ended by %s, the cycle by guard: %v; %q", c.want, w.sum.ByGuard(), w.sum.Reason())
			}
		})
	}
}

// TestReasonNamesTheWayItEnded: a held cycle that was aborted is not said to have been stopped.
func TestReasonNamesTheWayItEnded(t *testing.T) {
	w := newWatched(t, "water-detergent")
	w.at(t, recipe.Scrub, time.Second)
	w.withTwist(t, 5*time.Second, openLid)
	w.give(Abort)
	w.to(t, Aborted)
	if got, want := w.sum.Reason(), "Held by lid-open and then aborted. "+LidOpen.Said(); got != want {
		t.Errorf("%q\nwant %q", got, want)
	}
}

// TestStoppedWhileItWasComingToRest: a cycle that a guard is holding, and that is stopped before it is held, was ended by
// the guard: its stage says so, and so must the summary.
func TestStoppedWhileItWasComingToRest(t *testing.T) {
	w := newWatched(t, "water-detergent")
	w.at(t, recipe.Scrub, 0)
	usual := w.twist
	w.twist = func(in *Inputs) { usual(in); openLid(in) }
	w.give(NoOrder)
	if w.s.Cycle != Holding {
		t.Fatal(w.s.Cycle)
	}
	w.give(Stop)
	w.to(t, Stopped)
	if !w.sum.ByGuard() || w.sum.Stages[2].Ended != CutByGuard {
		t.Errorf("by guard: %v, stage ended by %s: %q", w.sum.ByGuard(), w.sum.Stages[2].Ended, w.sum.Reason())
	}
}
