package calibration

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"fullery/sensors"
)

var noon = time.Date(2026, time.March, 3, 12, 0, 0, 0, time.UTC)

// Case B08: the zero is stored, not made anew: 250 g on the cell are 250 g before and after the program was started again.
func TestTareB08(t *testing.T) {
	c := mustLoad(t, upDown(typical, 0, 100, 200, 300))
	tare, question, err := NewTare(c, Reading{Counts(typical(12)), 20, 50}, noon, "the gardener")
	if err != nil || question != "" {
		t.Fatal(question, err)
	}
	loaded := Counts(typical(12 + 250))
	kept, err := json.Marshal(struct {
		Cell Cell
		Tare Tare
	}{c, tare})
	if err != nil {
		t.Fatal(err)
	}
	var again struct {
		Cell Cell
		Tare Tare
	}
	if err := json.Unmarshal(kept, &again); err != nil {
		t.Fatal(err)
	}
	force, u, err := again.Cell.Net(again.Tare.Apply(loaded))
	if err != nil || math.Abs(force/Gravity-0.250) > 0.001 || u <= 0 {
		t.Errorf("%g N ± %g, %v; want 250 g within 1 g", force, u, err)
	}
	if again.Tare.Counts != tare.Counts || !again.Tare.When.Equal(noon) || again.Tare.By != "the gardener" {
		t.Errorf("kept %+v", again.Tare)
	}
}

// Case B08: a tare above a tenth of the span asks.
func TestTareAsksB08(t *testing.T) {
	c := mustLoad(t, upDown(typical, 0, 100, 200))
	for _, q := range []struct {
		grams float64
		asks  bool
	}{{0, false}, {19.9, false}, {20.1, true}, {150, true}, {-19, false}} {
		tare, question, err := NewTare(c, Reading{Counts(typical(q.grams)), 20, 50}, noon, "")
		if err != nil || (question != "") != q.asks || !tare.Set() {
			t.Errorf("%g g: %q, %v", q.grams, question, err)
		}
	}
	for _, bad := range []Reading{{}, {Counts(math.NaN()), 1, 1}, {Counts(typical(500)), 20, 50}, {8000, -1, 5}} {
		if tare, _, err := NewTare(c, bad, noon, ""); err == nil || tare.Set() {
			t.Errorf("%+v became a tare", bad)
		}
	}
	if _, _, err := NewTare(Cell{}, Reading{8000, 1, 1}, noon, ""); !errors.Is(err, ErrUncalibrated) {
		t.Error(err)
	}
}

func TestNetRefuses(t *testing.T) {
	c := mustLoad(t, upDown(typical, 0, 100, 200))
	tare := Tare{Reading: Reading{Counts(typical(50)), 20, 50}}
	if f, _, err := c.Net(Tare{}.Apply(Counts(typical(100)))); err == nil || !math.IsNaN(f) {
		t.Errorf("without a tare: %g", f)
	}
	// 180 g above 50 g are within the span, and yet the cell carries more than it was calibrated for.
	if f, _, err := c.Net(tare.Apply(Counts(typical(230)))); !errors.Is(err, sensors.ErrRange) || !math.IsNaN(f) {
		t.Errorf("beyond the span: %g, %v", f, err)
	}
	if _, _, err := (Cell{}).Net(tare.Apply(8000)); !errors.Is(err, ErrUncalibrated) {
		t.Error(err)
	}
}

// Exactly once: the net force is the force less the tare's force, for any line and any tare.
func TestTareIsTakenOffOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := Cell{Zero: rapid.Float64Range(-1e5, 1e5).Draw(t, "zero"), Gain: rapid.Float64Range(10, 1e5).Draw(t, "gain"), Span: 2, DF: 5}
		at := func(newton float64) Counts { return Counts(line.Zero + line.Gain*newton) }
		rests := rapid.Float64Range(-0.15, 2.1).Draw(t, "rests")
		tare := Tare{Reading: Reading{Counts: at(rests), N: 1}}
		on := rapid.Float64Range(-0.15, 2.1).Draw(t, "on")
		force, _, err := line.Net(tare.Apply(at(on)))
		if err != nil || math.Abs(force-(on-rests)) > 1e-9 {
			t.Fatalf("%g N, %v; want %g", force, err, on-rests)
		}
	})
}

func TestVerify(t *testing.T) {
	points := append(upDown(typical, 0, 50, 100, 150, 200), upDown(typical, 0, 50, 100, 150, 200)...)
	for i := range points {
		points[i].Counts += Counts(40 * float64(i%3-1)) // a twentieth of a per cent of the span
	}
	good := mustLoad(t, points)
	rough := mustLoad(t, up(func(g float64) float64 { return typical(g) + 3*g*(200-g)/100 }, 0, 100, 200)) // one degree of freedom
	reading := func(grams float64) Reading { return Reading{Counts(typical(grams)), 20, 50} }
	tare := Tare{Reading: reading(10)}
	for _, c := range []struct {
		name string
		cell Cell
		on   Reading
		tare Tare
		want Finding
	}{
		{"holds", good, reading(100.5), Tare{}, Holds},
		{"drifted up", good, reading(105), Tare{}, Drifted},
		{"drifted down", good, reading(95), Tare{}, Drifted},
		{"drifted beyond the span", good, reading(900), Tare{}, Drifted},
		{"drifted below nothing", good, reading(-300), Tare{}, Drifted},
		{"just within the limit", good, reading(103.9), Tare{}, CannotTell},
		{"just beyond it", good, reading(104.1), Tare{}, CannotTell},
		{"hardly known itself", rough, reading(100), Tare{}, CannotTell},
		{"noisy", good, Reading{Counts(typical(100)), 4000, 2}, Tare{}, CannotTell},
		{"above a tare", good, reading(110.5), tare, Holds},
		{"above a tare, drifted", good, reading(100), tare, Drifted},
	} {
		v, err := Verify(c.cell, 0.1, c.on, c.tare, 0)
		if err != nil || v.Finding != c.want || !strings.HasPrefix(v.String(), c.want.String()+": ") {
			t.Errorf("%s: %v, %+v, %v; want %v", c.name, v, v, err, c.want)
		}
		if math.Abs(v.Interval-Student95(c.cell.DF)*v.Uncertainty) > 1e-12 || math.Abs(v.Limit-0.02*0.2*Gravity) > 1e-12 {
			t.Errorf("%s: %+v", c.name, v)
		}
	}
}

func TestVerifyRefuses(t *testing.T) {
	c := mustLoad(t, upDown(typical, 0, 100, 200))
	on := Reading{Counts(typical(100)), 20, 50}
	for _, v := range []struct {
		name   string
		cell   Cell
		mass   float64
		on     Reading
		within float64
	}{
		{"not calibrated", Cell{}, 0.1, on, 0},
		{"no mass", c, 0, on, 0},
		{"a mass below nothing", c, -0.1, on, 0},
		{"mass is no number", c, math.NaN(), on, 0},
		{"mass beyond the span", c, 0.5, on, 0},
		{"not read", c, 0.1, Reading{}, 0},
		{"nothing allowed", c, 0.1, on, -1},
	} {
		if got, err := Verify(v.cell, v.mass, v.on, Tare{}, v.within); err == nil {
			t.Errorf("%s: %+v", v.name, got)
		}
	}
}

func TestTrust(t *testing.T) {
	c := mustLoad(t, upDown(typical, 0, 100, 200))
	day := 24 * time.Hour
	empty := Reading{Counts(typical(1)), 20, 50}
	for _, k := range []struct {
		name      string
		cell      Cell
		made, now time.Time
		tare      Tare
		zero      Reading
		want      string
	}{
		{"well", c, noon, noon.Add(30 * day), Tare{}, empty, ""},
		{"nobody can empty it", c, noon, noon.Add(30 * day), Tare{}, Reading{}, ""},
		{"not calibrated", Cell{}, noon, noon, Tare{}, empty, "not calibrated"},
		{"old", c, noon, noon.Add(181 * day), Tare{}, empty, "181 days old, 180 are allowed"},
		{"from the future", c, noon, noon.Add(-day), Tare{}, empty, "yet to come"},
		{"no clock", c, noon, time.Time{}, Tare{}, empty, "cannot be told"},
		{"no date", c, time.Time{}, noon, Tare{}, empty, "cannot be told"},
		{"zero moved", c, noon, noon, Tare{}, Reading{Counts(typical(11)), 20, 50}, "has moved by +0.11 N"},
		{"zero moved down", c, noon, noon, Tare{}, Reading{Counts(typical(-11)), 20, 50}, "has moved by -0.11 N"},
		{"no zero", c, noon, noon, Tare{}, Reading{Counts(math.NaN()), 20, 50}, "no number"},
		{"at its tare", c, noon, noon, Tare{Reading: Reading{Counts(typical(30)), 20, 50}}, Reading{Counts(typical(31)), 20, 50}, ""},
		{"away from its tare", c, noon, noon, Tare{Reading: Reading{Counts(typical(30)), 20, 50}}, empty, "has moved"},
	} {
		got := Trust(k.cell, k.made, k.now, k.tare, k.zero, Limits{})
		if (got == "") != (k.want == "") || !strings.Contains(got, k.want) {
			t.Errorf("%s: %q, want %q", k.name, got, k.want)
		}
	}
	if got := Trust(c, noon, noon.Add(2*time.Hour), Tare{}, empty, Limits{Age: time.Hour}); got == "" {
		t.Error("an own limit of age")
	}
	if got := Trust(c, noon, noon, Tare{}, empty, Limits{Zero: 0.001}); got == "" {
		t.Error("an own limit of the zero")
	}
}
