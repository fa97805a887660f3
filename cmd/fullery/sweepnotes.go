package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fullery/controller/sweep"
	"fullery/recipe"
	"fullery/recipe/forecast"
)

// What a sweep's table rests on, what it means, and what it cannot say.

// basis says what the benches were drawn from.
func (s *sweeping) basis() string {
	kept, exposure, name := s.dries()
	from := "a prior: no drying was logged on this bench yet"
	if s.known != nil {
		from = fmt.Sprintf("fit %d of %d logged dryings", s.known.Number, s.known.Used)
	}
	text := fmt.Sprintf("%s, each in a whole cycle on %s, drawn from %s: %.1f mL of %s kept by the liner "+
		"(%.1f to %.1f), exposure %.2f (%.2f to %.2f).", choicesWord(len(s.candidates)), benchesWord(s.flags.draws), from, kept.Median*1e6, name, kept.Low*1e6,
		kept.High*1e6, exposure.Median, exposure.Low, exposure.High)
	if unknown := s.unlogged(); len(unknown) > 0 {
		text += fmt.Sprintf(" Nothing was logged of %s: what the liner keeps of it is assumed.", strings.Join(unknown, ", "))
	}
	if !s.bench.Simulated {
		text += " A real bench's file states no film conductance, no friction and no sensor noise: 0.3 W/K, 30 % and none were " +
			"assumed, so that the damp disks are the fewest there can be."
	}
	return text
}

// unlogged are the liquids of the candidates that a fit knows nothing of.
func (s *sweeping) unlogged() (list []string) {
	for _, c := range s.candidates {
		l, err := driesOf(c.Recipe)
		if s.known != nil && err == nil && !slices.Contains(s.known.Liquids, l.Name) && !slices.Contains(list, l.Name) {
			list = append(list, l.Name)
		}
	}
	return list
}

// notes say what the table means, and what it cannot say.
func (s *sweeping) notes(f found) []string {
	list := []string{"These rows are the choices that no other with the same scrub time and strength beats, by being nowhere worse " +
		"and somewhere better in what is shown; of several that come to the same the first is shown." +
		counted(len(f.beaten), " Not shown: %d.") + s.absent(f)}
	if f.cleans {
		list = append(list, "How clean a disk gets is not known here. More scrubbing may clean more, and rubs more; another strength may "+
			"clean otherwise. Choose these two by what the disk needs.")
	}
	list = append(list, s.columnNote(f), s.dampNote(f))
	if why := s.unwarmed(); why != "" {
		list = append(list, why)
	}
	if len(f.undone) > 0 {
		list = append(list, fmt.Sprintf("%s completed on none of the benches: %s.", choicesWord(len(f.undone)), s.causes(f.undone)))
	}
	for _, g := range s.leftOut() {
		list = append(list, fmt.Sprintf("%s cannot be run: %s.", choicesWord(g.Choices), g.Reason))
	}
	if all := cautions(s.recipe.Liquid, s.recipe.Rinse); len(all) > 0 {
		list = append(list, "Caution: "+strings.Join(all, " "))
	}
	return list
}

// columnNote says what the columns are.
func (s *sweeping) columnNote(f found) string {
	words := "Minutes: median, and 8 of 10 of the benches."
	add := func(when bool, format string, args ...any) {
		if when {
			words += " " + fmt.Sprintf(format, args...)
		}
	}
	add(!f.nothing, "mL: liquid given.")
	add(f.burns, "Duct: most vapour on any of the benches, %% of the lower flammable limit (fullery plan assumes more to evaporate); "+
		"%.0f %% is worth a warning, at %.0f %% the bench stops.", forecast.WarnAt*100, forecast.StopAt*100)
	add(f.warmed, "Warmest: air at the cartridge; what is asked may be more than the heater reaches.")
	add(f.rubs, "Rubbing: metres that each pad slides on the disk at %s; wear goes with pressure times distance (Archard, 1953).",
		recipe.SayPressure(s.recipe.Pads.Pressure))
	return words
}

// unwarmed says why a bench that could warm its air does not.
func (s *sweeping) unwarmed() string {
	held := s.bench.PadsAndBathHeld
	switch {
	case s.bench.Heater.Power == 0 || sweep.Warm.Has(s.recipe) != nil:
		return ""
	case s.burns():
		return "Warm air is not tried: the heater never runs where anything flammable is about."
	case held != "":
		return fmt.Sprintf("Warm air is not tried: pads and bath of this bench held %s last.", held)
	}
	return ""
}

// dampNote says what the risk of a damp disk is, and how little so few draws can show.
func (s *sweeping) dampNote(f found) string {
	n := float64(s.flags.draws)
	text := fmt.Sprintf("Damp: called dry with more than %.0f %% of the liquid left. None of %.0f still allows %.0f %% (95 %% confidence).",
		sweep.DampFrom*100, n, 100*(1-math.Pow(0.05, 1/n)))
	if f.timed {
		text += " On some benches only the clock ended the drying, unproven."
	}
	if f.cut {
		text += " Cut short: a guard ended the cycle; such a draw counts as longer than any."
	}
	return text
}

// causes lists what cut choices short, each once.
func (s *sweeping) causes(list []int) string {
	var words []string
	for _, i := range list {
		if c := s.results[i].Figures.Cause; !slices.Contains(words, c) {
			words = append(words, c)
		}
	}
	return strings.Join(words, ", ")
}

// absent names values that are in no row.
func (s *sweeping) absent(f found) string {
	var words []string
	for _, a := range f.swept {
		var none []string
		for _, i := range f.all {
			v := a.Say(s.results[i].Choice[a])
			in := slices.ContainsFunc(f.front, func(k int) bool { return s.results[k].Choice[a] == s.results[i].Choice[a] })
			if !in && !slices.Contains(none, v) {
				none = append(none, v)
			}
		}
		if len(none) > 0 {
			words = append(words, a.String()+" "+strings.Join(none, ", "))
		}
	}
	if len(words) == 0 {
		return ""
	}
	return " In none of them: " + strings.Join(words, "; ") + "."
}

// leftOut is a reason for which choices were skipped, and how many.
type leftOutJSON struct {
	Choices int    `json:"choices"`
	Reason  string `json:"reason"`
}

// leftOut counts the skipped choices by their reason.
func (s *sweeping) leftOut() []leftOutJSON {
	list := []leftOutJSON{}
	for _, x := range s.skipped {
		i := slices.IndexFunc(list, func(g leftOutJSON) bool { return g.Reason == x.Reason })
		if i < 0 {
			list, i = append(list, leftOutJSON{Reason: x.Reason}), len(list)
		}
		list[i].Choices++
	}
	return list
}

// choicesWord and benchesWord count what a sweep is made of.
func choicesWord(n int) string { return several(n, "choice", "choices") }

func benchesWord(n int) string { return several(n, "simulated bench", "simulated benches") }

func several(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}
