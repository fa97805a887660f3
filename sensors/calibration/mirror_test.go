package calibration

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// mirror is the same cell with two wires of its bridge exchanged: every code with the other sign.
func mirror(points []Point) (out []Point) {
	for _, p := range points {
		p.Counts = -p.Counts
		out = append(out, p)
	}
	return out
}

// A bridge wired the other way round is known as well as any: each force, figure, uncertainty and finding is the same, and
// no limit is looser for it. Points off the line are refused alike.
func TestMirroredCellIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		amount := rapid.Float64Range(1e-4, 0.1).Draw(t, "amount")
		noisy := func(grams float64) float64 {
			return typical(grams) + 80000*amount*rapid.Float64Range(-1, 1).Draw(t, "noise")
		}
		points := append(upDown(noisy, 0, 50, 100, 200), upDown(noisy, 0, 50, 100, 200)...)
		for i := range points {
			points[i].Counts = Counts(noisy(1000 * points[i].Mass))
		}
		c, err := Load(points, Rating{})
		m, mirrored := Load(mirror(points), Rating{})
		if (err == nil) != (mirrored == nil) || err != nil && err.Error() != mirrored.Error() {
			t.Fatalf("%v, and mirrored %v", err, mirrored)
		}
		if err != nil {
			return
		}
		for _, f := range [][2]float64{{c.Zero, -m.Zero}, {c.Gain, -m.Gain}, {c.ZeroSE, m.ZeroSE}, {c.GainSE, m.GainSE}, {c.Cov, m.Cov},
			{c.Residual, m.Residual}, {c.Linearity, m.Linearity}, {c.Hysteresis, m.Hysteresis}, {c.Repeatability, m.Repeatability}} {
			same(t, "figure", f[1], f[0])
		}
		on := Reading{Counts(typical(100)), 20, 50}
		off := Reading{-on.Counts, on.SD, on.N}
		tare := Tare{Reading: Reading{Counts(typical(5)), 20, 50}}
		other := Tare{Reading: Reading{-tare.Counts, 20, 50}}
		alike(t, "force", c, m, func(c Cell) (float64, float64, error) {
			if c.Reversed() {
				return c.Force(off.Counts)
			}
			return c.Force(on.Counts)
		})
		alike(t, "net force", c, m, func(c Cell) (float64, float64, error) {
			if c.Reversed() {
				return c.Net(other.Apply(off.Counts))
			}
			return c.Net(tare.Apply(on.Counts))
		})
		v, err := Verify(c, 0.1, on, tare, 0)
		w, err2 := Verify(m, 0.1, off, other, 0)
		if err != nil || err2 != nil || v.Finding != w.Finding {
			t.Fatalf("%v, %v; mirrored %v, %v", v, err, w, err2)
		}
		same(t, "uncertainty of the check", w.Uncertainty, v.Uncertainty)
	})
}

func same(t *rapid.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-6*math.Abs(want)) {
		t.Fatalf("%s mirrored is %.15g, want %.15g", what, got, want)
	}
}

func alike(t *rapid.T, what string, c, m Cell, of func(Cell) (force, uncertainty float64, err error)) {
	t.Helper()
	f, u, err := of(c)
	g, v, err2 := of(m)
	if err != nil || err2 != nil || !(u > 0) {
		t.Fatalf("%s: %g ± %g, %v; mirrored %g ± %g, %v", what, f, u, err, g, v, err2)
	}
	same(t, what, g, f)
	same(t, "uncertainty of the "+what, v, u)
}

// Case B07, wired the other way round.
func TestMirroredNotLinearB07(t *testing.T) {
	points := mirror([]Point{{0, 0, 0.3, 20, true}, {0.2, 200000, 0.3, 20, true}, {0.5, 166000, 0.3, 20, true}})
	if c, err := Load(points, Rating{}); err == nil || !strings.Contains(err.Error(), "not linear") {
		t.Errorf("%+v, %v", c, err)
	}
}

// Repeats count on the way up and on the way down, and each adds its squares. By hand: 100 g twice up at ±200 and twice down
// at ±100 about the same mean are 2·200² + 2·100² over two degrees of freedom.
func TestRepeatsUpAndDown(t *testing.T) {
	points := []Point{{0, 8000, 20, 50, true}, {0.2, 88000, 20, 50, true}}
	for _, p := range []struct {
		off    Counts
		rising bool
	}{{200, true}, {-200, true}, {100, false}, {-100, false}} {
		points = append(points, Point{0.1, 48000 + p.off, 20, 50, p.rising})
	}
	c := mustLoad(t, points)
	if c.Repeats != 2 {
		t.Errorf("%d degrees of freedom", c.Repeats)
	}
	near(t, "repeatability", c.Repeatability, math.Sqrt((2*200*200+2*100*100)/2.0)/80000, 1e-9)
}

// The uncertainty of a check is that of the difference of two readings, the gain's share and one more setting down. By hand,
// in counts: tare 30/√9 = 10; gain 2 counts/N at 3 N; residual 5 against 16/√4 = 8.
func TestVerifyUncertaintyByHand(t *testing.T) {
	c := Cell{Gain: 1000, GainSE: 2, ZeroSE: 77, Cov: -1, Residual: 5, DF: 4, Span: 5}
	tare := Tare{Reading: Reading{500, 30, 9}}
	v, err := Verify(c, Mass(3), Reading{3500, 16, 4}, tare, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "force", v.Force, 3, 1e-12)
	near(t, "above a tare", v.Uncertainty, math.Sqrt(10*10+6*6+8*8)/1000, 1e-12)
	near(t, "interval", v.Interval, 2.776445*v.Uncertainty, 1e-6) // Student's t, four degrees of freedom
	// Without a tare the zero's own uncertainty counts, and what it shares with the gain's.
	v, err = Verify(c, Mass(3), Reading{3000, 16, 4}, Tare{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "without a tare", v.Uncertainty, math.Sqrt(77*77+6*6-2*3+8*8)/1000, 1e-12)
}

// Duties that were joined have the uncertainty of all their runs together.
func TestJoinedDutiesKeepTheirUncertainty(t *testing.T) {
	c := mustCurve(t, runs(minute(50, 30, 30), minute(90, 54.5, 53.5), minute(100, 54.25, 53.75)))
	if len(c.Points) != 2 || c.Points[1].Runs != 4 || c.Points[1].Duty != 0.9 {
		t.Fatalf("%+v", c)
	}
	scatter := math.Sqrt((2*0.5*0.5 + 2*0.25*0.25) / (54 * 54) / 3)
	near(t, "flow", c.Points[1].Flow, mlMin(54), 1e-12)
	near(t, "its uncertainty", c.Points[1].SE, scatter*mlMin(54)/2, 1e-12)
}

// Between a curve that is known well and one that is hardly known, the latter says how sure the comparison is.
func TestWearIsAsSureAsTheLesserCurve(t *testing.T) {
	few := mustCurve(t, runs(minute(50, 30, 30.3), minute(100, 56, 56.4)))
	many := mustCurve(t, runs(minute(50, 29, 29.3, 29.1, 29.2, 29.1), minute(100, 54, 54.4, 54.1, 54.3, 54.2)))
	for _, pair := range [][2]Curve{{few, many}, {many, few}} {
		_, interval, n := compare(pair[0], pair[1])
		var variance float64
		for i := range 2 {
			for _, c := range pair {
				p := c.Points[i]
				variance += p.SE * p.SE / (p.Flow * p.Flow)
			}
		}
		near(t, "interval", interval, 4.302653*math.Sqrt(variance)/float64(n), 1e-6) // two degrees of freedom
	}
}
