package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fullery/cmd/fullery/draw"
	"fullery/disks/readback"
)

// putFile writes a small file.
func putFile(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// TestShareIsCut: hundred per cent means every sector, and something is never nothing.
func TestShareIsCut(t *testing.T) {
	for _, x := range []struct {
		good, missing int
		want          string
	}{{2880, 0, "100.0 %"}, {2879, 1, "99.9 %"}, {0, 2880, "0.0 %"}, {1, 2879, "under 0.1 %"}, {1440, 1440, "50.0 %"}, {29, 71, "29.0 %"}} {
		if got := shareWords(readback.Counts{Good: x.good, Missing: x.missing}); got != x.want {
			t.Errorf("%d good, %d missing: %s, want %s", x.good, x.missing, got, x.want)
		}
	}
}

func TestSplitReading(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range []string{"a.csv", "a.img", "x=y.csv", "p=q.img", "x", "y.csv=z", "y.csv", "z"} {
		putFile(t, name, "")
	}
	for _, x := range []struct{ arg, table, image, says string }{
		{"a.csv=a.img", "a.csv", "a.img", ""},
		{"a.csv", "a.csv", "", ""},
		{"x=y.csv=p=q.img", "x=y.csv", "p=q.img", ""},
		{"x=y.csv=z", "", "", "more than one way"}, // x and y.csv=z, or x=y.csv and z
		{"a.csv=b.img", "a.csv", "b.img", ""},      // the missing file is told later
		{"a.csv=", "", "", "table.csv=image.img"},
		{"=a.img", "", "", "table.csv=image.img"},
	} {
		table, image, err := splitReading(x.arg)
		if table != x.table || image != x.image || (err == nil) != (x.says == "") || err != nil && !strings.Contains(err.Error(), x.says) {
			t.Errorf("%s: %q, %q, %v", x.arg, table, image, err)
		}
	}
}

func TestJoinedIsKnown(t *testing.T) {
	t.Chdir(t.TempDir())
	for _, name := range []string{"d.img", "d.csv", "d.from.csv", "e.img"} {
		putFile(t, name, "")
	}
	if err := os.Symlink("d.img", "link.img"); err != nil {
		t.Skip(err)
	}
	for name, want := range map[string]string{"d.img": "d.from.csv", "d.csv": "d.from.csv", "link.img": "d.from.csv", "e.img": "", "none.img": ""} {
		if got := provenanceBeside(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

// wholeRows makes a table by sector of a format in which every sector is good, but so many at its end have no row.
func wholeRows(f readback.Format, less int) string {
	var b strings.Builder
	b.WriteString("cylinder,head,sector,state\n")
	for lba := range f.Total() - less {
		a, _ := f.At(lba)
		fmt.Fprintf(&b, "%d,%d,%d,good\n", a.Cylinder, a.Head, a.Sector)
	}
	return b.String()
}

func TestGuessFormat(t *testing.T) {
	parse := func(text string) readback.Format {
		f, err := readback.Parse(text)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	hd, dd := parse("80x2x18x512"), parse("80x2x9x512")
	for _, x := range []struct {
		name, rows string
		size       int64
		want       string // of the formats that fit, parted by semicolons
	}{
		{"whole", wholeRows(hd, 0), 0, "90 mm 80x2x18x512"},
		{"whole, of two sizes of cartridge", wholeRows(dd, 0), 0, "80x2x9x512"},
		{"bytes cannot be seen in a table", wholeRows(parse("77x1x15x256"), 0), 0, "200 mm 77x1x15x256"},
		{"partly, with its image", wholeRows(hd, 1000), 1474560, "90 mm 80x2x18x512"},
		{"an image of another", wholeRows(hd, 0), 737280, ""},
		{"one row and no image", "cylinder,head,sector,state\n0,0,36,bad\n", 0, "90 mm 80x2x36x512"},
		{"first track", wholeRows(parse("77x2x26x256, first track 26x128"), 0), 1021696, ""},
	} {
		g, err := guessFormat("t.csv", []byte(x.rows), x.size)
		if x.name == "first track" {
			// Its image has 128 x 26 bytes less than 77x2x26x256: no other named format has that size.
			f := parse("77x2x26x256, first track 26x128")
			g, err = guessFormat("t.csv", []byte(x.rows), int64(f.Size()))
			x.want = f.String()
		}
		var got []string
		for _, f := range g.fit {
			got = append(got, f.String())
		}
		if err != nil || strings.Join(got, "; ") != x.want {
			t.Errorf("%s: %q, %v, want %q", x.name, got, err, x.want)
		}
		if (g.table != nil) != (len(g.fit) == 1) || len(g.fit) == 0 && g.wrong == nil {
			t.Errorf("%s: %d fit, table %v, wrong %v", x.name, len(g.fit), g.table, g.wrong)
		}
	}
	if _, err := guessFormat("t.csv", []byte(wholeRows(hd, 0)), 12345); statusOf(err) != statusNo {
		t.Errorf("no format has 12345 bytes: %v", err)
	}
	if g, _ := guessFormat("t.csv", []byte("cylinder,head,sector,state\n0,0,1,good\n"), 0); g.table != nil || len(g.fit) < 10 ||
		statusOf(g.ambiguous("t.csv")) != statusUsage {
		t.Errorf("a single row fits %d formats", len(g.fit))
	}
}

// tableOfStates makes a table of a disk of one track, by the first letters of its states.
func tableOfStates(t *testing.T, states string) *readback.Table {
	t.Helper()
	f := readback.Format{Cylinders: 1, Heads: 1, Sectors: len(states), Bytes: 128}
	table, err := readback.NewTable(f)
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[rune]readback.State{'g': readback.Good, 'b': readback.Bad, 'm': readback.Missing, 'u': readback.Untried}
	for i, r := range states {
		if err := table.Set(readback.Address{Sector: i + 1}, kinds[r]); err != nil {
			t.Fatal(err)
		}
	}
	return table
}

// TestMapOfEveryChange: each of the nine changes is drawn in its part, and what bars cannot show is said.
func TestMapOfEveryChange(t *testing.T) {
	before, after := tableOfStates(t, "gbuggbmuu"), tableOfStates(t, "ggbbuuuug")
	change, err := readback.Compare(before, after)
	if err != nil {
		t.Fatal(err)
	}
	m := &diskMap{format: before.Format(), paths: []string{"a.csv", "b.csv"}, tables: []*readback.Table{before, after}, change: change}
	p := m.mirror()
	// Regained: the second. Newly lost: the fourth. Not read at the first try: the third. Not tried after: the fifth to eighth.
	want := draw.MirrorTrack{Sectors: 9, Still: 1, Lost: 1, Regained: 1, Untried: 4}
	if len(p.Tracks) != 1 || p.Tracks[0] != want || !p.Compared {
		t.Errorf("%+v, want %+v", p.Tracks, want)
	}
	said := strings.Join(p.Notes, "\n")
	for _, want := range []string{"1 sector not tried before and not read after", "1 sector not tried before and read after",
		"1 sector read before and not tried after", "2 sectors not read before and not tried after"} {
		if !strings.Contains(said, want) {
			t.Errorf("nothing says %q:\n%s", want, said)
		}
	}
	if strings.Contains(said, "Counts by track") {
		t.Errorf("the change is exact: %s", said)
	}
	alone := (&diskMap{format: after.Format(), paths: []string{"b.csv"}, tables: []*readback.Table{after}}).mirror()
	if want := (draw.MirrorTrack{Sectors: 9, Still: 2, Untried: 4}); alone.Tracks[0] != want || alone.Compared {
		t.Errorf("alone: %+v, want %+v", alone.Tracks, want)
	}
}

func TestSaysUTF8(t *testing.T) {
	for _, x := range []struct {
		env  map[string]string
		want bool
	}{
		{nil, false}, {map[string]string{"LANG": "en_GB.UTF-8"}, true}, {map[string]string{"LANG": "C.utf8"}, true},
		{map[string]string{"LANG": "en_GB.UTF-8", "LC_ALL": "C"}, false}, {map[string]string{"LC_CTYPE": "C.UTF-8", "LANG": "C"}, true},
	} {
		if got := saysUTF8(func(name string) string { return x.env[name] }); got != x.want {
			t.Errorf("%v: %t", x.env, got)
		}
	}
}

// TestSumLines: names are from the folder of the sums, and one that would break a line is escaped.
func TestSumLines(t *testing.T) {
	x := &joining{outs: joinedFiles{sums: filepath.Join("out", "d.sha256")}}
	var b bytes.Buffer
	for _, path := range []string{"a.csv", filepath.Join("out", "d.img"), "new\nline.csv"} {
		x.sumLine(&b, fileSum{path, "00ff"})
	}
	if want := "00ff  ../a.csv\n00ff  d.img\n\\00ff  ../new\\nline.csv\n"; b.String() != want {
		t.Errorf("got %q, want %q", b.String(), want)
	}
}

func TestJoinOuts(t *testing.T) {
	for name, good := range map[string]bool{"d.img": true, "d": true, "d.bin": true, "d.csv": false, "d.CSV": false, "d.sha256": false,
		".img": false, "": false, "no-folder/d.img": false, "d/": false} {
		o, err := joinOuts(name)
		if (err == nil) != good {
			t.Errorf("--out %q: %v", name, err)
		}
		if err != nil {
			continue
		}
		if all := o.all(); all[len(all)-1] != name || len(all) != 4 {
			t.Errorf("--out %q: %q; the image comes last", name, all)
		}
	}
}
