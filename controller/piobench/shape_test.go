package piobench

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/controller"
	"fullery/recipe"
)

const tick = 50 * time.Millisecond

// wired is a bench on which every output is driven in the same way.
func wired(drive string) *recipe.Bench {
	b := &recipe.Bench{Pads: recipe.PadPair{Fastest: 2}, Hub: recipe.Spindle{Fastest: 5}}
	for i := range b.Board.Outputs {
		b.Board.Outputs[i] = recipe.OutputWiring{Fitted: true, Drive: drive}
	}
	for _, o := range []recipe.Output{recipe.OutPress, recipe.OutPadsReverse, recipe.OutHeaterEnable} {
		b.Board.Outputs[o].Drive = recipe.DriveSwitched
	}
	return b
}

func TestAsked(t *testing.T) {
	b := wired(recipe.DrivePWM)
	full := controller.Levels{Pump: 0.5, RinsePump: 2, Press: true, Pads: -1, Hub: 2.5, Fan: 1, Heater: 0.25, HeaterEnable: true}
	want := duties{recipe.OutPump: 0.5, recipe.OutRinsePump: 1, recipe.OutPress: 1, recipe.OutPads: 0.5, recipe.OutPadsReverse: 1,
		recipe.OutHub: 0.5, recipe.OutFan: 1, recipe.OutHeater: 0.25, recipe.OutHeaterEnable: 1}
	if got := asked(&full, b); got != want {
		t.Errorf("%v, want %v", got, want)
	}
	nan := math.NaN()
	none := controller.Levels{Pump: nan, RinsePump: -1, Pads: nan, Hub: -3, Fan: nan, Heater: math.Inf(-1)}
	if got := asked(&none, b); got != (duties{}) {
		t.Errorf("what is no level drives %v", got)
	}
	if got := asked(&full, &recipe.Bench{}); got[recipe.OutPads] != 0 || got[recipe.OutHub] != 0 {
		t.Error("what has no speed turns")
	}
}

// drawLevels draws what might be asked, off as often as not.
func drawLevels(t *rapid.T) controller.Levels {
	some := func(name string, low, high float64) float64 {
		if rapid.Bool().Draw(t, name+" off") {
			return 0
		}
		return rapid.Float64Range(low, high).Draw(t, name)
	}
	return controller.Levels{Pump: some("pump", 0, 1), RinsePump: some("rinse", 0, 1), Press: rapid.Bool().Draw(t, "press"),
		Pads: some("pads", -2, 2), Hub: some("hub", 0, 5), Fan: some("fan", 0, 1), Heater: some("heater", 0, 1),
		HeaterEnable: rapid.Bool().Draw(t, "enable")}
}

// TestOffIsNeverDelayed, and nothing that was not asked for is ever driven: whatever went before.
func TestOffIsNeverDelayed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := wired(rapid.SampledFrom([]string{recipe.DriveSwitched, recipe.DriveSlow, recipe.DrivePWM, recipe.DriveChip}).Draw(rt, "drive"))
		b.Board.Stagger = rapid.SampledFrom([]time.Duration{0, 300 * time.Millisecond}).Draw(rt, "stagger")
		for i := range b.Board.Outputs {
			b.Board.Outputs[i].Period, b.Board.Outputs[i].MinOn, b.Board.Outputs[i].MinOff = 2*time.Second, 400*time.Millisecond, 600*time.Millisecond
		}
		s := shaper{bench: b}
		now := time.Duration(0)
		var was duties
		var offSince [recipe.NumOutputs]time.Duration
		for range rapid.IntRange(1, 60).Draw(rt, "changes") {
			l := drawLevels(rt)
			for range rapid.IntRange(1, 30).Draw(rt, "ticks") {
				ask := asked(&l, b)
				got := s.shape(now, ask)
				started := 0
				for i := range got {
					o := recipe.Output(i)
					waits := o == recipe.OutPadsReverse && ask[recipe.OutPads] > 0 // until the pads stand
					if ask[i] == 0 && got[i] != 0 && !waits {
						rt.Fatalf("at %v %s is driven and not asked for", now, o)
					}
					if got[i] < 0 || got[i] > 1 {
						rt.Fatalf("%s at %g", o, got[i])
					}
					switch {
					case was[i] > 0 && got[i] == 0:
						offSince[i] = now
					case was[i] == 0 && got[i] > 0:
						if load(o) {
							started++
						}
						if offSince[i] > 0 && now-offSince[i] < b.Board.Outputs[i].MinOff {
							rt.Fatalf("%s rested for %v only", o, now-offSince[i])
						}
					}
				}
				if b.Board.Stagger > 0 && started > 1 {
					rt.Fatalf("%d loads were switched on in one tick", started)
				}
				if got[recipe.OutPadsReverse] != was[recipe.OutPadsReverse] && got[recipe.OutPads] > 0 {
					rt.Fatal("the direction was switched under power")
				}
				was = got
				now += tick
			}
		}
	})
}

// TestA11StartsAreStaggered: two loads asked for in one tick start at least as far apart as the file says, the fan first.
func TestA11StartsAreStaggered(t *testing.T) {
	b := wired(recipe.DriveSwitched)
	b.Board.Stagger = 300 * time.Millisecond
	s := shaper{bench: b}
	l := controller.Levels{Pump: 1, Fan: 1, Hub: 5}
	began := map[recipe.Output]time.Duration{}
	for now := time.Duration(0); now < 2*time.Second; now += tick {
		for i, d := range s.shape(now, asked(&l, b)) {
			if _, ok := began[recipe.Output(i)]; d > 0 && !ok {
				began[recipe.Output(i)] = now
			}
		}
	}
	want := map[recipe.Output]time.Duration{recipe.OutFan: 0, recipe.OutHub: 300 * time.Millisecond, recipe.OutPump: 600 * time.Millisecond}
	if len(began) != len(want) {
		t.Fatalf("%v", began)
	}
	for o, at := range want {
		if began[o] != at {
			t.Errorf("%s begins at %v, want %v", o, began[o], at)
		}
	}
}

// TestSlowRhythm: over many windows the share of the time that is given is the share asked for, however small, and no part
// is shorter than the file allows.
func TestSlowRhythm(t *testing.T) {
	for _, ask := range []float64{0.01, 0.05, 0.3, 0.5, 0.93, 0.99, 1} {
		b := wired(recipe.DriveSlow)
		w := &b.Board.Outputs[recipe.OutHeater]
		w.Period, w.MinOn, w.MinOff = 2*time.Second, 400*time.Millisecond, 400*time.Millisecond
		s := shaper{bench: b}
		var d duties
		d[recipe.OutHeater] = ask
		on, last, since := 0, 0.0, time.Duration(0)
		const ticks = 20 * 2000
		for i := range ticks {
			now := time.Duration(i) * tick
			got := s.shape(now, d)[recipe.OutHeater]
			if got != last {
				if part := now - since; i > 0 && since > 0 && part < 400*time.Millisecond {
					t.Errorf("%g: a part of %v", ask, part)
				}
				last, since = got, now
			}
			on += int(got)
		}
		if share := float64(on) / ticks; math.Abs(share-ask) > 0.03*ask+0.003 {
			t.Errorf("asked for %g, given %g", ask, share)
		}
	}
}

// TestF03FanIsKicked: a fan asked for less than all begins with a second of full speed.
func TestF03FanIsKicked(t *testing.T) {
	b := wired(recipe.DrivePWM)
	s := shaper{bench: b}
	var d duties
	d[recipe.OutFan] = 0.3
	for now := time.Duration(0); now < 3*time.Second; now += tick {
		want := 0.3
		if now < time.Second {
			want = 1
		}
		if got := s.shape(now, d)[recipe.OutFan]; got != want {
			t.Fatalf("at %v the fan is driven with %g, want %g", now, got, want)
		}
	}
	if got := s.shape(3*time.Second, duties{})[recipe.OutFan]; got != 0 {
		t.Errorf("asked for nothing it gets %g", got)
	}
}

// TestPadsReverse: they stand for a while before the direction is switched, and again take power after it.
func TestPadsReverse(t *testing.T) {
	b := wired(recipe.DrivePWM)
	s := shaper{bench: b}
	forth, back := controller.Levels{Pads: 1}, controller.Levels{Pads: -1}
	for now := time.Duration(0); now < time.Second; now += tick {
		s.shape(now, asked(&forth, b))
	}
	var switched, again time.Duration
	for now := time.Second; now < 3*time.Second; now += tick {
		got := s.shape(now, asked(&back, b))
		if switched == 0 && got[recipe.OutPadsReverse] == 1 {
			switched = now
		}
		if again == 0 && got[recipe.OutPads] > 0 && now > time.Second {
			again = now
			if got[recipe.OutPadsReverse] != 1 {
				t.Error("they turn the old way")
			}
		}
	}
	if switched != time.Second+turnover || s.backwards != true || again <= switched || again > switched+2*tick {
		t.Errorf("switched at %v, turning again at %v", switched, again)
	}
}
