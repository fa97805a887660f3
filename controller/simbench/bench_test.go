package simbench

import (
	"errors"
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/controller"
	"fullery/recipe"
)

// drawLevels draws what a controller, or a broken one, may ask.
func drawLevels(t *rapid.T) controller.Levels {
	duty := rapid.OneOf(rapid.Just(0.0), rapid.Just(1.0), rapid.Float64Range(0, 1))
	speed := rapid.Float64Range(-8, 8)
	return controller.Levels{
		Pump: duty.Draw(t, "pump"), RinsePump: duty.Draw(t, "rinse"), Press: rapid.Bool().Draw(t, "press"),
		Pads: speed.Draw(t, "pads"), Hub: speed.Draw(t, "hub"), Fan: duty.Draw(t, "fan"),
		Heater: duty.Draw(t, "heater"), HeaterEnable: rapid.Bool().Draw(t, "enable"),
	}
}

// drawSpec draws a bench of the testSpec kind with other sizes, some of them odd.
func drawSpec(t *rapid.T) recipe.Bench {
	spec := testSpec()
	spec.Tank.Capacity = rapid.Float64Range(0, 20).Draw(t, "tank") * mL
	spec.RinseTank.Capacity = rapid.Float64Range(0, 20).Draw(t, "rinse tank") * mL
	spec.Fan.Through = rapid.Float64Range(0, 8e-3).Draw(t, "through")
	spec.Sim.Kept = rapid.Float64Range(0, 4).Draw(t, "kept") * mL
	spec.Sim.Film = rapid.Float64Range(0, 3).Draw(t, "film")
	spec.Sim.Uneven = rapid.Float64Range(0, 0.6).Draw(t, "uneven")
	spec.Sim.Critical = rapid.Float64Range(0.1, 0.6).Draw(t, "critical")
	spec.Sim.Front = rapid.Float64Range(0, 3).Draw(t, "front")
	spec.Room.Humidity = rapid.Float64Range(0, 1).Draw(t, "humidity")
	spec.Press = rapid.Bool().Draw(t, "press actuator")
	return spec
}

// No liquid is made or lost, whatever is driven, whatever is broken and whatever condenses; no face of the liner is ever
// colder than its liquid's wet bulb or hotter than what the heater could make of the room's air.
func TestLiquidAndHeatAreKept(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		b := New(spec, testRecipe(rapid.SampledFrom([]string{"water", "isopropanol-91", "isopropanol-100", "ethanol-96"}).Draw(t, "liquid")))
		b.Wet(rapid.Float64Range(0, 3).Draw(t, "wet") * mL)
		start := b.Truth().Liquid()
		hottest := spec.Room.Air + spec.Heater.Power/airLoss
		now := time.Duration(0)
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			if rapid.IntRange(0, 5).Draw(t, "break") == 0 {
				b.set(faults[rapid.IntRange(0, int(numFaults)-1).Draw(t, "fault")].ID, rapid.Bool().Draw(t, "on"))
			}
			now += rapid.SampledFrom([]time.Duration{0, tick, 370 * time.Millisecond, 5 * time.Second, time.Minute,
				10 * time.Minute}).Draw(t, "span")
			_ = b.Drive(now, drawLevels(t)) // refused while drive-failing is armed
			if _, err := b.Read(now); err != nil {
				t.Fatal(err)
			}
			is := b.Truth()
			if d := math.Abs(is.Liquid() - start); d > 1e-15 {
				t.Fatalf("%g m³ of liquid came or went of %g", d, start)
			}
			for what, v := range map[string]float64{"tank": is.Tank, "pads": is.Pads, "liner": is.Liner, "tray": is.Tray,
				"front": is.LinerFront, "back": is.LinerBack, "gained": is.Gained, "evaporated": is.Evaporated, "heat": is.Heat, "vapour": is.Vapour} {
				if !(v >= 0) {
					t.Fatalf("%s is %g", what, v)
				}
			}
			if is.Liner > b.linerHold*(1+1e-12) {
				t.Fatalf("the liner holds %g of %g m³", is.Liner, b.linerHold)
			}
			if math.Abs(b.full-is.Liner/b.linerHold) > 1e-12 {
				t.Fatalf("the hub feels a liner that is full to %g, it is to %g", b.full, is.Liner/b.linerHold)
			}
			for _, k := range []float64{is.FrontTemp, is.BackTemp, is.Surface - b.hot, is.Cell} {
				if !(k > zeroC-15 && k < hottest) {
					t.Fatalf("at %g K: %+v", k, is)
				}
			}
		}
	})
}

func TestSameSeedSameReadings(t *testing.T) {
	record := func(seed uint64) (all []controller.Readings) {
		spec := testSpec()
		spec.Sim.Seed = seed
		a := newAt(t, spec, "isopropanol-91")
		for range 400 {
			a.run(tick, working())
			all = append(all, a.last)
		}
		return all
	}
	one, two, other := record(1), record(1), record(2)
	same := true
	for i := range one {
		if one[i] != two[i] {
			t.Fatalf("tick %d differs with the same seed", i)
		}
		same = same && one[i] == other[i]
	}
	if same {
		t.Error("another seed must give other noise")
	}
}

// A controller that is late, or asks twice, sees the same bench: what it is does not hang on how often it is read.
func TestReadingOftenChangesNothing(t *testing.T) {
	a, b := newAt(t, testSpec(), "water"), newAt(t, testSpec(), "water")
	for i := range 1200 {
		now := time.Duration(i) * tick
		for range 1 + i%3 {
			_ = a.Drive(now, working())
		}
		_ = b.Drive(now, working())
	}
	if a.Truth() != b.Truth() {
		t.Errorf("%+v\n%+v", a.Truth(), b.Truth())
	}
	before := a.Truth()
	a.now = time.Second // backwards
	a.read()
	if a.Truth() != before {
		t.Error("time that runs backwards moved the bench")
	}
	for s := range recipe.NumSensors {
		if a.last[s].Age < 0 {
			t.Errorf("%s has a negative age", s)
		}
	}
}

func TestNothingFittedNothingRead(t *testing.T) {
	spec := testSpec()
	spec.Sensors = [recipe.NumSensors]recipe.SensorSpec{}
	a := newAt(t, spec, "water")
	a.run(time.Second, working())
	if a.last != (controller.Readings{}) {
		t.Errorf("readings of sensors that are not there: %+v", a.last)
	}
}

func TestCloseLeavesEverythingOff(t *testing.T) {
	a := newAt(t, testSpec(), "water")
	all := controller.Levels{Pump: 1, RinsePump: 1, Press: true, Pads: 1, Hub: 1, Fan: 1, Heater: 1, HeaterEnable: true}
	a.run(time.Second, all)
	if a.Asserted() != 8 || a.Levels() != all {
		t.Fatalf("%d outputs on: %+v", a.Asserted(), a.Levels())
	}
	a.Arm("drive-failing")
	for range 2 {
		if err := a.Close(); err != nil {
			t.Fatal(err)
		}
		if a.Asserted() != 0 || a.Levels() != (controller.Levels{}) {
			t.Fatalf("on after Close: %+v", a.Levels())
		}
		if err := a.Drive(a.now, all); !errors.Is(err, errClosed) || a.Asserted() != 0 {
			t.Fatalf("a closed bench took levels: %v, %+v", err, a.Levels())
		}
		if r, err := a.Read(a.now); !errors.Is(err, errClosed) || r != (controller.Readings{}) {
			t.Fatalf("a closed bench was read: %v", err)
		}
	}
}

func TestLevelsAreHeldToWhatTheBenchCanDo(t *testing.T) {
	a := newAt(t, testSpec(), "water")
	nan := math.NaN()
	for _, c := range []struct{ in, want controller.Levels }{
		{controller.Levels{Pump: nan, RinsePump: nan, Pads: nan, Hub: nan, Fan: nan, Heater: nan}, controller.Levels{}},
		{controller.Levels{Pump: 7, RinsePump: -1, Pads: -99, Hub: 99, Fan: math.Inf(1), Heater: -3},
			controller.Levels{Pump: 1, Pads: -2, Hub: 6, Fan: 1}},
	} {
		if err := a.Drive(0, c.in); err != nil {
			t.Fatal(err)
		}
		if a.Levels() != c.want {
			t.Errorf("%+v became %+v, want %+v", c.in, a.Levels(), c.want)
		}
	}
}

func TestATickAllocatesNothing(t *testing.T) {
	b := New(testSpec(), testRecipe("isopropanol-91"))
	if err := b.Order(FaultOrder{ID: "noisy-force", Stage: recipe.Scrub, After: time.Second}); err != nil {
		t.Fatal(err)
	}
	now := time.Duration(0)
	levels := working()
	if n := testing.AllocsPerRun(2000, func() {
		now += tick
		b.AtStage(recipe.Scrub, now)
		if _, err := b.Read(now); err != nil {
			t.Fatal(err)
		}
		if err := b.Drive(now, levels); err != nil {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("%v allocations a tick", n)
	}
}

// BenchmarkTick is one tick of the loop, the bench's part: a cycle of pads and pumps, and a drying.
func BenchmarkTick(b *testing.B) {
	for _, c := range []struct {
		name   string
		stage  recipe.Kind
		levels controller.Levels
	}{
		{"scrub", recipe.Scrub, working()},
		{"dry", recipe.Dry, controller.Levels{Fan: 1, Hub: 0.3, Heater: 0.5, HeaterEnable: true}},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			var bench *Bench
			now := time.Duration(0)
			for b.Loop() {
				if now%(40*time.Minute) == 0 { // the next disk
					bench = New(testSpec(), testRecipe("isopropanol-91"))
					bench.Wet(2 * mL)
				}
				now += tick
				bench.AtStage(c.stage, now)
				if _, err := bench.Read(now); err != nil {
					b.Fatal(err)
				}
				if err := bench.Drive(now, c.levels); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
