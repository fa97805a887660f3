package readback

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// drawTable draws a table of any kind.
func drawTable(t *rapid.T, f Format, label string) *Table {
	if rapid.IntRange(0, 3).Draw(t, label+" is by track") == 0 {
		return drawTrackTable(t, f, label)
	}
	return drawSectorTable(t, f, label)
}

func drawTrackTable(t *rapid.T, f Format, label string) *Table {
	table, err := NewTrackTable(f)
	if err != nil {
		t.Fatal(err)
	}
	some := rapid.SliceOfN(rapid.IntRange(-1, 40), 1, 20).Draw(t, label)
	for i := range table.missing {
		sectors, _ := f.TrackAt(i/f.Heads, i%f.Heads)
		if err := table.SetMissing(i/f.Heads, i%f.Heads, min(some[i%len(some)], sectors)); err != nil {
			t.Fatal(err)
		}
	}
	return table
}

// drawSectorTable repeats a drawn piece over the disk: a state for each of thousands of sectors would take all the time.
func drawSectorTable(t *rapid.T, f Format, label string) *Table {
	table, err := NewTable(f)
	if err != nil {
		t.Fatal(err)
	}
	some := rapid.SliceOfN(rapid.SampledFrom([]State{Good, Good, Good, Bad, Missing, Untried}), 1, 40).Draw(t, label)
	for lba := range f.Total() {
		a, _ := f.At(lba)
		if err := table.Set(a, some[lba%len(some)]); err != nil {
			t.Fatal(err)
		}
	}
	return table
}

func TestStates(t *testing.T) {
	if s := (Table{}).states; s != nil || State(0) != Untried {
		t.Error("the zero state claims something")
	}
	for s := range numStates {
		got, err := ParseState(strings.ToUpper(s.String()))
		if got != s || err != nil || s.Unread() != (s == Bad || s == Missing) {
			t.Errorf("%s is read as %s, %v", s, got, err)
		}
	}
	if _, err := ParseState("ok"); err == nil || err.Error() != `the state "ok" is not known; write good, bad, missing or untried` {
		t.Error(err)
	}
	if State(9).String() != "unknown" {
		t.Error(State(9))
	}
}

// What cannot be set is refused and leaves the table as it was.
func TestSetRefuses(t *testing.T) {
	f := mustParse(t, "3x2x9x512, first track 4x128")
	sectors, _ := NewTable(f)
	tracks, _ := NewTrackTable(f)
	for what, err := range map[string]error{
		"sector 0 cannot be":                               sectors.Set(Address{0, 1, 0}, Good),
		"sector 5 cannot be":                               sectors.Set(Address{0, 0, 5}, Good),
		"a state that does not exist":                      sectors.Set(Address{0, 0, 1}, numStates),
		"the table has only counts by track":               tracks.Set(Address{0, 0, 1}, Good),
		"cylinder 3 cannot be":                             tracks.SetMissing(3, 0, 0),
		"head 2 cannot be":                                 tracks.SetMissing(0, 2, 0),
		"5 sectors of track 0/0 cannot be missing":         tracks.SetMissing(0, 0, 5),
		"-2 sectors of track 0/0 cannot be missing":        tracks.SetMissing(0, 0, -2),
		"cannot be set to a count: the table is by sector": sectors.SetMissing(0, 0, 1),
	} {
		if err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%v, want %s", err, what)
		}
	}
	if sectors.Total() != (Counts{Untried: 49}) || tracks.Total() != (Counts{Untried: 49}) {
		t.Errorf("something was set: %v, %v", sectors.Total(), tracks.Total())
	}
	if _, err := NewTable(Format{}); err == nil {
		t.Error("a table of no disk")
	}
	if _, err := NewTrackTable(Format{}); err == nil {
		t.Error("a table of no disk")
	}
}

func TestCounts(t *testing.T) {
	f := mustParse(t, "2x2x4x512, first track 2x128")
	sectors, _ := NewTable(f)
	for _, s := range []struct {
		a Address
		s State
	}{{Address{0, 0, 1}, Good}, {Address{0, 0, 2}, Bad}, {Address{0, 1, 4}, Missing}, {Address{1, 1, 1}, Good}, {Address{1, 1, 1}, Bad}} {
		if err := sectors.Set(s.a, s.s); err != nil {
			t.Fatal(err)
		}
	}
	want := []TrackCounts{{0, 0, Counts{Good: 1, Bad: 1}}, {0, 1, Counts{Missing: 1, Untried: 3}}, {1, 0, Counts{Untried: 4}},
		{1, 1, Counts{Bad: 1, Untried: 3}}}
	for i, got := range sectors.Tracks() {
		if got != want[i] {
			t.Errorf("track %d: %v, want %v", i, got, want[i])
		}
	}
	total := sectors.Total()
	if total != (Counts{Good: 1, Bad: 2, Missing: 1, Untried: 10}) || total.Unread() != 3 || total.Total() != 14 ||
		math.Abs(total.Share()-1.0/14) > 1e-15 || (Counts{}).Share() != 0 {
		t.Errorf("%+v, share %g", total, total.Share())
	}
	tracks, _ := NewTrackTable(f)
	for i, n := range []int{0, 4, -1, 1} {
		if err := tracks.SetMissing(i/2, i%2, n); err != nil {
			t.Fatal(err)
		}
	}
	if got := tracks.Total(); got != (Counts{Good: 2 + 3, Missing: 4 + 1, Untried: 4}) {
		t.Errorf("%+v", got)
	}
	for lba, want := range map[int]struct {
		s     State
		known bool
	}{-1: {Untried, true}, 0: {Good, true}, 2: {Missing, true}, 6: {Untried, true}, 9: {Untried, true}, 10: {Missing, false}, 14: {Untried, true}} {
		if s, known := tracks.State(lba); s != want.s || known != want.known {
			t.Errorf("sector %d by track is %s, known %v", lba, s, known)
		}
	}
}

// A table that is written and read again is the same table.
func TestReadOfWrite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawTable(t, drawFormat(t), "table")
		var file bytes.Buffer
		if err := want.Write(&file); err != nil {
			t.Fatal(err)
		}
		got, err := Read("x.csv", &file, want.Format())
		if err != nil || !got.Equal(want) || !got.Format().Equal(want.Format()) {
			t.Fatalf("%v\n%+v\nwant %+v", err, got, want)
		}
		if got.Total().Total() != want.Format().Total() {
			t.Fatalf("%+v of %d sectors", got.Total(), want.Format().Total())
		}
	})
}

func TestWrite(t *testing.T) {
	f := mustParse(t, "1x2x2x512, sectors from 0")
	sectors, _ := NewTable(f)
	_ = sectors.Set(Address{0, 0, 1}, Good)
	_ = sectors.Set(Address{0, 1, 0}, Missing)
	tracks, _ := NewTrackTable(f)
	_ = tracks.SetMissing(0, 1, 2)
	for want, table := range map[string]*Table{
		"cylinder,head,sector,state\n0,0,0,untried\n0,0,1,good\n0,1,0,missing\n0,1,1,untried\n": sectors,
		"cylinder,head,missing\n0,0,untried\n0,1,2\n":                                           tracks,
	} {
		var file bytes.Buffer
		if err := table.Write(&file); err != nil || file.String() != want {
			t.Errorf("%v\n%s\nwant\n%s", err, file.String(), want)
		}
		if err := table.Write(full{}); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("a full disk: %v", err)
		}
	}
}

// full is a writer that takes less than it was given and says nothing.
type full struct{}

func (full) Write(b []byte) (int, error) { return len(b) / 2, nil }

func TestEqual(t *testing.T) {
	f, g := mustParse(t, "90 mm 2x2x4x512"), mustParse(t, "2x2x4x512, first track 4x256")
	a, _ := NewTable(f)
	b, _ := NewTable(mustParse(t, "2x2x4x512"))
	c, _ := NewTable(g)
	d, _ := NewTrackTable(f)
	if !a.Equal(b) || a.Equal(c) || a.Equal(d) {
		t.Error("equal by the wrong things")
	}
	_ = b.Set(Address{1, 1, 1}, Bad)
	if a.Equal(b) {
		t.Error("tables of different states are equal")
	}
}
