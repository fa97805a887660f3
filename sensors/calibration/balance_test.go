package calibration

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestBalance(t *testing.T) {
	w := Window{Area: 4e-4, Want: 2000, Within: 0.25, Share: 0.15} // 0.6 N to 1.0 N
	for _, c := range []struct {
		name        string
		front, back float64
		good        bool
		verdict     string
		do          []string
	}{
		{"well", 0.8, 0.82, true, "both pads are in the window, and even", nil},
		{"front too light", 0.5, 0.8, false, "the front pad presses too lightly (1.25 kPa, at least 1.50)", []string{"bring the front pad closer"}},
		{"back too hard", 0.8, 1.2, false, "the back pad presses too hard (3.00 kPa, at most 2.50)", []string{"move the back pad away"}},
		{"one each", 0.5, 1.2, false, "lightly", []string{"bring the front pad closer", "move the back pad away"}},
		{"both light", 0.1, 0, false, "back pad presses too lightly (0.00", []string{"bring the front pad closer", "bring the back pad closer"}},
		{"uneven, one light", 0.65, 0.82, false, "differ by 23 %, and 15 %", []string{"bring the front pad closer"}},
		{"uneven, one hard", 0.8, 0.95, false, "differ by 17 %", []string{"move the back pad away"}},
		{"not pressing", 0, 0, false, "lightly", []string{"bring the front pad closer", "bring the back pad closer"}},
		{"pulled", -0.1, 0.05, false, "lightly", []string{"bring the front pad closer", "bring the back pad closer"}},
	} {
		b, err := w.Balance(c.front, c.back)
		if err != nil || b.Good != c.good || !strings.Contains(b.Verdict, c.verdict) || strings.Join(b.Do, ";") != strings.Join(c.do, ";") {
			t.Errorf("%s: %+v, %v", c.name, b, err)
		}
		if math.Abs(b.Front-c.front/4e-4) > 1e-9 || math.Abs(b.Back-c.back/4e-4) > 1e-9 || b.Low != 1500 || b.High != 2500 {
			t.Errorf("%s: %+v", c.name, b)
		}
		if strings.Contains(strings.Join(b.Do, ""), "turn") {
			t.Errorf("%s: %q speaks of screws that nobody described", c.name, b.Do)
		}
	}
	w.Closer, w.Away = "turn its screw right", "turn its screw left"
	if b, _ := w.Balance(0.5, 1.2); b.Do[0] != "bring the front pad closer: turn its screw right" || b.Do[1] != "move the back pad away: turn its screw left" {
		t.Errorf("%q", b.Do)
	}
}

func TestBalanceRefuses(t *testing.T) {
	good := Window{Area: 4e-4, Want: 2000, Within: 0.25, Share: 0.15}
	for _, c := range []struct {
		w           Window
		front, back float64
	}{
		{Window{}, 1, 1}, {Window{Area: -1, Want: 1}, 1, 1}, {Window{Area: 1, Want: math.Inf(1)}, 1, 1},
		{Window{Area: 1, Want: 1, Within: -1}, 1, 1}, {Window{Area: 1, Want: 1, Within: 1}, 1, 1}, {Window{Area: 1, Want: 1, Share: math.NaN()}, 1, 1},
		{good, math.NaN(), 1}, {good, 1, math.Inf(1)},
	} {
		if b, err := c.w.Balance(c.front, c.back); err == nil || b.Good {
			t.Errorf("%+v with %g and %g: %+v", c.w, c.front, c.back, b)
		}
	}
}

// Good means what the controller's own guards ask, whatever the forces; and what is not good always says what to do.
func TestBalanceAgreesWithTheGuards(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := Window{Area: 4e-4, Want: 2000, Within: rapid.Float64Range(0, 0.5).Draw(t, "within"), Share: rapid.Float64Range(0, 0.5).Draw(t, "share")}
		front, back := rapid.Float64Range(-0.2, 1.5).Draw(t, "front"), rapid.Float64Range(-0.2, 1.5).Draw(t, "back")
		b, err := w.Balance(front, back)
		if err != nil {
			t.Fatal(err)
		}
		low, high := w.Want*(1-w.Within), w.Want*(1+w.Within)
		f, k := front/w.Area, back/w.Area
		want := f >= low && f <= high && k >= low && k <= high && math.Abs(f-k) <= w.Share*(f+k)/2
		if b.Good != want || want == (len(b.Do) > 0) || b.Verdict == "" || !(b.Difference >= 0 && b.Difference <= 2) {
			t.Fatalf("%+v, want good %v", b, want)
		}
		other, _ := w.Balance(back, front)
		if other.Good != b.Good || len(other.Do) != len(b.Do) || other.Difference != b.Difference {
			t.Fatalf("the other way round %+v, not %+v", other, b)
		}
	})
}
