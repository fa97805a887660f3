package controller

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"fullery/recipe"
)

// The exhaustive exploration: the real Step from the idle state, every class of input at every state that is reached,
// until no new state appears. Time is coarse (a tick is a second, every span is shortened to a few ticks), readings
// come in classes that matter to some rule; nothing else is simplified.

// coarse shortens every span of the kernel to a few one-second ticks. Ratios that the rules rely on are kept: late is
// more than a tick, proof and rests are at least one.
func coarse(p *Program) *Program {
	p.timing = timing{
		tick: time.Second, late: 2 * time.Second, rundown: time.Second, restart: time.Second, spinUp: time.Second,
		proof: time.Second, purge: 2 * time.Second, cool: time.Second, settle: time.Second, padsSpin: time.Second,
		hubSpin: time.Second, padsRest: time.Second, padsMiss: time.Second, pumpRest: time.Second, heaterRest: time.Second,
		stuck: 2 * time.Second, ask: time.Second, again: time.Second, clear: time.Second,
	}
	for i := range p.stages {
		p.stages[i].byClock = p.stages[i].AtMost - time.Second
		if end := p.stages[i].end; end != nil {
			p.stages[i].end = end.Coarse(ByWeight)
		}
	}
	return p
}

// class is one way in which the world may be in a step.
type class struct {
	name  string
	twist func(*puppet, *Inputs)
}

// worlds are the classes of readings: all well, and one thing wrong in each way that a rule can tell apart.
func worlds() []class {
	list := []class{{"well", func(*puppet, *Inputs) {}}}
	value := func(name string, s recipe.Sensor, x float64) {
		list = append(list, class{name, func(_ *puppet, in *Inputs) { in.Readings[s].Value = x }})
	}
	lost := func(s recipe.Sensor) {
		list = append(list, class{s.String() + " gone", func(_ *puppet, in *Inputs) { in.Readings[s] = Reading{} }},
			class{s.String() + " impossible", func(_ *puppet, in *Inputs) { in.Readings[s].Quality = Implausible }})
	}
	for _, s := range []recipe.Sensor{recipe.Lid, recipe.EStop, recipe.TrayFloat, recipe.TankFloat, recipe.RinseFloat} {
		value(s.String()+" tripped", s, 0)
	}
	for _, s := range []recipe.Sensor{recipe.Lid, recipe.EStop, recipe.TrayFloat, recipe.PadFront, recipe.FanSpeed, recipe.Air, recipe.Surface} {
		lost(s)
	}
	value("fan stopped", recipe.FanSpeed, 0)
	value("fan noise", recipe.FanSpeed, 999)
	value("hub stopped", recipe.HubSpeed, 0)
	value("pads stalled", recipe.PadsSpeed, 0)
	value("pad light", recipe.PadFront, 0)
	value("pad heavy", recipe.PadBack, 9)
	value("air hot", recipe.Air, celsius0+60)
	value("jacket cold", recipe.Surface, celsius0+10)
	value("disk wet", recipe.Weight, 2e-3)
	value("vapour high", recipe.Vapour, 0.5)
	value("vapour rising", recipe.Vapour, 0.2)
	return append(list,
		class{"late", func(_ *puppet, in *Inputs) { in.Now += 10 * time.Second }},
		class{"clock back", func(_ *puppet, in *Inputs) { in.Now -= 5 * time.Second }},
		class{"drive failing", func(_ *puppet, in *Inputs) { in.DriveFailed = true }},
		class{"record failing", func(_ *puppet, in *Inputs) { in.RecordFailing = true }})
}

// explorer walks breadth first through every reachable state.
type explorer struct {
	p      *Program
	seen   map[State]int32 // state → the edge that first led to it
	via    []step
	queue  []State
	edges  int
	dried  map[Evidence]int // edges on which a drying ended, by what it rests on
	worlds []class
	u      puppet
}

type step struct {
	from  int32
	world int16
	order Order
	looks bool
}

func explore(p *Program, start State) *explorer {
	x := &explorer{p: p, seen: map[State]int32{}, dried: map[Evidence]int{}, worlds: worlds(), u: puppet{p: p}}
	x.reach(start, step{from: -1})
	return x
}

// reach notes a state that is new. Its absolute time is set to zero: Step depends on differences only (TestWallOfTime).
func (x *explorer) reach(s State, how step) {
	s.Last = 0
	if _, old := x.seen[s]; old {
		return
	}
	x.seen[s] = int32(len(x.via))
	x.via = append(x.via, how)
	x.queue = append(x.queue, s)
}

// run walks until nothing new appears, or most states are seen; it returns the first broken invariant.
func (x *explorer) run(most int) string {
	for i := 0; i < len(x.queue) && len(x.queue) < most; i++ {
		s := x.queue[i]
		if said := x.leave(s, int32(i)); said != "" {
			return said
		}
	}
	return ""
}

// leave tries everything at one state: every world without an order, and every order, looked at or not, in the worlds
// that bear on orders.
func (x *explorer) leave(s State, i int32) string {
	for w := range x.worlds {
		if said := x.try(s, i, w, NoOrder, false); said != "" {
			return said
		}
	}
	for w := range withOrders {
		for o := Start; o < numOrders; o++ {
			for _, looks := range []bool{true, false} {
				if said := x.try(s, i, w, o, looks); said != "" {
					return said
				}
			}
		}
	}
	return ""
}

// withOrders is how many of the worlds, from the first, are tried with every order.
const withOrders = 3

// try makes one step and checks it.
func (x *explorer) try(s State, from int32, w int, o Order, looks bool) string {
	x.edges++
	x.u.s = s
	in := Inputs{Now: s.Last + time.Second, Command: Command{Order: o, Looked: looks}}
	x.u.well(&in)
	x.worlds[w].twist(&x.u, &in)
	after, out := x.p.Step(s, in)
	how := step{from: from, world: int16(w), order: o, looks: looks}
	if said := (edge{x.p, s, in, after, out}).broken(); said != "" {
		return fmt.Sprintf("%s\n%s", said, x.path(how))
	}
	for _, ev := range out.Events.All() {
		if ev.Kind == LiquidDried {
			x.dried[ev.Evidence]++
		}
	}
	x.reach(after, how)
	return ""
}

// path writes the shortest way to an edge.
func (x *explorer) path(last step) string {
	var lines []string
	for h := last; h.from >= 0; h = x.via[h.from] {
		lines = append([]string{fmt.Sprintf("  from %s: world %q, order %s (looked %v)",
			x.queue[h.from].Cycle, x.worlds[h.world].name, h.order, h.looks)}, lines...)
	}
	return strings.Join(lines, "\n")
}

// shortRecipe is a recipe of few ticks that still has what its kinds of stage can do.
func shortRecipe(liquid string, kinds ...recipe.Kind) recipe.Recipe {
	r := testRecipe(liquid)
	all := r.Stages
	r.Stages = nil
	r.Limits.Time = 7 * time.Second
	for _, k := range kinds {
		s := all[map[recipe.Kind]int{recipe.Wet: 0, recipe.Soak: 1, recipe.Scrub: 2, recipe.Rinse: 3, recipe.SpinOut: 4, recipe.Dry: 5}[k]]
		s.For, s.AtMost, s.Reverse = min(s.For, 2*time.Second), 3*time.Second, min(s.Reverse, time.Second)
		r.Stages = append(r.Stages, s)
	}
	r.Limits.Liquid = 1 * mL
	return r
}

func TestExhaustive(t *testing.T) {
	weighing := testBench()
	weighing.Sensors[recipe.Weight].Fitted = true
	weighed := shortRecipe("water-detergent", recipe.Rinse, recipe.Dry)
	weighed.Limits.Time = 5 * time.Second // what was weighed makes many states: fewer ways to go round are enough
	for _, c := range []struct {
		name string
		r    recipe.Recipe
		b    recipe.Bench
	}{
		{"wet", shortRecipe("isopropanol-91", recipe.Wet, recipe.Dry), testBench()},
		{"scrub", shortRecipe("isopropanol-91", recipe.Scrub, recipe.Dry), testBench()},
		{"rinse and spin out", shortRecipe("water-detergent", recipe.Rinse, recipe.SpinOut), testBench()},
		{"warmed dry", shortRecipe("water-detergent", recipe.Dry), testBench()},
		{"weighed dry", weighed, weighing},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := coarse(mustCompile(t, c.r, c.b))
			x := explore(p, State{})
			if said := x.run(mostStates); said != "" {
				t.Fatal(said)
			}
			t.Logf("%d states, %d edges, ends of drying %v", len(x.queue), x.edges, x.dried)
			if n := len(x.queue); n < 5_000 || n >= mostStates {
				t.Errorf("%d states: the exploration has lost its way, or is no longer whole", n)
			}
			x.checkWayHome(t)
			if c.b.Sensors[recipe.Weight].Fitted && x.dried[ByWeight] == 0 {
				t.Error("the exploration never found a disk dry by its weight")
			}
		})
	}
}

// mostStates stops an exploration that a change made endless.
const mostStates = 300_000

// checkWayHome: from a sample of the reached states an operator on a bench where all is well reaches idle again.
func (x *explorer) checkWayHome(t *testing.T) {
	t.Helper()
	for i := 0; i < len(x.queue); i += 97 {
		x.u.s = x.queue[i]
		for n := 0; x.u.s.Cycle != Idle; n++ {
			if n > 100 {
				t.Fatalf("no way home from %+v", x.queue[i])
			}
			x.u.step(time.Second, Command{Order: []Order{Stop, Reset}[n%2], Looked: true})
		}
	}
}
