package sweep

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"fullery/recipe"
	"fullery/recipe/liquid"
)

// Axis is one thing that a user may change.
type Axis int

// The axes. The slowest to change in a list of choices comes first.
const (
	Strength Axis = iota // fraction of alcohol by volume, in whole percent
	Scrub                // s, every scrub stage
	Fan                  // share of full speed in the dry stages; the wet work keeps its own
	Warm                 // K, air asked at the cartridge in the dry stages; 0 unwarmed
	SpinOut              // s, every spin-out stage
	NumAxes
)

// AsRecipe in a choice leaves what the recipe says.
const AsRecipe = -1

// Choice is a value for every axis, or AsRecipe.
type Choice [NumAxes]float64

// Grid is the values to try on every axis; none: the recipe's own.
type Grid [NumAxes][]float64

const celsius = 273.15

// axes: ranges are those of a recipe file.
var axes = [NumAxes]struct {
	name        string
	least, most float64
	kind        recipe.Kind // whose stages it changes; NoStage: the liquid
}{
	Strength: {"strength", 0.01, 1, recipe.NoStage},
	Scrub:    {"scrub", 0.1, 24 * 3600, recipe.Scrub},
	Fan:      {"fan", 0.01, 1, recipe.Dry},
	Warm:     {"warm", 10 + celsius, 50 + celsius, recipe.Dry},
	SpinOut:  {"spin-out", 0.1, 600, recipe.SpinOut},
}

// String returns the word for the axis: "spin-out".
func (a Axis) String() string {
	if a >= 0 && a < NumAxes {
		return axes[a].name
	}
	return "unknown axis"
}

// Say writes a value of the axis: "75 %", "35 °C" or "no", "90 s".
func (a Axis) Say(v float64) string {
	switch {
	case v == AsRecipe:
		return "as it is"
	case a == Warm && v == 0:
		return "no"
	case a == Warm:
		return recipe.SayTemperature(v)
	case a == Scrub || a == SpinOut:
		return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64) + " s"
	default:
		return recipe.SayShare(v)
	}
}

// Check refuses what no recipe may ask for, with the range. NaN is outside of every range.
func (a Axis) Check(v float64) error {
	x := axes[a]
	if a == Warm && v == 0 {
		return nil
	}
	if !(v >= x.least && v <= x.most) {
		return fmt.Errorf("%s of %s cannot be used; give %s to %s", x.name, a.Say(v), a.Say(x.least), a.Say(x.most))
	}
	if a == Strength && math.Abs(v*100-math.Round(v*100)) > 1e-9 {
		return fmt.Errorf("strength of %s cannot be used; liquids are named by whole percent", a.Say(v))
	}
	return nil
}

// Has tells whether a recipe has anything for the axis to change; the error says what it lacks.
func (a Axis) Has(r recipe.Recipe) error {
	if a == Strength {
		if l, err := liquid.Parse(r.Liquid); err != nil || l.Alcohol == 0 {
			return fmt.Errorf("this recipe's liquid has no strength to change")
		}
		return nil
	}
	for _, s := range r.Stages {
		if s.Do == axes[a].kind {
			return nil
		}
	}
	return fmt.Errorf("this recipe has no %s to change", axes[a].kind)
}

// Own returns what the recipe says on every axis; AsRecipe where it has nothing there, or several stages that differ.
func Own(r recipe.Recipe) (c Choice) {
	for a := range NumAxes {
		c[a] = AsRecipe
		seen := false
		for _, s := range r.Stages {
			if a == Strength || s.Do != axes[a].kind {
				continue
			}
			if v := a.of(s); !seen {
				c[a], seen = v, true
			} else if v != c[a] {
				c[a] = AsRecipe
				break
			}
		}
	}
	c[Strength] = ownStrength(r.Liquid)
	return c
}

// ownStrength is AsRecipe for a strength by mass, which is no whole percentage by volume.
func ownStrength(name string) float64 {
	l, err := liquid.Parse(name)
	if err != nil || l.Alcohol == 0 || ofStrength(name, l.Alcohol) != name {
		return AsRecipe
	}
	return l.Alcohol
}

// ofStrength names the same alcohol at another strength.
func ofStrength(name string, alcohol float64) string {
	kind, _, _ := strings.Cut(name, "-")
	return fmt.Sprintf("%s-%.0f", kind, alcohol*100)
}

// of is what a stage says on the axis.
func (a Axis) of(s recipe.Stage) float64 {
	switch a {
	case Fan:
		return s.Fan
	case Warm:
		return s.Warm
	default:
		return s.For.Seconds()
	}
}

// Apply makes the changed recipe: what the choice does not name is as it was. The error is one clause for a choice that
// no recipe file may have.
func Apply(r recipe.Recipe, c Choice) (recipe.Recipe, error) {
	r.Stages = append([]recipe.Stage(nil), r.Stages...)
	for a := range NumAxes {
		if c[a] == AsRecipe {
			continue
		}
		if err := a.Check(c[a]); err != nil {
			return r, err
		}
		if a == Strength {
			r.Liquid = ofStrength(r.Liquid, c[a])
			continue
		}
		for i := range r.Stages {
			if s := &r.Stages[i]; s.Do == axes[a].kind {
				a.set(s, c[a])
			}
		}
	}
	return r, sound(r)
}

// set changes a stage. Its hard end stays as far behind its work as it was.
func (a Axis) set(s *recipe.Stage, v float64) {
	switch a {
	case Fan:
		s.Fan = v
	case Warm:
		s.Warm = v
	default:
		was := s.For
		s.For = time.Duration(math.Round(v * float64(time.Second)))
		if s.AtMost > 0 {
			s.AtMost += s.For - was
		}
	}
}

// sound asks again what the reader of a recipe file asks and a changed time could break.
func sound(r recipe.Recipe) error {
	var sum time.Duration
	for _, s := range r.Unrolled() {
		sum += s.For
		if s.Reverse > 0 && s.Reverse >= s.For {
			return fmt.Errorf("the pads turn round every %s, which a scrub of %s does not reach", Scrub.Say(s.Reverse.Seconds()),
				Scrub.Say(s.For.Seconds()))
		}
	}
	if sum > r.Limits.Time {
		return fmt.Errorf("the timed stages take %s, and the recipe's limit is %s", recipe.SayTime(sum), recipe.SayTime(r.Limits.Time))
	}
	return nil
}
