package controller

import (
	"testing"
	"time"

	"fullery/recipe"

	"github.com/google/go-cmp/cmp"
)

// judged is what becomes of an order in a state, with the readings of a bench on which all is well but for a twist.
func judged(p *Program, s State, c Command, twist func(*Inputs)) (Refusal, Guard) {
	in := Inputs{Now: s.Last, Command: c}
	u := puppet{p: p, s: s}
	u.well(&in)
	if twist != nil {
		twist(&in)
	}
	v := p.see(&s, &in)
	return p.judge(&s, &v, c.Order)
}

type answer struct {
	Refusal Refusal
	Guard   Guard
}

// TestOrdersThatMeanNothing: each order is refused as meaningless in the states that it is not for, and an abort never.
func TestOrdersThatMeanNothing(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	fine := map[Order]stateSet{
		Hold: states(Running, Restarting), Start: states(Idle), Resume: states(Held), ToDry: states(Held), Reset: states(Stopped, Aborted, Complete),
		Stop:  states(Idle, Running, Holding, Held, Restarting, Stopping, Stopped, Aborted, Complete),
		Abort: states(Idle, Running, Holding, Held, Restarting, Stopping, Stopped, Aborting, Aborted, Complete),
	}
	for o := range numOrders + 1 {
		for c := range numStates {
			want := WrongState
			if fine[o].has(c) {
				want = NotRefused
			}
			if got, g := judged(p, State{Cycle: c}, Command{Order: o, Looked: true}, nil); got != want || g != noGuard {
				t.Errorf("%s in %s: refusal %d, guard %s; want %d", o, c, got, g, want)
			}
		}
	}
}

// TestOrdersAreAnswered: an order that was given is told as taken or refused, with its state and stage; what is no order
// is passed over in silence.
func TestOrdersAreAnswered(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.Scrub)
	u.order(Hold)
	u.until(t, "held", func() bool { return u.s.Cycle == Held })
	const at = 2
	want := []Event{{Kind: OrderRefused, Order: Start, Refusal: WrongState, From: Held, Stage: at}}
	if diff := cmp.Diff(want, u.order(Start)); diff != "" {
		t.Error(diff)
	}
	u.twist = openLid
	want = []Event{{Kind: OrderRefused, Order: Resume, Refusal: CauseRemains, Guard: LidOpen, From: Held, Stage: at}}
	if diff := cmp.Diff(want, u.order(Resume)); diff != "" {
		t.Error(diff)
	}
	for _, o := range []Order{NoOrder, numOrders, 200} {
		if events := u.order(o); len(events) != 0 || u.s.Cycle != Held {
			t.Errorf("order %d: %+v", o, events)
		}
	}
	u.twist = nil
	if got, want := u.order(Resume)[0], (Event{Kind: OrderTaken, Order: Resume, From: Held, Stage: at}); got != want {
		t.Errorf("answered %+v, want %+v", got, want)
	}
}

// TestWhatStandsInTheWayOfMoving: a cause, the purge that a cut-short cycle owes, a look, in this order; and a cause that
// the order itself removes does not count.
func TestWhatStandsInTheWayOfMoving(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	held := func(cause Guard, look bool, purge time.Duration) State {
		return State{Cycle: Held, Stage: 3, Cause: cause, MustLook: look, PurgeLeft: purge}
	}
	over := held(StageOvertime, false, 0)
	over.InStage = p.stages[3].AtMost
	dosed := held(DoseOver, false, 0)
	dosed.Dosed = 20 * mL
	rinseLow := func(in *Inputs) { in.Readings[recipe.RinseFloat].Value = 0 }
	vapour := func(in *Inputs) { in.Readings[recipe.Vapour].Value = 0.12 }
	for _, c := range []struct {
		name  string
		s     State
		c     Command
		twist func(*Inputs)
		want  answer
	}{
		{"fine", held(noGuard, false, 0), Command{Order: Resume}, nil, answer{}},
		{"look owed", held(LidOpen, true, 0), Command{Order: Resume}, nil, answer{LookFirst, LidOpen}},
		{"look given", held(LidOpen, true, 0), Command{Resume, true}, nil, answer{}},
		{"dry, look owed", held(LidOpen, true, 0), Command{Order: ToDry}, nil, answer{LookFirst, LidOpen}},
		{"start without a look", State{}, Command{Order: Start}, nil, answer{LookFirst, noGuard}},
		{"purge owed", held(CutShort, true, 1), Command{Resume, true}, nil, answer{PurgeFirst, CutShort}},
		{"purge done", held(CutShort, true, 0), Command{Resume, true}, nil, answer{}},
		{"purge of another hold", held(LidOpen, true, 1), Command{Resume, true}, nil, answer{}},
		{"cause before purge", held(CutShort, true, 1), Command{Resume, true}, openLid, answer{CauseRemains, LidOpen}},
		{"this stage's tank", held(TankLow, false, 0), Command{Order: Resume}, rinseLow, answer{CauseRemains, TankLow}},
		{"the drying needs no tank", held(TankLow, false, 0), Command{Order: ToDry}, rinseLow, answer{}},
		{"the drying needs no dose", dosed, Command{Order: ToDry}, nil, answer{}},
		{"this stage needs dose", dosed, Command{Order: Resume}, nil, answer{CauseRemains, DoseOver}},
		{"its time once more", over, Command{Order: Resume}, nil, answer{}},
		{"out of time, and on to drying", over, Command{Order: ToDry}, nil, answer{}},
		{"a warning is not in the way", held(noGuard, false, 0), Command{Order: Resume}, vapour, answer{}},
	} {
		if r, g := judged(p, c.s, c.c, c.twist); (answer{r, g}) != c.want {
			t.Errorf("%s: %d, %s; want %d, %s", c.name, r, g, c.want.Refusal, c.want.Guard)
		}
	}
	if forgives(Start, StageOvertime) || forgives(Resume, CycleOvertime) || !forgives(Resume, StageOvertime) || !forgives(ToDry, StageOvertime) {
		t.Error("an order forgives what it does not remove")
	}
}

// TestWhatStandsInTheWayOfAReset: whatever would abort, and what ended the cycle, but for a time that is over; and a look
// where one is owed.
func TestWhatStandsInTheWayOfAReset(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	ended := func(cause Guard, look bool) State {
		return State{Cycle: Stopped, Stage: 3, Cause: cause, MustLook: look, InStage: p.stages[3].AtMost, Total: p.recipe.Limits.Time}
	}
	estop := func(in *Inputs) { in.Readings[recipe.EStop].Value = 0 }
	record := func(in *Inputs) { in.RecordFailing = true }
	for _, c := range []struct {
		name  string
		s     State
		looks bool
		twist func(*Inputs)
		want  answer
	}{
		{"fine", ended(noGuard, false), false, nil, answer{}},
		{"not ended", State{Cycle: Stopping}, true, nil, answer{WrongState, noGuard}},
		{"would abort", ended(noGuard, false), true, estop, answer{CauseRemains, EStopPressed}},
		{"would hold", ended(noGuard, false), true, openLid, answer{}},
		{"would hold, and did", ended(LidOpen, true), true, openLid, answer{CauseRemains, LidOpen}},
		{"another would hold", ended(LidOpen, true), true, record, answer{}},
		{"stage out of time", ended(StageOvertime, false), false, nil, answer{}},
		{"cycle out of time", ended(CycleOvertime, false), false, nil, answer{}},
		{"look owed", ended(LidOpen, true), false, nil, answer{LookFirst, LidOpen}},
		{"look given", ended(LidOpen, true), true, nil, answer{}},
	} {
		if r, g := judged(p, c.s, Command{Reset, c.looks}, c.twist); (answer{r, g}) != c.want {
			t.Errorf("%s: %d, %s; want %d, %s", c.name, r, g, c.want.Refusal, c.want.Guard)
		}
	}
}

// TestOnToDrying: the stage that is left ends by order, the next dry stage begins, and only a drying that is begun again
// counts as broken.
func TestOnToDrying(t *testing.T) {
	for from, broken := range map[int8]bool{0: false, 3: false, 5: true} {
		p := mustCompile(t, testRecipe("water-detergent"), testBench())
		s := State{Cycle: Held, Cause: LidOpen, Stage: from, InStage: 3 * time.Second, Worked: 2 * time.Second}
		v, ev := view{stage: &p.stages[from], in: &Inputs{}}, Events{}
		p.carryOut(&s, &v, ToDry, &ev)
		if s.Cycle != Restarting || s.Stage != 5 || s.InStage != 0 || s.Worked != 0 || s.Cause != noGuard || s.Drying.Broken != broken {
			t.Errorf("from stage %d: %+v", from, s)
		}
		want := []Event{{Kind: StageEnded, Stage: from, Ending: CutByOrder, Value: 3}, {Kind: StageBegun, Stage: 5},
			{Kind: StateChanged, From: Held, To: Restarting, Stage: 5}}
		if diff := cmp.Diff(want, ev.All()); diff != "" {
			t.Error(diff)
		}
	}
}

// TestNothingToDry: a recipe without a drying ahead has none to go on to.
func TestNothingToDry(t *testing.T) {
	r := testRecipe("water-detergent")
	r.Stages = append(r.Stages[5:6:6], r.Stages[:2]...)
	p := mustCompile(t, r, testBench())
	for from, want := range map[int8]int8{0: 0, 1: -1, 2: -1} {
		if got := p.nextDry(from); got != want {
			t.Errorf("from stage %d the next drying is %d, want %d", from, got, want)
		}
	}
	if r, g := judged(p, State{Cycle: Held, Stage: 1}, Command{ToDry, true}, nil); r != NothingToDry || g != noGuard {
		t.Errorf("refusal %d, %s", r, g)
	}
	if r, _ := judged(p, State{Cycle: Held, Stage: 0}, Command{ToDry, true}, nil); r != NotRefused {
		t.Errorf("refusal %d", r)
	}
	if r, _ := judged(p, State{Cycle: Running, Stage: 1}, Command{ToDry, true}, nil); r != WrongState {
		t.Errorf("running: refusal %d", r)
	}
}

// TestHowALeftStageEnded: by a guard when one ends it now or held it before, by order otherwise; a hold ends nothing.
func TestHowALeftStageEnded(t *testing.T) {
	for _, c := range []struct {
		from, to      CycleState
		before, cause Guard
		want          Ending
	}{
		{Running, Stopping, noGuard, noGuard, CutByOrder}, {Running, Aborting, noGuard, TrayWet, CutByGuard},
		{Held, Stopping, LidOpen, noGuard, CutByGuard}, {Held, Stopping, noGuard, noGuard, CutByOrder},
		{Running, Holding, noGuard, LidOpen, NotEnded}, {Stopping, Aborting, noGuard, TrayWet, NotEnded},
		{Idle, Stopping, noGuard, noGuard, NotEnded},
	} {
		p := mustCompile(t, testRecipe("water-detergent"), testBench())
		s, ev := State{Cycle: c.from, Cause: c.before, Stage: 2, InStage: 7 * time.Second}, Events{}
		p.leave(&s, &view{stage: &p.stages[2]}, c.to, c.cause, &ev)
		got := NotEnded
		for _, e := range ev.All() {
			if e.Kind == StageEnded {
				if got = e.Ending; e.Stage != 2 || e.Value != 7 {
					t.Errorf("told %+v", e)
				}
			}
		}
		if moved := s.Cycle == c.to; got != c.want || moved == (c.from == Idle) {
			t.Errorf("%s to %s, held by %s, cause %s: ended by %q, now %s", c.from, c.to, c.before, c.cause, got, s.Cycle)
		}
	}
}
