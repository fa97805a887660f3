package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

// inventedSlopes are disks that do not exist: one of each outcome, and two that end at one place.
func inventedSlopes() SlopesPlot {
	return SlopesPlot{Title: "seed-bank.csv: missing sectors before and after", Subtitle: "Invented disks",
		Methods: []SlopesMethod{{"isopropanol-91", []Slope{{"SB-1", 120, 40}, {"SB-2", 60, 41}, {"SB-3", 30, 55}}},
			{"water-detergent", []Slope{{"SB-4", 80, 80}}}}, Notes: []string{"These 4 disks cannot choose."}}
}

// manySlopes are so many invented disks, dealt to two methods; some start far above the others.
func manySlopes(n int, seed uint64) SlopesPlot {
	p := SlopesPlot{Title: "many", Methods: []SlopesMethod{{Name: "isopropanol-91, two passes over both faces of the disk"}, {Name: "water"}}}
	chance := rand.New(rand.NewPCG(seed, 0))
	for i := range n {
		before := int(math.Exp(3.5 + 1.1*chance.NormFloat64()))
		m := &p.Methods[i%2]
		m.Disks = append(m.Disks, Slope{fmt.Sprintf("SB-%04d", i), before, int(float64(before) * (0.3 + 0.8*chance.Float64()))})
	}
	return p
}

func TestSlopesPlotGolden(t *testing.T) {
	file := filepath.Join("testdata", "slopes.svg")
	got := inventedSlopes().SVG()
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

func TestSlopesPlotSaysWhatItShows(t *testing.T) {
	texts, classes := parsed(t, inventedSlopes().SVG())
	for _, want := range []string{"isopropanol-91", "2 better, 1 worse, 0 the same", "mean 70, then 45.3", "0 better, 0 worse, 1 the same",
		"before", "after", "SB-1", "SB-4", "missing sectors of a disk", "dashed, triangle: more", "dot: fewer missing", "These 4 disks cannot choose."} {
		if !strings.Contains(texts, want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
	// One path of strokes and one of marks for each outcome of each panel, and one of both in the key. One disk has no mean.
	for class, want := range map[string]int{"better slope": 2, "better mark": 2, "worse slope": 2, "worse mark": 2, "same slope": 2,
		"same mark": 2, "mean": 2, "halo": 1, "post": 4, "few": 2, "to": 4, "disk": 4} {
		if classes[class] != want {
			t.Errorf("%d elements of class %q, want %d", classes[class], class, want)
		}
	}
	if strings.Contains(texts, "square roots") {
		t.Error("an axis is bent that need not be")
	}
}

// Twenty disks all have their names, and of two hundred as many as there is room for; what got worse comes first.
func TestSlopesNames(t *testing.T) {
	for seed := range uint64(20) {
		if _, classes := parsed(t, manySlopes(20, seed).SVG()); classes["disk"] != 20 || classes["few"] != 2 {
			t.Errorf("seed %d: of 20 disks %d have names", seed, classes["disk"])
		}
		p := manySlopes(200, seed)
		_, classes := parsed(t, p.SVG())
		if classes["disk"] < 8 || classes["disk"] > 2*23 || classes["many"] != 2 {
			t.Errorf("seed %d: of 200 disks %d have names", seed, classes["disk"])
		}
		for _, m := range p.Methods {
			up := p.scale()
			up.high, up.low = 0, slopesHigh
			worst := slices.MaxFunc(m.Disks, func(a, b Slope) int { return a.change() - b.change() })
			if !slices.ContainsFunc(m.placed(up), func(l slopeLabel) bool { return l.disk == worst.Disk }) {
				t.Errorf("seed %d: %+v got worse most and has no name", seed, worst)
			}
		}
	}
}

// Whatever the number of disks, their names are apart and beside the panel.
func TestSlopesNamesStayBeside(t *testing.T) {
	for n := 2; n < 200; n += 7 {
		p := manySlopes(n, uint64(n))
		up := p.scale()
		up.high, up.low = 0, slopesHigh
		for _, m := range p.Methods {
			labels := m.placed(up)
			for i, l := range labels {
				if l.y < -1e-6 || l.y > slopesHigh+1e-6 || i > 0 && l.y-labels[i-1].y < labelHigh-1e-6 {
					t.Errorf("%d disks: name %d stands at %v", n, i, l.y)
				}
			}
		}
	}
}

// boxesOf is what is written in the picture, with its room by the widths that the layout reckons with.
func boxesOf(t *testing.T, svg []byte) (boxes []box, texts []string) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return boxes, texts
		}
		e, ok := tok.(xml.StartElement)
		if !ok || e.Name.Local != "text" {
			continue
		}
		at := map[string]string{}
		for _, a := range e.Attr {
			at[a.Name.Local] = a.Value
		}
		words, err := d.Token()
		if chars, ok := words.(xml.CharData); ok && err == nil && at["transform"] == "" {
			x, _ := strconv.ParseFloat(at["x"], 64)
			y, _ := strconv.ParseFloat(at["y"], 64)
			wide, high := glyph*float64(utf8.RuneCount(chars)), 12.0
			if at["class"] == "disk" {
				wide, high = labelGlyph*float64(utf8.RuneCount(chars)), 10
			}
			left := map[string]float64{"start": x, "middle": x - wide/2, "end": x - wide}[at["text-anchor"]]
			boxes, texts = append(boxes, box{left, y - high, left + wide, y + 2}), append(texts, string(chars))
		}
	}
}

// No text lies over another or over the edge, whatever the number of disks and methods.
func TestSlopesTextsKeepClear(t *testing.T) {
	plots := map[string]SlopesPlot{"invented": inventedSlopes()}
	for _, n := range []int{2, 20, 46, 48, 200, 2000} {
		plots[fmt.Sprint(n)] = manySlopes(n, uint64(n))
	}
	methods := SlopesPlot{Title: "24 methods"}
	for i := range 24 {
		m := manySlopes(20, uint64(i)).Methods[i%2]
		m.Name = strings.Repeat("pass after pass ", i)
		methods.Methods = append(methods.Methods, m)
	}
	plots["methods"] = methods
	for name, p := range plots {
		boxes, texts := boxesOf(t, p.SVG())
		if len(boxes) < 10 {
			t.Fatalf("%s: %d texts", name, len(boxes))
		}
		for i, a := range boxes {
			if a.left < 0 || a.right > sheetWide {
				t.Errorf("%s: %q leaves the page: %+v", name, texts[i], a)
			}
			for k, b := range boxes[:i] {
				if a.meets(b) {
					t.Errorf("%s: %q lies over %q", name, texts[i], texts[k])
				}
			}
		}
	}
}

// Names stand in the order of their ends, apart, inside the panel; and no nearer to their ends could they stand together.
func TestSpreadOut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ends := rapid.SliceOfN(rapid.Float64Range(0, slopesHigh), 1, 23).Draw(t, "ends")
		slices.Sort(ends)
		var labels []slopeLabel
		for _, y := range ends {
			labels = append(labels, slopeLabel{end: y, y: y})
		}
		spreadOut(labels, 0, slopesHigh)
		moved := 0.0
		for i, l := range labels {
			if l.y < -1e-6 || l.y > slopesHigh+1e-6 || i > 0 && l.y-labels[i-1].y < labelHigh-1e-6 {
				t.Fatalf("name %d of %v stands at %v", i, ends, l.y)
			}
			moved += math.Pow(l.y-l.end, 2)
		}
		// Least squares: no other arrangement that keeps apart moves less. Tried: each name, and all from it on, a bit up or down.
		for i := range labels {
			for _, last := range []int{i + 1, len(labels)} {
				for _, by := range []float64{-1, 1} {
					if other, ok := shifted(labels, i, last, by); ok && other < moved-1e-6 {
						t.Fatalf("names %d to %d of %v would better stand %v lower: %v, not %v", i, last, ends, by, other, moved)
					}
				}
			}
		}
	})
}

// shifted is the sum of squares when some names stand lower, if they can.
func shifted(labels []slopeLabel, from, to int, by float64) (moved float64, ok bool) {
	last := math.Inf(-1)
	for i, l := range labels {
		y := l.y
		if i >= from && i < to {
			y += by
		}
		if y < 0 || y > slopesHigh || y-last < labelHigh {
			return 0, false
		}
		moved, last = moved+math.Pow(y-l.end, 2), y
	}
	return moved, true
}

func TestSlopesScale(t *testing.T) {
	few := SlopesPlot{Methods: []SlopesMethod{{Disks: []Slope{{"a", 3, 0}, {"b", 2, 1}}}}}
	c := few.scale()
	c.low, c.high = 100, 0
	if got := c.ticks(); c.root || !slices.Equal(got, []float64{0, 1, 2, 3, 4}) && !slices.Equal(got, []float64{0, 1, 2, 3}) {
		t.Errorf("marks of up to 3 sectors: %v", got)
	}
	steep := SlopesPlot{Methods: []SlopesMethod{{Disks: []Slope{{"a", 1400, 900}, {"b", 20, 10}, {"c", 9, 30}, {"d", 5, 8}}}}}
	c = steep.scale()
	c.low, c.high = 320, 0
	ticks := c.ticks()
	if !c.root || ticks[0] != 0 || ticks[len(ticks)-1] < 1000 {
		t.Errorf("1400 beside 20: %+v %v", c, ticks)
	}
	// Square roots: a quarter of the most lies half-way up.
	if y := c.at(c.most / 4); math.Abs(y-160) > 1e-9 {
		t.Errorf("a quarter of the most lies at %v", y)
	}
	for i := 1; i < len(ticks); i++ {
		if c.at(ticks[i-1])-c.at(ticks[i]) < 22 {
			t.Errorf("the marks %v and %v touch", ticks[i-1], ticks[i])
		}
	}
}

// Any disks and any words give XML, and the same ones always the same.
func TestSlopesPlotOfAnything(t *testing.T) {
	count := rapid.OneOf(rapid.IntRange(-5, 3000), rapid.Int())
	rapid.Check(t, func(t *rapid.T) {
		disk := rapid.Custom(func(t *rapid.T) Slope {
			return Slope{rapid.String().Draw(t, "disk"), count.Draw(t, "before"), count.Draw(t, "after")}
		})
		p := SlopesPlot{Title: anyText().Draw(t, "title"), Subtitle: anyText().Draw(t, "subtitle"),
			Methods: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) SlopesMethod {
				return SlopesMethod{rapid.String().Draw(t, "name"), rapid.SliceOfN(disk, 0, 60).Draw(t, "disks")}
			}), 0, 9).Draw(t, "methods"), Notes: rapid.SliceOfN(anyText(), 0, 3).Draw(t, "notes")}
		svg := p.SVG()
		parsed(t, svg)
		if !utf8.Valid(svg) || !bytes.Equal(svg, p.SVG()) {
			t.Fatal("no text, or the same plot gives other bytes")
		}
	})
}
