package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/controller/simbench"
	"fullery/disks/record"
	"fullery/recipes"
)

// recordedFaults are faults of the campaign (controller/simbench) whose record is read again: the recipe, the fault with its
// place, and what the record must hold.
var recordedFaults = []struct {
	recipe, order string
	guard         string
	response      string
	leaves        string // the state that running was left for; "" for none
	ends          string // how the cycle ended; an unattended one that is held is stopped
	names         string // a word of the sentence
}{
	{"isopropanol-91", "estop@scrub+5s", "estop", "abort", "aborting", "aborted", "emergency stop"},
	{"isopropanol-91", "vapour-high@wet+3s", "vapour-high", "abort", "aborting", "aborted", "25 %"},
	{"isopropanol-70", "fan-unproven@dry+2min", "fan-unproven", "abort", "aborting", "aborted", "fan"},
	{"water-detergent", "lid-open@rinse+4s", "lid-open", "hold", "holding", "stopped", "lid is open"},
	{"water-detergent", "pads-stalled@scrub+7s", "pads-stalled", "hold", "holding", "stopped", "asked to turn"},
	{"water-detergent", "tank-low@wet+6s", "tank-low", "hold", "holding", "stopped", "tank"},
	{"distilled-water", "tray-wet@spin-out+2s", "tray-wet", "abort", "aborting", "aborted", "tray"},
	{"distilled-water", "reading-gone@scrub+9s", "reading-stale", "hold", "holding", "stopped", "(pad-front)"},
	{"distilled-water", "bench-gone@dry+90s", "estop", "abort", "aborting", "aborted", "emergency stop"},
	{"dry-only", "loop-late@dry+1min", "loop-late", "hold", "holding", "stopped", "late"},
	{"dry-only", "record-failing@dry+1min", "record-failing", "hold", "holding", "stopped", "record cannot be written"},
	{"ethanol-96", "drive-failing@scrub+11s", "drive-failing", "abort", "aborting", "aborted", "could not be driven"},
	{"isopropanol-99", "vapour-rising@wet+1s", "vapour-rising", "warn", "", "complete", "10 %"},
}

// TestTheRecordTellsOfFaults: the guard with its response and its sentence, the change of state in the same tick, and the
// end of the cycle with its reason stand in the record file, read again after it was closed.
func TestTheRecordTellsOfFaults(t *testing.T) {
	for i, c := range recordedFaults {
		if testing.Short() && i%4 != 0 {
			continue
		}
		t.Run(c.order, func(t *testing.T) {
			kept, events := faultyCycle(t, c.recipe, c.order)
			if kept.State != c.ends {
				t.Errorf("the cycle is %s, want %s", kept.State, c.ends)
			}
			at := slices.IndexFunc(events, func(e record.KeptEvent) bool { return e.Kind == "guard" && e.Response != "cleared" })
			if at < 0 {
				t.Fatal("no guard stands in the record")
			}
			e := events[at]
			if e.ID != c.guard || e.Response != c.response || !strings.Contains(e.Said, c.names) {
				t.Errorf("the first guard of the record is %s (%s): %s", e.ID, e.Response, e.Said)
			}
			left := ""
			for _, later := range events[at:] {
				if later.Kind == "state" && later.At == e.At {
					left = later.State
				}
			}
			if left != c.leaves {
				t.Errorf("in the tick of the guard the record has the state %q, want %q", left, c.leaves)
			}
			if c.leaves != "" && !strings.Contains(kept.Reason, c.names) && !strings.Contains(kept.Reason, c.guard) {
				t.Errorf("the reason of the end names nothing: %s", kept.Reason)
			}
		})
	}
}

// faultyCycle runs a shipped recipe unattended with a fault to order, as the command does, and reads its record again.
func faultyCycle(t *testing.T, name, order string) (record.Summary, []record.KeptEvent) {
	t.Helper()
	ctx := context.Background()
	path := filepath.Join(t.TempDir(), "r.db")
	rec, err := record.Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	if err := runFaulty(ctx, rec, name, order); err != nil {
		t.Fatal(err)
	}
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	if rec, err = record.Open(ctx, path); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = rec.Close() })
	kept, err := rec.CycleByNumber(ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	events, err := rec.Events(ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	return kept, events
}

// runFaulty runs the cycle into a record.
func runFaulty(ctx context.Context, rec *record.Record, name, order string) error {
	r, err := recipes.Recipe(name)
	if err != nil {
		return err
	}
	b, err := recipes.Bench(recipes.DefaultBench)
	if err != nil {
		return err
	}
	p, err := controller.Compile(r, b)
	if err != nil {
		return err
	}
	fault, err := simbench.ParseFault(order)
	if err != nil {
		return err
	}
	sim := simbench.New(b, r)
	if err := sim.Order(fault); err != nil {
		return err
	}
	if wetsNothing(p) {
		sim.Wet(b.Sim.Kept)
	}
	clock := &controller.FastClock{}
	day := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	wall := func() time.Time { return day.Add(clock.Now()) }
	j := &job{program: p, bench: b, record: rec, sim: sim, orders: make(chan controller.Command, 4)}
	start := record.Start{Bench: b.Name, Recipe: r.Name, RecipeText: r.Text, Wall: wall(), ClockSet: true}
	if j.cycle, err = rec.Begin(ctx, start); err != nil {
		return err
	}
	clock.Room = func() bool { return j.cycle.Room() > 64 }
	sum := &controller.Summary{Program: p}
	oper := &operator{program: p, wishes: &j.wishes, orders: j.orders}
	keeper := &recording{program: p, cycle: j.cycle, wall: wall, clockOK: true}
	loop := controller.Loop{Program: p, Bench: sim, Clock: faultyClock{clock, sim}, Commands: j.orders,
		Until: controller.Ended, Recorder: faultyRecord{keeper, sim},
		Watchers: []controller.Watcher{watchFunc(j.tellStage), sum, oper}}
	if _, err := loop.Run(ctx, controller.State{}); err != nil {
		return err
	}
	if len(sim.NeverDue()) > 0 {
		return fmt.Errorf("%s was never due", order)
	}
	return j.finish(sum, "")
}
