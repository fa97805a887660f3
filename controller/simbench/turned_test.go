package simbench

import (
	"math"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
	"fullery/recipe/liquid"
)

// TestAlcoholTurns: what the estimate takes the liner to hold when its drying begins is about what this bench, which
// reckons in its own way, then has in it.
func TestAlcoholTurns(t *testing.T) {
	for _, name := range []string{"isopropanol-91", "isopropanol-70", "isopropanol-99", "ethanol-96"} {
		r, spec := campaignRecipe(name), testSpec()
		foreseen, err := endpoint.CaseOf(drying.Belief{}, r, &spec, r.Stages[len(r.Stages)-1])
		if err != nil {
			t.Fatal(err)
		}
		want := foreseen.Liquid.Composition()[liquid.Water]
		p, err := controller.Compile(r, spec)
		if err != nil {
			t.Fatal(err)
		}
		b := New(spec, r)
		var s controller.State
		var out controller.Outputs
		in := controller.Inputs{}
		for ; in.Now < time.Hour && p.Kind(s.Stage) != recipe.Dry; in.Now += campaignTick {
			in.Readings, _ = b.Read(in.Now)
			in.Command = controller.Command{}
			if s.Cycle == controller.Idle && in.Now >= 2*time.Second && p.ReadsDry(&s) == 0 {
				in.Command = controller.Command{Order: controller.Start, Looked: true}
			}
			s, out = p.Step(s, in)
			if err := b.Drive(in.Now, out.Levels); err != nil {
				t.Fatal(err)
			}
		}
		has := b.liner()
		wet := has[water] * substances[water].density
		all := wet + has[isopropanol]*substances[isopropanol].density + has[ethanol]*substances[ethanol].density
		if got := wet / all; math.Abs(got-want) > 0.04 {
			t.Errorf("%s: begins to dry with %.3f of water by mass, foreseen %.3f", name, got, want)
		}
	}
}
