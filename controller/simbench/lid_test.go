package simbench

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// bout is a cycle of the real controller on a bench, ticked by hand.
type bout struct {
	*testing.T
	*Bench
	p     *controller.Program
	state controller.State
	in    controller.Inputs
	out   controller.Outputs
	begun bool
}

// shortRecipe has every timed stage, each long enough for pads, hub and fan to do their work, with both pads turning in
// the scrub and in the rinse.
func shortRecipe(liquid string) recipe.Recipe {
	r := fullRecipe(liquid)
	r.Stages = append([]recipe.Stage(nil), r.Stages...)
	for i := range r.Stages {
		s := &r.Stages[i]
		switch s.Do {
		case recipe.Scrub:
			s.For, s.Reverse = 8*time.Second, 3*time.Second
		case recipe.Rinse:
			s.For, s.Pads = 5*time.Second, 1
		case recipe.Dry:
		default:
			s.For = 5 * time.Second
		}
	}
	return r
}

func newBout(t *testing.T, r recipe.Recipe) *bout {
	t.Helper()
	spec := testSpec()
	p, err := controller.Compile(r, spec)
	if err != nil {
		t.Fatal(err)
	}
	return &bout{T: t, Bench: New(spec, r), p: p}
}

// tick makes one tick of the loop, with an order that was looked at, or without.
func (b *bout) tick(o controller.Order, looked bool) {
	b.Helper()
	if b.begun {
		b.in.Now += tick
	}
	b.begun = true
	var err error
	if b.in.Readings, err = b.Read(b.in.Now); err != nil {
		b.Fatal(err)
	}
	b.in.Command = controller.Command{Order: o, Looked: looked}
	b.state, b.out = b.p.Step(b.state, b.in)
	if err := b.Drive(b.in.Now, b.out.Levels); err != nil {
		b.Fatal(err)
	}
}

// run ticks for a span, and asks each time whether all is as it should be.
func (b *bout) run(span time.Duration, check func()) {
	b.Helper()
	for end := b.in.Now + span; b.in.Now < end && !b.Failed(); {
		b.tick(controller.NoOrder, false)
		check()
	}
}

// moment is a moment of a cycle: a stage, and how long it has run.
type moment struct {
	stage int8
	kind  recipe.Kind
	since time.Duration
}

func (m moment) String() string { return fmt.Sprintf("%s+%v", m.kind, m.since) }

// moments runs a whole cycle and lists every second of its timed stages and every minute of its dry.
func moments(t *testing.T, r recipe.Recipe) (list []moment) {
	t.Helper()
	b := newBout(t, r)
	b.start()
	for last := (moment{stage: -1}); b.state.Cycle == controller.Running; b.tick(controller.NoOrder, false) {
		m := moment{b.state.Stage, b.p.Kind(b.state.Stage), b.state.InStage}
		step := time.Second
		if m.kind == recipe.Dry {
			step = time.Minute
		}
		m.since = m.since.Truncate(step)
		if m != last {
			list, last = append(list, m), m
		}
	}
	if b.state.Cycle != controller.Complete {
		t.Fatalf("undisturbed the cycle ends %s because of %s", b.state.Cycle, b.state.Cause)
	}
	return list
}

func (b *bout) start() {
	b.Helper()
	for range 20 { // until every sensor has answered
		b.tick(controller.NoOrder, false)
	}
	b.tick(controller.Start, true)
	if b.state.Cycle != controller.Running {
		b.Fatalf("the cycle does not start: %s", b.state.Cycle)
	}
}

// to runs a fresh cycle to a moment.
func (b *bout) to(m moment) {
	b.Helper()
	b.start()
	for b.state.Stage < m.stage || b.state.InStage < m.since {
		b.tick(controller.NoOrder, false)
		if b.state.Cycle != controller.Running {
			b.Fatalf("%s before it came to %s", b.state.Cycle, m)
		}
	}
}

// onlyFan complains when anything but the fan is asked for, or when the bench was driven otherwise.
func (b *bout) onlyFan(when string) {
	b.Helper()
	if l := b.out.Levels; l != (controller.Levels{Fan: l.Fan}) || b.Levels() != l {
		b.Errorf("%s: asked %+v, driven %+v", when, l, b.Levels())
	}
}

// tripped opens a contact and ticks until its reading shows it; what must be off is off in that very tick.
func (b *bout) tripped(f fault, s recipe.Sensor, want controller.CycleState) {
	b.Helper()
	b.arm(f, true)
	since := b.in.Now
	for b.tick(controller.NoOrder, false); b.in.Readings[s].Value > 0.5; b.tick(controller.NoOrder, false) {
		if b.in.Now-since > 2*tick {
			b.Fatalf("%s does not show", s)
		}
	}
	b.onlyFan("in the tick that saw it")
	if b.state.Cycle != want {
		b.Errorf("the cycle is %s, want %s", b.state.Cycle, want)
	}
}

// nothingStarts closes the contact again and waits a minute in which nothing may move but the fan.
func (b *bout) nothingStarts(f fault, leads ...controller.CycleState) {
	b.Helper()
	b.run(5*time.Second, func() { b.onlyFan("while it is open") })
	b.arm(f, false)
	b.run(time.Minute, func() {
		b.onlyFan("after it closed")
		for _, c := range leads {
			if b.state.Cycle == c {
				return
			}
		}
		b.Errorf("after it closed the cycle is %s", b.state.Cycle)
	})
}

// everyMoment tries something at each moment of a cycle of each liquid.
func everyMoment(t *testing.T, try func(*bout, moment)) {
	for _, liquid := range []string{"water-detergent", "isopropanol-91"} {
		r := shortRecipe(liquid)
		kinds := map[recipe.Kind]bool{}
		for _, m := range moments(t, r) {
			kinds[m.kind] = true
			t.Run(liquid+"/"+m.String(), func(t *testing.T) {
				b := newBout(t, r)
				b.to(m)
				try(b, m)
			})
		}
		for _, s := range r.Stages {
			if !kinds[s.Do] {
				t.Errorf("%s: no moment of the %s was tried", liquid, s.Do)
			}
		}
	}
}

// TestLidAtEveryMoment opens the lid at every second of every timed stage and at every minute of the dry: what moves or
// heats goes off in the same tick, closing the lid starts nothing, and after a look a resume goes on with the stage.
func TestLidAtEveryMoment(t *testing.T) {
	everyMoment(t, func(b *bout, m moment) {
		worked := b.state.Worked
		b.tripped(lidOpen, recipe.Lid, controller.Holding)
		if b.state.Cause != controller.LidOpen {
			b.Errorf("cause is %s", b.state.Cause)
		}
		b.nothingStarts(lidOpen, controller.Holding, controller.Held)
		stage, kept := b.state.Stage, b.state.Worked
		if kept < worked && stage == m.stage {
			b.Errorf("the hold took the work from %v back to %v", worked, kept)
		}
		b.tick(controller.Resume, false)
		if b.state.Cycle != controller.Held {
			b.Errorf("resumed without a look")
		}
		b.tick(controller.Resume, true)
		b.goesOn(stage, kept)
	})
}

// goesOn waits until the stage has done more of its work, or is done.
func (b *bout) goesOn(stage int8, worked time.Duration) {
	b.Helper()
	for end := b.in.Now + 30*time.Second; b.in.Now < end; b.tick(controller.NoOrder, false) {
		if b.state.Stage > stage || b.state.Cycle == controller.Complete ||
			b.state.Cycle == controller.Running && b.state.Worked > worked {
			return
		}
		if b.state.Cycle != controller.Restarting && b.state.Cycle != controller.Running {
			break
		}
	}
	b.Errorf("after the resume: %s because of %s, worked %v, before %v", b.state.Cycle, b.state.Cause, b.state.Worked, worked)
}

// TestEmergencyStopAtEveryMoment presses the emergency stop at the same moments: the cycle is aborted in the same tick,
// letting go starts nothing, and neither does an order to resume.
func TestEmergencyStopAtEveryMoment(t *testing.T) {
	everyMoment(t, func(b *bout, m moment) {
		b.tripped(estop, recipe.EStop, controller.Aborting)
		if b.state.Cause != controller.EStopPressed {
			b.Errorf("cause is %s", b.state.Cause)
		}
		purges := strings.HasPrefix(b.p.Recipe().Liquid, "isopropanol")
		if purges && b.out.Levels.Fan == 0 {
			b.Error("no purge after a flammable liquid")
		}
		b.nothingStarts(estop, controller.Aborting, controller.Aborted)
		for _, o := range []controller.Order{controller.Resume, controller.Start, controller.ToDry} {
			b.tick(o, true)
			b.onlyFan("after the order " + o.String())
		}
		b.run(4*time.Minute, func() { b.onlyFan("after the abort") })
		if b.state.Cycle != controller.Aborted {
			b.Errorf("the cycle is %s", b.state.Cycle)
		}
	})
}
