package record

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// reading is a reading of a small disk of 20 sectors of which some were not read, with a table of its own.
func reading(disk string, round, unread int) Readback {
	return Readback{Disk: disk, Round: round, Format: "5 × 2 × 2 × 512", Counts: SectorCounts{Good: 20 - unread, Bad: unread},
		Table: fmt.Appendf(nil, "%s,%d,%d\n", disk, round, unread), Source: "table.csv", HeadsCleaned: true, By: "bench", Wall: noon}
}

// sum is a SHA-256 that looks like one.
func sum(digit string) string { return strings.Repeat(digit, 64) }

func TestReadbackIsKept(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1")
	b := Readback{Disk: "SB-1", Drive: "upper", Format: "80 × 2 × 18 × 512", Counts: SectorCounts{2800, 50, 20, 10},
		Table: []byte("cylinder,head,missing\r\n0,0,\xff"), States: []byte{0, 1, 2}, Source: "sb1.csv", ImageSHA256: sum("a"),
		ImageBytes: 1474560, ImagePath: "images/sb1.img", By: "reading desk", Wall: noon}
	n := must[int64](t)(r.PutReadback(ctx, b))
	got := must[KeptReadback](t)(reopen(t, r.Path(), defaults).ReadbackByNumber(ctx, n))
	// SHA-256 of the table as coreutils' sha256sum gives it.
	const tableSum = "7cb453fb166ee500022894cb43ef02f1fab145f6787cfd53bf6da58b8616ff95"
	differ(t, "reading", got, KeptReadback{Entry: Entry{Number: 2, Wall: noon, By: "reading desk"}, Disk: "SB-1", Drive: "upper",
		Format: b.Format, Counts: b.Counts, TableSHA256: tableSum, TableBytes: 28, Source: "sb1.csv", ImageSHA256: sum("a"),
		ImageBytes: 1474560, ImagePath: "images/sb1.img"})
	text, states, err := r.ReadbackTable(ctx, n)
	if err != nil || !bytes.Equal(text, b.Table) || !bytes.Equal(states, b.States) {
		t.Errorf("table %q, states %v, %v", text, states, err)
	}
	if b.Counts.Unread() != 70 || b.Counts.Total() != 2880 {
		t.Errorf("unread %d of %d", b.Counts.Unread(), b.Counts.Total())
	}
	wantFault(t, second(r.ReadbackByNumber(ctx, 1)), ErrUnknown, r.Path())
	_, _, err = r.ReadbackTable(ctx, 1)
	wantFault(t, err, ErrUnknown, r.Path())
	if _, err := r.db.Exec(`update readback_table set body_gzip = (select body_gzip || 'x' from readback_table)`); err != nil {
		t.Fatal(err)
	}
	_, _, err = r.ReadbackTable(ctx, n)
	wantFault(t, err, ErrDamaged, r.Path())
}

func TestReadbackRefuses(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1", "SB-2")
	first := reading("SB-1", 0, 5)
	first.ImageSHA256 = sum("a")
	must[int64](t)(r.PutReadback(ctx, first)) // 3 cleaned, 4 read
	other := must[int64](t)(r.PutReadback(ctx, reading("SB-2", 0, 5)))
	tests := []struct {
		name string
		spil func(*Readback)
		kind error
		says string
	}{
		{"unknown disk", func(b *Readback) { b.Disk = "SB-3" }, ErrUnknown, `"SB-3"`},
		{"round", func(b *Readback) { b.Round = -1 }, ErrUnfit, "-1"},
		{"negative", func(b *Readback) { b.Counts.Good = -1 }, ErrUnfit, "-1 good"},
		{"nothing", func(b *Readback) { b.Counts = SectorCounts{} }, ErrUnfit, "no disk"},
		{"no table", func(b *Readback) { b.Table = nil }, ErrUnfit, "0 bytes"},
		{"large table", func(b *Readback) { b.Table = make([]byte, mostTable+1) }, ErrUnfit, "33554433 bytes"},
		{"large states", func(b *Readback) { b.States = make([]byte, mostStates+1) }, ErrUnfit, "states"},
		{"no SHA-256", func(b *Readback) { b.ImageSHA256 = "abc" }, ErrUnfit, "abc"},
		{"upper case", func(b *Readback) { b.ImageSHA256 = sum("A") }, ErrUnfit, "AAA"},
		{"path alone", func(b *Readback) { b.ImagePath = "x.img" }, ErrUnfit, "no SHA-256"},
		{"same table", func(b *Readback) { b.Table = first.Table }, ErrKnown, `entry 4, the reading of disk "SB-1" in round 0 from "table.csv"`},
		{"same table, other disk", func(b *Readback) { b.Disk, b.Table = "SB-2", first.Table }, ErrKnown, "entry 4"},
		{"same image", func(b *Readback) { b.Disk, b.ImageSHA256 = "SB-2", sum("a") }, ErrKnown, "entry 4"},
		{"counted alone", func(b *Readback) { b.Regained = new(1) }, ErrUnfit, "all three"},
		{"half counted", func(b *Readback) { b.Against, b.Regained = 4, new(1) }, ErrUnfit, "all three"},
		{"against another disk", func(b *Readback) { b.Against, b.Regained, b.NewlyLost = other, new(1), new(0) }, ErrUnknown, `"SB-1"`},
		{"too many regained", func(b *Readback) { b.Against, b.Regained, b.NewlyLost = 4, new(6), new(0) }, ErrUnfit, "6 regained"},
		{"too many lost", func(b *Readback) { b.Against, b.Regained, b.NewlyLost = 4, new(5), new(3) }, ErrUnfit, "3 newly lost"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := reading("SB-1", 1, 2)
			tt.spil(&b)
			_, err := r.PutReadback(ctx, b)
			wantFault(t, err, tt.kind, r.Path())
			if err != nil && !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%q does not say %q", err, tt.says)
			}
		})
	}
	all := must[[]KeptRound](t)(r.Rounds(ctx, "SB-1"))
	if cleanings := must[[]KeptHeadCleaning](t)(r.HeadCleanings(ctx, "")); len(all) != 0 || len(cleanings) != 2 {
		t.Errorf("what was refused left %d rounds and %d cleanings besides two", len(all), len(cleanings))
	}
}

// TestSameAgain: a table that came out the same twice is taken when a person says so, and so are two whole disks.
func TestSameAgain(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1", "SB-2")
	b := reading("SB-1", 0, 3)
	b.ImageSHA256 = sum("a")
	must[int64](t)(r.PutReadback(ctx, b))
	b.Again, b.States = true, []byte{1}
	n := must[int64](t)(r.PutReadback(ctx, b))
	if _, states, err := r.ReadbackTable(ctx, n); err != nil || len(states) != 1 {
		t.Errorf("states %v, %v: those of the second reading were dropped", states, err)
	}
	whole := reading("SB-1", 1, 0)
	must[int64](t)(r.PutReadback(ctx, whole))
	whole.Disk = "SB-2"
	must[int64](t)(r.PutReadback(ctx, whole))
	whole.Round = 1
	wantFault(t, second(r.PutReadback(ctx, whole)), ErrKnown, r.Path())
}

// TestHeadsAreWatched against a plain rule: walk the acts of each drive and remember whether the heads are clean.
func TestHeadsAreWatched(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	enlist(t, r, "SB-1", "SB-2")
	clean := map[string]bool{}
	last := map[string]string{}
	since := map[string]int{}
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		drive := rapid.SampledFrom([]string{"", "upper", "lower"}).Draw(t, "drive")
		if rapid.IntRange(0, 2).Draw(t, "act") == 0 {
			if _, err := r.PutHeadCleaning(ctx, HeadCleaning{Drive: drive, Wall: noon}); err != nil {
				t.Fatal(err)
			}
			clean[drive], since[drive] = true, 0
			return
		}
		n++
		b := reading(rapid.SampledFrom([]string{"SB-1", "SB-2"}).Draw(t, "disk"), 0, 1)
		b.Drive, b.Table = drive, fmt.Appendf(nil, "%d", n)
		b.HeadsCleaned = rapid.IntRange(0, 3).Draw(t, "cleaned") == 0
		if b.HeadsCleaned {
			clean[drive], since[drive] = true, 0
		}
		got, err := r.PutReadback(ctx, b)
		if err != nil {
			t.Fatal(err)
		}
		k, err := r.ReadbackByNumber(ctx, got)
		if err != nil || k.HeadsCleaned != clean[drive] || k.DiskBefore != last[drive] || (k.DriveBefore == 0) != (last[drive] == "") {
			t.Fatalf("%+v, %v; want heads cleaned %t after %q", k, err, clean[drive], last[drive])
		}
		clean[drive], last[drive] = false, b.Disk
		since[drive]++
	})
	drives := must[[]Drive](t)(r.Drives(ctx))
	if len(drives) != 3 {
		t.Fatalf("drives %+v", drives)
	}
	for _, d := range drives {
		forgotten := 0
		for _, k := range must[[]KeptReadback](t)(r.ReadbacksOn(ctx, d.Name, 0)) {
			if !k.HeadsCleaned {
				forgotten++
			}
		}
		if d.Since != since[d.Name] || d.LastDisk != last[d.Name] || d.Forgotten != forgotten || (d.Cleaned == 0) != (d.Cleanings == 0) {
			t.Errorf("%+v, want %d since then, %d forgotten, last %q", d, since[d.Name], forgotten, last[d.Name])
		}
	}
	if two := must[[]KeptReadback](t)(r.ReadbacksOn(ctx, "", 2)); len(two) != 2 || two[0].Number < two[1].Number {
		t.Errorf("the last two on a drive: %+v", two)
	}
}

// BenchmarkPutReadback writes a table of 100 000 sectors down, durably.
func BenchmarkPutReadback(b *testing.B) {
	ctx := within(b)
	r := testRecord(b, defaults)
	enlist(b, r, "SB-1")
	var table bytes.Buffer
	table.WriteString("cylinder,head,sector,state\n")
	for n := range 100_000 {
		fmt.Fprintf(&table, "%d,%d,%d,%s\n", n/200, n/100%2, n%100+1, []string{"good", "bad", "missing"}[n*n%3])
	}
	back := reading("SB-1", 0, 1)
	back.Table, back.Again = table.Bytes(), true
	b.SetBytes(int64(table.Len()))
	for b.Loop() {
		n, err := r.PutReadback(ctx, back)
		if err != nil {
			b.Fatal(err)
		}
		if _, _, err := r.ReadbackTable(ctx, n); err != nil {
			b.Fatal(err)
		}
	}
}
