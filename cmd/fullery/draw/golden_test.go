package draw

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "write the golden drawings anew")

// golden compares a drawing with testdata/name.txt.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s has changed.\ngot:\n%s\nwant:\n%s", file, got, want)
	}
}

const minute = time.Minute

// twoPasses is the plan of a recipe in two passes with a long drying.
func twoPasses() (stages []Stage) {
	for range 2 {
		stages = append(stages, Stage{"wet", 45 * time.Second}, Stage{"soak", minute}, Stage{"scrub", 90 * time.Second},
			Stage{"rinse", 30 * time.Second}, Stage{"spin-out", 30 * time.Second})
	}
	return append(stages, Stage{"dry", 45 * minute})
}

// asPlanned is what went by when the first n stages went as planned.
func asPlanned(stages []Stage, n int) (actual []Stretch) {
	for i, s := range stages[:n] {
		actual = append(actual, Stretch{Stage: i, Length: s.Planned})
	}
	return actual
}

func ribbons() map[string]Ribbon {
	stages := twoPasses()
	midDry := append(asPlanned(stages, 10), Stretch{Stage: 10, Length: 20 * minute})
	heldInScrub := append(asPlanned(stages, 2), Stretch{2, 30 * time.Second, false}, Stretch{2, 4 * minute, true})
	late := append(asPlanned(stages, 10), Stretch{Stage: 10, Length: 61 * minute})
	return map[string]Ribbon{
		"ribbon-begins":     {stages, []Stretch{{Stage: 0, Length: 5 * time.Second}}, 0},
		"ribbon-dries":      {stages, midDry, 10},
		"ribbon-held":       {stages, heldInScrub, 2},
		"ribbon-late":       {stages, late, 10},
		"ribbon-ended":      {stages, late, -1},
		"ribbon-one-stage":  {[]Stage{{"dry", 15 * minute}}, []Stretch{{0, 7 * minute, false}}, 0},
		"ribbon-not-begun":  {stages, nil, -1},
		"ribbon-few-second": {[]Stage{{"wet", 30 * time.Second}, {"scrub", 90 * time.Second}}, nil, 0},
	}
}

func TestRibbonGolden(t *testing.T) {
	for name, r := range ribbons() {
		golden(t, name, widths(func(w int) []Line { return r.Draw(w) }))
	}
}

func TestPadsGolden(t *testing.T) {
	for name, p := range map[string]Pads{
		"pads-even":      {2010, 1990, 1500, 2500, 0.15},
		"pads-light":     {1200, 2000, 1500, 2500, 0.15},
		"pads-heavy":     {2000, 9000, 1500, 2500, 0.15},
		"pads-unknown":   {math.NaN(), 2000, 1500, 2500, 0.15},
		"pads-no-window": {2000, 2000, 0, 0, 0},
	} {
		golden(t, name, widths(p.Draw))
	}
}

// fading is a depression that comes up, stays and fades, one point a minute.
func fading(minutes int) (points []Point) {
	for i := range minutes {
		t := float64(i)
		k := 5.3 * (1 - math.Exp(-t/2)) / (1 + math.Exp((t-40)/4))
		points = append(points, Point{time.Duration(i) * minute, k})
	}
	return points
}

func TestCurveGolden(t *testing.T) {
	for name, c := range map[string]Curve{
		"curve-half-way": {fading(25), "K", 0.5, 45 * minute, Interval{38 * minute, 48 * minute, 61 * minute}},
		"curve-dry":      {fading(56), "K", 0.5, 45 * minute, Interval{55 * minute, 56 * minute, 57 * minute}},
		"curve-no-claim": {fading(20), "mg", 0, 45 * minute, Interval{}},
		"curve-empty":    {nil, "", 0.5, 15 * minute, Interval{}},
	} {
		golden(t, name, widths(func(w int) []Line { return c.Draw(w, 9) }))
	}
}

// widths draws at the three widths that people have.
func widths(draw func(width int) []Line) string {
	var b strings.Builder
	for _, w := range []int{40, 80, 120} {
		fmt.Fprintf(&b, "%d:\n%s", w, Text(draw(w)))
	}
	return b.String()
}
