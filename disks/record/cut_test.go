package record

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// cutAfter writes the first n entries of a short cycle and then leaves it without an end.
func cutAfter(t *testing.T, r *Record, s Start, n int) {
	t.Helper()
	c := begin(t, r, s)
	for i := range n {
		at := time.Duration(i) * 10 * time.Second
		switch i % 7 {
		case 0:
			c.PutStage(StageChange{At: at, Stage: i / 7, Begun: true})
		case 6:
			c.PutEvent(Event{At: at, Kind: "state", State: "held", Said: "The lid was opened. The bench holds."})
		default:
			c.PutSample(Sample{At: at, Stage: i / 7, DosedML: new(float64(i))})
		}
	}
	if err := c.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestCutAtEachPoint cuts a cycle at each of 21 points (H02, H01): exactly one record says where it was, at least; no
// new cycle begins on that bench before a person has chosen.
func TestCutAtEachPoint(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	for n := range 21 {
		cutAfter(t, r, example(), n)
		cut, err := r.CutShort(ctx, "cellar")
		if err != nil || cut == nil {
			t.Fatalf("point %d: %v, %v", n, cut, err)
		}
		want := Cut{Summary: cut.Summary, Last: cut.Last, RecipeText: example().RecipeText,
			BenchText: example().BenchText, Interrupted: 1}
		want.Number, want.Stage = int64(n+1), (n+6)/7-1
		want.Work = []string{"", "wet", "scrub", "dry"}[want.Stage+1]
		want.Duration = time.Duration(max(0, n-1)) * 10 * time.Second
		if n >= 7 {
			want.State, want.Last.Said = "held", "The lid was opened. The bench holds."
		}
		differ(t, fmt.Sprint("point ", n), *cut, want)
		if s := cut.String(); !strings.Contains(s, "at least") || !strings.Contains(s, want.Work) {
			t.Errorf("point %d: %s", n, s)
		}
		_, err = r.Begin(ctx, example())
		wantFault(t, err, ErrCutShort, r.Path())
		if err := r.Resolve(ctx, Resolution{Cycle: cut.Number, Choice: ToEnd, By: "SB", Wall: noon}); err != nil {
			t.Fatal(err)
		}
		s, err := r.CycleByNumber(ctx, cut.Number)
		if err != nil || !s.CutShort || s.Ended || s.Complete() || s.Choice != ToEnd || s.ChosenBy != "SB" || !s.ChosenWall.Equal(noon) {
			t.Errorf("point %d: resolved as %+v, %v", n, s, err)
		}
		if cut, err := r.CutShort(ctx, "cellar"); cut != nil || err != nil {
			t.Errorf("point %d: still cut short: %v, %v", n, cut, err)
		}
	}
}

func TestDosedIsALowerBound(t *testing.T) {
	r := testRecord(t, quick)
	cutAfter(t, r, example(), 6)
	cut, err := r.CutShort(within(t), "cellar")
	if err != nil || cut.LiquidML != 5 {
		t.Errorf("dosed %v mL, %v; want 5", cut, err)
	}
	if s := cut.String(); !strings.Contains(s, "at least 5.0 mL") || !strings.Contains(s, "stage 1 (wet)") || !strings.Contains(s, "at least 50 s") {
		t.Errorf("said %q", s)
	}
}

// TestBenchesDoNotMix: a cut-short cycle stands in the way of its own bench only.
func TestBenchesDoNotMix(t *testing.T) {
	r := testRecord(t, quick)
	cutAfter(t, r, example(), 3)
	s := example()
	s.Bench = "attic"
	begin(t, r, s)
	if cut, err := r.CutShort(within(t), "store"); cut != nil || err != nil {
		t.Errorf("bench store: %v, %v", cut, err)
	}
}

// TestResumeIsOneTransaction: closing the old cycle and beginning the one that continues it happen together or not at
// all.
func TestResumeIsOneTransaction(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	cutAfter(t, r, example(), 10)
	again := example()
	again.Resolve = &Resolution{Cycle: 7, Choice: ToResume}
	_, err := r.Begin(ctx, again)
	wantFault(t, err, ErrEnded, r.Path())
	again.Resolve = &Resolution{Cycle: 1, Choice: "restart"}
	_, err = r.Begin(ctx, again)
	wantFault(t, err, ErrCutShort, r.Path())
	if cut, err := r.CutShort(ctx, "cellar"); err != nil || cut == nil || cut.Number != 1 {
		t.Fatalf("a refused start resolved the cycle: %v, %v", cut, err)
	}
	again.Resolve = &Resolution{Cycle: 1, Choice: ToResume, By: "SB", Wall: noon}
	cutAfter(t, r, again, 3)
	cut, err := r.CutShort(ctx, "cellar")
	if err != nil || cut.Number != 2 || cut.Continues != 1 || cut.Interrupted != 2 {
		t.Errorf("after a second cut: %+v, %v", cut, err)
	}
}

// TestOnlyCutCyclesAreResolved: neither one that ended nor one that has been resolved takes a choice.
func TestOnlyCutCyclesAreResolved(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	if err := begin(t, r, example()).Finish(ctx, End{State: "complete"}); err != nil {
		t.Fatal(err)
	}
	wantFault(t, r.Resolve(ctx, Resolution{Cycle: 1, Choice: ToEnd}), ErrEnded, r.Path())
	cutAfter(t, r, example(), 1)
	if err := r.Resolve(ctx, Resolution{Cycle: 2, Choice: ToDry}); err != nil {
		t.Fatal(err)
	}
	wantFault(t, r.Resolve(ctx, Resolution{Cycle: 2, Choice: ToEnd}), ErrEnded, r.Path())
	if s, err := r.CycleByNumber(ctx, 2); err != nil || s.Choice != ToDry {
		t.Errorf("the first choice was overwritten: %+v, %v", s, err)
	}
}

// TestFilesAreKeptOnce: the same recipe and bench in many cycles take the space of one.
func TestFilesAreKeptOnce(t *testing.T) {
	r := testRecord(t, quick)
	for range 3 {
		if err := begin(t, r, example()).Finish(within(t), End{State: "complete"}); err != nil {
			t.Fatal(err)
		}
	}
	var files int
	if err := r.db.QueryRow(`select count(*) from file`).Scan(&files); err != nil || files != 2 {
		t.Errorf("%d files, %v; want recipe and bench", files, err)
	}
}

// TestResolvedElsewhere: a process that still writes a cycle which another has closed as cut short is told, and does
// not open it again.
func TestResolvedElsewhere(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	c := begin(t, r, example())
	other := reopen(t, r.Path(), quick)
	if err := other.Resolve(ctx, Resolution{Cycle: 1, Choice: ToEnd}); err != nil {
		t.Fatal(err)
	}
	c.PutEvent(Event{Said: "late"})
	if err := c.Close(); err == nil {
		t.Error("an entry was added to a closed cycle")
	}
	wantFault(t, c.Health().Why, ErrEnded, r.Path())
	if s, err := r.CycleByNumber(ctx, 1); err != nil || s.Ended || s.Choice != ToEnd {
		t.Errorf("cycle %+v, %v", s, err)
	}
}

// TestClocks: boards that wake in 1970 and clocks that jump (G01, G02). Durations never change, the order is the
// number's, and a time that is not known is not given out as one that is.
func TestClocks(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	run := func(wall time.Time, set bool, during func(*Cycle)) Summary {
		t.Helper()
		s := example()
		s.Wall, s.ClockSet = wall, set
		c := begin(t, r, s)
		during(c)
		if err := c.Finish(ctx, End{State: "complete", Duration: 600 * time.Second, Wall: wall.Add(-time.Hour)}); err != nil {
			t.Fatal(err)
		}
		got, err := r.CycleByNumber(ctx, c.Number())
		if err != nil {
			t.Fatal(err)
		}
		if got.Duration != 600*time.Second {
			t.Errorf("cycle %d lasted %v", got.Number, got.Duration)
		}
		return got
	}
	nothing := func(*Cycle) {}
	good := run(noon, true, nothing)
	if began, ok := good.Began(); !ok || !began.Equal(noon) || good.ClockBack {
		t.Errorf("good clock: %v, %v, back %v", began, ok, good.ClockBack)
	}
	unset := run(time.Unix(3, 0), false, nothing)
	if began, ok := unset.Began(); ok || began.Year() != 1970 || !unset.ClockBack {
		t.Errorf("1970: %v, %v, back %v; want not trusted, back", began, ok, unset.ClockBack)
	}
	synced := run(time.Unix(3, 0), false, func(c *Cycle) { c.PutClock(100*time.Second, noon.Add(time.Hour)) })
	if began, ok := synced.Began(); !ok || !began.Equal(noon.Add(time.Hour-100*time.Second)) {
		t.Errorf("set mid-run: %v, %v", began, ok)
	}
	if back := run(noon.Add(-14*24*time.Hour), true, nothing); !back.ClockBack {
		t.Error("a clock two weeks back was not noted")
	}
	none := run(time.Time{}, true, nothing)
	if _, ok := none.Began(); ok {
		t.Error("no wall time at all was trusted")
	}
	cycles, err := r.Cycles(ctx, 3)
	if err != nil || len(cycles) != 3 || cycles[0].Number != 5 || cycles[2].Number != 3 {
		t.Errorf("cycles %v, %v; want 5, 4, 3", cycles, err)
	}
}

func TestOutageIsUnknownWithoutAClock(t *testing.T) {
	cut := Cut{Summary: Summary{Started: noon, ClockSet: true, Duration: 10 * time.Minute}}
	unset := cut
	unset.ClockSet = false
	tests := []struct {
		name  string
		cut   Cut
		now   time.Time
		set   bool
		want  time.Duration
		known bool
	}{
		{"both set", cut, noon.Add(time.Hour), true, 50 * time.Minute, true},
		{"not set then", unset, noon.Add(time.Hour), true, 0, false},
		{"not set now", cut, noon.Add(time.Hour), false, 0, false},
		{"back before the cut", cut, noon.Add(time.Minute), true, 0, false},
	}
	for _, tt := range tests {
		if got, known := tt.cut.Outage(tt.now, tt.set); got != tt.want || known != tt.known {
			t.Errorf("%s: %v, %v; want %v, %v", tt.name, got, known, tt.want, tt.known)
		}
	}
}

// TestLastLiquid walks through the days of one bench. A flammable liquid counts until the changeover, whatever wets
// the pads after it: a heater relies on this.
func TestLastLiquid(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	cycle := func(bench, liquid, flammable string) func() {
		return func() {
			s := example()
			s.Bench, s.Liquid, s.Flammable = bench, liquid, flammable
			if err := begin(t, r, s).Finish(ctx, End{State: "complete"}); err != nil {
				t.Fatal(err)
			}
		}
	}
	change := func(bench, liquid string, flammable bool) func() {
		return func() {
			if err := r.PutChangeover(ctx, Changeover{bench, liquid, flammable, "SB", noon}); err != nil {
				t.Fatal(err)
			}
		}
	}
	steps := []struct {
		name string
		do   func()
		want Held
	}{
		{"nothing yet", func() {}, Held{}},
		{"dry only", cycle("cellar", "", ""), Held{}},
		{"another bench", cycle("attic", "ethanol", "ethanol"), Held{}},
		{"water", cycle("cellar", "water", ""), Held{true, "water", ""}},
		{"isopropanol", cycle("cellar", "isopropanol-91", "isopropanol-91"), Held{true, "isopropanol-91", "isopropanol-91"}},
		{"water after it", cycle("cellar", "water", ""), Held{true, "water", "isopropanol-91"}},
		{"dry only after it", cycle("cellar", "", ""), Held{true, "water", "isopropanol-91"}},
		{"another bench's changeover", change("attic", "water", false), Held{true, "water", "isopropanol-91"}},
		{"changeover", change("cellar", "water", false), Held{true, "water", ""}},
		{"detergent", cycle("cellar", "water-detergent", ""), Held{true, "water-detergent", ""}},
		{"changeover to ethanol", change("cellar", "ethanol", true), Held{true, "ethanol", "ethanol"}},
		{"water on ethanol pads", cycle("cellar", "water", ""), Held{true, "water", "ethanol"}},
		{"water, rinsed with isopropanol", cycle("cellar", "water", "isopropanol-99"), Held{true, "water", "isopropanol-99"}},
	}
	for _, s := range steps {
		s.do()
		got, err := r.LastLiquid(ctx, "cellar")
		if err != nil {
			t.Fatal(err)
		}
		differ(t, s.name, got, s.want)
	}
}

func TestDisks(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	for _, disk := range []string{"SB-0147", "SB-0003", "", "SB-0147"} {
		s := example()
		s.Disk, s.ClockSet = disk, disk != "SB-0003"
		if err := begin(t, r, s).Finish(ctx, End{State: "complete"}); err != nil {
			t.Fatal(err)
		}
	}
	disks, err := r.Disks(ctx)
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "disks", disks, []Disk{{"SB-0003", time.Time{}, 1}, {"SB-0147", noon, 2}})
	of, err := r.CyclesOf(ctx, "SB-0147")
	if err != nil || len(of) != 2 || of[0].Number != 1 || of[1].Number != 4 {
		t.Errorf("cycles of SB-0147: %v, %v", of, err)
	}
	_, err = r.Disk(ctx, "SB-9999")
	wantFault(t, err, ErrUnknown, r.Path())
	_, err = r.CycleByNumber(ctx, 99)
	wantFault(t, err, ErrUnknown, r.Path())
	_, err = r.RecipeText(ctx, 99)
	wantFault(t, err, ErrUnknown, r.Path())
}
