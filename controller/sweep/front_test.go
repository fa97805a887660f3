package sweep

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"fullery/recipe/drying"
)

// results draws choices whose figures are small whole numbers, so that they beat each other and tie often.
func results(t *rapid.T) (all []Result) {
	small := rapid.IntRange(0, 3)
	for range rapid.IntRange(0, 25).Draw(t, "n") {
		minutes := float64(10 + small.Draw(t, "minutes"))
		if small.Draw(t, "never") == 3 {
			minutes = math.Inf(1)
		}
		all = append(all, Result{
			Choice: Choice{Strength: float64(small.Draw(t, "strength") / 2), Scrub: float64(small.Draw(t, "scrub") / 2)},
			Figures: Figures{Draws: 4, Minutes: drying.Spread{Median: minutes}, Liquid: float64(small.Draw(t, "mL")) * 1e-6,
				Peak: float64(small.Draw(t, "peak")) / 100, Warmest: 300 + float64(small.Draw(t, "K")), Slide: float64(small.Draw(t, "m")),
				Damp: small.Draw(t, "damp"), CutShort: rapid.IntRange(0, 4).Draw(t, "cut")},
		})
	}
	return all
}

// plainly tells by the definition whether a is nowhere more than b and somewhere less, and whether they are equal.
func plainly(a, b Result) (beats, same bool) {
	x, y := a.Figures.Shown(), b.Figures.Shown()
	nowhere := x.Minutes <= y.Minutes && x.Liquid <= y.Liquid && x.Peak <= y.Peak && x.Warmest <= y.Warmest && x.Slide <= y.Slide &&
		x.Failed <= y.Failed
	kin := a.Choice[Scrub] == b.Choice[Scrub] && a.Choice[Strength] == b.Choice[Strength]
	return kin && nowhere && x != y, kin && x == y
}

// The front against its definition, pair by pair.
func TestFrontIsTheFront(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := results(t)
		by := Front(all)
		for i, r := range all {
			if done := r.Figures.CutShort < 4; done == (by[i] == NeverDone) {
				t.Fatalf("%d: %d, done %v", i, by[i], done)
			} else if !done {
				continue
			}
			beaten := false
			for j, other := range all {
				if beats, same := plainly(other, r); other.Figures.CutShort < 4 && (beats || same && j < i) {
					beaten = true
				}
			}
			if beaten == (by[i] == NotBeaten) {
				t.Fatalf("%d: %d, beaten %v", i, by[i], beaten)
			}
			if j := by[i]; j >= 0 {
				if beats, same := plainly(all[j], r); by[j] != NotBeaten || !beats && !same {
					t.Fatalf("%d is said to be beaten by %d, which is %d", i, j, by[j])
				}
			}
		}
	})
}

// Longer scrubbing is not beaten by shorter, nor one strength by another, however much better the rest is.
func TestFrontKeepsWhatIsTheUsers(t *testing.T) {
	good := Figures{Draws: 1, Minutes: drying.Spread{Median: 10}, Warmest: 300, Slide: 5}
	bad := Figures{Draws: 1, Minutes: drying.Spread{Median: 20}, Warmest: 300, Slide: 10, Damp: 1}
	all := []Result{{Choice{0.91, 60, 1, 0, 20}, good}, {Choice{0.91, 90, 1, 0, 20}, bad}, {Choice{0.70, 60, 1, 0, 20}, bad},
		{Choice{0.91, 60, 0.5, 0, 20}, bad}}
	if by := Front(all); by[0] != NotBeaten || by[1] != NotBeaten || by[2] != NotBeaten || by[3] != 0 {
		t.Errorf("%v", by)
	}
	if len(Front(nil)) != 0 {
		t.Error("a front of nothing")
	}
}
