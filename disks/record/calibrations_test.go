package record

import (
	"math"
	"testing"
	"time"
)

func calibrated() CellCalibration {
	return CellCalibration{Bench: "cellar", Part: "pad-front", Made: noon, Program: "0.2", Accepted: true, Said: "Negative slope.",
		ZeroCounts: 1203.25, GainPerN: -8011.5, ZeroSECounts: 3.1, GainSEPerN: 1.0 / 3, Cov: -1e-17, ResidualCounts: 4, Linearity: 0.001,
		Hysteresis: 0.002, Repeatability: 0.0005, SpanN: 4.903325,
		Points: []CellPoint{{0, 1203, at(4.2), 40, true}, {500, -38080, at(5), 40, true}, {1.5, 1085, nil, 1, false}}}
}

// TestCellCalibrations: each is a new row, the newest accepted one counts, and a refused one keeps its points and no line.
func TestCellCalibrations(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	if c, err := r.LatestCellCalibration(ctx, "cellar", false, "pad-front"); c != nil || err != nil {
		t.Fatalf("a fresh record has %+v, %v", c, err)
	}
	first, refused := calibrated(), calibrated()
	refused.Accepted, refused.Said, refused.GainPerN = false, "not linear", math.NaN()
	other := calibrated()
	other.Simulated = true
	for i, c := range []CellCalibration{first, refused, other} {
		if n, err := r.PutCellCalibration(ctx, c); n != int64(i+1) || err != nil {
			t.Fatalf("number %d, %v", n, err)
		}
	}
	first.Number = 1
	again := reopen(t, r.Path(), defaults)
	got, err := again.LatestCellCalibration(ctx, "cellar", false, "pad-front")
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "newest accepted", *got, first)
	all, err := again.CellCalibrations(ctx, "cellar", false, "pad-front")
	if err != nil || len(all) != 2 || all[1].Accepted || all[1].GainPerN != 0 || len(all[1].Points) != 3 {
		t.Errorf("%+v, %v", all, err)
	}
	bad := calibrated()
	bad.GainPerN = math.Inf(1)
	if _, err := again.PutCellCalibration(ctx, bad); err == nil {
		t.Error("a line that is no number was kept")
	}
}

func TestTares(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	old := Tare{Bench: "cellar", Part: "weight", Made: noon, Counts: 100, Readings: 1, By: "operator"}
	young := old
	young.Counts, young.SDCounts, young.Readings, young.Made = 101.5, at(2), 80, noon.Add(time.Hour)
	for _, x := range []Tare{old, young} {
		if _, err := r.PutTare(ctx, x); err != nil {
			t.Fatal(err)
		}
	}
	young.Number = 2
	got, err := reopen(t, r.Path(), defaults).LatestTare(ctx, "cellar", false, "weight")
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "newest tare", *got, young)
	if none, err := r.LatestTare(ctx, "cellar", false, "pad-back"); none != nil || err != nil {
		t.Errorf("%+v, %v", none, err)
	}
	old.Counts = math.NaN()
	if _, err := r.PutTare(ctx, old); err == nil {
		t.Error("a tare that is no number was kept")
	}
}

func TestPumpCalibrations(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	c := PumpCalibration{Bench: "cellar", Part: "pump", Made: noon, Program: "0.2", Liquid: "water", Accepted: true, Said: "",
		CreepMLMin: at(0.02), Points: []PumpPoint{{20, 2.1, time.Minute}, {60, 7.5, time.Minute}, {100, 11.9, 61500 * time.Millisecond}}}
	n, err := r.PutPumpCalibration(ctx, c)
	if err != nil {
		t.Fatal(err)
	}
	c.Number = n
	got, err := reopen(t, r.Path(), defaults).PumpCalibrations(ctx, "cellar", false, "pump")
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "calibrations", got, []PumpCalibration{c})
}

func TestBenchTests(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	if b, err := r.LatestBenchTest(ctx, "cellar", false); b != nil || err != nil {
		t.Fatalf("%+v, %v", b, err)
	}
	b := BenchTest{Bench: "cellar", BenchText: "title = \"Cellar bench\"\n", Made: noon, Program: "0.2", Steps: []BenchStep{
		{"fan", "on", "2950 rpm", StepPassed}, {"heater", "left out", "", StepLeftOut}, {"lid", "open it", "still closed", StepFailed}}}
	n, err := r.PutBenchTest(ctx, b)
	if err != nil {
		t.Fatal(err)
	}
	b.Number = n
	got, err := reopen(t, r.Path(), defaults).LatestBenchTest(ctx, "cellar", false)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "test", *got, b)
	if got.Passed() || (&BenchTest{}).Passed() || !(&BenchTest{Steps: b.Steps[:1]}).Passed() {
		t.Error("passed is what every step did")
	}
}

// TestPadsLife: cycles that scrubbed count since the last change; new pads are new covers, and not the other way round.
func TestPadsLife(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	scrub := func(disk string, dosed float64, begun bool) {
		t.Helper()
		s := example()
		s.Disk = disk
		s.Stages = []Planned{{Do: "wet"}, {Do: "scrub"}}
		c := begin(t, r, s)
		c.PutStage(StageChange{Stage: 0, Begun: true, DosedML: &dosed})
		if begun {
			c.PutStage(StageChange{Stage: 1, Begun: true, DosedML: &dosed})
		}
		if err := c.Finish(ctx, End{State: "complete", Wall: noon, LiquidML: dosed}); err != nil {
			t.Fatal(err)
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	bench, simulated := example().Bench, example().Simulated
	life := func(what string) PadsLife {
		t.Helper()
		l, err := r.PadsLife(ctx, bench, simulated, what)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	change := func(what string) {
		t.Helper()
		if err := r.PutPadsChange(ctx, PadsChange{bench, simulated, what, noon}); err != nil {
			t.Fatal(err)
		}
	}
	scrub("SB-0147", 6, true)
	scrub("SB-0147", 4, true)
	scrub("", 3, true)
	scrub("SB-0148", 5, false) // cut off before it scrubbed
	differ(t, "before any change", life(Pads), PadsLife{Cycles: 3, Disks: 2, LiquidML: 13})
	change(Cover)
	scrub("SB-0149", 2, true)
	differ(t, "covers", life(Cover), PadsLife{Since: noon, Told: true, Cycles: 1, Disks: 1, LiquidML: 2})
	differ(t, "pads", life(Pads), PadsLife{Cycles: 4, Disks: 3, LiquidML: 15})
	change(Pads)
	differ(t, "new covers with new pads", life(Cover), PadsLife{Since: noon, Told: true})
	if l, err := r.PadsLife(ctx, bench, !simulated, Pads); err != nil || l != (PadsLife{}) {
		t.Errorf("another bench: %+v, %v", l, err)
	}
}
