package main

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"fullery/controller"
	"fullery/controller/simbench"
	"fullery/disks/record"
	"fullery/recipes"
)

// wallClock is a wall clock that somebody sets: it reads what a table says from each moment of the cycle on.
type wallClock struct {
	now   func() time.Duration
	jumps []struct {
		from time.Duration
		base time.Time
	}
}

func (w *wallClock) at(from time.Duration, base time.Time) *wallClock {
	w.jumps = append(w.jumps, struct {
		from time.Duration
		base time.Time
	}{from, base})
	return w
}

func (w *wallClock) read() time.Time {
	now, wall := w.now(), time.Time{}
	for _, j := range w.jumps {
		if now >= j.from {
			wall = j.base.Add(now - j.from)
		}
	}
	return wall
}

// recorded runs the shipped recipe with a wall clock, and returns the summary, the record's own, and its dryings.
func recorded(t *testing.T, set func(*wallClock)) (*controller.Summary, record.Summary, []record.StageRow) {
	t.Helper()
	ctx := context.Background()
	rec, err := record.Open(ctx, filepath.Join(t.TempDir(), "r.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = rec.Close() })
	r, _ := recipes.Recipe(recipes.DefaultRecipe)
	b, _ := recipes.Bench(recipes.DefaultBench)
	p, err := controller.Compile(r, b)
	if err != nil {
		t.Fatal(err)
	}
	clock := &controller.FastClock{}
	wall := &wallClock{now: clock.Now}
	set(wall)
	j := &job{program: p, bench: b, record: rec, sim: simbench.New(b, r), orders: make(chan controller.Command, 4)}
	start := record.Start{Bench: b.Name, Recipe: r.Name, RecipeText: r.Text, Wall: wall.read(), ClockSet: clockSet(wall.read())}
	if j.cycle, err = rec.Begin(ctx, start); err != nil {
		t.Fatal(err)
	}
	clock.Room = func() bool { return j.cycle.Room() > 64 }
	sum := &controller.Summary{Program: p}
	oper := &operator{program: p, wishes: &j.wishes, orders: j.orders}
	loop := controller.Loop{Program: p, Bench: j.sim, Clock: clock, Commands: j.orders, Until: controller.Ended,
		Recorder: &recording{program: p, cycle: j.cycle, wall: wall.read, clockOK: start.ClockSet},
		Watchers: []controller.Watcher{sum, oper}}
	if _, err := loop.Run(ctx, controller.State{}); err != nil {
		t.Fatal(err)
	}
	if err := j.finish(sum, ""); err != nil {
		t.Fatal(err)
	}
	kept, err := rec.CycleByNumber(ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	stages, err := rec.Stages(ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	return sum, kept, stages
}

// TestWallClockJumps: setting the wall clock in the middle of a cycle, forwards, backwards or from 1970, changes no
// stage's length, and the record says since when the clock can be trusted.
func TestWallClockJumps(t *testing.T) {
	day := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	plain, kept, want := recorded(t, func(w *wallClock) { w.at(0, day) })
	if !kept.ClockSet || plain.Final.Cycle != controller.Complete {
		t.Fatalf("an ordinary cycle: %s, clock set %v", plain.Final.Cycle, kept.ClockSet)
	}
	for name, set := range map[string]func(*wallClock){
		"three hours on":      func(w *wallClock) { w.at(0, day).at(100*time.Second, day.Add(3*time.Hour)) },
		"two weeks back":      func(w *wallClock) { w.at(0, day).at(100*time.Second, day.Add(-14*24*time.Hour)) },
		"woken in 1970":       func(w *wallClock) { w.at(0, time.Unix(0, 0)).at(100*time.Second, day) },
		"in 1970 all the way": func(w *wallClock) { w.at(0, time.Unix(0, 0)) },
	} {
		t.Run(name, func(t *testing.T) {
			sum, kept, stages := recorded(t, set)
			for i := range plain.Stages {
				if sum.Stages[i] != plain.Stages[i] || *stages[i].Actual != *want[i].Actual {
					t.Errorf("stage %d: %+v, want %+v", i, stages[i], want[i])
				}
			}
			if kept.Duration != sum.Final.Last || kept.Duration <= 0 {
				t.Errorf("the record has %v, the cycle took %v", kept.Duration, sum.Final.Last)
			}
			_, trusted := kept.Began()
			if woken := name == "woken in 1970"; kept.ClockSet == (woken || name == "in 1970 all the way") {
				t.Errorf("clock set: %v", kept.ClockSet)
			} else if woken && !trusted {
				t.Error("the moment from which the clock was right is not in the record")
			}
		})
	}
}

// TestNoNumberForAFailedReading: a reading that is not good stays out of the record.
func TestNoNumberForAFailedReading(t *testing.T) {
	b, _ := recipes.Bench(recipes.DefaultBench)
	r, _ := recipes.Recipe(recipes.DefaultRecipe)
	p, err := controller.Compile(r, b)
	if err != nil {
		t.Fatal(err)
	}
	var tick controller.Tick
	for q := controller.Absent; q <= controller.Implausible; q++ {
		for i := range tick.Inputs.Readings {
			tick.Inputs.Readings[i] = controller.Reading{Value: 300, Quality: q}
		}
		s := sampleOf(p, &tick)
		for _, got := range []*float64{s.PadFrontKPa, s.AirC, s.AirInPct, s.SurfaceC, s.VapourPct, s.WeightG, s.FanRPM} {
			if (got != nil) != (q == controller.Good) {
				t.Errorf("%s reading: %v", q, got)
			}
		}
	}
}
