package record

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// clean runs a finished cycle on a disk, which wets it in its first stage and dries it with that evidence, "" for none.
func clean(t testing.TB, r *Record, disk, recipe, evidence string, wall time.Time) int64 {
	t.Helper()
	s := example()
	s.Disk, s.Recipe, s.Wall = disk, recipe, wall
	c := begin(t, r, s)
	c.PutStage(StageChange{Stage: 0, Begun: true})
	if evidence != "" {
		c.PutDrying(Drying{Stage: 2, Liquid: "water-detergent", Time: 45 * time.Minute, Evidence: evidence, Dry: true})
	}
	if err := c.Finish(within(t), End{State: "complete"}); err != nil {
		t.Fatal(err)
	}
	return c.Number()
}

// outline is a story in a line: a word a step with its numbers.
func outline(s Story) string {
	var words []string
	for _, p := range s.Steps {
		switch {
		case p.Register != nil:
			words = append(words, p.Register.What)
		case p.Look != nil:
			words = append(words, "look:"+p.Look.Verdict)
		case p.Cycle != nil:
			words = append(words, fmt.Sprintf("cycle:%s/%d", p.Cycle.Recipe, len(p.Cycle.Dryings)))
		case p.Drying != nil:
			words = append(words, "drying:"+p.Drying.Evidence)
		case p.Heads != nil:
			words = append(words, "heads")
		case p.Round != nil:
			words = append(words, fmt.Sprintf("round:%d=%s/%s", p.Round.Round, p.Round.Method, p.Round.Dealt))
		case p.Readback != nil:
			words = append(words, fmt.Sprintf("read:%d=%d", p.Readback.Round, p.Readback.Counts.Unread()))
		case p.Join != nil:
			words = append(words, fmt.Sprintf("join:%d", len(p.Join.Inputs)))
		case p.Deal != nil:
			words = append(words, "deal:"+p.Deal.Name+"="+p.Deal.Method)
		}
	}
	return strings.Join(words, " ")
}

// joinOf is a join of readings with the sums that the record has of them.
func joinOf(t testing.TB, r *Record, disk string, readings ...int64) Join {
	t.Helper()
	d := Join{Disk: disk, ImageSHA256: sum("d"), ImageBytes: 10240, ImagePath: "joined.img", TableSHA256: sum("e"),
		ProvenanceSHA256: sum("f"), Good: 18, Unread: 1, Disputed: 1, By: "desk", Wall: later(90)}
	for _, n := range readings {
		k := must[KeptReadback](t)(r.ReadbackByNumber(within(t), n))
		d.Inputs = append(d.Inputs, JoinInput{n, k.TableSHA256, k.ImageSHA256})
	}
	return d
}

// fillDisks lets two disks of the seed bank go through everything that the record keeps.
func fillDisks(t testing.TB, r *Record) {
	t.Helper()
	ctx := within(t)
	must[int64](t)(r.RegisterDisk(ctx, Registration{Label: "SB-1", MediaMM: 90, Format: "5 × 2 × 2 × 512", Note: "ferns", By: "intake", Wall: noon}))
	enlist(t, r, "SB-2", "SB-3")
	must[int64](t)(r.PutLook(ctx, Look{Disk: "SB-1", Findings: "mould=some", Verdict: "read first", Reason: "mould is thin", Wall: later(1)}))
	found := reading("SB-1", 0, 5)
	found.ImageSHA256, found.ImageBytes = sum("1"), 10240
	first := must[int64](t)(r.PutReadback(ctx, found))
	must[int64](t)(r.PutReadback(ctx, reading("SB-2", 0, 4)))
	must[int64](t)(r.PutDeal(ctx, Deal{Name: "May", Seed: 1 << 63, Methods: []DealtMethod{{"water-detergent", new(5.0), nil}, {"dry brush", new(4.0), nil}, {Method: "wait"}},
		Disks: []DealtDisk{{"SB-1", "water-detergent", 5, 1}, {"SB-2", "dry brush", 4, 1}}, Imbalance: 1, Bound: 0.5, Optimal: true, Wall: later(5)}))
	clean(t, r, "SB-1", "water-detergent", "surface", later(10))
	after := reading("SB-1", 1, 2)
	after.ImageSHA256, after.HeadsCleaned = sum("2"), false
	after.Against, after.Regained, after.NewlyLost = first, new(4), new(1)
	second := must[int64](t)(r.PutReadback(ctx, after))
	must[int64](t)(r.PutReadback(ctx, reading("SB-2", 1, 1)))
	must[int64](t)(r.PutJoin(ctx, joinOf(t, r, "SB-1", first, second)))
	d := byHand()
	d.Disk, d.Started, d.Ended, d.Logged = "SB-1", later(60), later(80), later(80)
	must[int64](t)(r.PutHandDrying(ctx, d))
}

func TestStory(t *testing.T) {
	r := testRecord(t, defaults)
	fillDisks(t, r)
	s := must[Story](t)(r.Story(within(t), "SB-1"))
	const want = "registered look:read first heads read:0=5 deal:May=water-detergent cycle:water-detergent/1 " +
		"round:1=water-detergent/water-detergent read:1=2 drying:weighed join:2"
	if got := outline(s); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	differ(t, "lacks", s.Lacks, []Lack{{What: HeadsForgotten, Entry: s.Steps[7].Readback.Number}})
	if s.Disk.Label != "SB-1" || *s.Disk.Found != 5 || *s.Disk.Now != 2 || *s.Disk.Joined != 2 || s.Disk.Verdict != "read first" {
		t.Errorf("the disk is %+v", s.Disk)
	}
	other := must[Story](t)(r.Story(within(t), "SB-2"))
	const wantOther = "registered heads read:0=4 deal:May=dry brush heads round:1=by hand/dry brush read:1=1"
	if got := outline(other); got != wantOther {
		t.Errorf("got  %s\nwant %s", got, wantOther)
	}
	wantFault(t, second(r.Story(within(t), "SB-9")), ErrUnknown, r.Path())
}

// TestLacks: what is missing after each act, by hand.
func TestLacks(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "other")
	n := 0
	read := func(round int, how ...func(*Readback)) {
		n++
		b := reading("SB-1", round, 5)
		b.Table = fmt.Appendf(nil, "%d", n)
		for _, f := range how {
			f(&b)
		}
		must[int64](t)(r.PutReadback(ctx, b))
	}
	image := func(b *Readback) { b.ImageSHA256 = sum(fmt.Sprint(n)) }
	dry := func(says, evidence string, minutes int) {
		d := byHand()
		d.Disk, d.Says, d.Evidence, d.Ended, d.Logged = "SB-1", says, evidence, later(minutes), later(minutes)
		must[int64](t)(r.PutHandDrying(ctx, d))
	}
	var joins []int64
	steps := []struct {
		act  string
		do   func()
		want string
	}{
		{"a cycle names it", func() { clean(t, r, "SB-1", "water-detergent", "timed", noon) },
			"not registered, not looked at, not read as found, not dry by evidence, not read again"},
		{"registered", func() { enlist(t, r, "SB-1") },
			"no format, not looked at, not read as found, not dry by evidence, not read again"},
		{"format", func() { must[int64](t)(r.ChangeDisk(ctx, Registration{Label: "SB-1", Format: "5"})) },
			"not looked at, not read as found, not dry by evidence, not read again"},
		{"look", func() { must[int64](t)(r.PutLook(ctx, Look{Disk: "SB-1", Verdict: "read first"})) },
			"not read as found, not dry by evidence, not read again"},
		{"not long enough", func() { dry("at-least", "weighed", 10) }, "not read as found, not dry by evidence, not read again"},
		{"by the clock", func() { dry("exact", "timed", 11) }, "not read as found, not dry by evidence, not read again"},
		{"weighed before the cycle", func() { dry("exact", "weighed", -10) }, "not read as found, not dry by evidence, not read again"},
		{"weighed", func() { dry("exact", "weighed", 12) }, "not read as found, not read again"},
		{"read late", func() { read(0) }, "first reading late, no image"},
		{"look withdrawn", func() {
			l := must[[]KeptLook](t)(r.Looks(ctx, "SB-1"))
			if err := r.Withdraw(ctx, l[0].Number, "wrong disk", "", noon); err != nil {
				t.Fatal(err)
			}
		}, "not looked at, first reading late, no image"},
		{"by hand", func() { must[int64](t)(r.PutRound(ctx, Round{Disk: "SB-1", Round: 1})) },
			"not looked at, first reading late, not read again, no image"},
		{"read again", func() { read(1, image) }, "not looked at, first reading late"},
		{"once more", func() { read(1, image, func(b *Readback) { b.HeadsCleaned = false }) },
			"not looked at, first reading late, heads not cleaned, readings not combined"},
		{"other disk cleaned", func() { clean(t, r, "other", "water-detergent", "", later(20)) },
			"not looked at, first reading late, heads not cleaned, readings not combined"},
		{"cleaned dry", func() { clean(t, r, "SB-1", "water-detergent", "surface", later(30)) },
			"not looked at, first reading late, not read again, heads not cleaned, readings not combined"},
		{"joined", func() {
			for _, b := range must[[]KeptReadback](t)(r.Readbacks(ctx, "SB-1")) {
				joins = append(joins, b.Number)
			}
			must[int64](t)(r.PutJoin(ctx, joinOf(t, r, "SB-1", joins...)))
		}, "not looked at, first reading late, not read again, heads not cleaned"},
		{"cut short", func() {
			s := example()
			s.Disk = "SB-1"
			if err := begin(t, r, s).Close(); err != nil {
				t.Fatal(err)
			}
		}, "not looked at, first reading late, cycle without an end, not read again, heads not cleaned"},
		{"whole", func() { read(2, image, func(b *Readback) { b.Counts = SectorCounts{Good: 20} }) },
			"not looked at, first reading late, cycle without an end"},
		{"another image", func() { read(3, image) },
			"not looked at, first reading late, cycle without an end, readings not combined"},
	}
	for _, tt := range steps {
		tt.do()
		var got []string
		for _, l := range must[Story](t)(r.Story(ctx, "SB-1")).Lacks {
			got = append(got, string(l.What))
		}
		if text := strings.Join(got, ", "); text != tt.want {
			t.Errorf("%s: %q, want %q", tt.act, text, tt.want)
		}
	}
}

// TestLateIsTheFirstReading: a disk that was read as found and later once more for that round was read in time.
func TestLateIsTheFirstReading(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1")
	must[int64](t)(r.PutReadback(ctx, reading("SB-1", 0, 5)))
	clean(t, r, "SB-1", "water-detergent", "surface", noon)
	must[int64](t)(r.PutReadback(ctx, reading("SB-1", 0, 4)))
	for _, l := range must[Story](t)(r.Story(ctx, "SB-1")).Lacks {
		if l.What == LateFirst {
			t.Errorf("%+v", l)
		}
	}
}
