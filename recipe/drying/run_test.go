package drying

import (
	"math"
	"strings"
	"testing"

	"fullery/recipe/liquid"

	"pgregory.net/rapid"
)

func component(i int) liquid.Component { return liquid.Component(i) }

var liquids = []string{"water", "water-detergent", "isopropanol-99", "isopropanol-91", "isopropanol-70", "isopropanol-5",
	"ethanol-96", "ethanol-70", "isopropanol-100"}

// anyCase draws from everything that a Run takes, corners included.
func anyCase(t *rapid.T) Case {
	l, err := liquid.Parse(rapid.SampledFrom(liquids).Draw(t, "liquid"))
	if err != nil {
		t.Fatal(err)
	}
	c := Case{
		Liquid:   l,
		Kept:     1e-6 * math.Exp(rapid.Float64Range(-3, 4).Draw(t, "ln mL")),
		Air:      zeroC + rapid.Float64Range(0, 50).Draw(t, "air"),
		Humidity: rapid.Float64Range(0, 1).Draw(t, "humidity"),
		Film:     math.Exp(rapid.Float64Range(-6, 2.9).Draw(t, "ln film")),
		Flow:     1e-3 * math.Exp(rapid.Float64Range(-6, 6).Draw(t, "ln flow")),
		Until:    rapid.SampledFrom([]float64{0, 0.001, 0.01, 0.1, 0.5}).Draw(t, "until"),
		Pressure: rapid.SampledFrom([]float64{0, 60e3, 101325, 110e3}).Draw(t, "pressure"),
	}
	if rapid.Bool().Draw(t, "warmed") {
		c.Warm = c.Air + rapid.Float64Range(0, 20).Draw(t, "warmer")
	}
	return c
}

func TestAnyRunHoldsTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCase(t)
		r, err := Run(c, Options{Curve: true})
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasPrefix(r.Reason, "the computation") || r.Never != (r.Reason != "") {
			t.Fatalf("never %v, reason %q", r.Never, r.Reason)
		}
		hottest, peak := max(c.Air, c.Warm), 0.0
		for i, p := range r.Curve {
			for _, m := range p.Amounts {
				if !(m >= 0) {
					t.Fatalf("at %g s %g kg are left", p.Seconds, m)
				}
			}
			// Water that is taken up may warm the liner above the air, by little.
			if !(p.Liner > zeroC-40 && p.Liner < hottest+6) || !(p.Outlet > zeroC-40 && p.Outlet < hottest+6) {
				t.Fatalf("at %g s the liner has %g K, the air %g K", p.Seconds, p.Liner, p.Outlet)
			}
			if !(p.Vapour >= 0 && p.Vapour < 1 && p.Humidity >= 0) {
				t.Fatalf("at %g s vapour %g, humidity %g", p.Seconds, p.Vapour, p.Humidity)
			}
			if i > 0 && !(p.Seconds > r.Curve[i-1].Seconds) {
				t.Fatalf("time stands still at %g s", p.Seconds)
			}
			peak = max(peak, p.Rate)
		}
		last := r.Curve[len(r.Curve)-1]
		until := c.filled().Until
		if got := last.Amounts.Total() / r.KeptMass; !r.Never && math.Abs(got-until) > 1e-4*until {
			t.Fatalf("called dry with %g left, want %g", got, until)
		}
		if math.Abs(last.Seconds/60-r.Minutes) > 1e-9*r.Minutes || r.PeakRate < peak || r.Coldest > c.Air || r.WaterGained < 0 {
			t.Fatalf("the sum %+v does not go with the curve", r)
		}
	})
}

// likelyCase draws from what a bench might do.
func likelyCase(t *rapid.T) Case {
	l, err := liquid.Parse(rapid.SampledFrom(liquids).Draw(t, "liquid"))
	if err != nil {
		t.Fatal(err)
	}
	across := func(low, high float64, what string) float64 {
		return math.Exp(rapid.Float64Range(math.Log(low), math.Log(high)).Draw(t, what))
	}
	c := Case{Liquid: l, Kept: across(0.3e-6, 6e-6, "ln kept"), Air: zeroC + rapid.Float64Range(10, 35).Draw(t, "air"),
		Humidity: rapid.Float64Range(0, 0.85).Draw(t, "humidity"), Film: across(0.03, 1, "ln film"),
		Flow: across(0.3e-3, 10e-3, "ln flow"), Until: across(0.005, 0.2, "ln until"),
		Pressure: rapid.Float64Range(80e3, 105e3).Draw(t, "pressure")}
	if rapid.Bool().Draw(t, "warmed") {
		c.Warm = c.Air + rapid.Float64Range(0, 20).Draw(t, "warmer")
	}
	return c
}

// What left over time is what is gone, and the vapour in the air that leaves is what left the liner.
func TestMassBalanceCloses(t *testing.T) {
	for _, name := range liquids {
		c := shipped(t, name)
		r := mustRun(t, c, Options{Curve: true, Tolerance: 1e-7})
		left, vapour := 0.0, 0.0
		dryAir := c.Flow * (Atmosphere - 0.5*liquid.Water.Saturation(c.Air)) / (gas * c.Air)
		for i := 1; i < len(r.Curve); i++ {
			a, b := r.Curve[i-1], r.Curve[i]
			left += (a.Rate + b.Rate) / 2 * (b.Seconds - a.Seconds)
			out := func(p Point) float64 { // mol/s of alcohol with the air
				water := p.Humidity * liquid.Water.Saturation(p.Outlet) / Atmosphere
				return dryAir * p.Vapour / (1 - p.Vapour - water)
			}
			vapour += (out(a) + out(b)) / 2 * (b.Seconds - a.Seconds)
		}
		first, last := r.Curve[0].Amounts, r.Curve[len(r.Curve)-1].Amounts
		near(t, name+" left the liner, kg", left, first.Total()-last.Total(), 1e-3)
		alcohol := 0.0
		for i := 1; i < n; i++ {
			alcohol += (first[i] - last[i]) / component(i).MolarMass()
		}
		if alcohol > 0 {
			near(t, name+" left with the air, mol", vapour, alcohol, 1e-3)
		}
	}
}

func TestToleranceKeepsMinutesWithinATenthOfAPercent(t *testing.T) {
	for _, name := range liquids {
		c := shipped(t, name)
		fine := mustRun(t, c, Options{Tolerance: 1e-8})
		got := mustRun(t, c, Options{})
		near(t, name, got.Minutes, fine.Minutes, 1e-3)
		about(t, name+" coldest", got.Coldest, fine.Coldest, 0.002)
	}
}

// Anything that a bench might do, against a thousand times smaller tolerance, which looks at it hundreds of times.
func TestExtremesBetweenSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := likelyCase(t)
		o := Options{Critical: rapid.Float64Range(0.1, 0.6).Draw(t, "critical"), Solid: rapid.Float64Range(3, 30).Draw(t, "solid")}
		got, err := Run(c, o)
		if err != nil {
			t.Fatal(err)
		}
		closely := func(until float64) Result {
			c.Until = until
			r, err := Run(c, Options{Critical: o.Critical, Solid: o.Solid, Tolerance: 1e-7, Curve: true})
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		until := c.Until
		sooner, later := closely(1.002*until), closely(0.998*until)
		// Where the alcohol has gone and about as much water is left as counts as dry, the time leaps; between the two it may.
		if got.Never != later.Never && got.Never != sooner.Never || !got.Never && got.Minutes < 0.996*sooner.Minutes ||
			!later.Never && got.Minutes > 1.004*later.Minutes {
			t.Fatalf("%.4f min, looked at closely %.4f to %.4f min", got.Minutes, sooner.Minutes, later.Minutes)
		}
		seen := func(r Result) (least, most float64) {
			least = c.Air
			for _, p := range r.Curve {
				least, most = min(least, p.Liner), max(most, p.Rate)
			}
			return least, most
		}
		least, most := seen(later)
		warmer, _ := seen(sooner)
		if got.Coldest < least-0.02 || got.Coldest > warmer+0.02 {
			t.Fatalf("coldest %.4f K, looked at closely %.4f K", got.Coldest, least)
		}
		if math.Abs(got.PeakRate/most-1) > 1e-3 {
			t.Fatalf("peak %.6g kg/s, looked at closely %.6g kg/s", got.PeakRate, most)
		}
	})
}

// A liner of weak alcohol that comes into warm air dries fastest some way on, and not at the end of a step.
func TestRateRisesFirst(t *testing.T) {
	c := shipped(t, "isopropanol-5")
	c.Humidity, c.Warm = 1, c.Air+20
	fine := mustRun(t, c, Options{Tolerance: 1e-8, Curve: true})
	first, last := fine.Curve[0].Rate, 0.0
	for _, p := range fine.Curve {
		if p.Amounts.Total() > 0.5*fine.KeptMass {
			last = p.Rate
		}
	}
	if fine.PeakRate < 1.1*max(first, last) {
		t.Fatalf("the rate is %.4g at the start, %.4g half-way and %.4g kg/s at most", first, last, fine.PeakRate)
	}
	near(t, "peak", mustRun(t, c, Options{}).PeakRate, fine.PeakRate, 5e-4)
}

// No step crosses the corner at which the rate begins to fall: it is a point of the curve, both ways.
func TestCornerIsAPoint(t *testing.T) {
	for _, name := range liquids {
		for _, critical := range []float64{0.1, 0.3, 0.6} {
			r := mustRun(t, shipped(t, name), Options{Curve: true, Critical: critical})
			nearest := 1.0
			for _, p := range r.Curve {
				nearest = min(nearest, math.Abs(p.Amounts.Total()/r.KeptMass-critical))
			}
			if nearest > 1e-9 {
				t.Errorf("%s: the curve passes %g at %.1e", name, critical, nearest)
			}
		}
	}
	// So damp and so cold that the liner takes up more water than it loses alcohol, around the corner.
	c := shipped(t, "ethanol-96")
	c.Humidity, c.Flow, c.Film, c.Until = 0.99, 50e-3, 1, 0.05
	rough, fine := mustRun(t, c, Options{Critical: 0.46}), mustRun(t, c, Options{Critical: 0.46, Tolerance: 1e-8})
	near(t, "water gained", rough.WaterGained, fine.WaterGained, 2e-3)
}

func TestBlushing(t *testing.T) {
	c := shipped(t, "isopropanol-99")
	damp := mustRun(t, c, Options{})
	c.Humidity = 0
	dry := mustRun(t, c, Options{})
	if !damp.Blushing || damp.WaterGained < 0.1e-3 || damp.Minutes < 1.5*damp.WithoutUptake {
		t.Errorf("in damp air: blushing %v, %.3g kg gained, %.1f against %.1f min", damp.Blushing, damp.WaterGained,
			damp.Minutes, damp.WithoutUptake)
	}
	if dry.Blushing || dry.WaterGained != 0 || dry.Minutes != dry.WithoutUptake {
		t.Errorf("in dry air: blushing %v, %.3g kg gained", dry.Blushing, dry.WaterGained)
	}
	if water := mustRun(t, shipped(t, "water"), Options{}); water.Blushing || water.WaterGained != 0 {
		t.Errorf("water: %+v", water)
	}
}

func TestNever(t *testing.T) {
	for _, c := range []struct {
		name, says string
		change     func(*Case)
	}{
		{"saturated air", "too damp", func(c *Case) { c.Humidity = 1 }},
		{"no air", "no air passes", func(c *Case) { c.Flow = 0 }},
		{"hardly any air", "more air", func(c *Case) { c.Flow = 1e-8 }},
	} {
		for _, name := range []string{"water", "isopropanol-99"} {
			in := shipped(t, name)
			c.change(&in)
			r := mustRun(t, in, Options{})
			if !r.Never || !strings.Contains(r.Reason, c.says) {
				t.Errorf("%s, %s: never %v after %.1f min, %q; want one with %q", name, c.name, r.Never, r.Minutes, r.Reason,
					c.says)
			}
		}
	}
	warmed := shipped(t, "water")
	warmed.Humidity, warmed.Warm = 1, warmed.Air+15
	if r := mustRun(t, warmed, Options{}); r.Never {
		t.Errorf("saturated air that is warmed dries, but: %s", r.Reason)
	}
}

// With 5 L/s the outlet of a water-wet disk of 0.15 W/K is hardly different from what comes in; with 0.5 L/s it is, and
// drying takes little longer: speed over the disk dries it, not the air thrown away.
func TestThroughFlow(t *testing.T) {
	c := shipped(t, "water")
	c.Film, c.Flow = 0.15, 5e-3
	much := mustRun(t, c, Options{Curve: true})
	c.Flow = 0.5e-3
	little := mustRun(t, c, Options{Curve: true})
	colder := func(r Result) (k float64) {
		for _, p := range r.Curve {
			k = max(k, c.Air-p.Outlet)
		}
		return k
	}
	if a, b := colder(much), colder(little); a > 0.5 || b < 1 {
		t.Errorf("the outlet is %.2f K colder with 5 L/s and %.2f K with 0.5 L/s", a, b)
	}
	if ratio := little.Minutes / much.Minutes; ratio < 1.03 || ratio > 1.3 {
		t.Errorf("a tenth of the air takes %.2f times as long", ratio)
	}
	c.Liquid = named(t, "isopropanol-99")
	if r := mustRun(t, c, Options{}); r.PeakOfLimit < 0.15 || r.PeakOfLimit > 0.4 {
		t.Errorf("isopropanol reaches %.0f %% of its lower flammable limit, about a quarter is wanted", 100*r.PeakOfLimit)
	}
}

func TestBadInput(t *testing.T) {
	for _, c := range []struct {
		says   string
		change func(*Case)
	}{
		{"relative humidity of 120 % cannot be used; give 0 % to 100 %", func(c *Case) { c.Humidity = 1.2 }},
		{"liquid kept in the liner of 5 L cannot be used", func(c *Case) { c.Kept = 5e-3 }},
		{"liquid kept in the liner of 0 mL", func(c *Case) { c.Kept = 0 }},
		{"liquid kept in the liner of NaN", func(c *Case) { c.Kept = math.NaN() }},
		{"air flow of -5 L/s", func(c *Case) { c.Flow = -5e-3 }},
		{"film conductance of -1 W/K", func(c *Case) { c.Film = -1 }},
		{"film conductance of +Inf W/K", func(c *Case) { c.Film = math.Inf(1) }},
		{"room air of 80 °C", func(c *Case) { c.Air = zeroC + 80 }},
		{"colder than the room air of 21 °C", func(c *Case) { c.Warm = zeroC + 10 }},
		{"colder than the room air", func(c *Case) { c.Warm = math.NaN() }},
		{"warmed air of 120 °C", func(c *Case) { c.Warm = zeroC + 120 }},
		{"fraction that counts as dry of 100 %", func(c *Case) { c.Until = 1 }},
		{"air pressure of 1 kPa", func(c *Case) { c.Pressure = 1e3 }},
		{"no liquid is named", func(c *Case) { c.Liquid = liquid.Liquid{} }},
	} {
		in := shipped(t, "isopropanol-91")
		c.change(&in)
		r, err := Run(in, Options{})
		if err == nil || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("got %v, want one sentence with %q", err, c.says)
		}
		if r.Minutes != 0 {
			t.Errorf("%s: still gave %g min", c.says, r.Minutes)
		}
	}
	for _, o := range []Options{{Critical: 2}, {Solid: -1}, {Horizon: math.NaN()}, {Tolerance: 1}} {
		if _, err := Run(shipped(t, "water"), o); err == nil {
			t.Errorf("%+v was accepted", o)
		}
	}
}

func FuzzRun(f *testing.F) {
	f.Add(uint8(2), 2e-6, 294.15, 0.5, 0.0, 0.3, 3e-3, 0.01, 0.0)
	f.Add(uint8(0), 1e-4, 273.15, 1.0, 343.15, 20.0, 1.0, 0.001, 60e3)
	f.Add(uint8(6), 1e-9, 323.15, 0.0, 0.0, 1e-3, 0.0, 0.5, 110e3)
	f.Add(uint8(4), math.NaN(), math.Inf(1), -1.0, 1.0, 0.3, 3e-3, 0.01, 0.0)
	f.Fuzz(func(t *testing.T, which uint8, kept, air, humidity, warm, film, flow, until, pressure float64) {
		c := Case{named(t, liquids[int(which)%len(liquids)]), kept, air, humidity, warm, film, flow, until, pressure}
		r, err := Run(c, Options{Horizon: 1e6})
		if err != nil {
			if err.Error() == "" || strings.Contains(err.Error(), "\n") {
				t.Fatalf("not a sentence: %q", err)
			}
			return
		}
		for _, v := range []float64{r.Minutes, r.KeptMass, r.Coldest, r.PeakRate, r.PeakOfLimit, r.WaterGained} {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
				t.Fatalf("%+v gives %+v", c, r)
			}
		}
		if strings.HasPrefix(r.Reason, "the computation") {
			t.Fatalf("%+v: %s", c, r.Reason)
		}
	})
}

func BenchmarkRun(b *testing.B) {
	for _, name := range []string{"water-detergent", "isopropanol-99", "isopropanol-70", "ethanol-96"} {
		c := shipped(b, name)
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Run(c, Options{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
