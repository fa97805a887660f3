package main

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
	"fullery/recipes"
)

// The film conductance that stands in where a bench file states none is the one of the shipped simulated bench, in the
// middle of what is believed before any log.
func TestUsualFilmIsTheShippedOne(t *testing.T) {
	b, err := recipes.Bench(recipes.DefaultBench)
	if err != nil || b.Sim.Film != usualFilm {
		t.Errorf("the shipped bench has %v W/K, %v", b.Sim.Film, err)
	}
	board, err := recipes.Bench("board")
	if c := caseOf(board); err != nil || c.Film != usualFilm || c.Flow != board.Fan.Through || c.Air != board.Room.Air {
		t.Errorf("%+v, %v", c, err)
	}
}

func TestSpan(t *testing.T) {
	zone := time.FixedZone("", 2*3600)
	now := time.Date(2026, 5, 4, 15, 0, 0, 0, zone)
	unset := time.Date(1970, 1, 1, 0, 3, 0, 0, time.UTC)
	at := func(h, m int) time.Time { return time.Date(2026, 5, 4, h, m, 0, 0, zone) }
	for _, x := range []struct {
		start, end, minutes string
		now                 time.Time
		from, to            time.Time
		took                time.Duration
		says                string
	}{
		{"14:05", "14:21", "", now, at(14, 5), at(14, 21), 16 * time.Minute, ""},
		{"14:05", "", "16", now, at(14, 5), at(14, 21), 16 * time.Minute, ""},
		{"", "14:21", "16 min", now, at(14, 5), at(14, 21), 16 * time.Minute, ""},
		{"", "", "12.5", now, time.Time{}, time.Time{}, 12*time.Minute + 30*time.Second, ""},
		{"", "", "0.5 h", unset, time.Time{}, time.Time{}, 30 * time.Minute, ""},
		{"2026-05-04T11:00:00Z", "13:30", "", now, at(13, 0), at(13, 30), 30 * time.Minute, ""},
		{"2026-05-03T23:50:00+02:00", "2026-05-04T00:20:00+02:00", "", unset, at(-1, 50), at(0, 20), 30 * time.Minute, ""},
		{"14:30", "14:05", "", now, time.Time{}, time.Time{}, 0, "not after the start"},
		{"14:30", "14:30", "", now, time.Time{}, time.Time{}, 0, "not after the start"},
		{"14:50", "", "30", now, time.Time{}, time.Time{}, 0, "not happened yet"},
		{"14:05", "", "30", unset, time.Time{}, time.Time{}, 0, "clock of this machine is not set"},
		{"25:05", "", "30", now, time.Time{}, time.Time{}, 0, "is no time"},
		{"", "", "", now, time.Time{}, time.Time{}, 0, "how long"},
		{"", "", "10081", now, time.Time{}, time.Time{}, 0, "at most a week"},
	} {
		from, to, took, err := span(x.start, x.end, x.minutes, x.now)
		if x.says != "" {
			if err == nil || !strings.Contains(err.Error(), x.says) || strings.Contains(err.Error(), "\n") || took != 0 {
				t.Errorf("%q %q %q: %v, %v; want %q", x.start, x.end, x.minutes, took, err, x.says)
			}
			continue
		}
		if err != nil || !from.Equal(x.from) || !to.Equal(x.to) || took != x.took {
			t.Errorf("%q %q %q: %v to %v, %v, %v", x.start, x.end, x.minutes, from, to, took, err)
		}
	}
}

func number(x float64) *float64 { return &x }

// What the weights say of the liner: a gram of water at 20 °C is 1/998.2 kg/m³ (IAPWS), 1.0018 mL; while it is still damp
// they say nothing, and what nobody looked at is the bench file's.
func TestLogCase(t *testing.T) {
	b, err := recipes.Bench("board")
	if err != nil {
		t.Fatal(err)
	}
	l, err := liquid.Parse("water")
	if err != nil {
		t.Fatal(err)
	}
	d := record.HandDrying{WeightBeforeG: number(23), WeightAfterG: number(21), AirC: number(20), Says: "exact"}
	c := logCase(d, l, b)
	if math.Abs(c.Kept-2*1.0018e-6) > 2e-10 || math.Abs(c.Air-293.15) > 1e-9 || c.Humidity != b.Room.Humidity || c.Warm != 0 {
		t.Errorf("%+v", c)
	}
	d.Says, d.AirPct, d.WarmC = "at-least", number(40), number(35)
	if c := logCase(d, l, b); c.Kept != 0 || math.Abs(c.Humidity-0.4) > 1e-12 || math.Abs(c.Warm-308.15) > 1e-9 {
		t.Errorf("%+v", c)
	}
}

// Dryings of cycles: what bears on a fit, and what does not.
func TestFromCycle(t *testing.T) {
	b, err := recipes.Bench(recipes.DefaultBench)
	if err != nil {
		t.Fatal(err)
	}
	text, err := recipes.Text("isopropanol-91", "recipe")
	if err != nil {
		t.Fatal(err)
	}
	r, _ := recipe.Read("isopropanol-91.toml", text)
	half := strings.Replace(string(text), "[[stage]]\ndo      = \"dry\"\nfan     = \"100 %\"", "[[stage]]\ndo = \"dry\"\nfan = \"64 %\"", 1)
	good := func() record.CycleDrying {
		return record.CycleDrying{KeptDrying: record.KeptDrying{Cycle: 4, Drying: record.Drying{Stage: len(r.Unrolled()) - 1,
			Liquid: "isopropanol-91", Time: 20 * time.Minute, Evidence: "surface", Dry: true, AirC: number(19), AirPct: number(61)}},
			Bench: b.Name, BenchText: b.Text, RecipeText: string(text), RecipeName: "isopropanol-91", Simulated: true}
	}
	f := &fit{bench: b}
	log, mark, err := f.fromCycle(good())
	if err != nil || mark != "simulated" || log.Minutes != 20 || log.Evidence != drying.BySurface || log.Bound != drying.Exact ||
		math.Abs(log.Air-292.15) > 1e-9 || math.Abs(log.Humidity-0.61) > 1e-12 || log.Film != b.Sim.Film || log.Kept != 0 {
		t.Errorf("%+v %s %v", log, mark, err)
	}
	slow := good()
	slow.RecipeText = half
	if log, _, err := f.fromCycle(slow); err != nil || math.Abs(log.Film-0.8*b.Sim.Film) > 1e-9 || math.Abs(log.Flow-0.64*b.Fan.Through) > 1e-9 {
		t.Errorf("at 64 %% of the fan: film %v, flow %v, %v", log.Film, log.Flow, err)
	}
	for says, spoil := range map[string]func(*record.CycleDrying){
		"held meanwhile":                     func(d *record.CycleDrying) { d.Dry = false },
		"went on with cycle 3":               func(d *record.CycleDrying) { d.Continues = 3 },
		"arrived wet":                        func(d *record.CycleDrying) { d.Stage = 0 },
		"recipe of that day cannot be":       func(d *record.CycleDrying) { d.Stage = 99 },
		"its recipe of that day":             func(d *record.CycleDrying) { d.RecipeText = "title = 3" },
		"its bench file of that day":         func(d *record.CycleDrying) { d.BenchText = "nonsense" },
		"\"lemonade\" is not a known liquid": func(d *record.CycleDrying) { d.Liquid = "lemonade" },
	} {
		d := good()
		spoil(&d)
		if _, _, err := f.fromCycle(d); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("got %v, want %q", err, says)
		}
	}
}

// Dryings of other benches are counted, not listed, and a simulated bench is another one than a real one of its name.
func TestOtherBenchesAreLeftOut(t *testing.T) {
	b, err := recipes.Bench("board")
	if err != nil {
		t.Fatal(err)
	}
	rec, err := record.Open(t.Context(), filepath.Join(t.TempDir(), "seed-bank.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Close()
	for _, d := range []record.HandDrying{{Bench: "attic"}, {Bench: "attic"}, {Bench: b.Name, Simulated: true}, {Bench: b.Name},
		{Bench: b.Name, Liquid: "water", Evidence: "air", AirPct: number(103)}} {
		d.BenchText, d.Says, d.Time = b.Text, "exact", time.Hour
		if d.Liquid == "" {
			d.Liquid, d.Evidence = "water", "surface"
		}
		if _, err := rec.PutHandDrying(t.Context(), d); err != nil {
			t.Fatal(err)
		}
	}
	f := &fit{bench: b, others: map[string]int{}}
	if err := f.gather(t.Context(), rec); err != nil {
		t.Fatal(err)
	}
	said := ""
	for _, o := range f.out {
		said += o.Name + ": " + o.Why + "\n"
	}
	want := "log 5: relative humidity of 103 % cannot be used; give 0 % to 100 %\n" +
		"one drying: it is of a simulated bench of the same name\n2 dryings: they are of bench \"attic\"\n"
	if len(f.logs) != 1 || f.logs[0].Name != "log 4" || said != want {
		t.Errorf("%d logs, left out:\n%swant:\n%s", len(f.logs), said, want)
	}
}

// A fit that is stored and read back gives the very same estimates.
func TestStoredBeliefRoundTrips(t *testing.T) {
	path := filepath.Join(t.TempDir(), "seed-bank.db")
	b, err := recipes.Bench("board")
	if err != nil {
		t.Fatal(err)
	}
	c := caseOf(b)
	if c.Liquid, err = liquid.Parse("isopropanol-91"); err != nil {
		t.Fatal(err)
	}
	log := drying.Log{Case: c, Minutes: 24, Evidence: drying.BySurface}
	weighed := log
	weighed.Kept, weighed.Minutes = 2.3e-6, 26
	post, _, err := drying.Fit(drying.Prior(), []drying.Log{log, weighed})
	if err != nil {
		t.Fatal(err)
	}
	rec, err := record.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := rec.PutBelief(t.Context(), record.Belief{Bench: b.Name, Liquids: post.Liquids, Mean: post.Mean, Cov: post.Cov,
		Jitter: post.Jitter}); err != nil {
		t.Fatal(err)
	}
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	known, err := believed(t.Context(), path, b)
	if err != nil {
		t.Fatal(err)
	}
	want, _ := drying.Estimate(post, c, drying.Options{})
	got, err := drying.Estimate(beliefOf(known), c, drying.Options{})
	prior, _ := drying.Estimate(drying.Prior(), c, drying.Options{})
	if err != nil || got.Minutes != want.Minutes || got.Minutes == prior.Minutes {
		t.Errorf("%v read back, %v fitted, %v before, %v", got.Minutes, want.Minutes, prior.Minutes, err)
	}
	b.Simulated = true // another bench of that name
	if known, err := believed(t.Context(), path, b); known != nil || err != nil {
		t.Errorf("the simulated bench knows %+v, %v", known, err)
	}
}

func TestWriteWholeNeverReplaces(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "drying.svg")
	if err := writeWhole(path, []byte("first"), false); err != nil {
		t.Fatal(err)
	}
	if err := writeWhole(path, []byte("second"), false); err == nil || !strings.Contains(err.Error(), "is there already") {
		t.Errorf("got %v", err)
	}
	if data, _ := os.ReadFile(path); string(data) != "first" {
		t.Errorf("the file reads %q", data)
	}
	if err := writeWhole(path, []byte("third"), true); err != nil {
		t.Fatal(err)
	}
	data, _ := os.ReadFile(path)
	if info, err := os.Stat(path); err != nil || string(data) != "third" || info.Mode().Perm() != 0o644 {
		t.Errorf("%q, %v, %v", data, info.Mode(), err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if err := writeWhole(filepath.Join(dir, "none", "x.svg"), nil, true); err == nil {
		t.Error("a folder that is not there took a file")
	}
}
