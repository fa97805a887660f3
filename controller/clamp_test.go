package controller

import (
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"fullery/recipe"

	"pgregory.net/rapid"
)

// drawSpan draws one of some spans in milliseconds.
func drawSpan(t *rapid.T, name string, ms ...int) time.Duration {
	return time.Duration(rapid.SampledFrom(ms).Draw(t, name)) * time.Millisecond
}

// drawState draws a state, reachable or not: clamp relies on nothing that came before.
func drawState(t *rapid.T, p *Program) State {
	return State{
		Ticking: true, Last: time.Minute, Late: rapid.IntRange(0, 9).Draw(t, "late") == 0,
		Cycle: CycleState(rapid.SampledFrom([]int{1, 1, 1, 1, 0, 2, 3, 4, 5, 6, 7, 8, 9}).Draw(t, "cycle")),
		Stage: int8(rapid.IntRange(0, len(p.stages)-1).Draw(t, "stage")),
		Dosed: rapid.Float64Range(0, 25*mL).Draw(t, "dosed"), Drove: drawWish(t, "drove"),
		FanProof: drawSpan(t, "proof", 0, 999, 1000, 1000, 1000), FanBad: rapid.IntRange(0, 9).Draw(t, "fan bad") == 0,
		PressedFor: drawSpan(t, "pressed", 0, 1499, 1500, 1500, 1500), PadsRest: drawSpan(t, "pads rest", 0, 0, 0, 50),
		PumpRest: drawSpan(t, "pump rest", 0, 0, 0, 50), HeaterRest: drawSpan(t, "heater rest", 0, 0, 0, 50),
	}
}

// drawWish draws levels, each off, on or in between.
func drawWish(t *rapid.T, name string) Levels {
	level := func(of string) float64 {
		return rapid.SampledFrom([]float64{0, 0.3, 1, 1, 1}).Draw(t, name+" "+of)
	}
	return Levels{
		Pump: level("pump"), RinsePump: level("rinse"), Press: rapid.Bool().Draw(t, name+" press"),
		Pads: level("pads") * rapid.SampledFrom([]float64{-1, 1}).Draw(t, name+" way"), Hub: level("hub"),
		Fan: level("fan"), Heater: level("heater"), HeaterEnable: rapid.Bool().Draw(t, name+" enable"),
	}
}

// clampPrograms are one program with a flammable liquid and one without.
func clampPrograms(t *testing.T) []*Program {
	return []*Program{
		mustCompile(t, testRecipe("water-detergent"), testBench()),
		mustCompile(t, testRecipe("isopropanol-91"), testBench()),
	}
}

// TestClampOnlyTakesAway: whatever the state, the readings and the wish, each level that leaves clamp is the wish or
// off; and so it stays when it is clamped again. That
// all of it passes when all is well, the table below shows.
func TestClampOnlyTakesAway(t *testing.T) {
	programs := clampPrograms(t)
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SampledFrom(programs).Draw(t, "program")
		u := puppet{p: p, s: drawState(t, p)}
		in := Inputs{Now: time.Minute, DriveFailed: rapid.IntRange(0, 9).Draw(t, "drive failed") == 0}
		u.well(&in)
		for range rapid.IntRange(0, 2).Draw(t, "troubles") {
			if twist := drawTwist(t); twist != nil {
				twist(&in)
			}
		}
		wish := drawWish(t, "wish")
		got, s := wish, u.s
		v := p.see(&s, &in)
		p.clamp(&s, &v, &got)
		w, g := reflect.ValueOf(wish), reflect.ValueOf(got)
		for i := range w.NumField() {
			if !g.Field(i).IsZero() && !g.Field(i).Equal(w.Field(i)) {
				t.Fatalf("%s: asked %v, clamped to %v", w.Type().Field(i).Name, w.Field(i), g.Field(i))
			}
		}
		again := got
		p.clamp(&s, &v, &again)
		for i := range w.NumField() {
			if a := reflect.ValueOf(again).Field(i); !a.IsZero() && !a.Equal(g.Field(i)) {
				t.Fatalf("%s: clamped to %v and then to %v", w.Type().Field(i).Name, g.Field(i), a)
			}
		}
	})
}

// clampMoment is a moment of a cycle at which all is well, all that could be on is asked, and readings go missing.
type clampMoment struct {
	liquid string
	stage  recipe.Kind
}

var everything = Levels{Pump: 1, RinsePump: 1, Press: true, Pads: 1, Hub: 1, Fan: 1, Heater: 1, HeaterEnable: true}

// leaves tells what clamp leaves of everything when readings are twisted, in the very step that sees them so: after
// the counting of the step, and without any guard.
func (m clampMoment) leaves(t *testing.T, twist func(*Inputs)) Levels {
	t.Helper()
	p := mustCompile(t, testRecipe(m.liquid), testBench())
	u := newPuppet(p)
	for i := range p.stages {
		if p.stages[i].Do == m.stage {
			u.s.Stage = int8(i)
		}
	}
	u.s.Cycle, u.s.Ticking, u.s.Last, u.s.Drove = Running, true, time.Minute, everything
	u.s.FanAsked, u.s.FanProof, u.s.PressedFor = time.Minute, time.Minute, time.Minute
	in := Inputs{Now: u.s.Last + p.timing.tick}
	u.well(&in)
	twist(&in)
	v := p.see(&u.s, &in)
	v.dt = p.advance(&u.s, &v)
	want := everything
	p.clamp(&u.s, &v, &want)
	return want
}

// names lists what is on.
func (l Levels) names() string {
	var on []string
	for _, x := range []struct {
		on   bool
		name string
	}{
		{l.Pump != 0 || l.RinsePump != 0, "pumps"}, {l.Press, "press"}, {l.Pads != 0, "pads"}, {l.Hub != 0, "hub"},
		{l.Fan != 0, "fan"}, {l.Heater != 0 || l.HeaterEnable, "heater"},
	} {
		if x.on {
			on = append(on, x.name)
		}
	}
	return strings.Join(on, " ")
}

// TestClampWithoutEachReading writes down what each reading protects: everything is asked for, one reading is missing,
// and the table shows what clamp still lets through before any guard has its say.
func TestClampWithoutEachReading(t *testing.T) {
	var b strings.Builder
	b.WriteString("What stays on when everything is asked for and one reading is missing, by the clamp alone: the guards\n" +
		"come on top of it. Columns are stages.\n")
	for _, liquid := range []string{"water-detergent", "isopropanol-91"} {
		stages := []recipe.Kind{recipe.Wet, recipe.Scrub, recipe.Rinse, recipe.Dry}
		fmt.Fprintf(&b, "\n%s\n", liquid)
		row := func(name string, cell func(recipe.Kind) string) {
			line := fmt.Sprintf("%-16s", name)
			for _, k := range stages {
				line += fmt.Sprintf("  %-31s", cell(k))
			}
			b.WriteString(strings.TrimRight(line, " ") + "\n")
		}
		row("missing", recipe.Kind.String)
		row("nothing", func(k recipe.Kind) string {
			return clampMoment{liquid, k}.leaves(t, func(*Inputs) {}).names()
		})
		for s := range recipe.NumSensors {
			row(s.String(), func(k recipe.Kind) string {
				return clampMoment{liquid, k}.leaves(t, func(in *Inputs) { in.Readings[s] = Reading{} }).names()
			})
		}
	}
	golden(t, "clamp.txt", b.String())
}

// TestBadIsNoBetterThanAbsent: a reading that failed, is too old, refused, impossible or no number lets nothing
// through that its absence would stop.
func TestBadIsNoBetterThanAbsent(t *testing.T) {
	bad := map[string]func(*Reading){
		"failed":       func(r *Reading) { r.Quality = Failed },
		"implausible":  func(r *Reading) { r.Quality = Implausible },
		"old":          func(r *Reading) { r.Age = time.Second + 1 },
		"from later":   func(r *Reading) { r.Age = -1 },
		"not a number": func(r *Reading) { r.Value = math.NaN() },
		"infinite":     func(r *Reading) { r.Value = math.Inf(1) },
		"impossible":   func(r *Reading) { r.Value = -1e6 },
	}
	for _, liquid := range []string{"water-detergent", "isopropanol-91"} {
		for _, k := range []recipe.Kind{recipe.Wet, recipe.Scrub, recipe.Rinse, recipe.Dry} {
			m := clampMoment{liquid, k}
			for s := range recipe.NumSensors {
				absent := m.leaves(t, func(in *Inputs) { in.Readings[s] = Reading{} })
				for how, twist := range bad {
					if got := m.leaves(t, func(in *Inputs) { twist(&in.Readings[s]) }); got != absent {
						t.Errorf("%s, %s, %s %s: %q, absent %q", liquid, k, s, how, got.names(), absent.names())
					}
				}
			}
		}
	}
}

// heatForced is a program of water for a bench whose pads and bath held something that burns, with warming forced into
// every stage behind the back of Compile, which refuses it.
func heatForced(t testing.TB, held string, r recipe.Recipe) *Program {
	b := testBench()
	b.PadsAndBathHeld = held
	for i := range r.Stages {
		r.Stages[i].Warm = 0
	}
	p := mustCompile(t, r, b)
	for i := range p.stages {
		p.stages[i].Warm = celsius0 + 36
	}
	return p
}

// TestNoHeatAfterAFlammableLiquid: with pads and bath that held a flammable liquid, or one that nobody knows, no run
// ever turns the heater on, even of a program that wants it: clamp alone forbids it.
func TestNoHeatAfterAFlammableLiquid(t *testing.T) {
	asked := 0
	rapid.Check(t, func(rt *rapid.T) {
		held := rapid.SampledFrom([]string{"isopropanol-91", "ethanol-96", "brush cleaner"}).Draw(rt, "held")
		u := newPuppet(heatForced(t, held, testRecipe("water-detergent")))
		u.tick()
		u.order(Start)
		u.s.Stage = 5 // the dry
		for range rapid.IntRange(1, 20).Draw(rt, "phases") {
			u.twist = drawTwist(rt)
			c := Command{Order: Order(rapid.IntRange(0, int(numOrders)-1).Draw(rt, "order")), Looked: true}
			if rapid.Bool().Draw(rt, "no order") {
				c = Command{}
			}
			for range rapid.IntRange(1, 300).Draw(rt, "ticks") {
				before := u.s
				u.step(u.p.timing.tick, c)
				c = Command{}
				asked += u.wishesHeat(before)
				if l := u.out.Levels; l.Heater != 0 || l.HeaterEnable {
					rt.Fatalf("the heater is on: %+v", l)
				}
				if said := (edge{u.p, before, u.in, u.s, u.out}).broken(); said != "" && !strings.HasPrefix(said, "invariant 7") {
					rt.Fatal(said)
				}
			}
		}
	})
	if asked == 0 {
		t.Error("no stage ever asked for heat; the test tests nothing")
	}
}

// wishesHeat tells (as 0 or 1) whether the stage asks for heat in the step just made, before clamp.
func (u *puppet) wishesHeat(before State) int {
	if before.Cycle != Running || u.s.Cycle != Running || before.Stage != u.s.Stage {
		return 0
	}
	s, in, want := u.s, u.in, Levels{}
	v := u.p.see(&s, &in)
	u.p.work(&s, &v, &want)
	if want.HeaterEnable {
		return 1
	}
	return 0
}

// TestForcedHeatHeatsWithoutIt: the same program does heat when pads and bath held only water, so that what the test
// above sees is the clamp and nothing else.
func TestForcedHeatHeatsWithoutIt(t *testing.T) {
	u := newPuppet(heatForced(t, "water", testRecipe("water-detergent")))
	u.toStage(t, recipe.Dry)
	u.until(t, "heat", func() bool { return u.out.Levels.Heater > 0 && u.out.Levels.HeaterEnable })
}
