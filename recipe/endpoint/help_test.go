package endpoint

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"fullery/recipe"
	"fullery/recipe/drying"

	"pgregory.net/rapid"
)

// dryStage is a recipe that ends with drying, and that stage.
func dryStage(liquid string) (recipe.Recipe, recipe.Stage) {
	s := recipe.Stage{Do: recipe.Dry, Fan: 1, UntilDry: true}
	return recipe.Recipe{Name: "test", Liquid: liquid, Stages: []recipe.Stage{s}}, s
}

var inHelp = regexp.MustCompile(`with ([0-9.]+) L/s or less`)

// TestThroughFlowHelps: the through-flow that is named really makes the air leaving visible, to the digits as they are
// written, and three tenths more does not.
func TestThroughFlowHelps(t *testing.T) {
	told := 0
	rapid.Check(t, func(r *rapid.T) {
		liquid := rapid.SampledFrom([]string{"water", "water-detergent", "isopropanol-70", "isopropanol-91", "isopropanol-99",
			"ethanol-96"}).Draw(r, "liquid")
		b := benchWith(sensorsOf(ByAir)...)
		b.Room.Humidity = rapid.Float64Range(0.2, 0.85).Draw(r, "humidity")
		b.Fan.Through = 1e-3 * rapid.Float64Range(1, 20).Draw(r, "litres")
		rec, s := dryStage(liquid)
		s.Fan = rapid.SampledFrom([]float64{0.5, 1}).Draw(r, "fan")
		p, err := ForStage(drying.Belief{}, rec, b, s)
		if err != nil {
			r.Fatal(err)
		}
		if p.Expected.Never || p.Sights[ByAir-1].Visible {
			return
		}
		help := HelpFor(drying.Belief{}, rec, b, s, ByAir)
		if help == "" {
			return
		}
		told++
		m := inHelp.FindStringSubmatch(help)
		if m == nil || !strings.Contains(Help(drying.Belief{}, rec, b, s), help) {
			r.Fatalf("%q", help)
		}
		litres, _ := strconv.ParseFloat(m[1], 64)
		sees := func(litres float64) bool {
			c := *b
			c.Fan.Through = litres * 1e-3
			q, err := ForStage(drying.Belief{}, rec, &c, s)
			return err == nil && q.Sights[ByAir-1].Visible
		}
		if !sees(litres) || !sees(litres*0.7) || sees(litres*1.3) {
			r.Fatalf("%q: at it visible %v, below %v, above %v", help, sees(litres), sees(litres*0.7), sees(litres*1.3))
		}
	})
	if told < 20 {
		t.Errorf("a through-flow was named %d times: the test tests nothing", told)
	}
}

// TestBetterSensorHelps: a scale or a jacket sensor that is off by no more than what is named could tell.
func TestBetterSensorHelps(t *testing.T) {
	for _, q := range []struct {
		e    Evidence
		unit string
		read string
	}{{ByWeight, "a scale that is off by no more than %g mg", "weight"}, {BySurface, "a surface sensor that is off by no more than %g K", "surface"}} {
		b := benchWith(sensorsOf(q.e)...)
		for i := range b.Sensors {
			b.Sensors[i].Noise *= 100
		}
		rec, s := dryStage("isopropanol-91")
		help := Help(drying.Belief{}, rec, b, s)
		var off float64
		if _, err := fmt.Sscanf(help, q.unit, &off); err != nil || off <= 0 {
			t.Errorf("%s: %q", q.read, help)
		}
		p, err := ForStage(drying.Belief{}, rec, b, s)
		if err != nil || p.Sights[q.e-1].Visible {
			t.Fatalf("%v: visible through a hundred times the noise", err)
		}
	}
}

// TestHelpForNothing: what is said where nothing is fitted, where nothing dries, and where the estimate refuses.
func TestHelpForNothing(t *testing.T) {
	rec, s := dryStage("water")
	if got := Help(drying.Belief{}, rec, benchWith(), s); got != "a surface sensor, read on the dry disk before wetting, could tell" {
		t.Errorf("nothing fitted: %q", got)
	}
	damp := benchWith(recipe.Air, recipe.Surface, recipe.Weight)
	damp.Room.Humidity = 1
	if got := Help(drying.Belief{}, rec, damp, s); strings.Contains(got, "0 mg") || strings.Contains(got, "0.00") || !strings.Contains(got, "dri") {
		t.Errorf("in saturated air: %q", got)
	}
	for _, e := range append(kindsOf(), NoEvidence, ByClock, 99) {
		if got := HelpFor(drying.Belief{}, rec, damp, s, e); got != "" {
			t.Errorf("in saturated air for %s: %q", e, got)
		}
	}
	damp.Room.Humidity = 2
	if got := Help(drying.Belief{}, rec, damp, s); !strings.Contains(got, "humidity") {
		t.Errorf("impossible air: %q", got)
	}
	noisy := benchWith(recipe.AirIn, recipe.AirOut)
	noisy.Sensors[recipe.AirOut].Noise = 5
	if got := HelpFor(drying.Belief{}, rec, noisy, s, ByAir); got != "" {
		t.Errorf("no through-flow helps against 5 K: %q", got)
	}
}

func kindsOf() []Evidence { k := kinds(); return k[:] }

// TestFloor2 writes two digits and never more than there is.
func TestFloor2(t *testing.T) {
	for x, want := range map[float64]string{1.26: "1.2", 0.999: "0.99", 1: "1", 12.9: "12", 0.2: "0.2", 0.0567: "0.056", 3.1: "3.1"} {
		if got := floor2(x); got != want {
			t.Errorf("%g: %s, want %s", x, got, want)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		x := rapid.Float64Range(1e-3, 1e3).Draw(r, "x")
		if got, err := strconv.ParseFloat(floor2(x), 64); err != nil || got > x*(1+1e-6) || got < x*0.9 {
			r.Fatalf("%g: %s", x, floor2(x))
		}
	})
}

// TestCaseOf: the stage's air, the liquid that was on the disk last, and no more of it than was given.
func TestCaseOf(t *testing.T) {
	b := benchWith()
	rec, s := dryStage("water-detergent")
	s.Fan, s.Warm = 0.25, zeroC+36
	rec.Rinse = "isopropanol-91"
	c, err := CaseOf(drying.Belief{}, rec, b, s)
	if err != nil {
		t.Fatal(err)
	}
	if c.Liquid.Name != "isopropanol-91" || c.Kept != 0 || c.Warm != zeroC+36 {
		t.Errorf("%+v", c)
	}
	// A laminar film goes with the square root of the speed (Schlichting: Nu ∝ √Re), the through-flow with the speed.
	agree(t, "film", c.Film, 0.3*0.5, 1e-12)
	agree(t, "through-flow", c.Flow, 0.25*3e-3, 1e-12)
	s.Fan, s.Warm = 0, zeroC+10
	if c = Around(b, s); c.Warm != 0 || c.Flow != 0 || c.Film != 0.3*restStirring {
		t.Errorf("at rest, asked for less than the room's warmth: %+v", c)
	}
	b.Simulated = false
	if StatesFilm(b) || Around(b, recipe.Stage{Fan: 1}).Film != UsualFilm {
		t.Error("a real bench states its film")
	}
	rec.Stages = []recipe.Stage{{Do: recipe.Wet, Flow: 1e-8, For: 60e9}, s}
	if c, err = CaseOf(drying.Belief{}, rec, b, s); err != nil || c.Kept != rec.Dose() || c.Kept != 0.6e-6 {
		t.Errorf("%v: 0.6 mL were given, %g m³ are kept", err, c.Kept)
	}
	rec.Rinse, rec.Liquid = "", "brush cleaner"
	if _, err = CaseOf(drying.Belief{}, rec, b, s); err == nil {
		t.Error("an unknown liquid is dried")
	}
}
