package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fullery/controller/sweep"
)

// quickRecipe is a recipe whose cycle lasts half a minute.
const quickRecipe = `
title  = "Quick"
media  = ["90 mm"]
liquid = "isopropanol-91"
[pads]
pressure = "2 kPa"
within   = "25 %"
balance  = "15 %"
[limits]
liquid = "5 mL"
time   = "10 min"
[[stage]]
do   = "wet"
flow = "12 mL/min"
for  = "10 s"
[[stage]]
do   = "scrub"
pads = "60 rpm"
hub  = "20 rpm"
for  = "6 s"
[[stage]]
do  = "spin-out"
hub = "240 rpm"
for = "5 s"
[[stage]]
do  = "dry"
fan = "100 %"
for = "8 s"
`

// quickSweep makes a sweep of the quick recipe: 3 × 2 × 2 choices and the recipe, which is among them.
func quickSweep(t testing.TB, change func(*sweepFlags)) *sweeping {
	t.Helper()
	f := sweepFlags{draws: 3, seed: 1, record: filepath.Join(t.TempDir(), "none.db")}
	f.lists[sweep.Strength], f.lists[sweep.Scrub] = "70, 91, 99", "4 s, 6 s"
	f.lists[sweep.Fan], f.lists[sweep.SpinOut] = "50 %, 100 %", "5 s"
	if change != nil {
		change(&f)
	}
	file := filepath.Join(t.TempDir(), "quick.toml")
	if err := os.WriteFile(file, []byte(quickRecipe), 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := askedSweep(context.Background(), file, f)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// finish runs a sweep to its end, or until a context ends, and returns its file.
func finish(t testing.TB, ctx context.Context, s *sweeping, workers int) []byte {
	t.Helper()
	file, err := s.openOut()
	if err != nil {
		t.Fatal(err)
	}
	err = errors.Join(s.run(ctx, workers, file, newProgress(io.Discard, s)), file.Close())
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(s.flags.out)
	if err != nil && s.flags.out != "" {
		t.Fatal(err)
	}
	return data
}

// answers is everything that a sweep says, but for where its files are.
func answers(t testing.TB, s *sweeping) string {
	t.Helper()
	var text bytes.Buffer
	s.print(&text)
	if err := writeJSON(&text, s.json()); err != nil {
		t.Fatal(err)
	}
	text.Write(s.picture())
	return text.String()
}

// What was learned of the bench is what the benches are drawn from, and what its pads held keeps the heater off.
func TestSweepAsksTheRecord(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	file := filepath.Join(t.TempDir(), "record.db")
	must := func(args ...string) string {
		t.Helper()
		var out, errs bytes.Buffer
		if status := execute(append(args, "--record", file), strings.NewReader(""), &out, &errs); status != statusDone {
			t.Fatalf("%v: status %d, %s", args, status, errs.String())
		}
		return strings.Join(strings.Fields(out.String()), " ") // however it is wrapped
	}
	water := []string{"sweep", "water-detergent", "--draws", "1", "--scrub", "60 s", "--spin-out", "30 s", "--fan", "100 %"}
	if text := must(water...); !strings.Contains(text, "a prior") || !strings.Contains(text, "warmest") {
		t.Error(text)
	}
	must("run", "isopropanol-91", "--fast")
	must("dry", "log", "--liquid", "isopropanol-91", "--minutes", "30", "--evidence", "surface")
	must("dry", "fit")
	if text := must(water...); !strings.Contains(text, "drawn from fit 1 of") || strings.Contains(text, "warmest") ||
		!strings.Contains(text, "pads and bath of this bench held isopropanol-91 last") ||
		!strings.Contains(text, "Nothing was logged of distilled-water") {
		t.Error(text)
	}
	text := must("sweep", "isopropanol-91", "--draws", "1", "--scrub", "60 s", "--spin-out", "20 s", "--strength", "91", "--fan", "100 %")
	if !strings.Contains(text, "drawn from fit 1 of") || strings.Contains(text, "Nothing was logged") {
		t.Error(text)
	}
}
