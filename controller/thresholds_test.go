package controller

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"
)

// question asks one cause, at one moment made by hand: readings by sensor, all usable.
type question struct {
	s     State
	stage stage
	read  map[recipe.Sensor]float64
	want  bool
}

func (q question) view() *view {
	v := view{in: &Inputs{}, stage: &q.stage}
	for s, x := range q.read {
		v.in.Readings[s] = Reading{Value: x, Quality: Good}
		v.usable |= sensors(s)
	}
	return &v
}

func ask(t *testing.T, name string, cause func(*State, *view) bool, list ...question) {
	t.Helper()
	for i, q := range list {
		if got := cause(&q.s, q.view()); got != q.want {
			t.Errorf("%s, question %d: %v with %+v", name, i, got, q.read)
		}
	}
}

type readsAs = map[recipe.Sensor]float64

// TestFanIsProvenWithinItsBand: from 30 % of the asked to 130 % of the full speed, both included, for a second; and a
// fan that stands is not proven by being asked for nothing.
func TestFanIsProvenWithinItsBand(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench()) // 50 turns a second at full speed
	on := State{Drove: Levels{Fan: 1}}
	half := State{Drove: Levels{Fan: 0.5}}
	ask(t, "turns", p.fanTurns,
		question{s: on, read: readsAs{recipe.FanSpeed: 15}, want: true}, question{s: on, read: readsAs{recipe.FanSpeed: 14.99}},
		question{s: half, read: readsAs{recipe.FanSpeed: 7.5}, want: true}, question{s: half, read: readsAs{recipe.FanSpeed: 7.49}},
		question{s: on, read: readsAs{recipe.FanSpeed: 65}, want: true}, question{s: on, read: readsAs{recipe.FanSpeed: 65.01}},
		question{s: half, read: readsAs{recipe.FanSpeed: 65}, want: true},
		question{read: readsAs{recipe.FanSpeed: 0}}, question{read: readsAs{recipe.FanSpeed: 0.01}, want: true}, question{s: on})
	ask(t, "proven", p.fanProven,
		question{s: State{FanProof: p.timing.proof}, want: true}, question{s: State{FanProof: p.timing.proof - 1}})
	spin := p.timing.spinUp
	asked := func(asked, doubt time.Duration) State {
		return State{Drove: Levels{Fan: 1}, FanAsked: asked, FanDoubt: doubt}
	}
	stands, turns := readsAs{recipe.FanSpeed: 0}, readsAs{recipe.FanSpeed: 50}
	ask(t, "unproven", p.fanUnproven,
		question{s: asked(spin, 0), read: stands, want: true}, question{s: asked(spin-1, 0), read: stands},
		question{s: asked(spin, 0), read: turns}, question{s: asked(spin, 3*spin), read: turns, want: true},
		question{s: asked(spin, 3*spin-1), read: turns}, question{s: State{FanAsked: spin, FanDoubt: 3 * spin}, read: stands})
}

// TestHotAndStuck: three kelvin above the limit of the air, at the limit of the jacket; five kelvin of rise half a
// minute after the heater went off, unless the room is as warm.
func TestHotAndStuck(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	ask(t, "too hot", p.airTooHot,
		question{read: readsAs{recipe.Air: p.airLimit + 3}}, question{read: readsAs{recipe.Air: p.airLimit + 3.01}, want: true},
		question{read: readsAs{recipe.Surface: p.surfaceLimit}}, question{read: readsAs{recipe.Surface: p.surfaceLimit + 0.01}, want: true},
		question{read: readsAs{recipe.Air: 290, recipe.Surface: 290}}, question{})
	off := func(span time.Duration, low float64) State { return State{HeaterOff: span, AirLow: low} }
	stuck := p.timing.stuck
	ask(t, "stuck", p.heaterStuck,
		question{s: off(stuck, 290), read: readsAs{recipe.Air: 296}, want: true},
		question{s: off(stuck-1, 290), read: readsAs{recipe.Air: 296}},
		question{s: off(stuck, 290), read: readsAs{recipe.Air: 295}}, question{s: off(stuck, 290), read: readsAs{recipe.Air: 295.1}, want: true},
		question{s: off(stuck, 0), read: readsAs{recipe.Air: 296}},
		question{s: off(stuck, 290), read: readsAs{recipe.Air: 296, recipe.AirIn: 291}},
		question{s: off(stuck, 290), read: readsAs{recipe.Air: 296, recipe.AirIn: 290.9}, want: true})
	warm := State{Heated: true, HeaterOff: p.timing.cool * 9 / 10, FanProof: p.timing.proof}
	soon, never, still := warm, warm, warm
	soon.HeaterOff--
	never.Heated, still.FanProof = false, p.timing.proof-1
	hot := readsAs{recipe.Air: 300, recipe.AirIn: 294.9}
	ask(t, "stays warm", p.heaterStuck,
		question{s: warm, read: hot, want: true}, question{s: soon, read: hot}, question{s: never, read: hot}, question{s: still, read: hot},
		question{s: warm, read: readsAs{recipe.Air: 300, recipe.AirIn: 295}}, question{s: warm, read: readsAs{recipe.Air: 300}})
	p.bench.Heater.Power = 0
	ask(t, "no heater", p.heaterStuck, question{s: off(stuck, 290), read: readsAs{recipe.Air: 296}}, question{s: warm, read: hot})
}

func TestVapourThresholds(t *testing.T) {
	p := mustCompile(t, testRecipe("isopropanol-91"), testBench())
	ask(t, "high", p.vapourHigh, question{read: readsAs{recipe.Vapour: 0.25}, want: true}, question{read: readsAs{recipe.Vapour: 0.2499}}, question{})
	ask(t, "rising", p.vapourRising, question{read: readsAs{recipe.Vapour: 0.10}, want: true}, question{read: readsAs{recipe.Vapour: 0.0999}})
}

// TestDoseEnds: a stage may pour while its flow until the latest next step fits under the limit, to a nanolitre; what is
// missing when it may not is told when it is more than a second of work.
func TestDoseEnds(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	flow := stage{Stage: recipe.Stage{Flow: 6 * mL * perMin, For: 30 * time.Second}}
	step := flow.Flow * p.timing.late.Seconds()
	const nanolitre = 1e-12
	ask(t, "left", p.doseLeft,
		question{stage: flow, s: State{Dosed: p.doseLimit - step}, want: true},
		question{stage: flow, s: State{Dosed: p.doseLimit - step + nanolitre/2}, want: true},
		question{stage: flow, s: State{Dosed: p.doseLimit - step + 1.05*nanolitre}},
		question{s: State{Dosed: p.doseLimit + nanolitre}, want: true},
		question{stage: flow, s: State{Dosed: p.doseLimit}})
	given := func(worked time.Duration) State { return State{Dosed: p.doseLimit, Worked: worked} }
	ask(t, "over", p.doseOver,
		question{stage: flow, s: given(29 * time.Second)}, question{stage: flow, s: given(29*time.Second - 1), want: true},
		question{stage: flow, s: State{}}, question{stage: flow, s: given(30 * time.Second)})
}

// TestForceWindow: both pads, from the least to the most, both included.
func TestForceWindow(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	low, high, eps := p.forceLow, p.forceHigh, 1e-9
	mid := (low + high) / 2
	pads := func(front, back float64) readsAs { return readsAs{recipe.PadFront: front, recipe.PadBack: back} }
	settled := State{Drove: Levels{Press: true}, PressedFor: p.timing.settle}
	unsettled := State{Drove: Levels{Press: true}, PressedFor: p.timing.settle - 1}
	away := State{PressedFor: p.timing.settle}
	ask(t, "light", p.padLight,
		question{s: settled, read: pads(low, low)}, question{s: settled, read: pads(low-eps, mid), want: true},
		question{s: settled, read: pads(mid, low-eps), want: true}, question{s: unsettled, read: pads(0, 0)}, question{s: away, read: pads(0, 0)})
	ask(t, "heavy", p.padHeavy,
		question{s: unsettled, read: pads(high, high)}, question{s: unsettled, read: pads(high+eps, mid), want: true},
		question{s: unsettled, read: pads(mid, high+eps), want: true}, question{s: away, read: pads(9, 9)})
	in := func(_ *State, v *view) bool { return p.padsInWindow(v) }
	ask(t, "in the window", in,
		question{read: pads(low, high), want: true}, question{read: pads(high, low), want: true},
		question{read: pads(low-eps, mid)}, question{read: pads(mid, low-eps)}, question{read: pads(high+eps, mid)},
		question{read: pads(mid, high+eps)}, question{read: readsAs{recipe.PadFront: mid}}, question{read: readsAs{recipe.PadBack: mid}})
	p.balance = 0.5
	ask(t, "uneven", p.padsUneven,
		question{s: settled, read: pads(1.25, 0.75)}, question{s: settled, read: pads(1.26, 0.74), want: true},
		question{s: settled, read: pads(0.75, 1.25)}, question{s: settled, read: pads(0.74, 1.26), want: true},
		question{s: unsettled, read: pads(9, 0)}, question{s: settled, read: readsAs{recipe.PadFront: 9}})
}

// TestPadsStillOn: half the least force, and never less than the 0.2 N that a load cell without a load may show.
func TestPadsStillOn(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	away := State{AwayFor: p.timing.settle}
	on := func(front, back float64) readsAs { return readsAs{recipe.PadFront: front, recipe.PadBack: back} }
	half := p.forceLow / 2
	ask(t, "on", p.padsOn,
		question{s: away, read: on(half, half)}, question{s: away, read: on(half+0.01, 0), want: true},
		question{s: away, read: on(0, half+0.01), want: true}, question{s: State{AwayFor: p.timing.settle - 1}, read: on(9, 9)})
	p.forceLow = 0.1
	ask(t, "drift", p.padsOn, question{s: away, read: on(0.2, 0.2)}, question{s: away, read: on(0.21, 0), want: true})
	p.bench.Press = false
	ask(t, "no press", p.padsOn, question{s: away, read: on(9, 9)})
}

// TestTurningTooSlowly: the pads below half, the hub below seven tenths of what was asked, either way round.
func TestTurningTooSlowly(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	pads := func(asked float64, span time.Duration) State { return State{Drove: Levels{Pads: asked}, PadsFor: span} }
	spin := p.timing.padsSpin
	ask(t, "stalled", p.padsStalled,
		question{s: pads(2, spin), read: readsAs{recipe.PadsSpeed: 1}}, question{s: pads(2, spin), read: readsAs{recipe.PadsSpeed: 0.99}, want: true},
		question{s: pads(-2, spin), read: readsAs{recipe.PadsSpeed: -1}}, question{s: pads(-2, spin), read: readsAs{recipe.PadsSpeed: -0.99}, want: true},
		question{s: pads(2, spin-1), read: readsAs{recipe.PadsSpeed: 0}})
	hub := func(span time.Duration) State { return State{Drove: Levels{Hub: 10}, HubFor: span} }
	spin = p.timing.hubSpin
	ask(t, "slow", p.hubSlow,
		question{s: hub(spin), read: readsAs{recipe.HubSpeed: 7}}, question{s: hub(spin), read: readsAs{recipe.HubSpeed: 6.99}, want: true},
		question{s: hub(spin), read: readsAs{recipe.HubSpeed: -7}}, question{s: hub(spin - 1), read: readsAs{recipe.HubSpeed: 0}})
}

// TestTankOfTheStage: each stage has its own tank, and the other's float says nothing.
func TestTankOfTheStage(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	do := func(k recipe.Kind) stage { return stage{Stage: recipe.Stage{Do: k}} }
	tank, rinse := readsAs{recipe.TankFloat: 0, recipe.RinseFloat: 1}, readsAs{recipe.TankFloat: 1, recipe.RinseFloat: 0}
	ask(t, "low", p.tankLow,
		question{stage: do(recipe.Wet), read: tank, want: true}, question{stage: do(recipe.Wet), read: rinse},
		question{stage: do(recipe.Rinse), read: rinse, want: true}, question{stage: do(recipe.Rinse), read: tank},
		question{stage: do(recipe.Scrub), read: readsAs{recipe.TankFloat: 0, recipe.RinseFloat: 0}})
}

// TestTimesAreReached, exactly, and not a moment before.
func TestTimesAreReached(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	st := stage{Stage: recipe.Stage{AtMost: time.Minute}}
	ask(t, "stage", p.stageOvertime,
		question{stage: st, s: State{InStage: time.Minute}, want: true}, question{stage: st, s: State{InStage: time.Minute - 1}})
	limit := p.recipe.Limits.Time
	ask(t, "cycle", p.cycleOvertime, question{s: State{Total: limit}, want: true}, question{s: State{Total: limit - 1}})
}

// TestOnlyNeededReadingsCount: a stage is stopped by a reading that it needs, and by no other.
func TestOnlyNeededReadingsCount(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	needs := &stage{needs: sensors(recipe.Lid, recipe.Air)}
	for _, c := range []struct {
		stale, implausible SensorSet
		wantS, wantI       bool
	}{
		{sensors(recipe.Air), 0, true, false}, {0, sensors(recipe.Air), false, true},
		{sensors(recipe.Weight), sensors(recipe.Vapour), false, false}, {0, 0, false, false},
	} {
		v := &view{stage: needs, stale: c.stale, implausible: c.implausible}
		if s, i := p.readingStale(nil, v), p.readingImplausible(nil, v); s != c.wantS || i != c.wantI {
			t.Errorf("stale %b, implausible %b: %v, %v", c.stale, c.implausible, s, i)
		}
	}
}

// TestCutShortIsNoStepsBusiness: it is found by whoever opens the record; no step sees it.
func TestCutShortIsNoStepsBusiness(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	if p.present(CutShort, &State{}, question{}.view()) {
		t.Error("a step found that the power failed")
	}
}

// TestEveryReadingHasItsRange: the ends of each range are usable, what lies beyond is impossible, and of a contact
// everything between. The ranges are the widest that instruments of the kind read; from memory of their data sheets.
func TestEveryReadingHasItsRange(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	ranges := map[recipe.Sensor][2]float64{
		recipe.PadFront: {-5, 200}, recipe.PadBack: {-5, 200}, recipe.PadsSpeed: {-100, 100}, recipe.HubSpeed: {-100, 100},
		recipe.FanSpeed: {0, 1000}, recipe.AirIn: {233, 358}, recipe.Air: {233, 393}, recipe.AirOut: {233, 393},
		recipe.Surface: {233, 393}, recipe.AirInRH: {0, 1}, recipe.AirOutRH: {0, 1}, recipe.Vapour: {-0.05, 10}, recipe.Weight: {-0.1, 5},
	}
	for s := range recipe.NumSensors {
		ends, ok := ranges[s]
		if !ok {
			ends = [2]float64{0, 1}
		}
		usable := func(x float64) bool {
			in := Inputs{}
			in.Readings[s] = Reading{Value: x, Quality: Good}
			v := p.see(&State{}, &in)
			if v.usable.Has(s) == v.implausible.Has(s) || v.stale.Has(s) {
				t.Errorf("%s reads %g: usable %b, implausible %b, stale %b", s, x, v.usable, v.implausible, v.stale)
			}
			return v.usable.Has(s)
		}
		const eps = 1e-6
		if !usable(ends[0]) || !usable(ends[1]) || usable(ends[0]-eps) || usable(ends[1]+eps) || usable(math.NaN()) {
			t.Errorf("%s has another range than %v", s, ends)
		}
		if between := usable((ends[0] + ends[1]) / 2); between == s.Contact() {
			t.Errorf("%s is a contact: %v, and usable between: %v", s, s.Contact(), between)
		}
	}
}

// TestJudgingAReading: by quality first, then by age.
func TestJudgingAReading(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	const s = recipe.Air
	for _, c := range []struct {
		r    Reading
		want string
	}{
		{Reading{Value: 290, Quality: Good}, "usable"}, {Reading{Value: 290, Quality: Good, Age: p.stale[s]}, "usable"},
		{Reading{Value: 290, Quality: Good, Age: p.stale[s] + 1}, "stale"}, {Reading{Value: 290, Quality: Good, Age: -1}, "stale"},
		{Reading{Value: 290}, "stale"}, {Reading{Value: 290, Quality: Failed}, "stale"},
		{Reading{Value: 290, Quality: Implausible}, "implausible"}, {Reading{Value: 290, Quality: Implausible, Age: time.Hour}, "implausible"},
		{Reading{Value: 999, Quality: Good, Age: time.Hour}, "stale"},
	} {
		in := Inputs{}
		in.Readings[s] = c.r
		v := p.see(&State{}, &in)
		got := map[bool]string{v.usable.Has(s): "usable", v.stale.Has(s): "stale", v.implausible.Has(s): "implausible"}[true]
		if x := v.value(s); got != c.want || (x == 290) != (c.want == "usable") {
			t.Errorf("%+v is %s and reads %g, want %s", c.r, got, x, c.want)
		}
	}
}

// TestStateOfAnotherProgram: a stage that this program has not is taken for the nearest that it has.
func TestStateOfAnotherProgram(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for stage, want := range map[int8]int8{-3: 0, 0: 0, 5: 5, 6: 5, 99: 5} {
		s := State{Stage: stage}
		if v := p.see(&s, &Inputs{}); s.Stage != want || v.stage != &p.stages[want] {
			t.Errorf("stage %d is taken for %d, want %d", stage, s.Stage, want)
		}
	}
}
