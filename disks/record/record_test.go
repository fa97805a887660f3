package record

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"
)

func TestMain(m *testing.M) {
	if path := os.Getenv(childPath); path != "" {
		childMain(path)
		return
	}
	goleak.VerifyTestMain(m)
}

// noon is a wall time for tests; the package never reads one itself.
var noon = time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)

// quick are settings with a short wait for locks, so that a held lock is noticed soon.
var quick = settings{busy: 50 * time.Millisecond, queue: 4096}

// within bounds a test that would otherwise hang; no result depends on it.
func within(t testing.TB) context.Context {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// testRecord opens a fresh record that is closed with the test.
func testRecord(t testing.TB, set settings) *Record {
	t.Helper()
	return reopen(t, filepath.Join(t.TempDir(), "seed-bank.db"), set)
}

func reopen(t testing.TB, path string, set settings) *Record {
	t.Helper()
	r, err := open(within(t), path, set)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { r.Close() })
	return r
}

// example is a start with every field filled.
func example() Start {
	return Start{
		Disk: "SB-0147", Bench: "cellar", BenchText: "title = \"Cellar bench\"\n", Simulated: true,
		Recipe: "water-detergent", RecipeTitle: "Water and detergent", RecipeText: "title = \"Water and detergent\"\n",
		Liquid: "water-detergent", Rinse: "distilled-water",
		Stages: []Planned{
			{Do: "wet", For: 30 * time.Second, AtMost: time.Minute},
			{Do: "scrub", For: 90 * time.Second, AtMost: 3 * time.Minute},
			{Do: "dry", AtMost: time.Hour},
		},
		Program: "0.1", BootID: "b00t", Wall: noon, Mono: 77 * time.Second, ClockSet: true,
	}
}

func begin(t testing.TB, r *Record, s Start) *Cycle {
	t.Helper()
	c, err := r.Begin(within(t), s)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// wantFault checks the kind of an error and that its sentence names the file and ends in what to do.
func wantFault(t *testing.T, err, kind error, path string) {
	t.Helper()
	var f *Error
	if !errors.Is(err, kind) || !errors.As(err, &f) {
		t.Fatalf("got error %v, want %v", err, kind)
	}
	if s := f.Error(); !strings.Contains(s, path) || !strings.HasSuffix(s, advice[kind][1]+".") {
		t.Errorf("sentence %q does not name %s and what to do", s, path)
	}
}

// differ fails with what is different.
func differ(t interface {
	Helper()
	Errorf(string, ...any)
}, what string, got, want any) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s (-want +got):\n%s", what, d)
	}
}

func TestOpenMakesFolderAndFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a b", "c?d#e%41", "seed-bank.db")
	r := reopen(t, path, defaults)
	if r.Path() != path {
		t.Errorf("Path() = %s, want %s", r.Path(), path)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if err := checkHeader(path); err != nil {
		t.Error(err)
	}
	// Nothing but the record is left in the folder: no half-made file, no log.
	left, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(left) != 1 {
		t.Errorf("folder holds %v (%v), want the record alone", left, err)
	}
	if r, err = OpenReadOnly(within(t), path); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Error(err)
	}
}

func TestCycleFromBeginToFinish(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	c := begin(t, r, example())
	if c.Number() != 1 {
		t.Errorf("number %d, want 1", c.Number())
	}
	c.PutStage(StageChange{At: time.Second, Stage: 0, Begun: true})
	c.PutEvent(Event{At: time.Second, Wall: noon, Kind: "state", ID: "start", Stage: -1, State: "running", Said: "Started."})
	c.PutSample(Sample{At: 2 * time.Second, DosedML: new(0.2), PadFrontKPa: new(2.1), AirC: new(21.5)})
	c.PutStage(StageChange{At: 31 * time.Second, Stage: 0, Actual: 30 * time.Second, Ending: "done", DosedML: new(3.0)})
	c.PutDrying(Drying{Stage: 2, Liquid: "water-detergent", Time: 45 * time.Minute, Evidence: "surface", Dry: true, AirC: new(21.0)})
	end := End{State: "complete", Reason: "all stages done", Wall: noon.Add(time.Hour), Duration: 50 * time.Minute,
		LiquidML: 3, PadFrontKPa: new(2.0), PadBackKPa: new(1.9), Drying: 45 * time.Minute, DryingEvidence: "surface"}
	if err := c.Finish(ctx, end); err != nil {
		t.Fatal(err)
	}
	if c.Acked() != 6 || c.Health() != (Health{}) {
		t.Errorf("acked %d, health %+v, want 6 and good", c.Acked(), c.Health())
	}
	s, err := r.CycleByNumber(ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	// SHA-256 of the recipe's text as coreutils' sha256sum gives it.
	const sum = "7161213972843ed83b40e25bb4a10adfa38a4c3e4bf06e9099f87012b52c30d3"
	want := Summary{Number: 1, Disk: "SB-0147", Bench: "cellar", Simulated: true, Recipe: "water-detergent",
		RecipeTitle: "Water and detergent", RecipeSHA256: sum, Liquid: "water-detergent", Rinse: "distilled-water",
		Program: "0.1", BootID: "b00t", Started: noon, StartedMono: 77 * time.Second, ClockSet: true, State: "complete",
		Duration: 50 * time.Minute, LiquidML: 3, LastSeq: 6, Ended: true, Reason: "all stages done",
		EndedWall: noon.Add(time.Hour), PadFrontKPa: new(2.0), PadBackKPa: new(1.9), Drying: 45 * time.Minute,
		DryingEvidence: "surface"}
	differ(t, "cycle", s, want)
	if !s.Complete() {
		t.Error("the record of the cycle is not complete")
	}
	checkRows(t, r)
	if cut, err := r.CutShort(ctx, "cellar"); cut != nil || err != nil {
		t.Errorf("CutShort = %v, %v after an orderly end", cut, err)
	}
}

// checkRows looks at what TestCycleFromBeginToFinish wrote below the cycle.
func checkRows(t *testing.T, r *Record) {
	t.Helper()
	ctx := within(t)
	stages, err := r.Stages(ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "stages", stages, []StageRow{
		{0, "wet", 30 * time.Second, time.Minute, new(time.Second), new(30 * time.Second), "done"},
		{1, "scrub", 90 * time.Second, 3 * time.Minute, nil, nil, ""},
		{2, "dry", 0, time.Hour, nil, nil, ""},
	})
	events, err := r.Events(ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "events", events, []KeptEvent{{2, Event{At: time.Second, Wall: noon, Kind: "state", ID: "start", Stage: -1,
		State: "running", Said: "Started."}}})
	samples, err := r.Samples(ctx, 1)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "samples", samples, []KeptSample{{3, Sample{At: 2 * time.Second, DosedML: new(0.2), PadFrontKPa: new(2.1),
		AirC: new(21.5)}}})
	dryings, err := r.Dryings(ctx, "water-detergent")
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "dryings", dryings, []KeptDrying{{1, Drying{Stage: 2, Liquid: "water-detergent", Time: 45 * time.Minute,
		Evidence: "surface", Dry: true, AirC: new(21.0)}}})
	if other, err := r.Dryings(ctx, "ethanol"); err != nil || len(other) != 0 {
		t.Errorf("dryings after ethanol: %v, %v", other, err)
	}
	disk, err := r.Disk(ctx, "SB-0147")
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "disk", disk, Disk{ID: "SB-0147", Created: noon, Cycles: 1})
	text, err := r.RecipeText(ctx, 1)
	if err != nil || text != example().RecipeText {
		t.Errorf("recipe text %q, %v", text, err)
	}
}
