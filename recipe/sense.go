package recipe

import (
	"fmt"
	"time"

	"fullery/recipe/liquid"
)

// sense checks what only shows when the recipe is looked at as a whole. What needs right keys to be judged waits until
// they are right, so that one mistake does not raise complaints about others.
func (r *Recipe) sense(s *section) {
	sound := len(s.problems.Errors()) == 0
	if len(r.Stages) > 0 && r.count(NoStage) == 0 {
		r.senseOrder(s)
		r.senseLiquids(s)
	}
	r.sensePads(s)
	r.senseWarm(s)
	if sound {
		r.senseDose(s)
		r.senseTimes(s)
	}
}

// The checks below go stage by stage as the file is written, not as Repeat unrolls it: a repeated block cannot break an
// order that its first run keeps, because nothing in it may follow a dry.

// count returns how many stages are of a kind.
func (r *Recipe) count(kind Kind) (n int) {
	for _, st := range r.Stages {
		if st.Do == kind {
			n++
		}
	}
	return n
}

// stagePath is the path of a key of a stage; an empty key is the stage itself.
func stagePath(i int, key string) string {
	if key == "" {
		return fmt.Sprintf("stage.%d", i)
	}
	return fmt.Sprintf("stage.%d.%s", i, key)
}

// senseOrder checks which stage may follow which. A liquid that dries half-way is worse than one wetted again, so wet
// work after a dry is refused rather than guessed at.
func (r *Recipe) senseOrder(s *section) {
	wetted, dried := false, 0
	for i, st := range r.Stages {
		if dried > 0 && st.Do != Dry {
			s.wrong(stagePath(i, "do"), fmt.Sprintf("a %s after the dry (line %d) would wet or move the disk again", st.Do, dried),
				"only a further dry may follow a dry")
		}
		if st.Do == Scrub && !wetted {
			s.wrong(stagePath(i, "do"), "a scrub before any wet: the pads would run dry on the disk", "put a wet before it")
		}
		wetted = wetted || st.Do == Wet
		if st.Do == Dry && dried == 0 {
			dried = st.Line
		}
	}
	last := len(r.Stages) - 1
	if (wetted || r.count(Rinse) > 0) && r.Stages[last].Do != Dry {
		s.wrong(stagePath(last, "do"), "the recipe wets the disk and ends without a dry", "put a dry at the end")
	}
	if r.Repeat > 1 && r.Stages[0].Do == Dry {
		s.wrong("repeat", "repeat has nothing to repeat: no stage stands before the first dry", "leave it out")
	}
}

// senseLiquids checks that the liquids that stages need are named, and that the last one on the disk leaves nothing.
func (r *Recipe) senseLiquids(s *section) {
	wets, rinses := r.count(Wet) > 0, r.count(Rinse) > 0
	if wets && !s.has("liquid") {
		s.missing("liquid", `"isopropanol-91"`)
	}
	if rinses && !s.has("rinse") {
		s.missing("rinse", `"distilled-water"`)
	}
	if !rinses && r.Rinse != "" {
		s.warn("rinse", "rinse names a liquid, but no stage rinses", `add a [[stage]] with do = "rinse", or leave it out`)
	}
	switch {
	case rinses && r.Rinse == "water":
		s.warn("rinse", "tap water as the last rinse leaves minerals on the disk", `write rinse = "distilled-water"`)
	case rinses && r.Rinse == "water-detergent":
		s.warn("rinse", "a rinse with detergent leaves detergent on the disk", `write rinse = "distilled-water"`)
	case wets && !rinses && r.Liquid == "water":
		s.warn("liquid", "tap water as the last liquid leaves minerals on the disk",
			`rinse with distilled water, or write liquid = "distilled-water"`)
	case wets && !rinses && r.Liquid == "water-detergent":
		s.warn("liquid", "without a rinse the detergent dries onto the disk", "add a rinse with distilled water")
	}
}

// sensePads checks that [pads] is there when pads work: pads turn only inside a window of force that the recipe sets.
func (r *Recipe) sensePads(s *section) {
	for i, st := range r.Stages {
		if st.Pads > 0 && !s.has("pads") {
			s.wrong(stagePath(i, "pads"), "the pads work here, but there is no [pads] with their pressure",
				"add [pads] with pressure, within and balance")
			return
		}
	}
}

// senseDose checks the liquid that the stages ask for against the limit. The limit is what the controller enforces; a
// recipe that is bound to run into it would end in the middle of a stage, with the disk wet.
func (r *Recipe) senseDose(s *section) {
	total := r.Dose()
	if total > 0 && r.Limits.Liquid == 0 {
		s.wrong("limits", "[limits] has no liquid", `add liquid = "`+SayMillilitres(total)+`" or more`)
		return
	}
	// A millionth of slack: the sum of many stages may round up past a limit that is met exactly.
	if total > r.Limits.Liquid*(1+1e-6) {
		s.wrong("limits.liquid", fmt.Sprintf("the stages give %s, but the limit is %s", SayMillilitres(total),
			SayMillilitres(r.Limits.Liquid)), "raise the limit, or lower a flow, a time or repeat")
	}
}

// senseTimes checks each stage's times against each other and their sum against the limit. A dry that waits for evidence
// adds nothing to the sum: how long it takes is what nobody knows beforehand.
func (r *Recipe) senseTimes(s *section) {
	var sum time.Duration
	for _, st := range r.Unrolled() {
		sum += st.For
	}
	for i, st := range r.Stages {
		if st.For > st.AtMost {
			s.wrong(stagePath(i, "at-most"), fmt.Sprintf("at-most (%s) is shorter than for (%s)", SayTime(st.AtMost), SayTime(st.For)),
				"raise at-most, or leave it out")
		}
		if st.Reverse > 0 && st.Reverse >= st.For {
			s.wrong(stagePath(i, "reverse"), fmt.Sprintf("reverse (%s) is not shorter than for (%s): the pads would never turn round",
				SayTime(st.Reverse), SayTime(st.For)), "lower reverse, or leave it out")
		}
	}
	if sum > r.Limits.Time {
		s.wrong("limits.time", fmt.Sprintf("the timed stages take %s, but the limit is %s", SayTime(sum), SayTime(r.Limits.Time)),
			"raise the limit, or shorten a stage")
	}
}

// senseWarm refuses warmed air in a cycle with a flammable liquid. The controller would not heat either; saying it here
// keeps a person from waiting for warmth that never comes.
func (r *Recipe) senseWarm(s *section) {
	for _, name := range []string{r.Liquid, r.Rinse} {
		l, err := liquid.Parse(name)
		if err != nil || !l.Flammable {
			continue
		}
		for i, st := range r.Stages {
			if st.Warm > 0 {
				s.wrong(stagePath(i, "warm"), fmt.Sprintf("%s is flammable: the heater never runs in a cycle with it", l.Title),
					"leave out warm; moving air dries it")
			}
		}
		return
	}
}

// Dose returns the liquid (m³) that all stages of both pumps give in one cycle, repeats counted.
func (r Recipe) Dose() (total float64) {
	for _, st := range r.Unrolled() {
		total += st.Flow * st.For.Seconds()
	}
	return total
}
