package record

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// later is a wall time some minutes after noon.
func later(minutes int) time.Time { return noon.Add(time.Duration(minutes) * time.Minute) }

// enlist enters disks by their labels alone.
func enlist(t testing.TB, r *Record, labels ...string) {
	t.Helper()
	for _, label := range labels {
		if _, err := r.RegisterDisk(within(t), Registration{Label: label, Wall: noon}); err != nil {
			t.Fatal(err)
		}
	}
}

// must fails the test on an error of a call that is only to prepare it.
func must[T any](t testing.TB) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func TestRegister(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	first := Registration{Label: "SB-0147", MediaMM: 90, Format: "80 × 2 × 18 × 512", Note: "accessions 1991, N to P", By: "intake", Wall: noon}
	for i, f := range []func() (int64, error){
		func() (int64, error) { return r.RegisterDisk(ctx, first) },
		func() (int64, error) {
			return r.ChangeDisk(ctx, Registration{Label: "SB-0147", MediaMM: 90, Format: "80 × 2 × 9 × 512", Note: "accessions", Wall: later(1)})
		},
		func() (int64, error) { return r.RetireDisk(ctx, "SB-0147", "the hub came off", "bench", later(2)) },
	} {
		if n, err := f(); n != int64(i+1) || err != nil {
			t.Fatalf("act %d got number %d, %v", i, n, err)
		}
	}
	got, err := r.DiskByLabel(ctx, "SB-0147")
	if err != nil {
		t.Fatal(err)
	}
	want := DiskRow{Label: "SB-0147", Registered: true, MediaMM: 90, Format: "80 × 2 × 9 × 512", Note: "accessions", Created: noon,
		Entered: noon, Retired: true, RetiredWall: later(2), RetiredWhy: "the hub came off", Rounds: -1}
	differ(t, "row", got, want)
	if _, err := r.ReturnDisk(ctx, "SB-0147", "another hub", "", later(3)); err != nil {
		t.Fatal(err)
	}
	want.Retired, want.RetiredWall, want.RetiredWhy = false, time.Time{}, ""
	got, err = reopen(t, r.Path(), defaults).DiskByLabel(ctx, "SB-0147")
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "row after its return", got, want)
	changes, err := r.RegisterChanges(ctx, "SB-0147")
	if err != nil {
		t.Fatal(err)
	}
	differ(t, "changes", changes, []RegisterChange{
		{Entry: Entry{Number: 1, Wall: noon, By: "intake"}, Disk: "SB-0147", What: "registered", MediaMM: 90, Format: first.Format, Note: first.Note},
		{Entry: Entry{Number: 2, Wall: later(1)}, Disk: "SB-0147", What: "changed", MediaMM: 90, Format: want.Format, Note: want.Note},
		{Entry: Entry{Number: 3, Wall: later(2), By: "bench"}, Disk: "SB-0147", What: "retired", MediaMM: 90, Format: want.Format, Note: want.Note, Why: "the hub came off"},
		{Entry: Entry{Number: 4, Wall: later(3)}, Disk: "SB-0147", What: "returned", MediaMM: 90, Format: want.Format, Note: want.Note, Why: "another hub"},
	})
}

func TestRegisterRefuses(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1")
	put := func(d Registration) error { _, err := r.RegisterDisk(ctx, d); return err }
	tests := map[string]struct {
		err  error
		kind error
	}{
		"registered":   {put(Registration{Label: "SB-1"}), ErrKnown},
		"no label":     {put(Registration{}), ErrUnfit},
		"space":        {put(Registration{Label: "SB-2 "}), ErrUnfit},
		"line end":     {put(Registration{Label: "SB\n2"}), ErrUnfit},
		"not UTF-8":    {put(Registration{Label: "SB\xff"}), ErrUnfit},
		"long":         {put(Registration{Label: strings.Repeat("x", 201)}), ErrUnfit},
		"long note":    {put(Registration{Label: "SB-2", Note: strings.Repeat("x", 10_001)}), ErrUnfit},
		"bell":         {put(Registration{Label: "SB-2", Note: "\a"}), ErrUnfit},
		"size":         {put(Registration{Label: "SB-2", MediaMM: -90}), ErrUnfit},
		"by whom":      {put(Registration{Label: "SB-2", By: "a\tb"}), ErrUnfit},
		"change":       {second(r.ChangeDisk(ctx, Registration{Label: "SB-2"})), ErrUnknown},
		"retire":       {second(r.RetireDisk(ctx, "SB-2", "", "", noon)), ErrUnknown},
		"not retired":  {second(r.ReturnDisk(ctx, "SB-1", "", "", noon)), ErrKnown},
		"not there":    {second(r.DiskByLabel(ctx, "SB-2")), ErrUnknown},
		"look unknown": {second(r.PutLook(ctx, Look{Disk: "SB-2", Verdict: "read first"})), ErrUnknown},
		"no verdict":   {second(r.PutLook(ctx, Look{Disk: "SB-1"})), ErrUnfit},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) { wantFault(t, tt.err, tt.kind, r.Path()) })
	}
	if _, err := r.RetireDisk(ctx, "SB-1", "done", "", noon); err != nil {
		t.Fatal(err)
	}
	wantFault(t, second(r.RetireDisk(ctx, "SB-1", "again", "", noon)), ErrKnown, r.Path())
	var n int
	if err := r.db.QueryRow(`select count(*) from journal`).Scan(&n); err != nil || n != 2 {
		t.Errorf("%d entries (%v): something that was refused is in the journal", n, err)
	}
}

// second is the error of a call.
func second[T any](_ T, err error) error { return err }

// TestDisksOfCycles: a disk that only a cycle named is listed, marked, and becomes a registered one with its cycle.
func TestDisksOfCycles(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	if err := begin(t, r, example()).Finish(ctx, End{State: "complete"}); err != nil {
		t.Fatal(err)
	}
	d := must[DiskRow](t)(r.DiskByLabel(ctx, "SB-0147"))
	if d.Registered || d.Cycles != 1 || !d.Created.Equal(noon) {
		t.Errorf("before: %+v", d)
	}
	if _, err := r.RegisterDisk(ctx, Registration{Label: "SB-0147", Wall: later(60)}); err != nil {
		t.Fatal(err)
	}
	d = must[DiskRow](t)(r.DiskByLabel(ctx, "SB-0147"))
	if !d.Registered || d.Cycles != 1 || !d.Created.Equal(noon) || !d.Entered.Equal(later(60)) {
		t.Errorf("after: %+v", d)
	}
}

func labels(p DiskPage) string {
	var all []string
	for _, d := range p.Disks {
		all = append(all, d.Label)
	}
	return strings.Join(all, " ")
}

func TestListDisks(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "a_1", "a%2", "B-3", "retired", "read", "cleaned", "by-hand")
	for label, note := range map[string]string{"B-3": "Fern spores \\ moss", "a_1": "moss"} {
		must[int64](t)(r.ChangeDisk(ctx, Registration{Label: label, Note: note}))
	}
	must[int64](t)(r.RetireDisk(ctx, "retired", "", "", noon))
	must[int64](t)(r.PutLook(ctx, Look{Disk: "read", Verdict: "read first"}))
	for i, disk := range []string{"read", "cleaned", "by-hand"} {
		must[int64](t)(r.PutReadback(ctx, reading(disk, 0, i)))
	}
	s := example()
	s.Disk = "cleaned"
	begin(t, r, s)
	s.Disk, s.Bench = "only-cycle", "attic"
	begin(t, r, s)
	must[int64](t)(r.PutRound(ctx, Round{Disk: "by-hand", Round: 1}))
	tests := []struct {
		q    DiskQuery
		want string
	}{
		{DiskQuery{}, "B-3 a%2 a_1 by-hand cleaned only-cycle read retired"},
		{DiskQuery{Text: "MOSS"}, "B-3 a_1"},
		{DiskQuery{Text: "b-3"}, "B-3"},
		{DiskQuery{Text: "%"}, "a%2"},
		{DiskQuery{Text: "_"}, "a_1"},
		{DiskQuery{Text: `\`}, "B-3"},
		{DiskQuery{Text: "' or 1=1 --"}, ""},
		{DiskQuery{State: Registered}, "B-3 a%2 a_1 by-hand cleaned read"},
		{DiskQuery{State: Unregistered}, "only-cycle"},
		{DiskQuery{State: Retired}, "retired"},
		{DiskQuery{State: NotLookedAt}, "B-3 a%2 a_1 by-hand cleaned only-cycle"},
		{DiskQuery{State: NotRead}, "B-3 a%2 a_1 only-cycle"},
		{DiskQuery{State: NotReadAgain}, "by-hand cleaned"},
		{DiskQuery{State: NotRead, Text: "moss", After: "B-3"}, "a_1"},
	}
	for _, tt := range tests {
		p, err := r.ListDisks(ctx, tt.q)
		if got := labels(p); err != nil || got != tt.want || p.More {
			t.Errorf("%+v: %q, more %t, %v; want %q", tt.q, got, p.More, err, tt.want)
		}
	}
	must[int64](t)(r.PutReadback(ctx, reading("cleaned", 1, 7)))
	must[int64](t)(r.PutReadback(ctx, reading("by-hand", 1, 8)))
	if p, err := r.ListDisks(ctx, DiskQuery{State: NotReadAgain}); err != nil || len(p.Disks) != 0 {
		t.Errorf("once read again: %s, %v", labels(p), err)
	}
}

// TestRoundOfAnOldCycle: a cycle that is entered for a round after the disk was read again is no new cleaning.
func TestRoundOfAnOldCycle(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1")
	c := clean(t, r, "SB-1", "ethanol", "", noon)
	clean(t, r, "SB-1", "ethanol", "", noon)
	must[int64](t)(r.PutReadback(ctx, reading("SB-1", 2, 5)))
	must[int64](t)(r.PutRound(ctx, Round{Disk: "SB-1", Round: 1, Cycle: c}))
	if p, err := r.ListDisks(ctx, DiskQuery{State: NotReadAgain}); err != nil || len(p.Disks) != 0 {
		t.Errorf("to be read again: %s, %v", labels(p), err)
	}
}

// TestPagesAreTheList: pages of any size, one after the other, are the whole list, and each knows how many there are.
func TestPagesAreTheList(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	var want []string
	for n := range 50 {
		want = append(want, fmt.Sprintf("SB-%04d", n))
	}
	enlist(t, r, want...)
	rapid.Check(t, func(t *rapid.T) {
		q := DiskQuery{Limit: rapid.IntRange(1, 60).Draw(t, "limit")}
		var got []string
		for {
			p, err := r.ListDisks(ctx, q)
			if err != nil || p.Total != 50 || len(p.Disks) > q.Limit {
				t.Fatalf("page after %q: %d of %d, %v", q.After, len(p.Disks), p.Total, err)
			}
			got = append(got, strings.Fields(labels(p))...)
			if !p.More {
				break
			}
			q.After = p.Disks[len(p.Disks)-1].Label
		}
		differ(t, "labels", got, want)
	})
}

// BenchmarkListDisks lists and searches 10 000 disks with a look and two readings each.
func BenchmarkListDisks(b *testing.B) {
	ctx := within(b)
	r := testRecord(b, defaults)
	many(b, r, 10_000)
	for _, q := range []DiskQuery{{Limit: 50}, {Limit: 50, After: "SB-05000"}, {Limit: 50, Text: "077"}, {}, {Limit: 50, State: NotReadAgain},
		{Limit: 50, State: NotLookedAt}} {
		b.Run(fmt.Sprintf("limit=%d,after=%s,text=%s,state=%d", q.Limit, q.After, q.Text, q.State), func(b *testing.B) {
			for b.Loop() {
				if p, err := r.ListDisks(ctx, q); err != nil || p.Total > 10_000 {
					b.Fatal(p.Total, err)
				}
			}
		})
	}
}

// many fills the tables directly: a transaction a row would take minutes.
func many(t testing.TB, r *Record, disks int) {
	t.Helper()
	const count = `with recursive n (i) as (select 1 union all select i + 1 from n where i < ?) `
	for _, q := range []string{
		`insert into disk (id, registered, note) ` + count + `select printf('SB-%05d', i), 1, 'drawer ' || (i % 77) from n`,
		`insert into journal (number, kind, by_whom, after_cycle) ` + count + `select i, 'look', '', 0 from n`,
		`insert into look (number, disk, findings, verdict, reason) ` + count + `select i, printf('SB-%05d', i), '', 'read first', '' from n`,
		`insert into journal (number, kind, by_whom, after_cycle) ` + count + `select i + 10000, 'readback', '', 0 from n`,
		`insert into journal (number, kind, by_whom, after_cycle) ` + count + `select i + 20000, 'readback', '', 0 from n`,
	} {
		if _, err := r.db.Exec(q, disks); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := r.db.Exec(`insert into readback_table (sha256, text_bytes, body_gzip) values ('x', 1, 'x')`); err != nil {
		t.Fatal(err)
	}
	for round := range 2 {
		if _, err := r.db.Exec(`with recursive n (i) as (select 1 union all select i + 1 from n where i < ?)
			insert into readback (number, disk, round, drive, format, good, bad, missing, untried, table_sha256, image_sha256,
			image_path, source, heads_cleaned) select i + 10000 + ? * 10000, printf('SB-%05d', i), ?, '', '', 2880 - i % 100,
			i % 100, 0, 0, 'x', '', '', '', 1 from n`, disks, round, round); err != nil {
			t.Fatal(err)
		}
	}
}

func TestWithdraw(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1")                                                       // 1
	must[int64](t)(r.PutLook(ctx, Look{Disk: "SB-1", Verdict: "do not spin"})) // 2
	first := must[int64](t)(r.PutReadback(ctx, reading("SB-1", 0, 1)))         // 3 the heads, 4
	again := reading("SB-1", 1, 2)                                             // 5 the heads, 6 its round, 7
	again.Against, again.Regained, again.NewlyLost = first, new(1), new(2)
	must[int64](t)(r.PutReadback(ctx, again))
	withdraw := func(n int64) error { return r.Withdraw(ctx, n, "wrong disk", "bench", noon) } //
	if err := withdraw(2); err != nil {
		t.Fatal(err)
	}
	looks := must[[]KeptLook](t)(r.Looks(ctx, "SB-1"))
	differ(t, "look", looks[0].Entry, Entry{Number: 2, Withdrawn: true, WithdrawnWhy: "wrong disk", WithdrawnBy: "bench", WithdrawnWall: noon})
	if d := must[DiskRow](t)(r.DiskByLabel(ctx, "SB-1")); d.Verdict != "" || d.Readbacks != 2 || d.Rounds != 1 || *d.Found != 1 || *d.Now != 2 {
		t.Errorf("row %+v", d)
	}
	wantFault(t, withdraw(2), ErrKnown, r.Path())
	wantFault(t, withdraw(99), ErrUnknown, r.Path())
	wantFault(t, withdraw(1), ErrUnfit, r.Path())
	wantFault(t, withdraw(3), ErrUnfit, r.Path())
	wantFault(t, withdraw(4), ErrUnfit, r.Path()) // 7 is counted against it
	wantFault(t, withdraw(6), ErrUnfit, r.Path()) // 7 is of that round
	wantFault(t, r.Withdraw(ctx, 7, " ", "", noon), ErrUnfit, r.Path())
	for _, n := range []int64{7, 6, 4} {
		if err := withdraw(n); err != nil {
			t.Fatal(err)
		}
	}
	if d := must[DiskRow](t)(r.DiskByLabel(ctx, "SB-1")); d.Readbacks != 0 || d.Rounds != -1 || d.Found != nil || d.Now != nil {
		t.Errorf("row after all was withdrawn %+v", d)
	}
	must[int64](t)(r.PutReadback(ctx, reading("SB-1", 0, 1))) // the same table, which nothing has any more
	if !errors.Is(withdraw(0), ErrUnknown) {
		t.Error("entry 0 was withdrawn")
	}
}
