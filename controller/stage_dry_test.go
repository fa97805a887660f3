package controller

import (
	"testing"
	"time"

	"fullery/recipe"
)

// TestEvidence: what "dry" will rest on, and how long the drying is expected to last: by the estimate, and, when only the
// clock can tell, a quarter longer than its 80 % interval reaches. Common practice, no source, within a factor of 1.5: 45
// min after water, 15 min after isopropanol.
func TestEvidence(t *testing.T) {
	alcohol := []string{"water-detergent", "isopropanol-91", "rinse = \"distilled-water\"\n", "", "[[stage]]\ndo = \"rinse\"\nflow = \"10 mL/min\"\nhub = \"20 rpm\"\nfor = \"30 s\"\n", ""}
	for _, c := range []struct {
		name      string
		text      string
		edits     []string
		bench     func(*recipe.Bench)
		want      Evidence
		low, high float64 // min
	}{
		{"surface", fitText, unwarmed, without(), BySurface, 30, 67.5},
		{"surface, alcohol", fitText, append(alcohol, unwarmed...), without(), BySurface, 10, 22.5},
		{"surface, at most less than expected", fitText, []string{"90 min", "15 min"}, without(), BySurface, 15, 15},
		{"no surface", fitText, unwarmed, without(recipe.Surface, recipe.AirOut), ByClock, 80, 90},
		{"no surface, alcohol", fitText, append(alcohol, unwarmed...), without(recipe.Surface, recipe.AirOut), ByClock, 20, 50},
		{"no surface, at most less", fitText, append([]string{"90 min", "60 min"}, unwarmed...), without(recipe.Surface, recipe.AirOut), ByClock, 58.8, 58.8},
		{"no air", fitText, unwarmed, without(recipe.Air, recipe.AirIn), ByClock, 80, 90},
		{"arrives wet: never seen dry", dryText, nil, without(), ByClock, 30, 90},
		{"weighed first", fitText, unwarmed, with(recipe.Weight), ByWeight, 30, 67.5},
		{"for a time", fitText, []string{"until = \"dry\"\nat-most = \"90 min\"", "for = \"20 min\""}, without(), NoEvidence, 20, 20},
	} {
		b := testBench()
		c.bench(&b)
		plans := mustCompile(t, mustRead(t, c.text, c.edits...), b).Stages()
		dry := plans[len(plans)-1]
		if m := dry.Planned.Minutes(); dry.Evidence != c.want || m < c.low-1e-6 || m > c.high+1e-6 {
			t.Errorf("%s: %q in %v, want %q in %v to %v min", c.name, dry.Evidence, dry.Planned, c.want, c.low, c.high)
		}
	}
}

// TestClockWaitsAfterAHold: when a drying was held, the jacket has warmed and must show itself wet again. Until it has had
// time to, the clock does not end the drying, though its time is over.
func TestClockWaitsAfterAHold(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.dryOut()
	u.toStage(t, recipe.Dry)
	u.until(t, "three minutes of drying", func() bool { return u.s.Worked > 3*time.Minute })
	u.p.stages[u.s.Stage].byClock = 2 * time.Minute
	if u.tick(); u.s.Cycle != Running || u.s.Drying.Seen.By != BySurface {
		t.Fatalf("%s, by %s", u.s.Cycle, u.s.Drying.Seen.By)
	}
	u.order(Hold)
	u.until(t, "held", func() bool { return u.s.Cycle == Held })
	u.order(Resume)
	u.until(t, "running", func() bool { return u.s.Cycle == Running })
	u.twist = nil // the jacket stays as warm as the air
	for end := u.s.Worked + 9*time.Minute; u.s.Worked < end; u.tick() {
		if u.s.Cycle != Running {
			t.Fatalf("%s, dry by %q, %v after the hold", u.s.Cycle, u.s.Drying.Evidence, u.s.Worked-u.s.Drying.Resumed)
		}
	}
	u.until(t, "complete", func() bool { return u.s.Cycle == Complete })
	if u.s.Drying.Evidence != ByClock || u.s.Drying.Took > 14*time.Minute {
		t.Errorf("dry by %s after %v", u.s.Drying.Evidence, u.s.Drying.Took)
	}
}
