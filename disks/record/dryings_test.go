package record

import (
	"database/sql"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func at(x float64) *float64 { return &x }

// byHand is a hand drying with every field filled.
func byHand() HandDrying {
	return HandDrying{
		Logged: noon, Bench: "cellar", BenchText: "title = \"Cellar bench\"\n", Simulated: true, Rack: true,
		Disk: "SB-0147", Liquid: "isopropanol-91", Started: noon.Add(-20 * time.Minute), Ended: noon.Add(-5 * time.Minute),
		Time: 15 * time.Minute, Says: "at-most", Evidence: "weighed", WeightBeforeG: at(22.6), WeightAfterG: at(21.1),
		AirC: at(19.5), AirPct: at(44), WarmC: at(31),
	}
}

func TestHandDryings(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	full := byHand()
	bare := HandDrying{Bench: "attic", BenchText: "another", Liquid: "water", Time: 40 * time.Minute, Says: "exact",
		Evidence: "surface", AirC: at(math.NaN())}
	for i, d := range []HandDrying{full, bare} {
		if n, err := r.PutHandDrying(ctx, d); n != int64(i+1) || err != nil {
			t.Fatalf("drying %d got number %d, %v", i+1, n, err)
		}
	}
	bare.AirC = nil // no number is no reading
	again := reopen(t, r.Path(), defaults)
	got, err := again.HandDryings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "dryings", got, []KeptHandDrying{{1, full}, {2, bare}})
	if d, err := again.Disk(ctx, "SB-0147"); err != nil || d.Cycles != 0 || !d.Created.Equal(noon) {
		t.Errorf("the disk is %+v, %v", d, err)
	}
}

func TestCycleDryings(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	c := begin(t, r, example())
	d := Drying{Stage: 2, Liquid: "distilled-water", Time: 41 * time.Minute, Evidence: "weighed", Dry: true, KeptG: at(1.98), AirC: at(21),
		AirPct: at(49.5)}
	c.PutDrying(d)
	if err := c.Finish(ctx, End{State: "complete", Wall: noon}); err != nil {
		t.Fatal(err)
	}
	s := example()
	want := []CycleDrying{{KeptDrying: KeptDrying{1, d}, Disk: s.Disk, Bench: s.Bench, BenchText: s.BenchText,
		RecipeText: s.RecipeText, RecipeName: s.Recipe, Simulated: true}}
	got, err := r.CycleDryings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "dryings", got, want)
}

func believed() Belief {
	return Belief{Bench: "cellar", Fitted: noon, Program: "0.2", Used: 7, Outliers: 1,
		Liquids: []string{"water", "isopropanol-91"}, Mean: []float64{-0.1, math.Log(2.3e-6), math.Log(1.7e-6)},
		Cov: [][]float64{{0.01, 0.002, 1.0 / 3}, {0.002, 0.02, -1e-17}, {1.0 / 3, -1e-17, 0.5}}, Jitter: 0.11}
}

// TestBeliefs: every fit is a new row, the newest of a bench counts, and a simulated bench is another one.
func TestBeliefs(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	if b, err := r.LatestBelief(ctx, "cellar", false); b != nil || err != nil {
		t.Fatalf("a new record believes %+v, %v", b, err)
	}
	first, second, simulated := believed(), believed(), believed()
	second.Liquids, second.Mean, second.Cov = nil, []float64{0.2}, [][]float64{{0.04}}
	simulated.Simulated, simulated.Jitter = true, 0.5
	for i, b := range []*Belief{&first, &second, &simulated} {
		n, err := r.PutBelief(ctx, *b)
		if err != nil || n != int64(i+1) {
			t.Fatalf("fit %d got number %d, %v", i+1, n, err)
		}
		b.Number = n
		latest, err := reopen(t, r.Path(), defaults).LatestBelief(ctx, "cellar", b.Simulated)
		if err != nil {
			t.Fatal(err)
		}
		differ(t, "latest", latest, b)
	}
	if b, err := r.LatestBelief(ctx, "cellar", false); err != nil || b.Number != 2 {
		t.Errorf("the simulated fit hides the real one: %+v, %v", b, err)
	}
	var rows int
	if err := r.db.QueryRow(`select count(*) from belief`).Scan(&rows); err != nil || rows != 3 {
		t.Errorf("%d fits are kept, %v; want 3", rows, err)
	}
}

// TestBeliefRoundTrip: whatever figures a fit may leave come back to the last bit.
func TestBeliefRoundTrip(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	rapid.Check(t, func(t *rapid.T) {
		b := Belief{Bench: rapid.StringMatching(`[a-z ]{1,9}`).Draw(t, "bench"), Simulated: rapid.Bool().Draw(t, "simulated"),
			Liquids: rapid.SliceOfNDistinct(rapid.StringMatching(`[a-z]+-[0-9]{1,2}`), 0, 3, rapid.ID).Draw(t, "liquids")}
		if len(b.Liquids) == 0 {
			b.Liquids = nil
		}
		figure := rapid.Float64Range(-1e300, 1e300)
		size := len(b.Liquids) + 1
		b.Jitter = figure.Draw(t, "jitter")
		b.Mean = rapid.SliceOfN(figure, size, size).Draw(t, "mean")
		for range size {
			b.Cov = append(b.Cov, rapid.SliceOfN(figure, size, size).Draw(t, "row"))
		}
		n, err := r.PutBelief(ctx, b)
		if err != nil {
			t.Fatal(err)
		}
		b.Number = n
		got, err := r.LatestBelief(ctx, b.Bench, b.Simulated)
		if err != nil {
			t.Fatal(err)
		}
		differ(t, "belief", got, &b)
	})
}

func TestUnsoundBeliefIsRefused(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	for name, spoil := range map[string]func(*Belief){
		"no figures":   func(b *Belief) { b.Mean = nil },
		"short mean":   func(b *Belief) { b.Mean = b.Mean[:2] },
		"short cov":    func(b *Belief) { b.Cov = b.Cov[:2] },
		"ragged cov":   func(b *Belief) { b.Cov[1] = b.Cov[1][:2] },
		"NaN":          func(b *Belief) { b.Cov[2][0] = math.NaN() },
		"Inf":          func(b *Belief) { b.Mean[0] = math.Inf(-1) },
		"NaN jitter":   func(b *Belief) { b.Jitter = math.NaN() },
		"liquids gone": func(b *Belief) { b.Liquids = nil },
	} {
		b := believed()
		spoil(&b)
		if n, err := r.PutBelief(ctx, b); err == nil || n != 0 {
			t.Errorf("%s: kept as %d", name, n)
		}
	}
	if b, err := r.LatestBelief(ctx, "cellar", false); b != nil || err != nil {
		t.Errorf("left behind %+v, %v", b, err)
	}
}

// TestHalfABeliefIsDamage: a fit whose figures are not all there is reported, not filled up.
func TestHalfABeliefIsDamage(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	if _, err := r.PutBelief(ctx, believed()); err != nil {
		t.Fatal(err)
	}
	if _, err := r.db.Exec(`delete from belief_covariance where place = 2`); err != nil {
		t.Fatal(err)
	}
	_, err := r.LatestBelief(ctx, "cellar", false)
	wantFault(t, err, ErrDamaged, r.Path())
}

// TestFromOlderLayouts: a record of any layout before this one, with a cycle in it, is brought up to date with everything
// it holds, and takes what the new layout knows; read only, it says that it is older.
func TestFromOlderLayouts(t *testing.T) {
	all, err := migrations(embedded)
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n < len(all); n++ {
		t.Run(fmt.Sprintf("layout %d", n), func(t *testing.T) { fromLayout(t, all, n) })
	}
}

func fromLayout(t *testing.T, all []migration, n int) {
	ctx := within(t)
	path := filepath.Join(t.TempDir(), "old.db")
	db := raw(t, path)
	if err := migrate(ctx, path, db, all[:n]); err != nil {
		t.Fatal(err)
	}
	old := &Record{path: path, db: db, set: defaults, live: map[*Cycle]struct{}{}}
	c := begin(t, old, example())
	// As the program of that day wrote it.
	if _, err := db.Exec(`insert into drying (cycle, seq, stage, liquid, time_min, evidence, dry)
		values (1, 99, 2, 'distilled-water', 41, 'surface', 1)`); err != nil {
		t.Fatal(err)
	}
	if err := c.Finish(ctx, End{State: "complete", Wall: noon}); err != nil {
		t.Fatal(err)
	}
	before, err := old.Cycles(ctx, 0)
	if err = errors.Join(err, old.Close()); err != nil {
		t.Fatal(err)
	}
	_, err = OpenReadOnly(ctx, path)
	wantFault(t, err, ErrOlder, path)

	r := reopen(t, path, defaults)
	if have, err := layout(ctx, r.db); have != len(all) || err != nil {
		t.Errorf("layout %d, %v", have, err)
	}
	after, err := r.Cycles(ctx, 0)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "cycles", after, before)
	if dryings, err := r.CycleDryings(ctx); err != nil || len(dryings) != 1 || dryings[0].Time != 41*time.Minute {
		t.Errorf("dryings %+v, %v", dryings, err)
	}
	if _, err := r.PutHandDrying(ctx, byHand()); err != nil {
		t.Error(err)
	}
	if _, err := r.PutBelief(ctx, believed()); err != nil {
		t.Error(err)
	}
}

// TestNothingOfTwoTablesHalf: when the second of a fit's writes fails, the first is not there either.
func TestNothingOfTwoTablesHalf(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	if _, err := r.db.Exec(`create trigger no before insert on belief_covariance begin select raise(abort, 'no'); end`); err != nil {
		t.Fatal(err)
	}
	_, err := r.PutBelief(ctx, believed())
	wantFault(t, err, ErrFailing, r.Path())
	var n sql.NullInt64
	if err := r.db.QueryRow(`select count(*) from belief`).Scan(&n); err != nil || n.Int64 != 0 {
		t.Errorf("%d rows of a failed fit, %v", n.Int64, err)
	}
}
