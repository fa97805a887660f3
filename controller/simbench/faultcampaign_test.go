package simbench

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fullery/controller"
	"fullery/docs"
	"fullery/recipe"
	"fullery/recipes"
)

// The campaign of faults: every fault, at fifty moments of every stage of every recipe that ships, on the bench that
// ships. Each cycle is run once with all well; at every moment it is copied, and each fault is made in a copy. A witness
// reads the raw inputs of every tick and says for itself what must have become of the outputs.

// momentsOf is how many moments of a stage are tried.
func momentsOf() int {
	if testing.Short() {
		return 2
	}
	return 50
}

// struckRecipes are the recipes that are tried.
func struckRecipes() []string {
	if testing.Short() {
		return []string{"dry-only", "isopropanol-99", "water-detergent"}
	}
	return recipes.Names()
}

// ride is one cycle on one bench, tick by tick, with its witness.
type ride struct {
	*course
	b   *Bench
	s   controller.State
	in  controller.Inputs
	out controller.Outputs
	w   witness

	order  controller.Command       // to be given in the next tick
	jump   time.Duration            // added to the next tick's moment
	tamper func(*ride)              // changes the inputs before they are seen; nil for none
	runsOn func(*controller.Levels) // what outputs do beyond what they are asked; nil for none
}

// course is what all rides of one recipe share.
type course struct {
	p      *controller.Program
	spec   recipe.Bench
	r      recipe.Recipe
	stages []recipe.Stage
	burns  bool
	needs  []controller.SensorSet
}

func newCourse(t testing.TB, name string, spec recipe.Bench) *course {
	t.Helper()
	r, err := recipes.Recipe(name)
	if err != nil {
		t.Fatal(err)
	}
	p, err := controller.Compile(r, spec)
	if err != nil {
		t.Fatal(err)
	}
	c := &course{p: p, spec: spec, r: r, stages: r.Unrolled(), burns: mayBurn(r, spec)}
	for _, st := range c.stages {
		c.needs = append(c.needs, needed(c, st))
	}
	return c
}

func newRide(c *course) *ride {
	x := &ride{course: c, b: New(c.spec, c.r)}
	if x.r.Stages[0].Do == recipe.Dry {
		x.b.Wet(x.spec.Sim.Kept) // it arrives wet
	}
	x.w.course, x.w.coolest = c, math.Inf(1)
	x.in.Now = -tick
	return x
}

// copied is a ride of its own that goes on from here. Its noise is another's: seed draws it.
func (x *ride) copied(seed uint64) *ride {
	y, b := *x, *x.b
	b.paces, b.orders = slices.Clone(b.paces), slices.Clone(b.orders)
	b.random = rand.New(rand.NewPCG(seed, 0x6d6f6d656e74))
	y.b = &b
	return &y
}

// tick goes on by one tick of the loop.
func (x *ride) tick() {
	x.in.Now += tick + x.jump
	x.jump = 0
	x.in.Readings, _ = x.b.Read(x.in.Now)
	x.in.RecordFailing = x.b.has(recordFailing)
	x.in.Command, x.order = x.order, controller.Command{}
	if x.s.Cycle == controller.Idle && x.in.Now >= 2*time.Second && x.p.ReadsDry(&x.s) == 0 {
		x.in.Command = controller.Command{Order: controller.Start, Looked: true}
	}
	if x.tamper != nil {
		x.tamper(x)
	}
	x.w.sees(&x.in)
	x.s, x.out = x.p.Step(x.s, x.in)
	x.in.DriveFailed = x.b.Drive(x.in.Now, x.out.Levels) != nil
	if x.runsOn != nil {
		x.runsOn(&x.b.levels)
	}
	x.w.hears(&x.out)
	if x.w.cycle != x.s.Cycle || int8(x.w.stage) != x.s.Stage {
		x.w.wrong("the record says %s in stage %d, the state is %s in stage %d", x.w.cycle, x.w.stage, x.s.Cycle, x.s.Stage)
	}
}

// begins makes a fault act from the next tick on.
func (x *ride) begins(f fault) {
	if f == loopLate {
		x.jump = tooLate
		return
	}
	x.b.arm(f, true)
}

// tooLate is how much too late a tick comes, as the command makes it.
const tooLate = 400 * time.Millisecond

// instant is a ride as it stood at one moment of one stage, all well until then.
type instant struct {
	*ride
	stage  int
	number int
	after  time.Duration // since its stage began
}

func (m *instant) String() string {
	return fmt.Sprintf("%s, stage %d (%s) + %v", m.r.Name, m.stage, m.stages[m.stage].Do, m.after)
}

// momentsIn runs a cycle with all well, and again to copy it at n moments of each stage: evenly spread over its length, each
// moved by chance within its share.
func momentsIn(t testing.TB, c *course, n int) (all []*instant) {
	t.Helper()
	begins, lasts := healthy(t, c)
	random := rand.New(rand.NewPCG(uint64(len(c.r.Name)), 0x73746167))
	for i := range c.stages {
		for k := range n {
			after := time.Duration((float64(k) + random.Float64()) / float64(n) * float64(lasts[i]))
			all = append(all, &instant{stage: i, number: k, after: after.Truncate(tick)})
		}
	}
	x := newRide(c)
	for _, m := range all {
		for x.in.Now < begins[m.stage]+m.after {
			x.tick()
		}
		m.ride = x.copied(uint64(m.stage*n + m.number))
		if m.s.Cycle != controller.Running || int(m.s.Stage) != m.stage {
			t.Fatalf("%s: %s in stage %d", m, m.s.Cycle, m.s.Stage)
		}
	}
	return all
}

// healthy runs a cycle with all well and tells when each stage began and how long it lasted.
func healthy(t testing.TB, c *course) (begins, lasts []time.Duration) {
	t.Helper()
	begins, lasts = make([]time.Duration, len(c.stages)), make([]time.Duration, len(c.stages))
	x := newRide(c)
	for !x.s.Cycle.Ended() && x.in.Now < 6*time.Hour {
		x.tick()
		for _, ev := range x.out.Events.All() {
			switch ev.Kind {
			case controller.StageBegun:
				begins[ev.Stage] = x.in.Now
			case controller.StageEnded:
				lasts[ev.Stage] = x.in.Now - begins[ev.Stage]
			}
		}
	}
	if x.s.Cycle != controller.Complete || len(x.w.told) > 0 || len(x.w.faults) > 0 {
		t.Fatalf("%s with all well: %s, guards %v, %v", c.r.Name, x.s.Cycle, x.w.told, x.w.faults)
	}
	return begins, lasts
}

// Every fault, at every moment: what must be off is off in the tick that shows it, or within its guard's time; the state,
// the guard, its sentence and the record are right; and a fault that cannot show does no harm.
func TestFaultCampaign(t *testing.T) {
	var all [numFaults]tally
	began := time.Now()
	for _, name := range struckRecipes() {
		moments := momentsIn(t, newCourse(t, name, shipped(t)), momentsOf())
		for f, sum := range campaignOn(moments) {
			all[f].adds(&sum)
		}
		t.Logf("%s: %d moments; %v", name, len(moments), time.Since(began))
	}
	for f := range numFaults {
		for _, said := range all[f].said {
			t.Errorf("%s: %s", faults[f].ID, said)
		}
	}
	table := campaignTable(&all)
	t.Log("\n" + table)
	if !testing.Short() {
		docs.Hold(t, "campaign", table)
	}
}

// campaignOn makes every fault at every moment.
func campaignOn(moments []*instant) (all [numFaults]tally) {
	var mu sync.Mutex
	onEveryCore(moments, func(m *instant) {
		var mine [numFaults]tally
		for f := range numFaults {
			mine[f].counts(struck(m, f))
		}
		mu.Lock()
		defer mu.Unlock()
		for f := range numFaults {
			all[f].adds(&mine[f])
		}
	})
	return all
}

// onEveryCore does something with every moment, side by side. What is summed of it must not depend on the order.
func onEveryCore(moments []*instant, do func(*instant)) {
	next := make(chan *instant)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for m := range next {
				do(m)
			}
		})
	}
	for _, m := range moments {
		next <- m
	}
	close(next)
	wg.Wait()
}

// tally is what became of a fault's cases.
type tally struct {
	cases  int
	showed int // it was seen, and the bench reacted
	wasOn  int // in so many something that must go off was on until it first showed
	brief  int // it was seen, but its stage was over before its guard's time was
	unseen int // it could not show: the cycle came to its end
	other  int // it could not show: another guard, that has its reason, held the cycle
	missed int
	off    time.Duration // worst, until the outputs were off
	offIn  int           // the same in ticks
	left   time.Duration // worst, until the state was left
	leftIn int
	said   []string
}

// mostSaid bounds what is told of what went wrong.
const mostSaid = 6

func (a *tally) counts(r result) {
	a.cases++
	a.off, a.offIn = max(a.off, r.off), max(a.offIn, r.offIn)
	a.left, a.leftIn = max(a.left, r.left), max(a.leftIn, r.leftIn)
	if r.wasOn {
		a.wasOn++
	}
	switch {
	case r.missed != "":
		a.missed++
		if len(a.said) < mostSaid {
			a.said = append(a.said, r.missed)
		}
	case r.end == reacted:
		a.showed++
	case r.end == tooBrief:
		a.brief++
	case r.end == heldOtherwise:
		a.other++
	default:
		a.unseen++
	}
}

func (a *tally) adds(b *tally) {
	a.cases, a.showed, a.brief, a.wasOn = a.cases+b.cases, a.showed+b.showed, a.brief+b.brief, a.wasOn+b.wasOn
	a.unseen, a.other, a.missed = a.unseen+b.unseen, a.other+b.other, a.missed+b.missed
	a.off, a.offIn = max(a.off, b.off), max(a.offIn, b.offIn)
	a.left, a.leftIn = max(a.left, b.left), max(a.leftIn, b.leftIn)
	a.said = append(a.said, b.said...)
	a.said = a.said[:min(len(a.said), mostSaid)]
}

// campaignTable is the result as the page shows it.
func campaignTable(all *[numFaults]tally) string {
	var b strings.Builder
	b.WriteString("| fault | guard | off at once | cases | showed | on before | too brief | could not show | worst, outputs off | " +
		"worst, state left | missed |\n|---|---|---|---|---|---|---|---|---|---|---|\n")
	var sum tally
	for f := range numFaults {
		a, row := &all[f], &expected[f]
		sum.adds(a)
		guard := "none"
		if row.guard != 0 {
			guard = row.guard.String()
		}
		left := said(a.leftIn, a.left)
		if row.to == controller.Running {
			left = "not left"
		}
		off := said(a.offIn, a.off)
		if row.off == 0 {
			off = "nothing"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %d | %d | %d | %d | %d | %s | %s | %d |\n", faults[f].ID, guard, row.says(),
			a.cases, a.showed, a.wasOn, a.brief, a.unseen+a.other, off, left, a.missed)
	}
	fmt.Fprintf(&b, "| **all** | | | %d | %d | %d | %d | %d | | | **%d** |\n", sum.cases, sum.showed, sum.wasOn, sum.brief,
		sum.unseen+sum.other, sum.missed)
	b.WriteString("\nA tick is 50 ms. *Showed*: some tick's readings had it while the cycle ran, and the reaction was judged; *on " +
		"before*: something that had to go off was on until it first showed, so that the case proves more than rest. *Too brief*: its stage " +
		"was over before its guard's time was. *Could not show*: nothing of the stage looks at it or makes it visible; then the cycle " +
		"had to go on without a guard, for three minutes and to the end of its stage, and in one moment of ten to the end of the cycle.\n")
	return b.String()
}

// said is a reaction time: in the same tick, or in ticks and time.
func said(ticks int, span time.Duration) string {
	switch {
	case ticks == 0:
		return "same tick"
	case span >= 10*time.Second:
		return fmt.Sprintf("%.1f min", span.Minutes())
	}
	return fmt.Sprintf("%d ticks, %d ms", ticks, span.Milliseconds())
}
