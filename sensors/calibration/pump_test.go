package calibration

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// mlMin returns m³/s.
func mlMin(x float64) float64 { return x / 60e6 }

// minute returns runs of a minute at a duty in per cent that gave so many millilitres.
func minute(duty float64, ml ...float64) (out []Run) {
	for _, v := range ml {
		out = append(out, Run{Duty: duty / 100, Volume: v * 1e-6, Time: time.Minute})
	}
	return out
}

func runs(parts ...[]Run) (out []Run) {
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}

func mustCurve(t testing.TB, all []Run) Curve {
	t.Helper()
	c, err := PumpCurve(all)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// By hand: relative distances from the means ±2 %, ±1 %, ±1 % make squares of 0.0012 over three degrees of freedom.
func TestPumpCurve(t *testing.T) {
	c := mustCurve(t, runs(minute(100, 9.9, 10.1), minute(20, 1.96, 2.04), minute(50, 5.05, 4.95)))
	if len(c.Points) != 3 || c.DF != 3 || len(c.Notes) != 0 {
		t.Fatalf("%+v", c)
	}
	scatter := math.Sqrt((2*0.02*0.02 + 4*0.01*0.01) / 3)
	for i, want := range []FlowPoint{{0.2, mlMin(2), 0, 2}, {0.5, mlMin(5), 0, 2}, {1, mlMin(10), 0, 2}} {
		got := c.Points[i]
		near(t, "flow", got.Flow, want.Flow, 1e-12)
		near(t, "uncertainty", got.SE, scatter*want.Flow/math.Sqrt2, 1e-12)
		if got.Duty != want.Duty || got.Runs != 2 {
			t.Errorf("%+v", got)
		}
	}
	flow, u, err := c.Flow(0.35)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "flow between", flow, mlMin(3.5), 1e-12)
	near(t, "its uncertainty", u, math.Hypot(c.Points[0].SE, c.Points[1].SE)/2, 1e-12)
	duty, err := c.Duty(mlMin(7.5))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "duty", duty, 0.75, 1e-12)
	if flow, u, err := c.Flow(0); flow != 0 || u != 0 || err != nil {
		t.Errorf("off: %g, %g, %v", flow, u, err)
	}
}

// Case F05: 56 mL/min at 100 % and 54 at 90 %. With 100 % alone, 90 % is refused and not guessed at 50.4.
func TestPumpCurveF05(t *testing.T) {
	if c, err := PumpCurve(minute(100, 56, 56.2)); err == nil || !strings.Contains(err.Error(), "one duty makes no curve") {
		t.Errorf("%+v, %v", c, err)
	}
	one := Curve{Points: []FlowPoint{{Duty: 1, Flow: mlMin(56), Runs: 1}}} // as an old bench file may have it
	if flow, _, err := one.Flow(0.9); err == nil || !math.IsNaN(flow) || !strings.Contains(err.Error(), "only 100 %") {
		t.Errorf("%g mL/min, %v", 60e6*flow, err)
	}
	if flow, _, err := one.Flow(1); err != nil || flow != mlMin(56) {
		t.Errorf("%g, %v", flow, err)
	}
	c := mustCurve(t, runs(minute(90, 54, 54), minute(100, 56, 56)))
	if flow, _, err := c.Flow(0.9); err != nil || math.Abs(60e6*flow-54) > 1e-9 {
		t.Errorf("%g mL/min, %v", 60e6*flow, err)
	}
	for _, duty := range []float64{0.899, 1.001, -0.1, math.NaN(), math.Inf(1)} {
		if flow, u, err := c.Flow(duty); err == nil || !math.IsNaN(flow) || !math.IsNaN(u) {
			t.Errorf("duty %g: %g", duty, flow)
		}
	}
	for _, flow := range []float64{mlMin(53.9), mlMin(56.1), 0, -1, math.NaN()} {
		if duty, err := c.Duty(flow); err == nil || !math.IsNaN(duty) {
			t.Errorf("flow %g: %g", flow, duty)
		}
	}
	// Units are converted on the way: the last digit of an end is still the end.
	if duty, err := c.Duty(mlMin(56) * (1 + 1e-12)); err != nil || duty != 1 {
		t.Errorf("%g, %v", duty, err)
	}
	if duty, err := c.Duty(mlMin(54) * (1 - 1e-12)); err != nil || duty != 0.9 {
		t.Errorf("%g, %v", duty, err)
	}
	if _, _, err := (Curve{}).Flow(0.5); err == nil || !strings.Contains(err.Error(), "not calibrated") {
		t.Error(err)
	}
}

// Case F05: wear and what has gone through the tube.
func TestWearF05(t *testing.T) {
	before := mustCurve(t, runs(minute(50, 30, 30.3), minute(100, 56, 56.4)))
	worn := mustCurve(t, runs(minute(50, 27, 27.3), minute(100, 50, 50.4)))
	for _, c := range []struct {
		name          string
		now           Curve
		pumped, limit float64
		want          string
	}{
		{"the same", mustCurve(t, runs(minute(50, 30.2, 30), minute(100, 56.3, 56))), 0.001, 0.05, ""},
		{"less", worn, 0, 0, "% less"},
		{"more", mustCurve(t, runs(minute(50, 33, 33.3), minute(100, 61, 61.4))), 0, 0, "% more"},
		{"litres", before, 0.05, 0.05, "50 L have gone"},
		{"litres not known", before, math.NaN(), 0.05, "have gone"},
		{"nobody said what it lasts", before, 100, 0, ""},
		{"nothing to compare", mustCurve(t, runs(minute(10, 3, 3.1), minute(20, 6, 6.1))), 0, 0, ""},
		{"one duty in common", mustCurve(t, runs(minute(20, 10, 10.1), minute(75, 36, 36.3))), 0, 0, "% less"},
	} {
		got := Wear(c.now, before, c.pumped, c.limit)
		if (got == "") != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	change, interval, n := compare(worn, before)
	var variance float64
	for i, p := range worn.Points {
		b := before.Points[i]
		variance += p.SE*p.SE/(p.Flow*p.Flow) + b.SE*b.SE/(b.Flow*b.Flow)
	}
	near(t, "interval", interval, 4.302653*math.Sqrt(variance)/2, 1e-6) // Student's t, two degrees of freedom
	near(t, "change", change, math.Sqrt(27.15/30.15*50.2/56.2)-1, 1e-9)
	if n != 2 {
		t.Errorf("compared at %d duties", n)
	}
}

// Case F07: no flow, or less than none, is no calibration; and no run becomes endless.
func TestPumpCurveF07(t *testing.T) {
	good := runs(minute(50, 30, 30.3), minute(100, 56, 56.4))
	for _, c := range []struct {
		name string
		bad  Run
		want string
	}{
		{"nothing came", Run{0.5, 0, time.Minute}, "run 5: nothing was caught at 50 %"},
		{"less than nothing", Run{0.5, -1e-6, time.Minute}, "nothing was caught"},
		{"no number", Run{0.5, math.NaN(), time.Minute}, "nothing was caught"},
		{"everything", Run{0.5, math.Inf(1), time.Minute}, "nothing was caught"},
		{"no time", Run{0.5, 1e-6, 0}, "time at 50 %"},
		{"hardly anything for ever", Run{0.5, 5e-324, time.Minute}, "makes no flow"},
		{"everything at once", Run{0.5, 1e308, time.Nanosecond}, "makes no flow"},
		{"no duty", Run{0, 1e-6, time.Minute}, "duty must be"},
		{"too much duty", Run{1.01, 1e-6, time.Minute}, "duty must be"},
		{"duty is no number", Run{math.NaN(), 1e-6, time.Minute}, "duty must be"},
		{"a single run", Run{0.7, 4e-5, time.Minute}, "at 70 % there is only one run"},
	} {
		if curve, err := PumpCurve(append(good[:4:4], c.bad)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %+v, %v", c.name, curve, err)
		}
	}
	if _, err := PumpCurve(nil); err == nil {
		t.Error("no runs")
	}
	zero := Curve{Points: []FlowPoint{{Duty: 0.5}, {Duty: 1, Flow: mlMin(1)}}}
	for _, c := range []struct {
		curve        Curve
		volume, duty float64
	}{{zero, 1e-6, 0.5}, {zero, 1e-6, 0}, {Curve{}, 1e-6, 0.5}, {zero, 0, 1}, {zero, -1, 1}, {zero, math.Inf(1), 1}, {zero, math.NaN(), 1}, {zero, 1, 1}} {
		if took, err := c.curve.Time(c.volume, c.duty, time.Hour); err == nil || took != 0 {
			t.Errorf("%g m³ at duty %g: %v", c.volume, c.duty, took)
		}
	}
}

// Case F04: 10 mL at 5 mL/min take 120 s; where the pump gives 3.5 mL/min, 171 s, or a refusal when that is too long.
func TestTimeF04(t *testing.T) {
	c := Curve{Points: []FlowPoint{{Duty: 0.5, Flow: mlMin(3.5)}, {Duty: 1, Flow: mlMin(5)}}}
	for _, k := range []struct{ duty, seconds float64 }{{1, 120}, {0.5, 171.43}} {
		took, err := c.Time(10e-6, k.duty, 5*time.Minute)
		if err != nil || math.Abs(took.Seconds()-k.seconds) > 0.01 {
			t.Errorf("%v, %v; want %g s", took, err, k.seconds)
		}
	}
	if took, err := c.Time(10e-6, 0.5, 150*time.Second); err == nil || took != 0 || !strings.Contains(err.Error(), "171 s") {
		t.Errorf("%v, %v", took, err)
	}
}

func TestPumpCurveRises(t *testing.T) {
	for _, c := range []struct {
		name  string
		runs  []Run
		want  string // in the refusal
		notes string
		left  []float64 // duties that are kept, in per cent
	}{
		{"falls", runs(minute(50, 30, 30.1), minute(80, 25, 25.1), minute(100, 56, 56.1)), "less at 80 % (25 mL/min) than at 50 %", "", nil},
		{"falls within the scatter", runs(minute(50, 28, 32), minute(80, 27, 32), minute(100, 50, 57)), "", "80 % gives no more than 50 %", []float64{50, 100}},
		{"level at the top", runs(minute(50, 20, 21), minute(90, 55, 57), minute(100, 55, 56.8)), "", "100 % gives no more than 90 %", []float64{50, 90}},
		{"one joining makes another", runs(minute(20, 10, 12), minute(50, 11, 11.5), minute(80, 9, 12), minute(100, 30, 31)), "", "50 % gives no more than 20 %", []float64{20, 100}},
		{"level everywhere", runs(minute(50, 20, 20), minute(100, 20, 20)), "more duty gives no more flow", "", nil},
	} {
		got, err := PumpCurve(c.runs)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %+v, %v", c.name, got, err)
			continue
		}
		if !strings.Contains(strings.Join(got.Notes, "\n"), c.notes) || len(got.Points) != len(c.left) {
			t.Errorf("%s: %+v", c.name, got)
			continue
		}
		for i, duty := range c.left {
			if math.Abs(100*got.Points[i].Duty-duty) > 1e-9 {
				t.Errorf("%s: %+v", c.name, got)
			}
		}
	}
}

// Whatever was caught: a curve rises in both columns, does not depend on the order of the runs, is its own inverse, and
// scales with the volumes.
func TestPumpCurveProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []Run
		for _, duty := range rapid.SliceOfNDistinct(rapid.IntRange(1, 100), 2, 6, rapid.ID[int]).Draw(t, "duties") {
			for range rapid.IntRange(2, 4).Draw(t, "runs") {
				ml := float64(duty) * rapid.Float64Range(0.5, 2).Draw(t, "ml")
				all = append(all, Run{float64(duty) / 100, ml * 1e-6, time.Duration(rapid.IntRange(10, 100).Draw(t, "s")) * time.Second})
			}
		}
		c, err := PumpCurve(all)
		again, err2 := PumpCurve(rapid.Permutation(all).Draw(t, "order"))
		if (err == nil) != (err2 == nil) || len(c.Points) != len(again.Points) {
			t.Fatalf("in another order %+v, %v, not %+v, %v", again, err2, c, err)
		}
		if err != nil {
			return
		}
		double := make([]Run, len(all))
		for i, r := range all {
			r.Volume *= 2
			double[i] = r
		}
		twice, err := PumpCurve(double)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range c.Points {
			if again.Points[i] != p {
				t.Fatalf("in another order %+v, not %+v", again.Points[i], p)
			}
			if i > 0 && !(p.Duty > c.Points[i-1].Duty && p.Flow > c.Points[i-1].Flow) {
				t.Fatalf("does not rise: %+v", c)
			}
			if math.Abs(twice.Points[i].Flow/p.Flow-2) > 1e-9 {
				t.Fatalf("twice the volume: %+v from %+v", twice, c)
			}
		}
		first, last := c.Points[0], c.Points[len(c.Points)-1]
		duty := first.Duty + rapid.Float64Range(0, 1).Draw(t, "between")*(last.Duty-first.Duty)
		flow, _, err := c.Flow(duty)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := c.Duty(flow); err != nil || math.Abs(back-duty) > 1e-9 {
			t.Fatalf("duty %g gives %g, which is duty %g, %v", duty, flow, back, err)
		}
	})
}

// Case F06: 3 g of water in 60 s with the pump off.
func TestSiphonF06(t *testing.T) {
	for _, c := range []struct {
		name     string
		ml, sees float64
		over     time.Duration
		want     string
		flow     float64 // mL/min
		refused  bool
	}{
		{"siphons", 3, 0.1, time.Minute, "flow without pump: 3 mL came in 60 s", 3, false},
		{"nothing to see", 0.1, 0.1, time.Minute, "", 0.1, false},
		{"runs back", -1, 0.1, time.Minute, "1 mL less than before", -1, false},
		{"a little back", -0.05, 0.1, time.Minute, "", -0.05, false},
		{"not read", math.NaN(), 0.1, time.Minute, "", 0, true},
		{"not waited", 3, 0.1, 0, "", 0, true},
		{"scale not known", 3, 0, time.Minute, "", 0, true},
	} {
		flow, said, err := Siphon(c.ml*1e-6, c.sees*1e-6, c.over)
		if (err != nil) != c.refused || (said == "") != (c.want == "") || !strings.Contains(said, c.want) {
			t.Errorf("%s: %q, %v", c.name, said, err)
		}
		if !c.refused && math.Abs(60e6*flow-c.flow) > 1e-9 || c.refused && !math.IsNaN(flow) {
			t.Errorf("%s: %g", c.name, flow)
		}
	}
}
