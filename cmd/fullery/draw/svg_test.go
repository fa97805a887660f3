package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// invented is a plot of invented figures that has everything in it.
func invented() DryingPlot {
	return DryingPlot{Title: "Isopropanol 91 %, bench cellar: computed drying", Subtitle: "2 mL kept, air 21 °C at 50 %",
		Minutes: []float64{0, 1, 2, 4, 8, 12, 18}, Left: []float64{1.6, 1.2, 0.9, 0.4, 0.2, 0.1, 0.016},
		Water: []float64{0.1, 0.14, 0.17, 0.19, 0.16, 0.08, 0.01}, Liner: []float64{21, 13, 11, 12, 15, 18, 20.5}, Air: 21,
		Dry: 18, Low: 13, High: 25}
}

func TestDryingPlotGolden(t *testing.T) {
	file := filepath.Join("testdata", "drying.svg")
	got := invented().SVG()
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

// parsed reads the picture as XML and returns its texts and how often each class is used.
func parsed(t interface {
	Helper()
	Fatalf(string, ...any)
}, svg []byte) (texts string, classes map[string]int) {
	t.Helper()
	classes = map[string]int{}
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return texts, classes
		}
		if err != nil {
			t.Fatalf("not XML: %v\n%s", err, svg)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			for _, a := range tok.Attr {
				if a.Name.Local == "class" {
					classes[a.Value]++
				}
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Fatalf("%s has %s=%q", tok.Name.Local, a.Name.Local, a.Value)
				}
			}
		case xml.CharData:
			texts += string(tok)
		}
	}
}

func TestDryingPlotSaysWhatItShows(t *testing.T) {
	texts, classes := parsed(t, invented().SVG())
	for _, want := range []string{"liquid left / g", "temperature / °C", "time of drying / min", "dry after 18 min",
		"80 %: 13 to 25 min", "dotted: the water in it", "liner, coldest 11 °C", "air at the liner 21 °C"} {
		if !strings.Contains(texts, want) {
			t.Errorf("the picture does not say %q", want)
		}
	}
	for _, class := range []string{"left", "water", "heat", "air", "band", "dry"} {
		if classes[class] != 1 {
			t.Errorf("%d elements of class %s, want 1", classes[class], class)
		}
	}
	sure := invented()
	sure.Low = 0
	if texts, classes := parsed(t, sure.SVG()); classes["band"] > 0 || strings.Contains(texts, "80 %:") {
		t.Errorf("an interval that is not known is drawn: %s", texts)
	}
	never := invented()
	never.Dry, never.Low, never.High, never.Water = 0, 0, 0, nil
	texts, classes = parsed(t, never.SVG())
	if strings.Contains(texts, "dry after") || classes["band"]+classes["dry"]+classes["water"] > 0 {
		t.Errorf("a drying that never ends is drawn as if it did: %s", texts)
	}
}

func TestGapsAreGaps(t *testing.T) {
	p := invented()
	p.Left[3] = math.NaN()
	if svg := string(p.SVG()); strings.Count(between(svg, `class="left" d="`, `"`), "M") != 2 {
		t.Errorf("a figure that is missing is joined over: %s", between(svg, `class="left" d="`, `"`))
	}
}

func between(text, from, to string) string {
	_, after, _ := strings.Cut(text, from)
	out, _, _ := strings.Cut(after, to)
	return out
}

func TestTitlesAreText(t *testing.T) {
	p := invented()
	p.Title = "a <b> & \"c\" \x00\x1b[31m\u202e\xff</svg><script>"
	texts, _ := parsed(t, p.SVG())
	if !strings.Contains(texts, `a <b> & "c" [31m</svg><script>`) {
		t.Errorf("the title reads %q", texts)
	}
	if bytes.Contains(p.SVG(), []byte("<script")) {
		t.Error("a title became a mark")
	}
}

func TestTicks(t *testing.T) {
	for _, x := range []struct {
		from, to, marks float64
		want            int
	}{{0, 60, 9, 7}, {0, 18.7, 9, 4}, {0, 2, 8, 5}, {10, 22, 6, 7}, {0, 1e-3, 8, 6}, {0, 10483, 9, 6}} {
		a := axis{from: x.from, to: x.to, low: 0, high: 100, marks: x.marks}
		if got := a.ticks(); len(got) != x.want {
			t.Errorf("%v to %v: %v, want %d", x.from, x.to, got, x.want)
		}
	}
	for v, want := range map[float64]string{0: "0", 0.05: "0.05", 21: "21", -3.25: "−3.25", 2000: "2000", 13.66: "13.7"} {
		if got := round3(v); got != want {
			t.Errorf("round3(%v) = %s, want %s", v, got, want)
		}
	}
	for v, want := range map[float64]string{5.34: "5.3", 9.96: "10", 41.4: "41"} {
		if got := whole(v); got != want {
			t.Errorf("whole(%v) = %s, want %s", v, got, want)
		}
	}
}

// TestDryingPlotOfAnything: any figures and any words give XML without a number that is none, and every point of every
// curve lies inside the page.
func TestDryingPlotOfAnything(t *testing.T) {
	any := rapid.OneOf(rapid.Float64Range(-50, 200), rapid.Float64(), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1)}))
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(any, 0, 12)
		p := DryingPlot{Title: rapid.String().Draw(t, "title"), Subtitle: rapid.String().Draw(t, "subtitle"),
			Minutes: list.Draw(t, "minutes"), Left: list.Draw(t, "left"), Water: list.Draw(t, "water"),
			Liner: list.Draw(t, "liner"), Air: any.Draw(t, "air"), Dry: any.Draw(t, "dry"), Low: any.Draw(t, "low"),
			High: any.Draw(t, "high")}
		svg := p.SVG()
		parsed(t, svg)
		if len(svg) > 40e3 {
			t.Fatalf("%d bytes", len(svg))
		}
		if !bytes.Equal(svg, p.SVG()) {
			t.Fatal("the same plot gives other bytes")
		}
	})
}
