package draw

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"strings"
	"testing"
)

// decoded draws a mirror as dots and reads it again.
func decoded(t *testing.T, m Mirror) image.Image {
	t.Helper()
	data, err := m.PNG()
	if err != nil {
		t.Fatal(err)
	}
	again, err := m.PNG()
	if err != nil || !bytes.Equal(data, again) {
		t.Fatal("the same picture gives other bytes", err)
	}
	picture, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return picture
}

// TestMirrorDots: in a bar that is split in three the lowest part is full, the middle one hatched, the upper one hollow,
// each in its colour, and where the file of marks has them.
func TestMirrorDots(t *testing.T) {
	m := Mirror{Heads: 1, Compared: true, Tracks: []MirrorTrack{{Sectors: 9, Still: 3, Lost: 3, Regained: 3}}}
	picture := decoded(t, m)
	found := map[class]int{}
	for _, s := range m.page().shapes {
		if s.class != classStill && s.class != classLost && s.class != classRegained || s.w < 2*mirrorSwatch {
			continue
		}
		ink, total := 0, 0
		for y := inDots(s.y); y < inDots(s.y+s.h); y++ {
			for x := inDots(s.x); x < inDots(s.x+s.w); x++ {
				if total++; same(picture.At(x, y), inks[s.class]) {
					ink++
				}
			}
		}
		found[s.class] = 100 * ink / total
	}
	if found[classStill] < 98 || found[classLost] < 40 || found[classLost] > 60 || found[classRegained] < 1 || found[classRegained] > 10 {
		t.Errorf("per cent of ink in still, lost, regained: %d, %d, %d; want all but the mark of the axis, about 50, an outline", found[classStill], found[classLost],
			found[classRegained])
	}
}

func same(a, b color.Color) bool {
	r1, g1, b1, a1 := a.RGBA()
	r2, g2, b2, a2 := b.RGBA()
	return r1 == r2 && g1 == g2 && b1 == b2 && a1 == a2
}

// TestMirrorDotsOfAnything: any picture is drawn, as large as its page.
func TestMirrorDotsOfAnything(t *testing.T) {
	for seed := range 12 { // each is a picture of a million dots, twice
		m := anyMirror().Example(seed)
		size := decoded(t, m).Bounds().Size()
		if size.X != density*pageWidth || size.Y != inDots(m.page().high) || size.Y > 4000 {
			t.Errorf("seed %d: %v dots", seed, size)
		}
	}
}

// TestLettering: every line of the table is a letter with rows that fit its cell, no two letters look alike but the two
// dashes, and all of ASCII is there.
func TestLettering(t *testing.T) {
	looks := map[string]rune{}
	lines := strings.Split(strings.Trim(lettering, "\n"), "\n")
	if len(letters()) != len(lines)+1 {
		t.Errorf("%d letters from %d lines and a blank: one is there twice", len(letters()), len(lines))
	}
	for letter, rows := range letters() {
		if letter == ' ' {
			continue
		}
		if len(rows) < 3 || len(rows) > letterBase+2 {
			t.Errorf("%c has %d rows", letter, len(rows))
		}
		ink := false
		for _, bits := range rows {
			ink = ink || bits != 0
			if bits >= 1<<letterWide {
				t.Errorf("%c is wider than its cell", letter)
			}
		}
		if !ink {
			t.Errorf("%c has no dots", letter)
		}
		dashes := strings.ContainsRune("-–−", letter)
		if before, ok := looks[string(rows)]; ok && !dashes {
			t.Errorf("%c and %c look alike", letter, before)
		}
		looks[string(rows)] = letter
	}
	for letter := '!'; letter <= '~'; letter++ {
		if _, ok := letters()[letter]; !ok {
			t.Errorf("there is no %c", letter)
		}
	}
	if got := letterOf('世'); !bytes.Equal(got, unknownLetter) {
		t.Errorf("a letter that is not there has the look %x", got)
	}
}

// TestLetteringReads: two letters as dots, so that rows and bits are the right way round.
func TestLetteringReads(t *testing.T) {
	for letter, want := range map[rune]string{
		'L': "#....|#....|#....|#....|#....|#....|#####",
		'7': "#####|....#|...#.|..#..|..#..|.#...|.#...",
	} {
		var rows []string
		for _, bits := range letterOf(letter) {
			row := ""
			for column := range letterWide {
				row += string(".#"[bits>>(letterWide-1-column)&1])
			}
			rows = append(rows, row)
		}
		if got := strings.Join(rows, "|"); got != want {
			t.Errorf("%c is %s, want %s", letter, got, want)
		}
	}
}
