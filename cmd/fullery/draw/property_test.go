package draw

import (
	"math"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"
)

// anyNumber draws numbers of every kind, those that are none included.
func anyNumber() *rapid.Generator[float64] {
	return rapid.OneOf(rapid.Float64(), rapid.Float64Range(-1e4, 1e4),
		rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, math.MaxFloat64, 5e-324}))
}

// anySpan draws lengths of time of every kind: usual, none, negative and absurd.
func anySpan() *rapid.Generator[time.Duration] {
	return rapid.Custom(func(t *rapid.T) time.Duration {
		return time.Duration(rapid.OneOf(rapid.Int64Range(0, int64(2*time.Hour)), rapid.Int64(),
			rapid.SampledFrom([]int64{0, -1, math.MaxInt64, math.MinInt64})).Draw(t, "span"))
	})
}

// anyText draws titles, some with what would paint a screen.
func anyText() *rapid.Generator[string] {
	return rapid.OneOf(rapid.SampledFrom([]string{"wet", "dry", "spin-out", "", "世界", "\x1b[31mred", "a\u0301e\u0301",
		"\u202egnorw", "👩‍👩‍👧 x", "\xff\xfe", "世\u0301"}), rapid.String())
}

func anyRibbon() *rapid.Generator[Ribbon] {
	return rapid.Custom(func(t *rapid.T) Ribbon {
		n := rapid.IntRange(0, 100).Draw(t, "stages")
		r := Ribbon{Running: rapid.IntRange(-2, n+1).Draw(t, "running")}
		for range n {
			r.Stages = append(r.Stages, Stage{anyText().Draw(t, "name"), anySpan().Draw(t, "planned")})
		}
		for range rapid.IntRange(0, 30).Draw(t, "stretches") {
			r.Actual = append(r.Actual, Stretch{rapid.IntRange(-1, n).Draw(t, "stage"), anySpan().Draw(t, "length"),
				rapid.Bool().Draw(t, "held")})
		}
		return r
	})
}

// narrow fails the test when a line is wider than asked or would move the cursor.
func narrow(t *rapid.T, lines []Line, width int) {
	for _, l := range lines {
		text := l.String()
		if n := ansi.StringWidth(text); n > max(width, 0) {
			t.Fatalf("%d cells in a width of %d: %q", n, width, text)
		}
		if i := strings.IndexFunc(text, unicode.IsControl); i >= 0 {
			t.Fatalf("a control character in %q", text)
		}
	}
}

func TestNothingIsWiderThanAsked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(-3, 200).Draw(t, "width")
		narrow(t, anyRibbon().Draw(t, "ribbon").Draw(width), width)
		p := Pads{anyNumber().Draw(t, "front"), anyNumber().Draw(t, "back"), anyNumber().Draw(t, "least"),
			anyNumber().Draw(t, "most"), anyNumber().Draw(t, "balance")}
		narrow(t, p.Draw(width), width)

		c := Curve{DryBelow: anyNumber().Draw(t, "dry"), Span: anySpan().Draw(t, "span")}
		for range rapid.IntRange(0, 50).Draw(t, "points") {
			c.Points = append(c.Points, Point{anySpan().Draw(t, "after"), anyNumber().Draw(t, "depression")})
		}
		height := rapid.IntRange(-2, 30).Draw(t, "height")
		lines := c.Draw(width, height)
		narrow(t, lines, width)
		if len(lines) > max(height, 0) {
			t.Fatalf("%d lines in a height of %d", len(lines), height)
		}
	})
}

func TestTextIsNeverWiderThanAsked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(-3, 60).Draw(t, "width")
		text := strings.Join(rapid.SliceOfN(anyText(), 0, 8).Draw(t, "words"), " ")
		narrow(t, Wrap(Usual, text, width, rapid.IntRange(-2, 80).Draw(t, "indent")), width)
		narrow(t, []Line{Say(Usual, text).And(Strong, text).Clip(width)}, width)
		narrow(t, Phrases(Quiet, []string{text, text, "x"}, width), width)
	})
}

// No letter of a sentence may get lost where every letter has a place.
func TestWrapKeepsEveryWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.StringMatching(`[a-z,.]{1,30}`), 1, 20).Draw(t, "words")
		width := rapid.IntRange(1, 50).Draw(t, "width")
		var got strings.Builder
		for _, l := range Wrap(Usual, strings.Join(words, " "), width, rapid.IntRange(0, 9).Draw(t, "indent")) {
			got.WriteString(strings.ReplaceAll(l.String(), " ", ""))
		}
		if want := strings.Join(words, ""); got.String() != want {
			t.Fatalf("wrapped to %q, want %q", got.String(), want)
		}
	})
}

func TestShareDealsEveryCell(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lengths := rapid.SliceOfN(anySpan(), 1, 100).Draw(t, "lengths")
		width := rapid.IntRange(1, 200).Draw(t, "width")
		total := 0
		for i, n := range share(lengths, width) {
			if total += n; n < 0 || n == 0 && len(lengths) <= width {
				t.Fatalf("span %d of %d gets %d cells of %d", i, len(lengths), n, width)
			}
		}
		if total != width {
			t.Fatalf("%d cells dealt of %d", total, width)
		}
	})
}

// Where nothing is too small for a cell, each gets its proportion to within one cell.
func TestShareIsProportional(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lengths := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) time.Duration {
			return time.Duration(rapid.IntRange(10, 100).Draw(t, "seconds")) * time.Second
		}), 1, 10).Draw(t, "lengths")
		width, total := 100, time.Duration(0) // the least share of 10 in 910 is still more than a cell
		for _, d := range lengths {
			total += d
		}
		for i, n := range share(lengths, width) {
			exact := float64(lengths[i]) / float64(total) * float64(width)
			if math.Abs(float64(n)-exact) >= 1 {
				t.Fatalf("%v of %v gets %d cells, exactly %.2f", lengths[i], total, n, exact)
			}
		}
	})
}

func TestScaleNeverGoesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lengths := rapid.SliceOfN(anySpan(), 1, 20).Draw(t, "lengths")
		width := rapid.IntRange(1, 120).Draw(t, "width")
		s := newScale(lengths, share(lengths, width))
		a, b := anySpan().Draw(t, "a"), anySpan().Draw(t, "b")
		x, y := s.column(min(a, b)), s.column(max(a, b))
		if x > y || x < 0 || y > float64(width) {
			t.Fatalf("columns %v and %v for %v and %v", x, y, min(a, b), max(a, b))
		}
	})
}
