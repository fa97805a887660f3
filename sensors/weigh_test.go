package sensors

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// Case B10: the same load with a motor running and with it off, as somebody read it.
func TestSteadyB10(t *testing.T) {
	steady := Steady{SD: 5}
	on := []float64{753, 787, 792, 772, 764, 743, 743, 741, 740, 767}
	if m, err := steady.Of(on); err == nil || !strings.Contains(err.Error(), "not stable") || !strings.Contains(err.Error(), "19.3") {
		t.Errorf("with the motor on: %+v, %v", m, err)
	}
	off := []float64{769, 770, 768, 770, 768, 770, 769, 766, 770, 767}
	m, err := steady.Of(off)
	if err != nil || math.Abs(m.Value-768.7) > 1e-9 || math.Abs(m.SD-1.4) > 0.05 || m.N != 10 {
		t.Errorf("with the motor off: %+v, %v", m, err)
	}
	if math.Abs(m.SE()-m.SD/math.Sqrt(10)) > 1e-12 {
		t.Errorf("uncertainty of the mean %g", m.SE())
	}
}

func TestSteadyRefuses(t *testing.T) {
	for _, c := range []struct {
		name string
		s    Steady
		in   []float64
		want string
	}{
		{"too few", Steady{SD: 1}, []float64{1, 1}, "too few"},
		{"fewer than asked", Steady{SD: 1, Least: 5}, []float64{1, 1, 1, 1}, "at least 5"},
		{"no number", Steady{SD: 1}, []float64{1, math.NaN(), 1}, "no number"},
		{"moving", Steady{SD: 5}, []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}, "still moving"},
		{"moving more than allowed", Steady{SD: 5, Drift: 0.5}, []float64{0, 0, 0, 1, 1, 1}, "still moving"},
		{"nothing allowed", Steady{}, []float64{1, 2, 1}, "not stable"},
		{"limit is no number", Steady{SD: math.NaN()}, []float64{1, 1, 1}, "not stable"},
	} {
		if m, err := c.s.Of(c.in); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %+v, %v", c.name, m, err)
		}
	}
}

// Case B06: a constant load whose cell drifts by 2 g in 13 minutes, with 0.3 g of noise, must not decide whether the mass
// falls by less than 0.1 g in 5 minutes.
func TestDriftGuardB06(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 6))
	zero := func(at time.Duration, drift float64) Zero {
		var readings []float64
		for range 20 {
			readings = append(readings, drift*at.Minutes()/13+0.3*random.NormFloat64())
		}
		m, err := Steady{SD: 1}.Of(readings)
		if err != nil {
			t.Fatal(err)
		}
		return Zero{At: at, Value: m.Value, SE: m.SE()}
	}
	before, after := zero(0, 2), zero(13*time.Minute, 2)
	for _, tolerance := range []float64{1, 10} { // the second only by what the drift would do to the decision
		guard := DriftGuard{Tolerance: tolerance, WarmUp: 10 * time.Minute}
		if err := guard.Trust(time.Hour, before, after, 0.1, 5*time.Minute); err == nil || !strings.Contains(err.Error(), "weight not trusted") {
			t.Errorf("tolerance %g: %v", tolerance, err)
		}
	}
	// Even without drift this noise cannot tell a tenth of a gram from twenty readings.
	guard := DriftGuard{Tolerance: 1}
	if err := guard.Trust(time.Hour, zero(0, 0), zero(13*time.Minute, 0), 0.1, 5*time.Minute); err == nil {
		t.Error("0.1 g was told through 0.3 g of noise")
	}
}

func TestDriftGuard(t *testing.T) {
	guard := DriftGuard{Tolerance: 0.05, WarmUp: 15 * time.Minute}
	good := Zero{At: 30 * time.Minute, Value: 0.01, SE: 0.002}
	for _, c := range []struct {
		name    string
		powered time.Duration
		after   Zero
		change  float64
		within  time.Duration
		want    string
	}{
		{"well", time.Hour, good, 0.1, 5 * time.Minute, ""},
		{"a loss is a change", time.Hour, good, -0.1, 5 * time.Minute, ""},
		{"cold", time.Minute, good, 0.1, 5 * time.Minute, "warms up"},
		{"no second zero", time.Hour, Zero{}, 0.1, 5 * time.Minute, "both before and after"},
		{"moved", time.Hour, Zero{At: time.Hour, Value: 0.06}, 0.1, 5 * time.Minute, "moved by"},
		{"moved the other way", time.Hour, Zero{At: time.Hour, Value: -0.06}, 0.1, 5 * time.Minute, "moved by"},
		{"uncertain", time.Hour, Zero{At: time.Hour, SE: 0.03}, 0.1, 5 * time.Minute, "moved by"},
		{"no number", time.Hour, Zero{At: time.Hour, Value: math.NaN()}, 0.1, 5 * time.Minute, "moved by"},
		{"too small a change", time.Hour, good, 0.001, 5 * time.Minute, "too much to tell"},
		{"too long a span", time.Hour, good, 0.01, time.Hour, "too much to tell"},
	} {
		err := guard.Trust(c.powered, Zero{SE: 0.002}, c.after, c.change, c.within)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// Case C07: inlet and outlet answer with each other's serial numbers.
func TestRolesC07(t *testing.T) {
	stored := []Role{{"air-in", "A1"}, {"air-out", "B2"}, {"surface", ""}, {"air", "D4"}}
	for _, c := range []struct {
		name  string
		found []Role
		want  []string // in the sentence; none: no error
	}{
		{"as stored", []Role{{"air-out", "B2"}, {"air-in", "A1"}, {"surface", ""}, {"air", "D4"}}, nil},
		{"swapped", []Role{{"air-in", "B2"}, {"air-out", "A1"}}, []string{"roles changed?", "B2 was air-out and now answers as air-in", "A1 was air-in"}},
		{"replaced", []Role{{"air-in", "E5"}, {"air-out", "B2"}}, []string{"air-in was serial number A1 and is now E5"}},
		{"one chip in two places", []Role{{"air-in", "A1"}, {"air-out", "A1"}}, []string{"answers as air-in and as air-out"}},
		{"missing is another matter", []Role{{"air-in", "A1"}}, nil},
		{"a new sensor", []Role{{"air-in", "A1"}, {"vapour", "F6"}}, nil},
		{"without serial number", []Role{{"air-in", ""}, {"surface", "S9"}}, nil},
	} {
		err := CheckRoles(stored, c.found)
		if (err == nil) != (c.want == nil) || err != nil && !errors.Is(err, ErrRoles) {
			t.Errorf("%s: %v", c.name, err)
		}
		for _, want := range c.want {
			if err != nil && !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %q lacks %q", c.name, err, want)
			}
		}
	}
	if err := CheckRoles(nil, []Role{{"air-in", "A1"}}); err != nil {
		t.Errorf("nothing stored yet: %v", err)
	}
}

func TestSwap(t *testing.T) {
	const noise = 0.3
	for _, c := range []struct {
		name        string
		difference  func(i int) float64
		evaporating func(i int) bool
		want        int // first minute that is suspicious; -1: none
	}{
		{"right", func(int) float64 { return 2 }, always, -1},
		{"swapped", func(int) float64 { return -2 }, always, 10},
		{"swapped, seen through noise", func(i int) float64 { return -0.5 + noise*float64(i%3-1)*1.9 }, always, 10},
		{"nothing to see", func(i int) float64 { return noise * float64(i%3-1) * 0.9 }, always, -1},
		{"a short while", func(i int) float64 { return float64(i%9) - 6 }, always, -1},
		{"not evaporating", func(int) float64 { return -2 }, func(i int) bool { return i%8 != 0 }, -1},
		{"no numbers prove nothing", func(int) float64 { return math.NaN() }, always, -1},
	} {
		s := Swap{Least: noise, For: 10 * time.Minute}
		got := -1
		for i := range 60 {
			if s.Judge(c.difference(i), c.evaporating(i), time.Duration(i)*time.Minute) {
				got = i
				break
			}
		}
		if got != c.want {
			t.Errorf("%s: suspicious at %d, want %d", c.name, got, c.want)
		}
	}
}

func always(int) bool { return true }
