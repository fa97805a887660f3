package main

import (
	"bytes"
	"encoding/json"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"fullery/recipe/forecast"
	"fullery/recipe/liquid"
)

func mustPlan(t *testing.T, name string) *plan {
	t.Helper()
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	p, err := makePlan(t.Context(), name, planFlags{duct: "10 %"})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// What is printed of the curves is short, and goes with the figures that stand beside it.
func TestPlanCurves(t *testing.T) {
	p := mustPlan(t, "isopropanol-91")
	out := p.json()
	duct, room, total := out.Duct.Curve, out.Room.Curve, p.f.Total.Median*60
	if len(duct) < 60 || len(duct) > 120 || len(room) < 60 || len(room) > 120 {
		t.Fatalf("%d and %d points, want at most 120", len(duct), len(room))
	}
	most, at := 0.0, 0.0
	for i, s := range duct {
		if i > 0 && s.S < duct[i-1].S || s.Percent < 0 {
			t.Fatalf("point %d is %+v after %+v", i, s, duct[i-1])
		}
		if s.Percent > most {
			most, at = s.Percent, s.S
		}
	}
	if math.Abs(most-out.Duct.PeakPercent) > 0.06 || math.Abs(at-out.Duct.AtS) > 1 {
		t.Errorf("the curve reaches %g %% after %g s, the peak is %g %% after %g s", most, at, out.Duct.PeakPercent, out.Duct.AtS)
	}
	if duct[0].S != 0 || math.Abs(duct[len(duct)-1].S-total) > 1.1 {
		t.Errorf("from %g to %g s, the cycle lasts %g s", duct[0].S, duct[len(duct)-1].S, total)
	}
	most = 0
	for i, s := range room {
		if i > 0 && s.S <= room[i-1].S {
			t.Fatalf("point %d is %+v after %+v", i, s, room[i-1])
		}
		most = max(most, s.PPM)
	}
	if math.Abs(most-out.Room.PeakPPM) > 0.06 || math.Abs(room[len(room)-1].S-total-3600) > 0.1 || room[0].PPM != 0 {
		t.Errorf("the room reaches %g ppm, %g in words; it is followed to %g s", most, out.Room.PeakPPM, room[len(room)-1].S)
	}
	var b bytes.Buffer
	if err := writeJSON(&b, out); err != nil || !json.Valid(b.Bytes()) || !strings.Contains(b.String(), `"t_s": 280`) {
		t.Errorf("%v, %s", err, b.String())
	}
}

func TestPlanPicture(t *testing.T) {
	svg, err := mustPlan(t, "isopropanol-91").picture()
	if err != nil || !bytes.Contains(svg, []byte("lower flammable limit")) || !bytes.Contains(svg, []byte("1 air change an hour")) {
		t.Errorf("%v\n%s", err, svg)
	}
	_, err = mustPlan(t, "water-detergent").picture()
	if err == nil || !strings.Contains(err.Error(), "nothing that burns") || strings.Contains(err.Error(), "\n") {
		t.Errorf("a picture of no vapour: %v", err)
	}
}

// Figures of the same height share a line; they rise, whatever order they were listed in.
func TestExposureLevels(t *testing.T) {
	got := exposureLevels([]liquid.Exposure{{Name: "C", PPM: 2000, Averaged: "at no time"}, {Name: "A", PPM: 400, Averaged: "8 h"},
		{Name: "D", PPM: 400.5, Averaged: "10 h"}, {Name: "B", PPM: 400, Averaged: "15 min"}})
	words := ""
	for _, level := range got {
		words += level.Words + "; "
	}
	if want := "400 ppm: A (8 h), B (15 min); 400.5 ppm: D (10 h); 2000 ppm: C (at no time); "; words != want {
		t.Errorf("got %s\nwant %s", words, want)
	}
}

func TestRoomWords(t *testing.T) {
	for changes, want := range map[float64]string{1: "room of 30 m³ with 1 air change an hour", 0: "room of 30 m³ with 0 air changes an hour",
		0.5: "room of 30 m³ with 0.5 air changes an hour", 2: "room of 30 m³ with 2 air changes an hour"} {
		if got := roomWords(forecast.Box{Volume: 30, Changes: changes / 3600}); got != want {
			t.Errorf("%g: %q", changes, got)
		}
	}
}

// Only a record that a person named must be there.
func TestRecordToRead(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("XDG_DATA_HOME", dir)
	if path, err := recordToRead(""); err != nil || path != filepath.Join(dir, "fullery", "fullery.db") {
		t.Errorf("%s, %v", path, err)
	}
	missing := filepath.Join(dir, "mistyped.db")
	if _, err := recordToRead(missing); err == nil || !strings.Contains(err.Error(), "there is no record "+missing) {
		t.Errorf("got %v", err)
	}
	if path, err := recordToRead(dir); err != nil || path != dir {
		t.Errorf("what is there is refused: %s, %v", path, err)
	}
}
