package draw

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// inventedWiring is a small board that does not exist, with every kind of wire, a group on both sides, and a wire to no pin.
func inventedWiring() WiringPlot {
	p := WiringPlot{Title: "Bench in the potting shed: wiring", Subtitle: strings.Repeat("All of this is invented. ", 7), Board: "header",
		Wires: []WiringWire{{2, "Liquid", "pump", "on at high, R to ground", "load"}, {3, "Air", "fan", "on at low, R to 3.3 V", "load"},
			{5, "Liquid", "rinse-float", "low when closed", "read"}, {0, "Bus", "main data", "bus main", "data"},
			{4, "Liquid", "tray-float", "low when closed", "read"}, {99, "Air", "nowhere", "", "load"}, {-1, "Air", "nowhere", "", "load"}},
		Chips: []WiringChip{{"On bus main at 0x48, ads1115", "pad-front (channel 0), vapour (channel 2)", false},
			{"On bus main at 0x40, pca9685", "heater (channel 1)", true}},
		Notes: []string{"Compare the pins with the manual before you solder."}}
	for i := range 8 {
		p.Pins = append(p.Pins, WiringPin{Number: fmt.Sprint(i + 1), Carries: fmt.Sprint("L", i)})
	}
	return p
}

func TestWiringPlotGolden(t *testing.T) {
	file := filepath.Join("testdata", "wiring.svg")
	got := inventedWiring().SVG()
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
		t.Errorf("%s has changed; look at the new one, and accept it with -update.\n%s", file, got)
	}
}

func TestWiringPlotSaysWhatItShows(t *testing.T) {
	texts, classes := parsed(t, inventedWiring().SVG())
	for _, want := range []string{"wiring", "header", "L7", "pump", "on at high, R to ground", "switches a load", "is read", "carries data",
		"On bus main at 0x48, ads1115: pad-front (channel 0), vapour (channel 2)", "heater (channel 1); switches loads", "Compare the pins"} {
		if !strings.Contains(strings.Join(strings.Fields(texts), " "), want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
	// A wire and its end each, and one of both in the key; a wire to no pin is left out. Liquid has a box on either side.
	for class, want := range map[string]int{"load": 3, "loadend": 3, "read": 3, "readend": 3, "data": 2, "dataend": 2, "used": 5, "pin": 3, "box": 5} {
		if classes[class] != want {
			t.Errorf("%d elements of class %s, want %d", classes[class], class, want)
		}
	}
	if strings.Contains(texts, "nowhere") {
		t.Error("a wire to no pin is drawn")
	}
}

// Boxes stand below each other without touching, their wires in the order of the pins, and nothing lies below the page.
func TestWiringBoxesKeepClear(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawnWiring(t)
		for side := range 2 {
			boxes := p.side(side, 100)
			for i, b := range boxes {
				if i > 0 && b.y < boxes[i-1].y+boxes[i-1].high()+10 || b.y < 92 {
					t.Fatalf("box %d of side %d is at %v: %+v", i, side, b.y, boxes)
				}
				for k, w := range b.wires {
					if w.Pin%2 != side || k > 0 && w.Pin < b.wires[k-1].Pin {
						t.Fatalf("pin %d in box %+v of side %d", w.Pin, b, side)
					}
				}
			}
		}
	})
}

// Any pins and any words give XML, and the same ones always the same.
func TestWiringPlotOfAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawnWiring(t)
		svg := p.SVG()
		parsed(t, svg)
		if !utf8.Valid(svg) || !bytes.Equal(svg, p.SVG()) {
			t.Fatal("no text, or the same plot gives other bytes")
		}
	})
}

func drawnWiring(t *rapid.T) WiringPlot {
	words := rapid.StringN(0, 30, -1)
	return WiringPlot{Title: words.Draw(t, "title"), Subtitle: rapid.String().Draw(t, "subtitle"), Board: words.Draw(t, "board"),
		Pins: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) WiringPin {
			return WiringPin{words.Draw(t, "number"), words.Draw(t, "carries")}
		}), 0, 41).Draw(t, "pins"),
		Wires: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) WiringWire {
			return WiringWire{rapid.IntRange(-1, 42).Draw(t, "pin"), rapid.SampledFrom([]string{"A", "B", "C", ""}).Draw(t, "group"),
				words.Draw(t, "role"), words.Draw(t, "about"), rapid.SampledFrom([]string{"load", "read", "data", `"x`}).Draw(t, "class")}
		}), 0, 20).Draw(t, "wires"),
		Chips: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) WiringChip {
			return WiringChip{words.Draw(t, "name"), rapid.String().Draw(t, "parts"), rapid.Bool().Draw(t, "loads")}
		}), 0, 5).Draw(t, "chips"),
		Notes: rapid.SliceOfN(rapid.String(), 0, 3).Draw(t, "notes")}
}
