// Package sweep tries what a user may change of a recipe – fan, warmth, scrub time, spin-out time, strength of the
// alcohol – on many simulated benches, and finds the choices that no other beats. It never names a best one.
//
// Every choice is a whole recipe of its own, compiled for the bench and run as whole cycles by the real controller. The
// benches are drawn from what is believed of the real one (drying.Belief: how exposed it is, what its liner keeps);
// every choice meets the same draws, so that two choices differ by what they are and not by luck.
//
// Seven figures count, each the less the better: minutes, millilitres given, vapour in the duct, warmth, rubbing, and
// draws that ended damp or were cut short. They are never mixed into one. How clean a disk gets is not among them,
// because nothing here knows it: by these figures less scrubbing would always look better. So scrub time and strength
// are no figures to be made small but choices that stay with the user: one choice beats another only where both scrub
// equally long with the same strength.
//
// The package is pure: time passes only in the simulation, chance comes from a seed. All quantities are SI.
package sweep

import (
	"fmt"
	"slices"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipe/drying"
)

// Most is how many choices one sweep may have.
const Most = 1000

// Candidate is one choice made into a recipe that the bench can run.
type Candidate struct {
	Choice  Choice
	Recipe  recipe.Recipe
	Program *controller.Program
}

// Skipped is a choice that cannot be run, and why, in one clause.
type Skipped struct {
	Choice Choice
	Reason string
}

// Candidates makes recipes of the choices, in their order, and leaves out what the recipe or the bench cannot do. The
// controller knows as much of the bench as it would in a real cycle.
func Candidates(r recipe.Recipe, b recipe.Bench, known drying.Belief, choices []Choice) (can []Candidate, skipped []Skipped) {
	for _, c := range choices {
		changed, err := Apply(r, c)
		if err == nil {
			var p *controller.Program
			if p, err = controller.CompileKnowing(changed, b, known); err == nil {
				can = append(can, Candidate{c, changed, p})
				continue
			}
		}
		skipped = append(skipped, Skipped{c, reason(err)})
	}
	return can, skipped
}

// reason is the first thing that is wrong, without its place: the file is not the user's mistake here.
func reason(err error) string {
	problems, ok := err.(recipe.Problems)
	if !ok || len(problems) == 0 {
		return err.Error()
	}
	if problems[0].Hint == "" {
		return problems[0].Said
	}
	return problems[0].Said + "; " + problems[0].Hint
}

// Choices returns the recipe as it is, and then every combination of the lists, each once. The error says when there
// are more than Most.
func (g Grid) Choices(r recipe.Recipe) ([]Choice, error) {
	own := Own(r)
	list := []Choice{own}
	size := 1
	for a := range NumAxes {
		if size *= max(len(g[a]), 1); size > Most {
			return nil, fmt.Errorf("the lists make more than %d choices; give shorter ones", Most)
		}
	}
	for i := range size {
		c, left := own, i
		for a := NumAxes - 1; a >= 0; a-- {
			if n := len(g[a]); n > 0 {
				c[a] = g[a][left%n]
				left /= n
			}
		}
		if !slices.Contains(list, c) {
			list = append(list, c)
		}
	}
	return list, nil
}
