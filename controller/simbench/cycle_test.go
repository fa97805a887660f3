package simbench

import (
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipes"
)

// fullRecipe uses every stage. Water is dried in warmed air.
func fullRecipe(liquid string) recipe.Recipe {
	r := testRecipe(liquid)
	r.Limits = recipe.Limits{Liquid: 20 * mL, Time: 4 * time.Hour}
	second := time.Second
	r.Stages = []recipe.Stage{
		{Do: recipe.Wet, Flow: 6 * mL * perMin, For: 30 * second, AtMost: 90 * second},
		{Do: recipe.Soak, For: 10 * second, AtMost: 70 * second, Hub: 0.3},
		{Do: recipe.Scrub, Pads: 1, Hub: 0.3, For: 40 * second, AtMost: 100 * second, Reverse: 10 * second},
		{Do: recipe.Rinse, Flow: 10 * mL * perMin, For: 30 * second, AtMost: 90 * second, Hub: 0.3},
		{Do: recipe.SpinOut, Hub: 5, For: 40 * second, AtMost: 100 * second},
		{Do: recipe.Dry, Fan: 1, Hub: 0.3, UntilDry: true, AtMost: 90 * time.Minute},
	}
	if strings.HasPrefix(liquid, "isopropanol") {
		r.Stages = append(r.Stages[:3], r.Stages[4:]...) // not rinsed: water would stay
	} else {
		r.Stages[5].Warm = zeroC + 36
	}
	return r
}

// outcome is what a cycle came to.
type outcome struct {
	state   controller.State
	stage   recipe.Kind
	tripped []controller.Guard
	truth   Truth
}

// cycle runs one whole cycle of the real controller on the bench, with faults to order, until it has ended or is held.
func cycle(t *testing.T, spec recipe.Bench, r recipe.Recipe, orders ...string) (o outcome) {
	t.Helper()
	p, err := controller.Compile(r, spec)
	if err != nil {
		t.Fatal(err)
	}
	b := New(spec, r)
	if r.Liquid == "" {
		b.Wet(spec.Sim.Kept) // it arrives wet
	}
	for _, text := range orders {
		order, err := ParseFault(text)
		if err == nil {
			err = b.Order(order)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	var in controller.Inputs
	var out controller.Outputs
	for ; in.Now < 4*time.Hour; in.Now += tick {
		kind := p.Stages()[o.state.Stage].Do
		if o.state.Cycle == controller.Running {
			b.AtStage(kind, o.state.InStage)
		}
		in.Readings, _ = b.Read(in.Now)
		in.Command = controller.Command{}
		if in.Now == 2*time.Second {
			in.Command = controller.Command{Order: controller.Start, Looked: true}
		}
		in.RecordFailing = b.Armed("record-failing")
		o.state, out = p.Step(o.state, in)
		in.DriveFailed = b.Drive(in.Now, out.Levels) != nil
		for _, ev := range out.Events.All() {
			if ev.Kind == controller.GuardTripped {
				o.tripped, o.stage = append(o.tripped, ev.Guard), kind
			}
		}
		if c := o.state.Cycle; c.Ended() || c == controller.Held {
			break
		}
	}
	o.truth = b.Truth()
	return o
}

// A bench on which all is well runs every recipe that ships without a guard; and where the jacket said that the disk
// is dry, it is.
func TestHealthyCyclesComplete(t *testing.T) {
	spec, err := recipes.Bench("simulated")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range recipes.Names() {
		r, err := recipes.Recipe(name)
		if err != nil {
			t.Fatal(err)
		}
		checkHealthy(t, spec, r)
	}
	checkHealthy(t, testSpec(), fullRecipe("water-detergent"))
	checkHealthy(t, testSpec(), fullRecipe("isopropanol-91"))
}

func checkHealthy(t *testing.T, spec recipe.Bench, r recipe.Recipe) {
	t.Helper()
	o := cycle(t, spec, r)
	t.Logf("%s: %s after %v, dried in %v on %s, %.4f left", r.Name, o.state.Cycle, o.state.Total,
		o.state.Drying.Took, o.state.Drying.Evidence, o.truth.Left)
	if o.state.Cycle != controller.Complete || len(o.tripped) > 0 {
		t.Errorf("%s: %s in %s, guards %v", r.Name, o.state.Cycle, o.stage, o.tripped)
	}
	if o.state.Drying.Evidence == controller.BySurface && o.truth.Left > 0.03 {
		t.Errorf("%s: said to be dry with %.3f of it left", r.Name, o.truth.Left)
	}
}

// Every fault trips its guard first, wherever it says that it can; the harmless ones trip none.
func TestFaultsTripTheirGuards(t *testing.T) {
	shipped, err := recipes.Bench("simulated")
	if err != nil {
		t.Fatal(err)
	}
	for _, spec := range []recipe.Bench{testSpec(), shipped} {
		checkFaults(t, spec)
	}
}

func checkFaults(t *testing.T, spec recipe.Bench) {
	t.Helper()
	for _, f := range Faults() {
		if f.ID == "loop-late" {
			continue // a matter of the loop's clock alone
		}
		for _, stage := range stageNames() {
			if !strings.Contains(f.Where, stage) {
				continue
			}
			order := f.ID + "@" + stage + "+6s"
			liquid := "water-detergent"
			if f.Trips == controller.VapourHigh || f.Trips == controller.VapourRising ||
				f.Trips == controller.HeaterStuck && stage == "dry" {
				liquid = "isopropanol-91"
			}
			o := cycle(t, spec, fullRecipe(liquid), order)
			switch {
			case f.Trips == 0 && len(o.tripped) > 0:
				t.Errorf("%s: %s tripped %v", spec.Name, order, o.tripped)
			case f.Trips != 0 && len(o.tripped) == 0:
				t.Errorf("%s: %s tripped nothing; the cycle is %s", spec.Name, order, o.state.Cycle)
			case f.Trips != 0 && o.tripped[0] != f.Trips:
				t.Errorf("%s: %s tripped %v first, want %s", spec.Name, order, o.tripped, f.Trips)
			}
		}
	}
}
