package forecast

import (
	"math"
	"strings"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

func cycleOf(t *testing.T, r recipe.Recipe, b drying.Belief) *cycle {
	t.Helper()
	c, err := newCycle(Ask{Recipe: r, Bench: bench(), Belief: b})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// While it dries the duct holds what the drying's own curve says and what comes from pads and tray.
func TestDuctWhileDrying(t *testing.T) {
	c := cycleOf(t, cleaning("isopropanol-91", ""), drying.Belief{})
	peak := 0.0
	for _, p := range c.curve {
		peak = max(peak, p.OfLimit)
	}
	beside := c.passing / 3e-3 / 0.020
	if beside < 0.005 {
		t.Fatalf("pads and tray give %g of the limit: the test would show nothing", beside)
	}
	near(t, "duct", c.stages[6].OfLimit, peak+beside, 1e-9)
}

// A more exposed bench gives more vapour at once.
func TestExposureGivesVapour(t *testing.T) {
	usual := cycleOf(t, cleaning("isopropanol-91", ""), drying.Belief{})
	twice := cycleOf(t, cleaning("isopropanol-91", ""),
		drying.Belief{Mean: []float64{math.Log(2)}, Cov: [][]float64{{0.01}}, Jitter: 0.1})
	if ratio := twice.peak.OfLimit / usual.peak.OfLimit; ratio < 1.7 || ratio > 2 {
		t.Errorf("twice the exposure gives %g times the vapour", ratio)
	}
}

// The liner cannot keep more than was given, and less dries sooner.
func TestGivenLittle(t *testing.T) {
	r := cleaning("isopropanol-91", "")
	full := cycleOf(t, r, drying.Belief{})
	r.Stages = append([]recipe.Stage{}, r.Stages...)
	r.Stages[0].Flow /= 6 // 1 mL in all
	little := cycleOf(t, r, drying.Belief{})
	if got := little.dry.Minutes.Median / full.dry.Minutes.Median; got > 0.7 {
		t.Errorf("half of what a liner keeps takes %g of the time", got)
	}
}

// The fan runs in every stage after a liquid that burns, whether the recipe says so or not.
func TestFanInEveryStage(t *testing.T) {
	r := cleaning("isopropanol-91", "")
	r.Stages = append([]recipe.Stage{}, r.Stages...)
	for i := range r.Stages {
		r.Stages[i].Fan = 0
	}
	told := cleaning("isopropanol-91", "")
	for i := range told.Stages {
		told.Stages[i].Fan = 1
	}
	a, b := cycleOf(t, r, drying.Belief{}), cycleOf(t, told, drying.Belief{})
	if a.peak != b.peak || a.peak.OfLimit == 0 {
		t.Errorf("fan left out %+v, at full %+v", a.peak, b.peak)
	}
}

// A disk that came wet: nothing is given, no tank is needed, and its vapour is that of what the liner keeps.
func TestDryOnlyOfWhatBurns(t *testing.T) {
	r := recipe.Recipe{Liquid: "ethanol-96", Repeat: 1, Limits: recipe.Limits{Time: time.Hour},
		Stages: []recipe.Stage{{Do: recipe.Dry, UntilDry: true, Fan: 1, AtMost: time.Hour}}}
	f := of(t, Ask{Recipe: r, Bench: bench()})
	if f.Vapour.Spill.PPM != 0 || f.Vapour.Duct.OfLimit < 0.02 {
		t.Errorf("spill %+v, duct %+v", f.Vapour.Spill, f.Vapour.Duct)
	}
	c := cycleOf(t, r, drying.Belief{})
	of, share := c.fuel()
	kept := VapourVolume(of, 2e-6*liquid.Density(c.burns.Composition(), 294.15)*share, 294.15)
	near(t, "vapour", c.out(), kept, 0.011)
}

// The limit of ethanol is its own: 3.1 % (IEC 60079-20-1), not that of isopropanol.
func TestSpillOfEthanol(t *testing.T) {
	l, err := liquid.Parse("ethanol-96")
	if err != nil {
		t.Fatal(err)
	}
	s := Spilt(l, 1e-6, 0.1, 293.15)
	near(t, "1 mL of 96 % in 100 L", s.PPM/1e4, 0.96*0.412, 0.005) // 0.412 L of vapour from 1 mL, 789 mg
	near(t, "of the limit", s.OfLimit, s.PPM/1e6/0.031, 1e-12)
}

// Nothing that is said calls anything harmless.
func TestWords(t *testing.T) {
	v := of(t, Ask{Recipe: cleaning("isopropanol-91", "distilled-water"), Bench: bench()}).Vapour
	for _, text := range append([]string{v.Heater, WarnSource, StopSource}, v.Assumptions...) {
		if lower := strings.ToLower(text); strings.Contains(lower, "safe") || strings.Contains(lower, "harmless") || text == "" {
			t.Errorf("%q", text)
		}
	}
}
