package controller

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fullery/recipe"
)

// The exhaustive exploration: the real Step from the idle state, and from every state in which a bench may come up after
// a cut, every class of input at every state that is reached, until no new state appears. Time is coarse (a tick is a
// second, every span is shortened to a few ticks), readings come in classes that matter to some rule (exploreclasses);
// nothing else is simplified.

// coarse shortens every span of the kernel to a few one-second ticks. Ratios that the rules rely on are kept: late is
// more than a tick, proof and settling are at least one, and the rests are longer than an operator needs to end a cycle and
// start the next.
func coarse(p *Program) *Program {
	p.timing = timing{
		tick: time.Second, late: 2 * time.Second, rundown: time.Second, restart: time.Second, spinUp: time.Second,
		proof: time.Second, purge: 2 * time.Second, cool: time.Second, settle: time.Second, padsSpin: time.Second,
		hubSpin: time.Second, padsRest: 2 * time.Second, padsMiss: 4 * time.Second, pumpRest: 3 * time.Second,
		heaterRest: 4 * time.Second, stuck: 2 * time.Second, ask: time.Second, again: time.Second, clear: time.Second,
	}
	for i := range p.stages {
		p.stages[i].byClock = p.stages[i].AtMost - time.Second
		if end := p.stages[i].end; end != nil {
			p.stages[i].end = end.Coarse(ByWeight)
		}
	}
	return p
}

// walk goes breadth first through every reachable state.
type walk struct {
	p      *Program
	worlds []class
	full   bool // every order in every world, also where it cannot bear

	seen  map[key]int32 // which state it is, in the order in which they were found
	via   []step        // how each was first reached
	home  []int32       // where a person who ends the cycle and waits comes to from each
	roots []node
	next  []node // what was found last and is still to be left
	keys  []key

	edges, depth int
	tripped      GuardSet
	dried        map[Evidence]int
	u            puppet
	here         node
	hereKey      key
	hereIs       int32
	plain        Inputs // all well, one tick later, no order
	e            edge
}

// step is one edge: from which state, in which world, with which order.
type step struct {
	from  int32
	world int16
	order Order
	looks bool
}

// newWalk starts at idle and at every state that a record may bring a bench up in.
func newWalk(p *Program) *walk {
	w := &walk{p: p, worlds: worlds(&p.bench), seen: map[key]int32{}, dried: map[Evidence]int{}, u: puppet{p: p}}
	w.e.p = p
	w.roots = append(w.roots, node{})
	for i := range p.stages {
		for _, dosed := range [...]float64{0, p.doseLimit} {
			w.roots = append(w.roots, node{p.Interrupted(i, dosed), account{dosed: dosed}})
		}
	}
	for i := range w.roots {
		w.reach(&w.roots[i], keyOf(&w.roots[i]), step{from: -1 - int32(i)})
	}
	return w
}

// reach notes a state that is new, and tells which it is.
func (w *walk) reach(n *node, k key, how step) int32 {
	if i, old := w.seen[k]; old {
		return i
	}
	i := int32(len(w.via))
	w.seen[k] = i
	w.via = append(w.via, how)
	w.next = append(w.next, *n)
	w.keys = append(w.keys, k)
	return i
}

// run walks until nothing new appears, or more than most states are seen; it returns what is broken first.
func (w *walk) run(most int) string {
	for i := int32(0); len(w.next) > 0; w.depth++ {
		level, keys := w.next, w.keys
		w.next, w.keys = nil, nil
		for j := range level {
			w.here, w.hereKey, w.hereIs = level[j], keys[j], i
			w.home = append(w.home, atHome)
			if said := w.leave(); said != "" {
				return said
			}
			if len(w.via) > most {
				return fmt.Sprintf("more than %d states: something is no longer capped", most)
			}
			i++
		}
	}
	w.depth--
	return ""
}

// leave tries every world, and every order in it, at the state where the walk is.
func (w *walk) leave() string {
	w.u.s = w.here.s
	w.plain = w.u.ticks()
	if w.hereIs%sampled == 0 {
		if said := w.standsFor(); said != "" {
			return said
		}
	}
	for i := range w.worlds {
		if said := w.try(i, NoOrder, false); said != "" {
			return said
		}
		if w.worlds[i].atOnce {
			continue
		}
		quiet, levels := w.e.after, w.e.out.Levels
		for o := Start; o < numOrders; o++ {
			for _, looks := range [...]bool{true, false} {
				all := w.full || i < withOrders
				if !all && (!mayBear(o, w.here.s.Cycle) || !looks && !looksAt(o)) {
					continue
				}
				if said := w.try(i, o, looks); said != "" {
					return said
				}
				if w.refused() && (w.e.after != quiet || w.e.out.Levels != levels) {
					return "an order that was refused changed something\n" + w.path(step{w.hereIs, int16(i), o, looks})
				}
			}
		}
	}
	return ""
}

const (
	withOrders = 3  // of the worlds, from the first, every order is tried in, also where it cannot bear
	sampled    = 64 // every so manyth state is left in every way of every sensor
)

// refused tells whether the order of the last step was refused.
func (w *walk) refused() bool {
	return slices.ContainsFunc(w.e.out.Events.All(), func(ev Event) bool { return ev.Kind == OrderRefused })
}

// try makes one step and checks it. The state's absolute time is set to zero after it: Step depends on differences only
// (TestWallOfTime). The outputs are those of the step before, overwritten, as the loop has it.
func (w *walk) try(world int, o Order, looks bool) string {
	w.edges++
	how := step{w.hereIs, int16(world), o, looks}
	e := &w.e
	e.before, e.after, e.in = w.here.s, w.here.s, w.plain
	e.in.Command = Command{Order: o, Looked: looks}
	w.worlds[world].twist(&w.u, &e.in)
	w.p.step(&e.after, &e.in, &e.out)
	said := e.first()
	kept, wrong := w.here.kept.after(e)
	if said == "" {
		said = wrong
	}
	if said != "" {
		return said + "\n" + w.path(how)
	}
	w.note()
	to := node{e.after, kept}
	to.s.Last = 0
	if to.s.forgetIdle() && w.edges%sampled == 0 {
		if said := w.sameWithout(&to.s); said != "" {
			return said + "\n" + w.path(how)
		}
	}
	i := w.reach(&to, w.hereKey.moved(&w.here, &to), how)
	if c := w.here.s.Cycle; c != Idle && world == 0 && o == homeward(c) && (looks || o == NoOrder) {
		w.home[w.hereIs] = i
	}
	return ""
}

// note keeps count of what the walk met.
func (w *walk) note() {
	for _, ev := range w.e.out.Events.All() {
		switch ev.Kind {
		case GuardTripped:
			w.tripped.put(ev.Guard)
		case LiquidDried:
			w.dried[ev.Evidence]++
		default:
		}
	}
}

// standsFor holds the classes to their word at the state where the walk is: every way of a reading being worth nothing
// leads to where the class of the same view leads.
func (w *walk) standsFor() string {
	for s := range recipe.NumSensors {
		if !w.p.bench.Sensors[s].Fitted {
			continue
		}
		for _, way := range waysOf(s) {
			in := w.plain
			way.spoil(&in.Readings[s], &w.p.bench, s)
			var class Inputs
			for i := range w.worlds { // the two classes of this sensor
				if name := w.worlds[i].name; name != s.String()+" stale" && name != s.String()+" implausible" {
					continue
				}
				class = w.plain
				w.worlds[i].twist(&w.u, &class)
				if alike(w.p, &w.here.s, &in, &class) {
					break
				}
			}
			a, out := w.p.Step(w.here.s, in)
			b, same := w.p.Step(w.here.s, class)
			if a != b || out != same {
				return fmt.Sprintf("%s %s does not do what its class does\n%s", s, way.name, w.path(step{from: w.hereIs}))
			}
		}
	}
	return ""
}

// forgetIdle takes out of a state what no step will look at, and tells whether there was any: that the step before was
// late, which is judged anew, and guards on the list of those that wait that have counted nothing yet. Where these look they
// are asked anyway, and where they do not they have nothing to forget.
func (s *State) forgetIdle() (any bool) {
	any, s.Late = s.Late, false
	for rest := s.Waiting &^ s.Tripped; rest != 0; rest &= rest - 1 {
		if g := rest.first(); s.Held[g] == 0 {
			s.Waiting.drop(g)
			any = true
		}
	}
	return any
}

// sameWithout holds that to its word: with and without it, every world leads to the same.
func (w *walk) sameWithout(without *State) string {
	with := w.e.after
	with.Last = 0
	u := puppet{p: w.p, s: with}
	for i := range w.worlds {
		in := u.ticks()
		w.worlds[i].twist(&u, &in)
		a, out := w.p.Step(with, in)
		b, same := w.p.Step(*without, in)
		if a != b || out != same {
			return "what was taken out of the state made a difference: " + w.worlds[i].name
		}
	}
	return ""
}

// path writes the shortest way to an edge, walking it once more.
func (w *walk) path(last step) string {
	ways := []step{last}
	for ways[len(ways)-1].from >= 0 {
		ways = append(ways, w.via[ways[len(ways)-1].from])
	}
	root := ways[len(ways)-1]
	slices.Reverse(ways)
	u := puppet{p: w.p, s: w.roots[-1-root.from].s}
	var b strings.Builder
	fmt.Fprintf(&b, "  from %s", u.s.Cycle)
	for _, h := range ways[1:] {
		in := u.ticks()
		in.Command = Command{Order: h.order, Looked: h.looks}
		w.worlds[h.world].twist(&u, &in)
		u.s, u.out = w.p.Step(u.s, in)
		u.s.Last = 0
		fmt.Fprintf(&b, "\n  %s", w.worlds[h.world].name)
		if h.order != NoOrder {
			fmt.Fprintf(&b, ", order %s (looked %v)", h.order, h.looks)
		}
		fmt.Fprintf(&b, " → %s, %s, on: %s", u.s.Cycle, w.p.Kind(u.s.Stage), u.out.Levels.on())
	}
	return b.String()
}

// on lists what is on, for a path.
func (l Levels) on() string {
	var list []string
	for _, x := range []struct {
		name string
		is   bool
	}{
		{"pump", l.Pump > 0}, {"rinse pump", l.RinsePump > 0}, {"press", l.Press}, {"pads", l.Pads > 0},
		{"pads the other way", l.Pads < 0}, {"hub", l.Hub > 0}, {"fan", l.Fan > 0}, {"heater", l.Heater > 0},
		{"heater's second line", l.HeaterEnable},
	} {
		if x.is {
			list = append(list, x.name)
		}
	}
	if list == nil {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

// homeward is what a person orders who wants the bench idle: stop what is under way, wait, look and reset.
func homeward(c CycleState) Order {
	switch {
	case c.Ended():
		return Reset
	case states(Running, Restarting, Holding, Held).has(c):
		return Stop
	default:
		return NoOrder
	}
}

// atHome is where the way home leads from idle, and from nowhere else.
const atHome = -1

// wayHome follows that way from every state on the explored graph, and returns the most steps that it takes. Where it goes
// round without end it returns the path to there.
func (w *walk) wayHome() (longest int32, said string) {
	const unknown, underWay = 0, -1
	steps := make([]int32, len(w.home)) // to idle, and one more
	for i := range w.home {
		var way []int32
		at := int32(i)
		for ; steps[at] == unknown && w.home[at] != atHome; at = w.home[at] {
			steps[at] = underWay
			way = append(way, at)
		}
		if steps[at] == underWay {
			return 0, "no way home, though the operator stops, waits, looks and resets\n" + w.path(w.via[i])
		}
		n := max(steps[at], 1)
		steps[at] = n
		for _, back := range slices.Backward(way) {
			n++
			steps[back] = n
		}
		longest = max(longest, n-1)
	}
	return longest, ""
}
