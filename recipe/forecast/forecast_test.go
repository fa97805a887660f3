package forecast

import (
	"math"
	"strings"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
	"fullery/recipe/liquid"

	"pgregory.net/rapid"
)

func bench() recipe.Bench {
	return recipe.Bench{
		Room: recipe.Room{Volume: 30, AirChanges: hourly, Air: 294.15, Humidity: 0.5},
		Tank: recipe.Tank{Capacity: 500e-6}, RinseTank: recipe.Tank{Capacity: 400e-6},
		Fan: recipe.Fan{Fastest: 50, Through: 3e-3, Stirring: 2}, Heater: recipe.Heater{Power: 40},
		Sim: recipe.Sim{Film: 0.3}, Simulated: true,
	}
}

func cleaning(name, rinse string) recipe.Recipe {
	r := recipe.Recipe{Liquid: name, Rinse: rinse, Repeat: 2, Limits: recipe.Limits{Time: 3 * time.Hour}, Stages: []recipe.Stage{
		{Do: recipe.Wet, For: 30 * time.Second, Flow: 1e-7, Fan: 0.5},
		{Do: recipe.Scrub, For: 90 * time.Second, Fan: 0.5},
		{Do: recipe.SpinOut, For: 20 * time.Second, Fan: 0.5},
		{Do: recipe.Dry, UntilDry: true, Fan: 1, AtMost: time.Hour},
	}}
	if rinse != "" {
		r.Stages = append(r.Stages[:2:2], append([]recipe.Stage{{Do: recipe.Rinse, For: 30 * time.Second, Flow: 2e-7}}, r.Stages[2:]...)...)
	}
	return r
}

func of(t testing.TB, a Ask) Forecast {
	t.Helper()
	f, err := Of(a)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestTimes(t *testing.T) {
	a := Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()}
	f := of(t, a)
	begins, err := endpoint.CaseOf(drying.Belief{}, a.Recipe, &a.Bench, a.Recipe.Stages[len(a.Recipe.Stages)-1])
	if err != nil {
		t.Fatal(err)
	}
	want, err := drying.Estimate(drying.Belief{}, drying.Case{Liquid: begins.Liquid, Air: 294.15, Humidity: 0.5, Film: 0.3, Flow: 3e-3}, drying.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if f.Dry.Minutes != want.Minutes || !strings.Contains(f.Dry.Basis, "no logged time") {
		t.Errorf("dry %+v, want %+v", *f.Dry, want.Minutes)
	}
	wet := 2 * 140.0 / 60
	near(t, "median", f.Total.Median, want.Minutes.Median+wet, 1e-9)
	near(t, "low", f.Total.Low, want.Minutes.Low+wet, 1e-9)
	near(t, "high", f.Total.High, want.Minutes.High+wet, 1e-9)
	if len(f.Stages) != 7 || f.Stages[1].Seconds.Median != 90 {
		t.Errorf("stages %+v", f.Stages)
	}
}

func TestBeliefIsUsed(t *testing.T) {
	a := Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()}
	prior := of(t, a)
	l, _ := liquid.Parse("isopropanol-91")
	a.Belief = drying.Prior().Pin(l, 1e-6)
	f := of(t, a)
	if f.Dry.Minutes.Median > 0.7*prior.Dry.Minutes.Median || strings.Contains(f.Dry.Basis, "no logged") {
		t.Errorf("with half the liquid %+v, before %+v", *f.Dry, *prior.Dry)
	}
}

func TestDryStages(t *testing.T) {
	dry := func(s ...recipe.Stage) recipe.Recipe {
		for i := range s {
			s[i].Do, s[i].Fan = recipe.Dry, 1
		}
		return recipe.Recipe{Liquid: "water", Stages: s}
	}
	free := of(t, Ask{Recipe: dry(recipe.Stage{UntilDry: true, AtMost: 4 * time.Hour}), Bench: bench()})
	full := free.Dry.Minutes.Median * 60
	for name, c := range map[string]struct {
		r     recipe.Recipe
		clock time.Duration
		last  float64
		note  string
	}{
		"fixed":     {dry(recipe.Stage{For: 10 * time.Minute}), 0, 600, "may end before it is dry"},
		"fixed, 2":  {dry(recipe.Stage{For: 10 * time.Minute}, recipe.Stage{UntilDry: true, AtMost: 4 * time.Hour}), 0, full - 600, "dries for 0:10:00"},
		"cut short": {dry(recipe.Stage{UntilDry: true, AtMost: 20 * time.Minute}), 0, 1200, "ends the drying after 0:20:00"},
		"by clock":  {dry(recipe.Stage{UntilDry: true, AtMost: 4 * time.Hour}), 50 * time.Minute, 3000, "Only the clock ends the drying, after 0:50:00"},
	} {
		f := of(t, Ask{Recipe: c.r, Bench: bench(), ByClock: c.clock})
		near(t, name, f.Stages[len(f.Stages)-1].Seconds.Median, c.last, 1e-9)
		if notes := strings.Join(f.Dry.Notes, " "); !strings.Contains(notes, c.note) {
			t.Errorf("%s: %q says nothing of %q", name, notes, c.note)
		}
		if f.Vapour != nil {
			t.Errorf("%s: water has vapour that burns", name)
		}
	}
	if len(free.Dry.Notes) != 0 {
		t.Errorf("notes of a plain drying: %q", free.Dry.Notes)
	}
	damp := bench()
	damp.Room.Humidity = 1
	never := of(t, Ask{Recipe: dry(recipe.Stage{UntilDry: true, AtMost: time.Hour}), Bench: damp})
	if !never.Dry.Never || never.Stages[0].Seconds.Median != 3600 || !strings.Contains(never.Dry.Notes[0], "not get dry") {
		t.Errorf("in saturated air %+v, %+v", *never.Dry, never.Stages)
	}
	if f := of(t, Ask{Recipe: recipe.Recipe{Liquid: "water", Stages: []recipe.Stage{{Do: recipe.Soak, For: time.Minute}}}, Bench: bench()}); f.Dry != nil || f.Total.Median != 1 {
		t.Errorf("without a dry %+v", f)
	}
}

// All that was given is found again in the air, but for the last hundredth of what the liner kept.
func TestVapourBalance(t *testing.T) {
	c, err := newCycle(Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()})
	if err != nil {
		t.Fatal(err)
	}
	component, share := c.fuel()
	density := liquid.Density(c.burns.Composition(), 294.15)
	given := VapourVolume(component, 6e-6*density*share, 294.15)
	last := VapourVolume(component, 0.01*2e-6*density, 294.15)
	if out := c.out(); out > given*(1+1e-6) || out < given-last {
		t.Errorf("%.4g L of vapour of %.4g L given", out*1e3, given*1e3)
	}
	near(t, "given", c.given, 6e-6, 1e-9)
	f := of(t, Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()})
	near(t, "spans", c.over(), f.Total.Median*60, 1e-9)
	sealed := bench()
	sealed.Room.AirChanges = 0
	r := of(t, Ask{Recipe: cleaning("isopropanol-91", ""), Bench: sealed}).Vapour
	near(t, "in a sealed room, ppm", r.Room.Cycle.Peak, c.out()/30*1e6, 1e-9)
	near(t, "all day", r.Room.WorkDay.Peak, r.Room.Cycle.Peak*float64(r.Room.Cycles), 1e-9)
	if !math.IsInf(r.Spill.Airing, 1) {
		t.Errorf("a sealed room clears after %g s", r.Spill.Airing)
	}
}

// The duct at the start of a stage: the film's flux at room temperature into the air that passes, by hand.
func TestDuctByHand(t *testing.T) {
	f := of(t, Ask{Recipe: cleaning("isopropanol-100", ""), Bench: bench()})
	v := f.Vapour
	p := liquid.Isopropanol.Saturation(294.15) / drying.Atmosphere
	alpha := 2.18e-5 // m²/s of air at 21 °C, handbook
	kappa := 0.3 * math.Sqrt(0.5) / 29.3 * math.Pow(liquid.Isopropanol.Diffusivity(294.15, drying.Atmosphere)/alpha, 2.0/3)
	air := 1.5e-3 / molarVolume(294.15)
	// N = κ·(p − y), y = N/air, Stefan's factor of about 1 + p/2 left in.
	want := kappa * p * (1 + p/2) / (air + kappa) / 0.020
	near(t, "duct", v.Duct.OfLimit, want, 0.05)
	if v.Duct.Stage != 0 || v.Duct.At != 0 || v.Duct.OfLimit != f.Stages[0].OfLimit {
		t.Errorf("peak %+v", v.Duct)
	}
	if v.Duct.OfLimit < f.Stages[6].OfLimit || f.Stages[6].OfLimit < 0.04 {
		t.Errorf("drying %g of the limit, at most %g", f.Stages[6].OfLimit, v.Duct.OfLimit)
	}
}

func TestNeeds(t *testing.T) {
	for _, name := range []string{"isopropanol-91", "ethanol-96"} {
		for _, share := range []float64{0.03, 0.25} {
			a := Ask{Recipe: cleaning(name, ""), Bench: bench(), Duct: share, PPM: 100}
			n := of(t, a).Vapour.Need
			if !n.ThroughOK || !n.ChangesOK {
				t.Fatalf("%+v", n)
			}
			a.Bench.Fan.Through = n.Through
			if got := of(t, a).Vapour.Duct.OfLimit; got >= share || got < 0.995*share {
				t.Errorf("%s: %g of the limit with the flow for %g", name, got, share)
			}
			a.Bench.Fan.Through, a.Bench.Room.AirChanges = 3e-3, n.Changes
			if got := of(t, a).Vapour.Room.WorkDay.Quarter; got >= 100 || got < 99 {
				t.Errorf("%s: %g ppm with the air changes for 100", name, got)
			}
		}
	}
	if n := of(t, Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()}).Vapour.Need; n.PPM != 400 || n.Duct != 0.10 {
		t.Errorf("without a wish %+v", n)
	}
}

func TestFront(t *testing.T) {
	list := []Flow{
		{Through: 1e-3, Minutes: 20.2, OfLimit: 0.30}, {Through: 2e-3, Minutes: 18.4, OfLimit: 0.15},
		{Through: 3e-3, Minutes: 17.8, OfLimit: 0.09}, {Through: 4e-3, Minutes: 17.6, OfLimit: 0.05}, // no quicker as printed
		{Through: 5e-3, Minutes: 16.9, OfLimit: 0.04}, {Through: 6e-3, Minutes: math.Inf(1), OfLimit: 0.03},
	}
	front(list, 0.10)
	for i, want := range []bool{true, true, true, false, true, false} {
		if list[i].Front != want {
			t.Errorf("flow %d: %+v", i, list[i])
		}
	}
}

func TestFlows(t *testing.T) {
	list := of(t, Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()}).Vapour.Flows
	if len(list) != len(shares) {
		t.Fatalf("%d flows", len(list))
	}
	for i := 1; i < len(list); i++ {
		if list[i].OfLimit >= list[i-1].OfLimit || list[i].Minutes > list[i-1].Minutes {
			t.Errorf("%+v after %+v", list[i], list[i-1])
		}
	}
}

// More through-flow thins the duct, more air changes and a larger room thin the room, whatever the bench.
func TestMoreAirLessVapour(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{"isopropanol-99", "isopropanol-70", "ethanol-96", "isopropanol-10"}).Draw(t, "liquid")
		b := bench()
		b.Room.Air = rapid.Float64Range(283, 308).Draw(t, "air")
		b.Room.Humidity = rapid.Float64Range(0.1, 0.7).Draw(t, "humidity")
		b.Fan.Through = rapid.Float64Range(2e-4, 2e-2).Draw(t, "through")
		b.Sim.Film = rapid.Float64Range(0.05, 1).Draw(t, "film")
		c, err := newCycle(Ask{Recipe: cleaning(name, ""), Bench: b})
		if err != nil {
			t.Fatal(err)
		}
		b.Fan.Through *= 1.3
		more, err := newCycle(Ask{Recipe: cleaning(name, ""), Bench: b})
		if err != nil {
			t.Fatal(err)
		}
		if !(more.peak.OfLimit < c.peak.OfLimit) {
			t.Fatalf("%g of the limit with more flow, %g before", more.peak.OfLimit, c.peak.OfLimit)
		}
		for _, s := range c.spans {
			if s.Vapour < 0 || s.Seconds < 0 {
				t.Fatalf("%+v", s)
			}
		}
	})
}

func TestTwoLiquids(t *testing.T) {
	for name, c := range map[string]struct {
		liquid, rinse, held string
		burns               string
		spilt, asked        float64
		assumptions         int
	}{
		"rinsed with water": {"isopropanol-91", "distilled-water", "", "isopropanol-91", 500e-6, 400, 4},
		"two that burn":     {"isopropanol-91", "ethanol-96", "", "ethanol-96", 900e-6, 1000, 3},
		"held before":       {"water-detergent", "distilled-water", "isopropanol-70", "isopropanol-70", 0, 400, 4},
		"all water":         {"water-detergent", "distilled-water", "", "", 0, 0, 0},
	} {
		b := bench()
		b.PadsAndBathHeld = c.held
		f := of(t, Ask{Recipe: cleaning(c.liquid, c.rinse), Bench: b})
		if c.burns == "" {
			if f.Vapour != nil {
				t.Errorf("%s: %+v", name, f.Vapour)
			}
			continue
		}
		v := f.Vapour
		if v.Liquid.Name != c.burns || math.Abs(v.Spill.Liquid-c.spilt) > 1e-12 || v.Need.PPM != c.asked || len(v.Assumptions) != c.assumptions {
			t.Errorf("%s: %s, %g mL spilt, %g ppm, %q", name, v.Liquid.Name, v.Spill.Liquid*1e6, v.Need.PPM, v.Assumptions)
		}
		if v.Duct.OfLimit <= 0 || !strings.Contains(v.Heater, "refused") || !strings.Contains(v.Heater, v.Liquid.Title) {
			t.Errorf("%s: duct %g, %q", name, v.Duct.OfLimit, v.Heater)
		}
	}
}

func TestBadInput(t *testing.T) {
	for want, spoil := range map[string]func(*Ask){
		"a room of 0 m³":          func(a *Ask) { a.Bench.Room.Volume = 0 },
		"a room of NaN m³":        func(a *Ask) { a.Bench.Room.Volume = math.NaN() },
		"-1 air changes an hour":  func(a *Ask) { a.Bench.Room.AirChanges = -hourly },
		"40 % of the lower":       func(a *Ask) { a.Duct = 0.4 },
		"NaN % of the lower":      func(a *Ask) { a.Duct = math.NaN() },
		"-5 ppm in the room":      func(a *Ask) { a.PPM = -5 },
		"carries away 0 L/s":      func(a *Ask) { a.Bench.Fan.Through = 0 },
		"is not a known liquid":   func(a *Ask) { a.Recipe.Liquid = "brandy" },
		"acetone":                 func(a *Ask) { a.Recipe.Liquid = "acetone" },
		"relative humidity of 12": func(a *Ask) { a.Bench.Room.Humidity = 1.2 },
		"room air of -10 °C":      func(a *Ask) { a.Bench.Room.Air = 263.15 },
	} {
		a := Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()}
		spoil(&a)
		f, err := Of(a)
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("want %q: %v", want, err)
		}
		if f.Stages != nil {
			t.Errorf("%s: a forecast all the same", want)
		}
	}
}

// A bench file of a real bench gives no film; the usual one stands in, and the plan says so.
func TestFilmOfRealBench(t *testing.T) {
	b := bench()
	b.Simulated, b.Sim.Film = false, 5 // a board's file has no such key
	f := of(t, Ask{Recipe: cleaning("isopropanol-91", ""), Bench: b})
	near(t, "the usual film", f.Dry.Minutes.Median, of(t, Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()}).Dry.Minutes.Median, 1e-9)
	if !strings.Contains(strings.Join(f.Dry.Notes, " "), "0.3 W/K was assumed") {
		t.Errorf("%q", f.Dry.Notes)
	}
}

func BenchmarkOf(b *testing.B) {
	a := Ask{Recipe: cleaning("isopropanol-91", ""), Bench: bench()}
	for b.Loop() {
		if _, err := Of(a); err != nil {
			b.Fatal(err)
		}
	}
}
