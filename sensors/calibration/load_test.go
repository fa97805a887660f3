package calibration

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fullery/sensors"
)

// norris are the 36 points of NIST's Statistical Reference Datasets, linear regression, Norris.
var norris = [][2]float64{{0.2, 0.1}, {337.4, 338.8}, {118.2, 118.1}, {884.6, 888.0}, {10.1, 9.2}, {226.5, 228.1}, {666.3, 668.5},
	{996.3, 998.5}, {448.6, 449.1}, {777.0, 778.9}, {558.2, 559.2}, {0.4, 0.3}, {0.6, 0.1}, {775.5, 778.1}, {666.9, 668.8},
	{338.0, 339.3}, {447.5, 448.9}, {11.6, 10.8}, {556.0, 557.7}, {228.1, 228.3}, {995.8, 998.0}, {887.6, 888.8}, {120.2, 119.6},
	{0.3, 0.3}, {0.3, 0.6}, {556.8, 557.6}, {339.1, 339.3}, {887.2, 888.0}, {999.0, 998.5}, {779.0, 778.9}, {11.1, 10.2},
	{118.3, 117.6}, {229.2, 228.9}, {669.1, 668.4}, {448.9, 449.2}, {0.5, 0.2}}

func near(t testing.TB, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Max(math.Abs(want), 1e-300)) {
		t.Errorf("%s is %.15g, want %.15g", what, got, want)
	}
}

// The certified values of the same page: itl.nist.gov/div898/strd.
func TestNorris(t *testing.T) {
	var x, y []float64
	for _, p := range norris {
		x, y = append(x, p[0]), append(y, p[1])
	}
	f := straight(x, y)
	near(t, "intercept", f.zero, -0.262323073774029, 1e-11)
	near(t, "slope", f.gain, 1.00211681802045, 1e-13)
	near(t, "deviation of the intercept", f.zeroSE, 0.232818234301152, 1e-11)
	near(t, "deviation of the slope", f.gainSE, 0.429796848199937e-3, 1e-11)
	near(t, "residual sum of squares", f.residual*f.residual*34, 26.6173985294224, 1e-11)
	// The covariance by its closed form, which the page does not give: minus the slope's variance times the mean of x.
	var mean float64
	for _, v := range x {
		mean += v / float64(len(x))
	}
	near(t, "covariance", f.cov, -f.gainSE*f.gainSE*mean, 1e-12)
}

// up and down puts masses in grams on and takes them off again.
func up(counts func(grams float64) float64, grams ...float64) (out []Point) {
	for _, m := range grams {
		out = append(out, Point{Mass: m / 1000, Counts: Counts(counts(m)), SD: 20, N: 50, Rising: true})
	}
	return out
}

func upDown(counts func(grams float64) float64, grams ...float64) []Point {
	out := up(counts, grams...)
	for i := len(grams) - 2; i >= 0; i-- {
		p := out[i]
		p.Rising = false
		out = append(out, p)
	}
	return out
}

// typical is a cell of 400 counts a gram whose empty reading is 8000.
func typical(grams float64) float64 { return 8000 + 400*grams }

func mustLoad(t testing.TB, points []Point) Cell {
	t.Helper()
	c, err := Load(points, Rating{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Case B11: 100 gf is 0.980665 N, both ways; g is exact.
func TestForceB11(t *testing.T) {
	if Gravity != 9.80665 {
		t.Fatal("g")
	}
	near(t, "100 gf", Weight(0.1), 0.980665, 1e-15)
	near(t, "0.980665 N", Mass(0.980665), 0.1, 1e-15)
	c := mustLoad(t, upDown(typical, 0, 50, 100, 200))
	force, _, err := c.Force(Counts(typical(100)))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "force of 100 g", force, 0.980665, 1e-9)
	pressure, u, err := c.Pressure(Counts(typical(100)), 4e-4)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "its pressure on 4 cm²", pressure, 2451.6625, 1e-9)
	if u < 0 || u > 1e-6*pressure {
		t.Errorf("uncertainty %g of points that lie on the line", u)
	}
}

// Case B07: what must not become a calibration.
func TestLoadB07(t *testing.T) {
	flat := func(g float64) float64 { return 8000 + 0.5*g } // 100 counts in 200 g, noise 20
	saturated := upDown(typical, 0, 100, 200)
	saturated[2].Counts = 8388607
	heavy := up(typical, 0, 100, 500)
	point := func(change func(*Point)) []Point {
		p := upDown(typical, 0, 100, 200)
		change(&p[1])
		return p
	}
	for _, c := range []struct {
		name   string
		points []Point
		want   string
	}{
		{"nothing", nil, "0 g"},
		{"only the empty cell", up(typical, 0, 0, 0), "only mass is 0 g"},
		{"a mass below nothing", up(typical, 0, -200, 100), "point 2: a mass of -200 g cannot be"},
		{"no empty cell", up(typical, 50, 100, 200), "empty cell is missing"},
		{"two masses", upDown(typical, 0, 200), "two masses lie on a line"},
		{"lost in noise", upDown(flat, 0, 100, 200), "less than 20 times its noise"},
		{"no change at all", upDown(func(float64) float64 { return 5 }, 0, 100, 200), "change the reading by 0 counts"},
		{"500 g read as 166 g", []Point{{0, 0, 0.3, 20, true}, {0.2, 200000, 0.3, 20, true}, {0.5, 166000, 0.3, 20, true}}, "not linear"},
		{"a mistyped mass", up(func(g float64) float64 {
			if g == 150 {
				return typical(100)
			}
			return typical(g)
		}, 0, 50, 150, 200), "not linear"},
		{"the converter at its end", saturated, "point 3: at 200 g the converter is at the end of its range"},
		{"more than the cell may bear", heavy, "500 g is more than the 300 g"},
		{"no mass", point(func(p *Point) { p.Mass = math.NaN() }), "mass is no number"},
		{"no counts", point(func(p *Point) { p.Counts = Counts(math.Inf(1)) }), "gave no number"},
		{"not read", point(func(p *Point) { p.N = 0 }), "was not read"},
		{"no scatter", point(func(p *Point) { p.SD = -1 }), "scatter"},
		{"rubbing", func() []Point {
			p := upDown(typical, 0, 100, 200)
			p[3].Counts += 6000 // 100 g on the way down: 7.5 % of the span, half of it as distance from the line
			p[1].Counts -= 6000
			return p
		}(), "way up and down"},
		{"not again the same", func() []Point {
			p := append(up(typical, 0, 100, 200), up(typical, 0, 100, 200)...)
			p[1].Counts += 8000
			p[4].Counts -= 8000
			return p
		}(), "put on again"},
	} {
		cell, err := Load(c.points, Rating{Load: 0.3, Low: -8388608, High: 8388607})
		if c.name == "500 g read as 166 g" {
			cell, err = Load(c.points, Rating{})
		}
		if err == nil || !strings.Contains(err.Error(), c.want) || cell != (Cell{}) {
			t.Errorf("%s: %+v, %v; want %q", c.name, cell, err, c.want)
		}
	}
}

// Case B07: a gram and a half stays a gram and a half.
func TestLoadKeepsFractionsB07(t *testing.T) {
	c := mustLoad(t, up(func(g float64) float64 { return 1e5 * g }, 0, 1.5, 3))
	near(t, "gain", c.Gain, 1e5*1000/Gravity, 1e-12)
	near(t, "span", c.Span, 0.003*Gravity, 1e-15)
}

// Case B07: a bridge wired the other way round is used, and told.
func TestLoadReversedB07(t *testing.T) {
	c := mustLoad(t, upDown(func(g float64) float64 { return 8000 - 400*g }, 0, 100, 200))
	if !c.Reversed() || !strings.Contains(strings.Join(c.Notes(), "\n"), "other way round") {
		t.Errorf("%+v, %q", c, c.Notes())
	}
	force, u, err := c.Force(8000 - 400*100)
	if err != nil || u < 0 {
		t.Fatal(u, err)
	}
	near(t, "force", force, 0.980665, 1e-9)
}

// The figures by hand: 0, 100, 200 g at 400 counts a gram (span 80 000), with known faults.
func TestFigures(t *testing.T) {
	p := upDown(typical, 0, 100, 200)
	p[1].Counts -= 400 // 100 g rising
	p[3].Counts += 400 // and falling
	c := mustLoad(t, p)
	near(t, "hysteresis", c.Hysteresis, 800.0/80000, 1e-9)
	if c.Linearity > 1e-9 || c.Repeats != 0 || c.DF != 3 {
		t.Errorf("%+v", c)
	}
	near(t, "residual", c.Residual, math.Sqrt(2*400*400/3.0), 1e-9)

	p = append(up(typical, 0, 100, 200), up(typical, 0, 100, 200)...)
	p[1].Counts -= 300
	p[4].Counts += 300
	c = mustLoad(t, p)
	near(t, "repeatability", c.Repeatability, math.Sqrt(2*300*300/3.0)/80000, 1e-9)
	if c.Repeats != 3 || c.Hysteresis != 0 || len(c.Notes()) != 0 {
		t.Errorf("%+v, %q", c, c.Notes())
	}

	// Bent by 600 in the middle: the line passes 200 below the ends and 400 above the middle, or the reverse.
	c = mustLoad(t, up(func(g float64) float64 { return typical(g) + 600*g*(200-g)/10000 }, 0, 100, 200))
	near(t, "linearity", c.Linearity, 400.0/80000, 1e-9)
	if notes := strings.Join(c.Notes(), "\n"); !strings.Contains(notes, "three points") {
		t.Error(notes)
	}
	if notes := mustLoad(t, upDown(typical, 0, 100, 200)).Notes(); len(notes) != 1 || !strings.Contains(notes[0], "repeatability") {
		t.Error(notes)
	}
}

// Case B09: without a calibration there is no force, and no number that looks like one.
func TestUncalibratedB09(t *testing.T) {
	for _, c := range []Cell{{}, {Gain: 1}, {Gain: math.NaN(), Span: 1}, {Gain: math.Inf(1), Span: 1}, {Gain: 1, Span: math.NaN()}} {
		if f, u, err := c.Force(-2147); !errors.Is(err, ErrUncalibrated) || !math.IsNaN(f) || !math.IsNaN(u) {
			t.Errorf("%+v: %g, %g, %v", c, f, u, err)
		}
	}
}

func TestForceRefusesWhatWasNotCalibrated(t *testing.T) {
	c := mustLoad(t, upDown(typical, 0, 100, 200))
	for _, f := range []struct {
		grams float64
		want  bool
	}{{0, true}, {200, true}, {219.9, true}, {220.1, false}, {-19.9, true}, {-20.1, false}, {math.NaN(), false}, {math.Inf(1), false}} {
		force, u, err := c.Force(Counts(typical(f.grams)))
		if (err == nil) != f.want || err != nil && (!errors.Is(err, sensors.ErrRange) || !math.IsNaN(force) || !math.IsNaN(u)) {
			t.Errorf("%g g: %g ± %g, %v", f.grams, force, u, err)
		}
	}
	for _, area := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, _, err := c.Pressure(8000, area); err == nil {
			t.Errorf("an area of %g", area)
		}
	}
	if p, _, err := c.Pressure(8e6, 1e-4); err == nil || !math.IsNaN(p) {
		t.Errorf("%g, %v", p, err)
	}
}

// The standard uncertainty is what it says: over many calibrations with noise of a known size, the force of a reading
// with the same noise misses its true value by one of it, root mean square.
func TestUncertaintyIsHonest(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	const noise = 300.0
	var sum float64
	const runs = 4000
	for range runs {
		noisy := func(g float64) float64 { return typical(g) + noise*random.NormFloat64() }
		c := mustLoad(t, append(up(noisy, 0, 50, 100, 150, 200), up(noisy, 0, 50, 100, 150, 200)...))
		const truth = 180
		force, u, err := c.Force(Counts(noisy(truth)))
		if err != nil {
			t.Fatal(err)
		}
		sum += (force - Weight(truth/1000.0)) * (force - Weight(truth/1000.0)) / (u * u)
	}
	// With 8 degrees of freedom the square is F(1, 8) distributed, whose mean is 8/6.
	if got := sum / runs; math.Abs(got-8.0/6) > 0.15 {
		t.Errorf("mean square of the error in uncertainties is %.3f, want %.3f", got, 8.0/6)
	}
}

// Points without noise give back the line they were made of; their order does not matter, not in the last digit; twice the
// counts are twice the line.
func TestLoadGivesBackTheLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zero := rapid.Float64Range(-1e6, 1e6).Draw(t, "zero")
		gain := rapid.Float64Range(10, 1e6).Draw(t, "gain")
		if rapid.Bool().Draw(t, "reversed") {
			gain = -gain
		}
		points := []Point{{Counts: Counts(zero), N: 1}}
		for _, m := range rapid.SliceOfNDistinct(rapid.IntRange(1, 1000), 2, 12, rapid.ID[int]).Draw(t, "grams") {
			mass := float64(m) / 1000
			points = append(points, Point{Mass: mass, Counts: Counts(zero + gain*Weight(mass)), N: 1, Rising: m%2 == 0})
		}
		c, err := Load(points, Rating{})
		if err != nil {
			t.Fatal(err)
		}
		digits := 1e-9 * (math.Abs(zero) + math.Abs(gain)*c.Span)
		if math.Abs(c.Zero-zero) > digits || math.Abs(c.Gain-gain)*c.Span > digits || c.Residual > digits {
			t.Fatalf("%+v of zero %g and gain %g", c, zero, gain)
		}
		noisy := make([]Point, len(points))
		for i, p := range points {
			p.Counts += Counts(rapid.Float64Range(-0.001, 0.001).Draw(t, "noise") * gain * c.Span)
			noisy[i] = p
		}
		first, err := Load(noisy, Rating{})
		if err != nil {
			t.Fatal(err)
		}
		shuffled := rapid.Permutation(noisy).Draw(t, "order")
		if again, err := Load(shuffled, Rating{}); err != nil || again != first {
			t.Fatalf("in another order %+v, %v, not %+v", again, err, first)
		}
		for i := range noisy {
			noisy[i].Counts *= 2
		}
		double, err := Load(noisy, Rating{})
		if err != nil || math.Abs(double.Gain/first.Gain-2) > 1e-9 || math.Abs(double.GainSE/first.GainSE-2) > 1e-6 ||
			math.Abs(double.Linearity-first.Linearity) > 1e-9 {
			t.Fatalf("twice the counts: %+v, %v, from %+v", double, err, first)
		}
	})
}

// Whatever is typed in: a sentence or a cell of finite numbers, never a panic.
func FuzzLoad(f *testing.F) {
	f.Add(0.0, 8000.0, 0.1, 48000.0, 0.2, 88000.0, 20.0, 10)
	f.Add(0.0, 8388607.0, -0.1, math.NaN(), math.Inf(1), 1e308, -1.0, 0)
	f.Fuzz(func(t *testing.T, m0, c0, m1, c1, m2, c2, sd float64, n int) {
		c, err := Load([]Point{{m0, Counts(c0), sd, n, true}, {m1, Counts(c1), sd, n, true}, {m2, Counts(c2), sd, n, false}}, Rating{})
		if err != nil {
			return
		}
		for _, x := range []float64{c.Zero, c.Gain, c.ZeroSE, c.GainSE, c.Cov, c.Residual, c.Linearity, c.Hysteresis, c.Repeatability, c.Span} {
			if !finite(x) {
				t.Fatalf("%+v", c)
			}
		}
	})
}
