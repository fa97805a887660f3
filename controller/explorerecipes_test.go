package controller

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"fullery/docs"
	"fullery/recipe"
)

// What is walked: recipes of a few ticks, on benches with and without the parts that a bench may lack.

// ground is one recipe on one bench.
type ground struct {
	name string
	r    recipe.Recipe
	b    recipe.Bench
	full bool // small enough for every order in every world, and for short mode
}

// everyPart is a bench with all that a bench may have.
func everyPart() recipe.Bench {
	b := testBench()
	b.Sensors[recipe.Weight].Fitted = true
	return b
}

// lacks takes parts away from the bench with every part but the scale.
func lacks(parts ...string) recipe.Bench {
	b := testBench()
	for _, part := range parts {
		switch part {
		case "press":
			b.Press = false
		case "heater":
			b.Heater = recipe.Heater{}
		case "vapour":
			b.Sensors[recipe.Vapour].Fitted = false
		case "air": // what only the end of drying and the heater ask for
			for _, s := range []recipe.Sensor{recipe.AirIn, recipe.AirInRH, recipe.AirOut, recipe.AirOutRH, recipe.Surface} {
				b.Sensors[s].Fitted = false
			}
		}
	}
	return b
}

// flow is what the pump gives, in m³/s: a power of two, so that doses are exact sums and equal doses are equal states.
const flow = 0x1p-24

// shortRecipe is a recipe of few ticks that still has what its kinds of stage can do.
func shortRecipe(liquid string, kinds ...recipe.Kind) recipe.Recipe {
	r := testRecipe(liquid)
	all := r.Stages
	r.Stages = nil
	for _, k := range kinds {
		s := all[slices.Index([]recipe.Kind{recipe.Wet, recipe.Soak, recipe.Scrub, recipe.Rinse, recipe.SpinOut, recipe.Dry}, k)]
		s.For, s.AtMost, s.Reverse = min(s.For, 2*time.Second), 3*time.Second, min(s.Reverse, time.Second)
		s.Flow = map[recipe.Kind]float64{recipe.Wet: flow, recipe.Rinse: 2 * flow}[k]
		r.Stages = append(r.Stages, s)
	}
	r.Limits = recipe.Limits{Liquid: 8 * flow, Time: 5 * time.Second}
	return r
}

// lasting sets the limit of the whole cycle's time, in ticks.
func lasting(ticks int, r recipe.Recipe) recipe.Recipe {
	r.Limits.Time = time.Duration(ticks) * time.Second
	return r
}

// cold leaves the heater out.
func cold(r recipe.Recipe) recipe.Recipe {
	for i := range r.Stages {
		r.Stages[i].Warm = 0
	}
	return r
}

// still lets the hub rest.
func still(r recipe.Recipe) recipe.Recipe {
	for i := range r.Stages {
		r.Stages[i].Hub = 0
	}
	return r
}

// brief gives every stage one tick of work, so that many fit into few.
func brief(r recipe.Recipe) recipe.Recipe {
	for i := range r.Stages {
		s := &r.Stages[i]
		s.For, s.AtMost = min(s.For, time.Second), 2*time.Second
	}
	return r
}

// grounds are all that is walked: each kind of stage, with what burns and what does not, with and without each part.
func grounds() []ground {
	const burns, mild = "isopropanol-91", "water-detergent"
	twice := lasting(6, cold(brief(shortRecipe(mild, recipe.Wet, recipe.SpinOut, recipe.Dry))))
	twice.Repeat = 2
	scale := lacks("press", "heater", "vapour")
	scale.Sensors[recipe.Weight].Fitted = true
	padded := lasting(3, brief(shortRecipe(burns, recipe.Rinse, recipe.SpinOut)))
	padded.Stages[0].Pads = 1
	little := lasting(5, cold(shortRecipe(mild, recipe.Wet)))
	little.Limits.Liquid = 4 * flow
	return []ground{
		{"warmed dry", lasting(3, still(shortRecipe(mild, recipe.Dry))), lacks("press", "vapour"), false},
		{"wet, dry", lasting(3, shortRecipe(burns, recipe.Wet, recipe.Dry)), lacks("press", "heater"), false},
		{"rinse, weighed dry", lasting(4, cold(brief(shortRecipe(mild, recipe.Rinse, recipe.Dry)))), scale, false},
		{"wet, spin-out, wet, spin-out, dry", twice, lacks("press", "heater", "vapour", "air"), false},
		{"wet, of little liquid", little, lacks("press", "heater", "vapour", "air"), false},
		{"soak, scrub", shortRecipe(burns, recipe.Soak, recipe.Scrub), lacks("press", "vapour", "heater"), false},
		{"wet, scrub, rinse", lasting(5, brief(shortRecipe(mild, recipe.Wet, recipe.Scrub, recipe.Rinse))), lacks("vapour"), false},
		{"scrub, dry", lasting(3, brief(shortRecipe(burns, recipe.Scrub, recipe.Dry))), lacks("vapour"), false},
		{"rinse with pads, spin-out", padded, lacks("heater", "vapour"), false},
		{"soak", lasting(2, shortRecipe(burns, recipe.Soak)), lacks("press", "heater", "air"), true},
	}
}

// found is what one walk found.
type found struct {
	states, edges, depth int
	home                 int32
	tripped              GuardSet
	dried                map[Evidence]int
}

// TestExhaustive walks every ground to its end. Each walk is on its own: they share the processors, not the states.
func TestExhaustive(t *testing.T) {
	began := time.Now()
	list := grounds()
	results := make([]found, len(list))
	t.Run("walk", func(t *testing.T) {
		for i, g := range list {
			if testing.Short() && !g.full {
				continue
			}
			t.Run(g.name, func(t *testing.T) {
				t.Parallel()
				results[i] = g.walk(t)
			})
		}
	})
	if t.Failed() || testing.Short() || slices.ContainsFunc(results, func(f found) bool { return f.states == 0 }) {
		return
	}
	var all found
	all.dried = map[Evidence]int{}
	for _, f := range results {
		all.add(f)
	}
	t.Logf("%d states, %d edges in %v", all.states, all.edges, time.Since(began).Round(time.Second))
	all.enough(t)
	docs.Hold(t, "exploration", table(list, results, all))
}

// walk explores a ground to its end.
func (g ground) walk(t *testing.T) found {
	began := time.Now()
	w := newWalk(coarse(mustCompile(t, g.r, g.b)))
	w.full = g.full && !testing.Short()
	if said := w.run(mostStates); said != "" {
		t.Fatal(said)
	}
	home, said := w.wayHome()
	if said != "" {
		t.Fatal(said)
	}
	f := found{len(w.via), w.edges, w.depth, home, w.tripped, w.dried}
	t.Logf("%d states, %d edges, depth %d, home in %d steps, ends of drying %v, %v",
		f.states, f.edges, f.depth, f.home, f.dried, time.Since(began).Round(time.Second))
	if f.states < 2_000 {
		t.Errorf("%d states: the walk has lost its way", f.states)
	}
	return f
}

// mostStates stops a walk that a change made endless.
const mostStates = 1_500_000

func (f *found) add(o found) {
	f.states, f.edges, f.tripped = f.states+o.states, f.edges+o.edges, f.tripped|o.tripped
	f.depth, f.home = max(f.depth, o.depth), max(f.home, o.home)
	for e, n := range o.dried {
		f.dried[e] += n
	}
}

// enough: the walks together met a million states, every guard tripped, and a drying ended on each kind of evidence that
// they could find.
func (f *found) enough(t *testing.T) {
	if f.states < 1_000_000 {
		t.Errorf("%d states in all, fewer than a million", f.states)
	}
	for g := noGuard + 1; g < numGuards; g++ {
		if g != CutShort && !f.tripped.Has(g) {
			t.Errorf("%s never tripped", g)
		}
	}
	for _, e := range []Evidence{ByWeight, ByClock} {
		if f.dried[e] == 0 {
			t.Errorf("nothing was ever found dry by %s", e)
		}
	}
}

// table is the page's section.
func table(list []ground, results []found, all found) string {
	var b strings.Builder
	b.WriteString("| recipe | can burn | bench without | states | steps | deepest | home |\n| --- | --- | --- | --: | --: | --: | --: |\n")
	row := func(name, burns, without string, f found) {
		fmt.Fprintf(&b, "| %s | %s | %s | %d | %d | %d | %d |\n", name, burns, without, f.states, f.edges, f.depth, f.home)
	}
	for i, g := range list {
		burns := map[bool]string{true: "yes", false: "no"}[mustBurn(g)]
		row(g.name, burns, strings.Join(g.without(), ", "), results[i])
	}
	row("all", "", "", all)
	fmt.Fprintf(&b, `
Each walk starts at idle and at every state in which a bench comes up after a cut, and goes on until nothing new appears.
*Deepest* is the most steps that the shortest way to a state takes, *home* the most that an operator needs who, with all well,
stops, waits, looks and resets: it is followed from every state.

At every state all classes of input were tried: all well; each sensor in every way of being worth nothing (gone, failed, too old,
refused, impossible); each value on the wrong side of a threshold; every reading gone; the clock standing, just not late, a whole
stage on, an hour ahead, and back; outputs that cannot be driven; a record that cannot be written. Each alone, and with every
order, looked at or not, that the state can take; the other orders with the first %d classes, and with all of them for "soak".

On each of the %d steps all that the controller promises of one step was checked, and that what went off was not on again
before its rest, that stop and abort end a cycle whatever is wrong, that ending ends, that a refused order changes nothing, and
that the same step comes out the same again. None was broken. Every guard tripped (but for the cut, which is where a walk begins),
and dryings were found to end %s.

A tick is a second here, and every span a few ticks. One thing is wrong at a time, or everything. A state is remembered by 128
mixed bits of it: were they random, two of these states would share them with a chance below 1 in 10^%d.
`, withOrders, all.edges, endings(all.dried), all.unlikely())
	return b.String()
}

// without lists the parts that the ground's bench lacks, of those that a bench may lack.
func (g ground) without() (list []string) {
	has := func(s recipe.Sensor) bool { return g.b.Sensors[s].Fitted }
	for _, part := range []struct {
		name string
		has  bool
	}{
		{"press", g.b.Press}, {"heater", g.b.Heater.Power > 0}, {"vapour sensor", has(recipe.Vapour)}, {"scale", has(recipe.Weight)},
		{"jacket and duct sensors", has(recipe.Surface)},
	} {
		if !part.has {
			list = append(list, part.name)
		}
	}
	return list
}

// mustBurn tells whether anything on a ground can burn.
func mustBurn(g ground) bool {
	return burnsByName(&Program{recipe: g.r, bench: g.b})
}

func endings(dried map[Evidence]int) string {
	var list []string
	for _, e := range slices.Sorted(maps.Keys(dried)) {
		list = append(list, fmt.Sprintf("%d times by %q", dried[e], e))
	}
	return strings.Join(list, " and ")
}

// unlikely is the power of ten below which the chance lies that two of so many states share their key: n²/2^129.
func (f *found) unlikely() int {
	return int(129*math.Log10(2) - 2*math.Log10(float64(f.states)))
}
