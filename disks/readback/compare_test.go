package readback

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// sectorsOf makes a table of one cylinder from letters: g good, b bad, m missing, anything else untried.
func sectorsOf(t *testing.T, format, letters string) *Table {
	t.Helper()
	table, err := NewTable(mustParse(t, format))
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range letters {
		table.states[i] = map[rune]State{'g': Good, 'b': Bad, 'm': Missing}[c]
	}
	return table
}

func tracksOf(t *testing.T, format string, missing ...int) *Table {
	t.Helper()
	table, err := NewTrackTable(mustParse(t, format))
	if err != nil {
		t.Fatal(err)
	}
	copy(table.missing, missing)
	return table
}

// Each of the nine pairs is counted where it belongs; a sector that was untried is neither regained nor lost.
func TestCompare(t *testing.T) {
	const format = "1x2x10x512"
	before := sectorsOf(t, format, "ggggbbm-m-"+"bbbb------")
	after := sectorsOf(t, format, "gbm-gmm-b-"+"gg--gm----")
	got, err := Compare(before, after)
	if err != nil {
		t.Fatal(err)
	}
	want := []Change{
		{StillGood: 1, NewlyLost: 2, DroppedGood: 1, Regained: 1, StillMissing: 3, NeverTried: 2, Exact: true},
		{Regained: 2, DroppedMissing: 2, FirstGood: 1, FirstMissing: 1, NeverTried: 4, Exact: true},
	}
	for i, w := range want {
		if d := cmp.Diff(TrackChange{0, i, w}, got.Tracks[i]); d != "" {
			t.Errorf("track %d:\n%s", i, d)
		}
	}
	total := Change{StillGood: 1, NewlyLost: 2, DroppedGood: 1, Regained: 3, StillMissing: 3, NeverTried: 6, DroppedMissing: 2,
		FirstGood: 1, FirstMissing: 1, Exact: true}
	if d := cmp.Diff(total, got.Total); d != "" || got.Total.Net() != 1 {
		t.Error(d)
	}
}

// Counts by track fix the net, but not which sectors: 3 missing, then 1, may be 2 regained, or 3 and another one lost.
func TestCompareCounts(t *testing.T) {
	const format = "1x1x10x512"
	for _, c := range []struct {
		name          string
		before, after *Table
		want          Change
	}{
		{"fewer", tracksOf(t, format, 3), tracksOf(t, format, 1), Change{Regained: 2, StillMissing: 1, StillGood: 7}},
		{"more", tracksOf(t, format, 1), tracksOf(t, format, 3), Change{NewlyLost: 2, StillMissing: 1, StillGood: 7}},
		{"the same", tracksOf(t, format, 2), tracksOf(t, format, 2), Change{StillMissing: 2, StillGood: 8}},
		{"all came", tracksOf(t, format, 3), tracksOf(t, format, 0), Change{Regained: 3, StillGood: 7, Exact: true}},
		{"none came", tracksOf(t, format, 3), tracksOf(t, format, 10), Change{NewlyLost: 7, StillMissing: 3, Exact: true}},
		{"all had come", tracksOf(t, format, 0), tracksOf(t, format, 4), Change{NewlyLost: 4, StillGood: 6, Exact: true}},
		{"untried after", tracksOf(t, format, 3), tracksOf(t, format, -1), Change{DroppedMissing: 3, DroppedGood: 7, Exact: true}},
		{"untried before", tracksOf(t, format, -1), tracksOf(t, format, 4), Change{FirstMissing: 4, FirstGood: 6, Exact: true}},
		{"never tried", tracksOf(t, format, -1), tracksOf(t, format, -1), Change{NeverTried: 10, Exact: true}},
		{"sectors, then counts", sectorsOf(t, format, "gggggggbbm"), tracksOf(t, format, 1), Change{Regained: 2, StillMissing: 1, StillGood: 7}},
		{"part untried, then counts", sectorsOf(t, format, "gggbb-----"), tracksOf(t, format, 1),
			Change{Regained: 1, StillMissing: 1, StillGood: 3, FirstGood: 5}},
		{"part untried, then all", sectorsOf(t, format, "gggbb-----"), tracksOf(t, format, 0),
			Change{Regained: 2, StillGood: 3, FirstGood: 5, Exact: true}},
	} {
		got, err := Compare(c.before, c.after)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(c.want, got.Total); d != "" {
			t.Errorf("%s:\n%s", c.name, d)
		}
	}
}

// One track that leaves something open is enough for the whole to be open.
func TestTotalIsOpen(t *testing.T) {
	const format = "1x2x10x512"
	got, err := Compare(tracksOf(t, format, 3, 0), tracksOf(t, format, 1, 0))
	if err != nil || got.Tracks[0].Exact || !got.Tracks[1].Exact || got.Total.Exact {
		t.Errorf("%v %+v", err, got)
	}
}

func TestCompareRefuses(t *testing.T) {
	_, err := Compare(sectorsOf(t, "1x1x10x512", ""), sectorsOf(t, "1x1x9x512", ""))
	if err == nil || !strings.Contains(err.Error(), "before has the format 1x1x10x512, after 1x1x9x512") {
		t.Error(err)
	}
	if _, err := Compare(sectorsOf(t, "1x1x10x512", ""), sectorsOf(t, "90 mm 1x1x10x512", "")); err != nil {
		t.Errorf("the size of the cartridge alone is no other geometry: %v", err)
	}
}

func (c Change) sum() int {
	return c.Regained + c.NewlyLost + c.StillMissing + c.StillGood + c.FirstGood + c.FirstMissing + c.DroppedGood +
		c.DroppedMissing + c.NeverTried
}

// Every sector is in one count; the counts add up to both tables; backwards, regained is newly lost.
func TestComparisonAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFormat(t)
		before, after := drawTable(t, f, "before"), drawTable(t, f, "after")
		got, err := Compare(before, after)
		if err != nil {
			t.Fatal(err)
		}
		back, _ := Compare(after, before)
		was, is := before.Tracks(), after.Tracks()
		var total Change
		for i, c := range got.Tracks {
			if c.sum() != was[i].Total() || c.Regained+c.StillMissing+c.DroppedMissing != was[i].Unread() ||
				c.NewlyLost+c.StillGood+c.DroppedGood != was[i].Good || c.NewlyLost+c.StillMissing+c.FirstMissing != is[i].Unread() ||
				c.Regained+c.StillGood+c.FirstGood != is[i].Good || c.Cylinder != was[i].Cylinder || c.Head != was[i].Head {
				t.Fatalf("%+v\nof %+v\nand %+v", c, was[i], is[i])
			}
			if b := back.Tracks[i]; b.Regained != c.NewlyLost || b.NewlyLost != c.Regained || b.StillMissing != c.StillMissing ||
				b.FirstGood != c.DroppedGood || b.FirstMissing != c.DroppedMissing || b.Exact != c.Exact {
				t.Fatalf("%+v\nbackwards %+v", c, b)
			}
			total.add(c.Change)
		}
		if total.Exact = got.Total.Exact; total != got.Total || got.Total.sum() != f.Total() {
			t.Fatalf("%+v, want %+v", got.Total, total)
		}
		if got.Total.Net() != -back.Total.Net() {
			t.Fatal("the net is another one backwards")
		}
	})
}

// Counting a table's tracks first never gives more change than its sectors did, and where it says that it is exact, it is.
func TestCountsBoundSectors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFormat(t)
		before, after := drawSectorTable(t, f, "before"), drawSectorTable(t, f, "after")
		sectors, err := Compare(before, after)
		if err != nil {
			t.Fatal(err)
		}
		start := 0
		for i, c := range sectors.Tracks {
			n, _ := f.TrackAt(c.Cylinder, c.Head)
			least := leastChange(before.count(i, start, n), after.count(i, start, n))
			start += n
			if least.Exact && (least.Regained != c.Regained || least.NewlyLost != c.NewlyLost || least.StillMissing != c.StillMissing || least.StillGood != c.StillGood) {
				t.Fatalf("said to be exact: %+v\nis %+v", least, c.Change)
			}
			untried := c.FirstGood + c.FirstMissing + c.DroppedGood + c.DroppedMissing + c.NeverTried
			if untried == 0 && (least.Regained > c.Regained || least.NewlyLost > c.NewlyLost || least.StillMissing < c.StillMissing || least.Net() != c.Net()) {
				t.Fatalf("not the least: %+v\nis %+v", least, c.Change)
			}
		}
	})
}
