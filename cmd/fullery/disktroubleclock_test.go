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

// TestWallClockSetByAYear: the wall clock is set back, or ahead, by a year in the middle of a drying. Nothing in the record
// that is a length of time changes; its entries stay in the order in which they happened, and its cycles in that in which they
// were begun.
func TestWallClockSetByAYear(t *testing.T) {
	day := time.Date(2027, 11, 25, 9, 0, 0, 0, time.UTC)
	plain := twoCycles(t, func(w *wallClock) { w.at(0, day) })
	for name, year := range map[string]time.Duration{"back": -365 * 24 * time.Hour, "ahead": 365 * 24 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			set := twoCycles(t, func(w *wallClock) { w.at(0, day).at(200*time.Second, day.Add(year+200*time.Second)) })
			if set.order != plain.order || set.order != [2]int64{2, 1} {
				t.Errorf("the cycles come as %v", set.order)
			}
			if set.drying != plain.drying || set.drying < time.Minute {
				t.Errorf("the drying took %v, and %v by the record of a clock that nobody set", set.drying, plain.drying)
			}
			for i := range plain.stages {
				if *set.stages[i].Begun != *plain.stages[i].Begun || *set.stages[i].Actual != *plain.stages[i].Actual {
					t.Errorf("stage %d: %+v, want %+v", i, set.stages[i], plain.stages[i])
				}
			}
			if set.duration != plain.duration {
				t.Errorf("the cycle took %v, want %v", set.duration, plain.duration)
			}
			if len(set.events) != len(plain.events) {
				t.Fatalf("%d events, want %d", len(set.events), len(plain.events))
			}
			jumped := false
			for i, e := range set.events {
				if e.Seq != plain.events[i].Seq || e.At != plain.events[i].At || e.Said != plain.events[i].Said {
					t.Errorf("event %d: %+v, want %+v", i, e, plain.events[i])
				}
				jumped = jumped || e.Wall.Sub(plain.events[i].Wall) == year
			}
			if !jumped {
				t.Error("the clock was not set in mid-cycle: nothing was tried")
			}
			if set.backNoted != (year < 0) {
				t.Errorf("that the second cycle's clock is before the first one's start is noted: %v", set.backNoted)
			}
		})
	}
}

// clockedCycles is what a record has of two cycles, of which the wall clock was set in the first.
type clockedCycles struct {
	order     [2]int64 // as listed, newest first
	duration  time.Duration
	drying    time.Duration
	stages    []record.StageRow
	events    []record.KeptEvent
	backNoted bool
}

// twoCycles runs the cycle of a wall clock that somebody sets, and begins another one after it by the clock as it then reads.
func twoCycles(t *testing.T, set func(*wallClock)) (got clockedCycles) {
	t.Helper()
	ctx := context.Background()
	rec, err := record.Open(ctx, filepath.Join(t.TempDir(), "r.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = rec.Close() })
	r, _ := recipes.Recipe("isopropanol-91")
	b, _ := recipes.Bench(recipes.DefaultBench)
	p, err := controller.Compile(r, b)
	if err != nil {
		t.Fatal(err)
	}
	clock := &controller.FastClock{}
	wall := &wallClock{now: clock.Now}
	set(wall)
	j := &job{program: p, bench: b, record: rec, sim: simbench.New(b, r), orders: make(chan controller.Command, 4)}
	start := record.Start{Bench: b.Name, Recipe: r.Name, RecipeText: r.Text, Wall: wall.read(), ClockSet: true}
	if j.cycle, err = rec.Begin(ctx, start); err != nil {
		t.Fatal(err)
	}
	clock.Room = func() bool { return j.cycle.Room() > 64 }
	sum := &controller.Summary{Program: p}
	loop := controller.Loop{Program: p, Bench: j.sim, Clock: clock, Commands: j.orders, Until: controller.Ended,
		Recorder: &recording{program: p, cycle: j.cycle, wall: wall.read, clockOK: true},
		Watchers: []controller.Watcher{sum, &operator{program: p, wishes: &j.wishes, orders: j.orders}}}
	if _, err := loop.Run(ctx, controller.State{}); err != nil {
		t.Fatal(err)
	}
	if err := j.finish(sum, ""); err != nil {
		t.Fatal(err)
	}
	start.Wall = wall.read()
	second, err := rec.Begin(ctx, start)
	if err != nil {
		t.Fatal(err)
	}
	if err := second.Finish(ctx, record.End{State: "complete"}); err != nil {
		t.Fatal(err)
	}
	got.read(t, rec)
	return got
}

// read takes what the record has.
func (c *clockedCycles) read(t *testing.T, rec *record.Record) {
	t.Helper()
	ctx := context.Background()
	cycles, err := rec.Cycles(ctx, 0)
	if err != nil || len(cycles) != 2 {
		t.Fatalf("%d cycles, %v", len(cycles), err)
	}
	c.order, c.duration, c.backNoted = [2]int64{cycles[0].Number, cycles[1].Number}, cycles[1].Duration, cycles[0].ClockBack
	if c.stages, err = rec.Stages(ctx, 1); err != nil {
		t.Fatal(err)
	}
	if c.events, err = rec.Events(ctx, 1); err != nil {
		t.Fatal(err)
	}
	dryings, err := rec.Dryings(ctx, "")
	if err != nil || len(dryings) != 1 {
		t.Fatalf("%d dryings, %v", len(dryings), err)
	}
	c.drying = dryings[0].Time
}
