package draw

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"
)

func TestEveryStageOfThePlanIsSeen(t *testing.T) {
	r := Ribbon{Stages: twoPasses(), Running: -1}
	for _, w := range []int{30, 40, 80, 120, 200} {
		plan := r.Draw(w)[0].String()
		for _, initial := range []string{"W", "C", "R", "P"} {
			if n := strings.Count(plan, initial); n != 2 {
				t.Errorf("width %d: %d times %s in %q", w, n, initial, plan)
			}
		}
	}
}

func TestTooManyStagesAreSaidToBe(t *testing.T) {
	r := Ribbon{Running: -1}
	for range 100 {
		r.Stages = append(r.Stages, Stage{"soak", time.Minute})
	}
	if got := Text(r.Draw(60)); !strings.Contains(got, "too narrow to show every stage") {
		t.Errorf("100 stages in 60 cells without a word about it:\n%s", got)
	}
	if got := Text(r.Draw(120)); strings.Contains(got, "too narrow") {
		t.Errorf("100 stages do fit 111 cells:\n%s", got)
	}
}

// Initials are letters of their own even when names begin alike.
func TestInitials(t *testing.T) {
	got := initials([]Stage{{"soak", 0}, {"scrub", 0}, {"spin-out", 0}, {"soak", 0}, {"s", 0}, {"世", 0}})
	want := map[string]rune{"soak": 'S', "scrub": 'C', "spin-out": 'P', "s": 'A', "世": 'B'}
	for name, r := range want {
		if got[name] != r {
			t.Errorf("%s gets %c, want %c", name, got[name], r)
		}
	}
}

// The running stage, an overrun and a hold are each said by a form, not only by a tone.
func TestRibbonSaysWithoutColour(t *testing.T) {
	stages := []Stage{{"scrub", 10 * minute}, {"dry", 10 * minute}}
	for _, c := range []struct {
		what   string
		actual []Stretch
		run    int
		stroke rune
	}{
		{"running", []Stretch{{0, 5 * minute, false}}, 0, head},
		{"held", []Stretch{{0, 5 * minute, false}, {0, 5 * minute, true}}, 0, held},
		{"longer than planned", []Stretch{{0, 15 * minute, false}}, 0, longer},
	} {
		drawn := Ribbon{stages, c.actual, c.run}.Draw(80)
		if !strings.ContainsRune(drawn[1].String(), c.stroke) {
			t.Errorf("%s: no %c in %q", c.what, c.stroke, drawn[1])
		}
		if c.stroke != head && !strings.Contains(Text(drawn[3:]), string(c.stroke)+" "+c.what) {
			t.Errorf("%s is not in the legend:\n%s", c.what, Text(drawn))
		}
	}
	short := Ribbon{[]Stage{{"rinse", 20 * time.Second}, {"dry", minute}}, []Stretch{{0, 24 * time.Second, false}}, 0}.Draw(80)
	if strings.ContainsRune(Text(short), longer) {
		t.Errorf("four seconds of coming to speed are no overrun:\n%s", Text(short))
	}
	onTime := Ribbon{stages, []Stretch{{0, 10*minute + 4*time.Second, false}}, 1}.Draw(80)
	if strings.ContainsRune(Text(onTime), longer) {
		t.Errorf("four seconds in ten minutes are no overrun:\n%s", Text(onTime))
	}
}

// Planned and actual share one scale: what goes as planned ends under what was planned.
func TestRibbonRowsShareTheScale(t *testing.T) {
	stages := []Stage{{"wet", 20 * minute}, {"scrub", 5 * minute}, {"dry", 60 * minute}}
	d := Ribbon{stages, asPlanned(stages, 3), -1}.Draw(100)
	plan, actual := []rune(d[0].String()), []rune(d[1].String())
	for i, r := range plan[9:] {
		if r >= 'A' && r <= 'Z' && actual[9+i] != r {
			t.Errorf("%c of the plan stands in column %d, below it %c:\n%s", r, i, actual[9+i], Text(d))
		}
	}
}

func TestAxisLabelsKeepApart(t *testing.T) {
	for _, end := range []time.Duration{time.Second, 40 * time.Second, 3 * minute, 53 * minute, 5 * time.Hour, 300 * time.Hour} {
		for w := 5; w < 150; w++ {
			s := newScale([]time.Duration{end}, []int{w})
			_, marks := s.axis(w)
			for i := 1; i < len(marks); i++ {
				if marks[i].col < marks[i-1].col+len(marks[i-1].text)+2 {
					t.Errorf("%v in %d cells: labels touch: %v", end, w, marks)
				}
			}
			if w >= 20 && len(marks) == 0 {
				t.Errorf("%v in %d cells: no label at all", end, w)
			}
		}
	}
}

// Equal pads make an even picture.
func TestEqualPadsAreMirrored(t *testing.T) {
	cells := Pads{2000, 2000, 1500, 2500, 0.1}.side(2000, 3500, 20)
	left := row(mirrored(cells)).String()
	right := row(cells).String()
	turn := strings.NewReplacer("[", "]", "]", "[")
	var back strings.Builder
	for _, r := range left {
		back.WriteString(turn.Replace(string(r)))
	}
	if reversed(back.String()) != right {
		t.Errorf("left %q is not the mirror of right %q", left, right)
	}
	if strings.Count(right, string(pressing)) == 0 || !strings.Contains(right, "[") || !strings.Contains(right, "]") {
		t.Errorf("no bar in its window: %q", right)
	}
}

func reversed(s string) string {
	r := []rune(s)
	for i, j := 0, len(r)-1; i < j; i, j = i+1, j-1 {
		r[i], r[j] = r[j], r[i]
	}
	return string(r)
}

func TestPadsSayWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		p    Pads
		want string
	}{
		{Pads{1499, 2000, 1500, 2500, 0.5}, "front 1.50 kPa light"},
		{Pads{2000, 2501, 1500, 2500, 0.5}, "back 2.50 kPa heavy"},
		{Pads{1800, 2200, 1500, 2500, 0.15}, "uneven by 20 %; 15 % is allowed"},
	} {
		for _, w := range []int{60, 80, 120} {
			if got := Text(c.p.Draw(w)); !strings.Contains(got, c.want) {
				t.Errorf("width %d: no %q in\n%s", w, c.want, got)
			}
		}
	}
	fine := Pads{1500, 1500, 1500, 2500, 0.15}
	if got := Text(fine.Draw(80)); strings.Contains(got, "light") || strings.Contains(got, "uneven") {
		t.Errorf("the window's own end is inside:\n%s", got)
	}
}

// A curve that falls has its dots lower to the right.
func TestCurveFalls(t *testing.T) {
	c := Curve{Points: []Point{{0, 4}, {10 * minute, 0}}, Span: 10 * minute}
	lines := c.Draw(48, 10)
	last := -1
	for _, l := range lines[:8] {
		row := []rune(l.String())
		first := -1
		for i, r := range row {
			if r > 0x2800 && r <= 0x28ff {
				first = i
				break
			}
		}
		if first <= last {
			t.Fatalf("the curve does not go right as it goes down:\n%s", Text(lines))
		}
		last = first
	}
}

func TestThresholdStandsWhereItIs(t *testing.T) {
	lines := Curve{Points: []Point{{0, 4}}, DryBelow: 2, Span: 10 * minute}.Draw(60, 10)
	for y, l := range lines[:8] {
		if got, want := strings.ContainsRune(l.String(), dashes), y == 4; got != want {
			t.Errorf("row %d: threshold drawn: %v\n%s", y, got, Text(lines))
		}
	}
	if !strings.Contains(lines[4].String(), "2.00 K") || !strings.Contains(lines[4].String(), "dry below") {
		t.Errorf("the threshold is not named: %s", lines[4])
	}
}

// What is measured with a gap is drawn with one.
func TestCurveKeepsGaps(t *testing.T) {
	nan := Point{5 * minute, 0 / zero}
	with := Curve{Points: []Point{{0, 4}, nan, {10 * minute, 4}}, Span: 10 * minute}.Draw(60, 10)
	without := Curve{Points: []Point{{0, 4}, {10 * minute, 4}}, Span: 10 * minute}.Draw(60, 10)
	if a, b := dotCells(with), dotCells(without); a != 2 || b < 50 {
		t.Errorf("%d cells with a gap, want 2; %d without, want a line", a, b)
	}
}

var zero float64

func dotCells(lines []Line) (n int) {
	for _, l := range lines {
		for _, r := range l.String() {
			if r > 0x2800 && r <= 0x28ff {
				n++
			}
		}
	}
	return n
}

// Colours are a layer: without their escapes the drawing is the same, and no terminal is ever sent a red or a green.
func TestANSI(t *testing.T) {
	lines := []Line{Say(OnTrack, "a").And(Attention, "b").And(Quiet, "c").And(Strong, "d").And(Usual, "e"), nil, Say(Tone(99), "f")}
	escape := regexp.MustCompile("\x1b\\[([0-9;]*)m")
	for colours, want := range map[Colours]string{
		NoColours:  "1,1",
		Sixteen:    "94,1;33,90,1",
		FullColour: "38;5;33,1;38;5;208,38;5;245,1",
	} {
		got := ANSI(lines, colours)
		if ansi.Strip(got)+"\n" != Text(lines) {
			t.Errorf("%d: %q without escapes is not %q", colours, got, Text(lines))
		}
		var codes []string
		for _, m := range escape.FindAllStringSubmatch(got, -1) {
			if m[1] != "" {
				codes = append(codes, m[1])
			}
		}
		if s := strings.Join(codes, ","); s != want {
			t.Errorf("%d: codes %s, want %s", colours, s, want)
		}
	}
}

func TestCleanKeepsTextFromPainting(t *testing.T) {
	for in, want := range map[string]string{
		"\x1b[2Jx":      "[2Jx",
		"a\nb\tc\r":     "a b c ",
		"\u202eabc":     "abc",
		"\u009b31mred":  "31mred",
		"Größe 世界 °C":   "Größe 世界 °C",
		"bad \xff byte": "bad � byte",
	} {
		if got := Clean(in); got != want {
			t.Errorf("Clean(%q) = %q, want %q", in, got, want)
		}
	}
}
