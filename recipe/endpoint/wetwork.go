package endpoint

import (
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// What the wet work makes of an alcohol. While the pads wet and scrub, alcohol leaves faster than water, and the cold film
// takes up water from the air; fresh liquid from the pads makes good what went. The liner that then dries holds more water
// than the bottle does, and takes longer: on the simulated bench isopropanol 91 % (by mass 0.88) begins to dry at 0.74.

// begins follows a liquid through a recipe's wet work on a bench: the liner is taken to be fully wet with it from the end
// of the stage that first gives it, and to be filled up again at the end of each stage in which liquid or pads reach it,
// as far as what was given suffices. It returns what dries then, and how much of it, m³, where that is less than a liner
// keeps, else 0. Where it cannot be worked out the liquid is taken as it comes.
func begins(b drying.Belief, r recipe.Recipe, bench *recipe.Bench, l liquid.Liquid) (liquid.Liquid, float64) {
	usually := b.Kept(l).Median
	fewer := 0.0
	if given := r.Dose(); given > leastGiven && given < usually {
		fewer = given
	}
	if l.Alcohol == 0 {
		return l, fewer
	}
	fresh := l.Composition()
	density := liquid.Density(fresh, bench.Room.Air)
	var in liquid.Amounts // kg in the liner
	given, short := 0.0, false
	for _, s := range since(r) {
		if s.Do == recipe.Dry {
			break
		}
		if l.Flammable && s.Fan == 0 { // as the controller does it
			s.Fan = 1
		}
		given += s.Flow * s.For.Seconds() * density
		after, ok := stands(b, bench, s, l, in)
		if !ok {
			return l, fewer
		}
		given -= mass(in) - mass(after)
		in = after
		if s.Flow > 0 || s.Pads > 0 {
			short = given < usually*density
			add := max(min(given, usually*density)-mass(in), 0)
			for i := range in {
				in[i] += add * fresh[i]
			}
		}
	}
	if mass(in) < leastGiven*density {
		return l, fewer
	}
	turned := l.Turned(in)
	if short {
		fewer = mass(in) / liquid.Density(turned.Composition(), bench.Room.Air)
	}
	return turned, fewer
}

// leastGiven is as little as a liner may hold to be reckoned with, m³.
const leastGiven = 1e-9

// since returns the stages from the one on that first gives the liquid which dries in the end.
func since(r recipe.Recipe) []recipe.Stage {
	gives, all := recipe.Wet, r.Unrolled()
	if r.Rinse != "" {
		gives = recipe.Rinse
	}
	for i, s := range all {
		if s.Do == gives {
			return all[i:]
		}
	}
	return nil
}

// stands returns what is left of a liner's liquid after a stage in its air. Pads keep all of it wetted, so that mass
// transfer does not fall off as it empties.
func stands(b drying.Belief, bench *recipe.Bench, s recipe.Stage, l liquid.Liquid, in liquid.Amounts) (liquid.Amounts, bool) {
	if mass(in) < leastGiven*1e3 || s.For <= 0 {
		return in, true
	}
	c := Around(bench, s)
	c.Warm = 0
	c.Liquid = l.Turned(in)
	c.Kept = mass(in) / liquid.Density(c.Liquid.Composition(), bench.Room.Air)
	c.Film *= b.Exposure().Median
	c.Until = 1e-3
	run, err := drying.Run(c, drying.Options{Horizon: s.For.Seconds(), Critical: 1e-3, Curve: true})
	if err != nil || len(run.Curve) == 0 {
		return in, false
	}
	return run.Curve[len(run.Curve)-1].Amounts, true
}

func mass(a liquid.Amounts) (sum float64) {
	for _, x := range a {
		sum += x
	}
	return sum
}
