package draw

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// inventedVapour is a plot of invented figures that has everything in it: a duct above its figures, a room that crosses one,
// a stage too short for its name and one too short for its number.
func inventedVapour() VapourPlot {
	return VapourPlot{Title: "Isopropanol 99 %, bench cellar: computed vapour", Subtitle: strings.Repeat("All figures are invented. ", 6),
		Duct: VapourPanel{Head: "Duct: at most 31 % of the lower flammable limit", Unit: "% of the limit", Across: "time of the cycle / min",
			Minutes: []float64{0, 0.5, 0.5, 2, 2, 2.2, 2.2, 6, 9, 20}, Values: []float64{22, 14, 31, 12, 24, 20, 26, 11, 2, 0},
			Levels: []Level{{10, "10 %: worth a warning"}, {25, "25 %: where to stop"}}, Least: 27},
		Room: VapourPanel{Head: "Room: one cycle makes at most 520 ppm", Unit: "ppm", Across: "time of the cycle and the hour after / min",
			Minutes: []float64{0, 3, 8, 20, 40, 80}, Values: []float64{0, 250, 520, 440, 300, 140},
			Levels: []Level{{400, "400 ppm: a figure for the working day"}, {500, "500 ppm: a figure for 15 minutes"},
				{2000, "2000 ppm: a figure for no time"}}, Least: 520},
		Stages: []VapourStage{{"Wet, pass 1", 0.5}, {"Scrub, pass 1", 1.5}, {"Spin-out, pass 1", 0.1}, {"Soak, pass 1", 0.1}, {"Dry", 17.8}},
		Cycle:  20}
}

func TestVapourPlotGolden(t *testing.T) {
	file := filepath.Join("testdata", "vapour.svg")
	got := inventedVapour().SVG()
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

func TestVapourPlotSaysWhatItShows(t *testing.T) {
	texts, classes := parsed(t, inventedVapour().SVG())
	for _, want := range []string{"computed vapour", "Duct: at most 31 %", "% of the limit", "time of the cycle / min", "10 %: worth a warning",
		"25 %: where to stop", "Room: one cycle", "ppm", "and the hour after / min", "400 ppm: a figure for the working day",
		"500 ppm: a figure for 15 minutes", "the cycle ends", "Above the picture: 2000 ppm: a figure for no time",
		"Stages: 1 Wet, pass 1; 2 Scrub, pass 1; 3 Spin-out, pass 1; 4 Soak, pass 1;", "5 Dry"} {
		if !strings.Contains(strings.Join(strings.Fields(texts), " "), want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
	for class, want := range map[string]int{"calm": 2, "over": 2, "top": 2, "level": 4, "ends": 1, "stage": 3, "other": 2} {
		if classes[class] != want {
			t.Errorf("%d elements of class %s, want %d", classes[class], class, want)
		}
	}
	low := inventedVapour()
	low.Duct.Values = []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9.9}
	low.Room.Levels[2].Value, low.Room.Levels[1].Value, low.Stages = 450, 420, nil
	texts, classes = parsed(t, low.SVG())
	if classes["over"] != 1 || classes["level"] != 5 || strings.Contains(texts, "Above the picture") || strings.Contains(texts, "Stages:") {
		t.Errorf("%v, %s", classes, texts)
	}
}

// Where the curve leaps, both of its values are drawn at that time.
func TestVapourLeaps(t *testing.T) {
	path := between(string(inventedVapour().SVG()), `class="calm" d="`, `"`)
	if n := strings.Count(path, "L"); n != 9 || strings.Count(path, "M") != 1 {
		t.Errorf("%d lines: %s", n, path)
	}
	if !strings.Contains(path, "L100.1 ") || strings.Count(path, "100.1 ") != 2 {
		t.Errorf("no leap after half a minute: %s", path)
	}
}

func TestLabelsKeepClear(t *testing.T) {
	panel := VapourPanel{Minutes: []float64{0, 10, 20}, Values: []float64{0, 10, 0}}
	time, up := axis{from: 0, to: 20, low: plotLeft, high: plotRight, marks: 9}, axis{from: 0, to: 12, low: 300, high: 100, marks: 6}
	f := placer{time: time, up: up, xs: panel.Minutes, ys: panel.Values}
	middle := spot{time.at(10) - 20, up.at(10) + 4, "start"}
	if !f.crossed(middle.box("at the top")) || f.crossed(spot{plotLeft + 8, 120, "start"}.box("far away")) {
		t.Error("what the curve crosses is not told from what it does not")
	}
	s := &sheet{}
	s.place(&f, "first", []spot{middle, {plotLeft + 8, 120, "start"}})
	s.place(&f, "second", []spot{{plotLeft + 8, 118, "start"}, {plotRight - 8, 120, "end"}})
	s.place(&f, "third", []spot{middle, {plotRight - 8, 121, "end"}})
	s.place(&f, "fourth", []spot{middle, {plotRight + 50, 121, "end"}})
	for words, at := range map[string]string{"first": `x="92" y="120"`, "second": `x="720" y="120"`, "third": `x="386" y="137.3"`} {
		if !strings.Contains(s.b.String(), at+` text-anchor="`) || !strings.Contains(s.b.String(), words) {
			t.Errorf("%s is not at %s: %s", words, at, s.b.String())
		}
	}
	if strings.Contains(s.b.String(), "fourth") || len(f.taken) != 3 {
		t.Errorf("a text stands on another or outside: %s", s.b.String())
	}
}

func TestFold(t *testing.T) {
	for _, x := range []struct {
		text string
		want []string
	}{{"", nil}, {"  ", nil}, {"one two three", []string{"one two", "three"}}, {"seven77 b", []string{"seven77", "b"}},
		{"a-very-long-word x", []string{"a-very-long-word", "x"}}, {"a\u00a0b cd efg", []string{"a\u00a0b cd", "efg"}}} {
		if got := fold(x.text, 7); !slices.Equal(got, x.want) {
			t.Errorf("%q: %q, want %q", x.text, got, x.want)
		}
	}
}

// Any figures and any words give XML without a number that is none.
func TestVapourPlotOfAnything(t *testing.T) {
	any := rapid.OneOf(rapid.Float64Range(-50, 3000), rapid.Float64(), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1)}))
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(any, 0, 12)
		panel := rapid.Custom(func(t *rapid.T) VapourPanel {
			return VapourPanel{Head: rapid.String().Draw(t, "head"), Unit: rapid.String().Draw(t, "unit"), Across: rapid.String().Draw(t, "across"),
				Minutes: list.Draw(t, "minutes"), Values: list.Draw(t, "values"), Least: any.Draw(t, "least"),
				Levels: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Level {
					return Level{any.Draw(t, "value"), rapid.StringN(0, 40, -1).Draw(t, "words")}
				}), 0, 5).Draw(t, "levels")}
		})
		p := VapourPlot{Title: rapid.String().Draw(t, "title"), Subtitle: rapid.String().Draw(t, "subtitle"), Duct: panel.Draw(t, "duct"),
			Room: panel.Draw(t, "room"), Cycle: any.Draw(t, "cycle"), Stages: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) VapourStage {
				return VapourStage{rapid.String().Draw(t, "name"), any.Draw(t, "minutes")}
			}), 0, 9).Draw(t, "stages")}
		svg := p.SVG()
		parsed(t, svg)
		if !utf8.Valid(svg) || !bytes.Equal(svg, p.SVG()) {
			t.Fatal("no text, or the same plot gives other bytes")
		}
	})
}
