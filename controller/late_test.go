package controller

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"fullery/recipe"
)

// tardyClock is a clock that takes no time. It wakes the loop late once, when a test says so; by less than nothing, it
// goes back.
type tardyClock struct {
	now time.Duration
	by  time.Duration // how much later than asked the next wait ends
}

// Now returns the clock's moment.
func (c *tardyClock) Now() time.Duration { return c.now }

// Wait moves the clock to a moment, and past it when it is to be late.
func (c *tardyClock) Wait(ctx context.Context, until time.Duration) error {
	c.now, c.by = until+c.by, 0
	return ctx.Err()
}

// tardy runs a cycle through the real loop up to the middle of a stage, makes one tick come so long after the one before,
// and goes on for as many ticks as asked. It returns the tick before, the late one, and those after it.
func tardy(t *testing.T, liquid string, in recipe.Kind, gap time.Duration, after int) (before, late Tick, rest []Tick, p *Program) {
	t.Helper()
	p = mustCompile(t, testRecipe(liquid), testBench())
	clock := &tardyClock{}
	var last, seen []Tick // the newest tick; from the moment of lateness on
	middle := func(s *State) bool {
		return s.Cycle == Running && p.Kind(s.Stage) == in && s.Worked > 5*time.Second
	}
	loop := Loop{Program: p, Bench: newFakeBench(p), Clock: clock, Commands: orders(Start),
		Watchers: []Watcher{watcherFunc(func(tick *Tick) {
			switch {
			case len(seen) > 0:
				seen = append(seen, *tick)
			case middle(&tick.State):
				seen = append(seen, *tick)
				clock.by = gap - p.timing.tick
			}
			last = append(last[:0], *tick)
		})},
		Until: func(s State) bool { return len(seen) == after+2 || len(seen) == 0 && s.Last > 3*time.Hour }}
	if _, err := loop.Run(context.Background(), State{}); err != nil {
		t.Fatal(err)
	}
	if len(seen) != after+2 {
		t.Fatalf("never came to the middle of %s; the cycle is %s", in, last[0].State.Cycle)
	}
	return seen[0], seen[1], seen[2:], p
}

// tardyStages are the stages of every kind, with each liquid; clears is what the fan is for once the cycle is held.
var tardyStages = []struct {
	liquid string
	stage  recipe.Kind
	clears float64
}{
	{"water-detergent", recipe.Wet, 0},
	{"water-detergent", recipe.Soak, 0},
	{"water-detergent", recipe.Scrub, 0},
	{"water-detergent", recipe.Rinse, 0},
	{"water-detergent", recipe.SpinOut, 0},
	{"water-detergent", recipe.Dry, 1}, // the heater was on: the fan cools it
	{"isopropanol-91", recipe.Wet, 1},  // and here it clears the vapour
	{"isopropanol-91", recipe.Soak, 1},
	{"isopropanol-91", recipe.Scrub, 1},
	{"isopropanol-91", recipe.Rinse, 1},
	{"isopropanol-91", recipe.SpinOut, 1},
	{"isopropanol-91", recipe.Dry, 1},
}

// TestLateTickSwitchesOff: in every stage a tick that comes more than 250 ms after the one before asks for everything off
// but a fan that clears, holds the cycle in that same tick, and says why. Nothing comes on again by itself.
func TestLateTickSwitchesOff(t *testing.T) {
	for _, c := range tardyStages {
		for _, gap := range []time.Duration{250*time.Millisecond + 1, 300 * time.Millisecond, time.Minute, 100 * time.Hour, -time.Second} {
			t.Run(fmt.Sprintf("%s in %s, %v", c.stage, c.liquid, gap), func(t *testing.T) {
				before, late, rest, p := tardy(t, c.liquid, c.stage, gap, 600)
				if l := before.Outputs.Levels; l == (Levels{Fan: l.Fan}) && c.stage != recipe.Dry || l == (Levels{}) {
					t.Fatalf("nothing was on before (%+v); the test tests nothing", l)
				}
				held(t, late, c.clears)
				told(t, p, late)
				for _, tick := range rest {
					if l := tick.Outputs.Levels; l != (Levels{Fan: l.Fan}) || tick.State.Cycle == Running {
						t.Fatalf("%v later the cycle is %s with %+v", tick.State.Last-late.State.Last, tick.State.Cycle, l)
					}
				}
				if s := rest[len(rest)-1].State; s.Cycle != Held || s.Cause != LoopLate {
					t.Errorf("in the end the cycle is %s, cause %s; want held, loop-late", s.Cycle, s.Cause)
				}
			})
		}
	}
}

// held checks the levels and the state of a late tick.
func held(t *testing.T, late Tick, fan float64) {
	t.Helper()
	if want := (Levels{Fan: fan}); late.Outputs.Levels != want {
		t.Errorf("asked in the late tick: %+v, want %+v", late.Outputs.Levels, want)
	}
	if s := late.State; s.Cycle != Holding || s.Cause != LoopLate || !s.Late {
		t.Errorf("the cycle is %s, cause %s, late %v; want holding, loop-late", s.Cycle, s.Cause, s.Late)
	}
}

// told checks what a late tick says: the guard once, with all three parts of its sentence.
func told(t *testing.T, p *Program, late Tick) {
	t.Helper()
	said, times := "", 0
	for _, ev := range late.Outputs.Events.All() {
		if ev.Kind == GuardTripped {
			said, times = p.Say(ev), times+1
			if ev.Guard != LoopLate {
				t.Errorf("%s tripped", ev.Guard)
			}
		}
	}
	if times != 1 {
		t.Fatalf("%d guards told, want loop-late alone", times)
	}
	for _, part := range []string{
		"The control loop came more than a quarter of a second late.",
		"pumps, pads, hub and heater went off.",
		"Find what kept the computer busy, then resume.",
	} {
		if !strings.Contains(said, part) {
			t.Errorf("said %q, without %q", said, part)
		}
	}
}

// TestAlmostLateGoesOn: a tick that comes 250 ms after the one before is no reason to stop, in any stage.
func TestAlmostLateGoesOn(t *testing.T) {
	for _, c := range tardyStages {
		_, late, rest, _ := tardy(t, c.liquid, c.stage, 250*time.Millisecond, 3)
		for _, tick := range append([]Tick{late}, rest...) {
			if tick.State.Late || tick.State.Cycle != Running || has(tick.Outputs.Events.All(), GuardTripped, LoopLate) {
				t.Errorf("%s in %s: %s because of %s", c.stage, c.liquid, tick.State.Cycle, tick.State.Cause)
			}
		}
	}
}

// TestLateIsResumedByAPersonOnly: the cycle goes on where it was when somebody orders it, and not while ticks still come
// late.
func TestLateIsResumedByAPersonOnly(t *testing.T) {
	for _, c := range tardyStages {
		u := newPuppet(mustCompile(t, testRecipe(c.liquid), testBench()))
		u.toStage(t, c.stage)
		u.step(time.Second, Command{})
		u.until(t, "held", func() bool { return u.s.Cycle == Held })
		stage := u.s.Stage
		u.step(time.Second, Command{Order: Resume, Looked: true})
		if u.s.Cycle != Held || !has(u.out.Events.All(), OrderRefused, LoopLate) {
			t.Errorf("%s in %s: resumed in a late tick: %s", c.stage, c.liquid, u.s.Cycle)
		}
		u.order(Resume)
		u.until(t, "running again", func() bool { return u.s.Cycle == Running })
		if u.s.Stage != stage {
			t.Errorf("%s in %s: goes on in stage %d, was in %d", c.stage, c.liquid, u.s.Stage, stage)
		}
	}
}
