package endpoint

import (
	"fmt"
	"math"
	"strings"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// Help says what would let a bench tell when a disk of this stage is dry: a clause, or more than one. It looks at what is
// there and cannot see, and at what is not there.
func Help(b drying.Belief, r recipe.Recipe, bench *recipe.Bench, s recipe.Stage) string {
	p, err := ForStage(b, r, bench, s)
	if err != nil {
		return "mend what the estimate cannot work with: " + err.Error()
	}
	if p.Expected.Never {
		return "drier or warmed air would have to let it dry first"
	}
	var list []string
	for _, sight := range p.Sights {
		if help := p.help(b, r, *bench, s, sight); help != "" && !sight.Visible {
			list = append(list, help)
		}
	}
	if len(list) == 0 {
		return "a steadier sensor or drier air could tell"
	}
	return strings.Join(list, "; or ")
}

// HelpFor is Help for one kind of evidence that is fitted and blind; "" where nothing is known to help.
func HelpFor(b drying.Belief, r recipe.Recipe, bench *recipe.Bench, s recipe.Stage, e Evidence) string {
	p, err := ForStage(b, r, bench, s)
	if err != nil || !e.Proven() || p.Expected.Never {
		return ""
	}
	return p.help(b, r, *bench, s, p.Sights[e-1])
}

func (p *Plan) help(b drying.Belief, r recipe.Recipe, bench recipe.Bench, s recipe.Stage, sight Sight) string {
	switch e := sight.Evidence; {
	case e == ByDrag:
		return ""
	case e == ByAir && sight.Fitted:
		through, ok := throughFor(b, r, bench, s)
		if !ok {
			return ""
		}
		said := fmt.Sprintf("with %s L/s or less through the cell, stirred as before, the air leaving could tell",
			floor2(1e3*through))
		if burns(r.Liquid) || burns(r.Rinse) || burns(bench.PadsAndBathHeld) {
			said += ", but the vapour in the duct would rise as much: look at it in the plan first"
		}
		return said
	case e == ByAir:
		return ""
	case sight.Fitted:
		// So little may the whole error be; the sensor's own part of it is what a person can change.
		return fmt.Sprintf("a %s that is off by no more than %s could tell", instrument[e], sight.say(visibleBelow*sight.AtLimit/2))
	case e == BySurface:
		return "a surface sensor, read on the dry disk before wetting, could tell"
	default:
		return ""
	}
}

// burns tells whether a named liquid can burn; one that nobody knows is taken to.
func burns(name string) bool {
	if name == "" {
		return false
	}
	l, err := liquid.Parse(name)
	return err != nil || l.Flammable
}

// floor2 writes a figure above nothing with two digits, never more than it is.
func floor2(x float64) string {
	unit := math.Pow(10, math.Floor(math.Log10(x))-1)
	return fmt.Sprintf("%.2g", math.Floor(x/unit*(1+1e-9))*unit)
}

var instrument = map[Evidence]string{ByWeight: "scale", BySurface: "surface sensor"}

// throughFor finds the largest through-flow, in m³/s at full fan, with which the air leaving shows the last of the liquid.
// Less air shows more of what it took up, so that it can be found by halving, here of the logarithm.
func throughFor(b drying.Belief, r recipe.Recipe, bench recipe.Bench, s recipe.Stage) (float64, bool) {
	sees := func(through float64) bool {
		bench.Fan.Through = through
		p, err := ForStage(b, r, &bench, s)
		return err == nil && p.Sights[ByAir-1].Visible
	}
	high := math.Log(max(bench.Fan.Through, 1e-4))
	low := math.Log(leastThrough)
	if !sees(leastThrough) {
		return 0, false
	}
	for range 8 {
		mid := (low + high) / 2
		if sees(math.Exp(mid)) {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Exp(low), true
}

// leastThrough is the least through-flow worth naming, m³/s: below it the cell's air hardly changes.
const leastThrough = 2e-4
