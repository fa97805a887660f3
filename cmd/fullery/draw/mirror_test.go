package draw

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// inventedMirror is a disk of an invented box, with a band of trouble under head 0: still missing in its middle, regained
// at its edges, and a few newly lost elsewhere. The last cylinders were not tried.
func inventedMirror(cylinders, heads, sectors int, compared bool) Mirror {
	m := Mirror{Title: "slips-3.csv before, slips-3b.csv after", Subtitle: "an invented disk", Compared: compared, Heads: heads}
	for c := range cylinders {
		for h := range heads {
			t := MirrorTrack{Sectors: sectors}
			off := max(c-30, 30-c) // from the middle of the band
			switch {
			case c >= cylinders-3:
				t.Untried = sectors
			case h == 0 && off < 6:
				t.Still, t.Regained = sectors/(2+off), 1+off/2
			case c%17 == 3:
				t.Lost = 1 + h
			}
			if !compared {
				t.Still, t.Lost, t.Regained = t.Still+t.Lost+t.Regained, 0, 0
			}
			m.Tracks = append(m.Tracks, t)
		}
	}
	return m
}

// mirrors are the pictures that are kept, by name.
func mirrors() map[string]Mirror {
	few := Mirror{Title: "one sector", Compared: true, Heads: 2, Tracks: make([]MirrorTrack, 160), Notes: []string{"a note"}}
	for i := range few.Tracks {
		few.Tracks[i].Sectors = 36
	}
	few.Tracks[81].Lost = 1
	return map[string]Mirror{
		"mirror-compared": inventedMirror(80, 2, 18, true), "mirror-alone": inventedMirror(77, 1, 26, false),
		"mirror-forty": inventedMirror(40, 2, 9, true), "mirror-one-sector": few, "mirror-nothing": {Title: "no tracks"},
	}
}

func TestMirrorGolden(t *testing.T) {
	for name, m := range mirrors() {
		text := widths(func(w int) []Line { return m.Draw(w, 24, Blocks) })
		golden(t, name, text+"ascii:\n"+Text(m.Draw(80, 24, ASCII)))
	}
}

func TestMirrorSVGGolden(t *testing.T) {
	file := filepath.Join("testdata", "mirror.svg")
	got := inventedMirror(80, 2, 18, true).SVG()
	if *update {
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s has changed; look at the new one, and accept it with -update.", file)
	}
}

// TestMirrorScale: the scale ends at a whole track when a bar fills half of one, otherwise at the highest bar; single
// sectors never look like a lost track.
func TestMirrorScale(t *testing.T) {
	for _, x := range []struct {
		sectors, unread, per, want int
	}{
		{18, 0, 1, 4}, {18, 1, 1, 4}, {18, 7, 1, 7}, {18, 9, 1, 18}, {18, 18, 1, 18}, {18, 18, 2, 36}, {3, 1, 1, 3}, {1, 1, 1, 1}, {0, 0, 1, 1},
	} {
		m := Mirror{Heads: 1, Tracks: []MirrorTrack{{Sectors: x.sectors, Still: x.unread}, {Sectors: x.sectors}}}
		if got := m.top(x.per); got != x.want {
			t.Errorf("%d of %d sectors, %d cylinders a bar: the scale ends at %d, want %d", x.unread, x.sectors, x.per, got, x.want)
		}
	}
}

// TestMirrorStack: a cell is a share of the bar, rounded up, and what is there has one.
func TestMirrorStack(t *testing.T) {
	for _, x := range []struct {
		unit, rows int
		parts      [numParts]int
		want       string
	}{
		{2, 9, [numParts]int{0, 0, 0}, ""}, {2, 9, [numParts]int{1, 0, 0}, "█"}, {2, 9, [numParts]int{3, 0, 0}, "██"},
		{2, 9, [numParts]int{1, 1, 1}, "█▒□"}, {2, 9, [numParts]int{16, 1, 1}, "███████▒□"}, {2, 9, [numParts]int{0, 6, 4}, "▒▒▒□□"},
		{2, 9, [numParts]int{18, 0, 0}, "█████████"}, {6, 3, [numParts]int{0, 1, 17}, "▒□□"}, {1, 4, [numParts]int{2, 1, 1}, "██▒□"},
	} {
		g := mirrorGrid{strokes: mirrorStrokes[Blocks], unit: x.unit, rows: x.rows}
		got := ""
		for _, part := range g.stack(bar{parts: x.parts}) {
			got += string(g.parts[part])
		}
		if got != x.want {
			t.Errorf("%v, %d sectors a row: %q, want %q", x.parts, x.unit, got, x.want)
		}
	}
}

func TestEvery(t *testing.T) {
	for least, want := range map[int]int{1: 1, 2: 2, 3: 5, 5: 5, 6: 10, 10: 10, 11: 20, 114: 200} {
		if got := every(least); got != want {
			t.Errorf("every(%d) = %d, want %d", least, got, want)
		}
	}
}

// TestMirrorHeads: head 0 goes upwards and head 1 downwards.
func TestMirrorHeads(t *testing.T) {
	m := Mirror{Heads: 2, Tracks: []MirrorTrack{{Sectors: 9, Still: 4}, {Sectors: 9}, {Sectors: 9}, {Sectors: 9, Still: 4}}}
	for range 38 {
		m.Tracks = append(m.Tracks, MirrorTrack{Sectors: 9}, MirrorTrack{Sectors: 9})
	}
	text := Text(m.Draw(80, 24, ASCII))
	up, down, ok := strings.Cut(text, "0+")
	if !ok {
		t.Fatalf("no axis:\n%s", text)
	}
	if !strings.Contains(up, "|#") || strings.Contains(up, "|  #") {
		t.Errorf("head 0 lost cylinder 0 and not 1:\n%s", text)
	}
	// The bars of this width are one cell wide or two, so that a blank tells cylinder 0.
	if !strings.Contains(down, "| ") || strings.Contains(down, "|#") || strings.Count(down, "#") < 4 {
		t.Errorf("head 1 lost cylinder 1 and not 0:\n%s", text)
	}
}

// TestMirrorSaysWhatItShows: the file of marks tells the parts apart by look and words; what is not there is not drawn.
func TestMirrorSaysWhatItShows(t *testing.T) {
	m := inventedMirror(80, 2, 18, true)
	texts, classes := parsed(t, m.SVG())
	for _, want := range []string{"still missing 45", "regained 23", "newly lost 15", "not tried 108", "cylinder", "head 0, sectors not read", "head 1"} {
		if !strings.Contains(texts, want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
	for _, class := range []string{"still", "lost", "regained", "untried", "grid", "axis", "page"} {
		if classes[class] != 1 {
			t.Errorf("%d paths of class %s, want 1", classes[class], class)
		}
	}
	alone := inventedMirror(80, 2, 18, false)
	if texts, classes := parsed(t, alone.SVG()); classes["lost"]+classes["regained"] > 0 || !strings.Contains(texts, "not read 83") ||
		strings.Contains(texts, "regained 0") {
		t.Errorf("one table is drawn as a comparison: %v", classes)
	}
}

func anyMirror() *rapid.Generator[Mirror] {
	return rapid.Custom(func(t *rapid.T) Mirror {
		m := Mirror{Title: anyText().Draw(t, "title"), Subtitle: anyText().Draw(t, "subtitle"), Compared: rapid.Bool().Draw(t, "compared"),
			Heads: rapid.IntRange(-1, 3).Draw(t, "heads"), Notes: rapid.SliceOfN(anyText(), 0, 3).Draw(t, "notes")}
		count := rapid.OneOf(rapid.IntRange(0, 3), rapid.IntRange(-2, 60))
		for range rapid.OneOf(rapid.IntRange(0, 170), rapid.IntRange(0, 2046)).Draw(t, "tracks") {
			m.Tracks = append(m.Tracks, MirrorTrack{Sectors: 36})
		}
		for range min(len(m.Tracks), rapid.IntRange(0, 20).Draw(t, "hurt")) {
			at := rapid.IntRange(0, len(m.Tracks)-1).Draw(t, "at")
			m.Tracks[at] = MirrorTrack{count.Draw(t, "sectors"), count.Draw(t, "still"), count.Draw(t, "lost"), count.Draw(t, "regained"),
				count.Draw(t, "untried")}
		}
		return m
	})
}

// TestMirrorOfAnything: no line is wider than asked, every part that is there is seen, ASCII is ASCII, and the files are
// well-formed, of one size whatever the bars are, and the same twice.
func TestMirrorOfAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyMirror().Draw(t, "mirror")
		width := rapid.IntRange(-3, 200).Draw(t, "width")
		lines := m.Draw(width, rapid.IntRange(-5, 80).Draw(t, "height"), Blocks)
		narrow(t, lines, width)
		if width >= leastMirrorWidth {
			seen(t, m, lines)
		}
		for _, r := range Text(m.Draw(width, 24, ASCII)) {
			if r > '~' {
				t.Fatalf("%q in a picture of ASCII", r)
			}
		}
		svg := m.SVG()
		parsed(t, svg)
		if !bytes.Equal(svg, m.SVG()) {
			t.Fatal("the same picture gives other bytes")
		}
	})
}

// seen fails when a part that is there has no cell beside that of the legend.
func seen(t *rapid.T, m Mirror, lines []Line) {
	text := Text(lines)
	parts, untried := m.totals()
	for part, stroke := range mirrorStrokes[Blocks].parts {
		if parts[part] > 0 && m.Compared && strings.Count(text, string(stroke)) < 2 {
			t.Fatalf("%d sectors of part %d are not seen:\n%s", parts[part], part, text)
		}
	}
	if untried > 0 && strings.Count(text, "?") < 2 {
		t.Fatalf("what was not tried is not seen:\n%s", text)
	}
}
