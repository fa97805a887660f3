package controller

import (
	"fmt"
	"time"

	"fullery/recipe"
)

// Say turns an event into a sentence for the person at the bench.
func (p *Program) Say(ev Event) string {
	switch ev.Kind {
	case StateChanged:
		return fmt.Sprintf("The cycle is %s.", ev.To)
	case StageBegun:
		return fmt.Sprintf("%s begins.", p.StageName(int(ev.Stage)))
	case StageEnded:
		return p.sayEnding(ev)
	case GuardTripped:
		return p.sayTripped(ev)
	case GuardCleared:
		return fmt.Sprintf("The cause of %s is no longer seen. Nothing starts by itself.", ev.Guard)
	case OrderTaken:
		return fmt.Sprintf("Order taken: %s.", ev.Order)
	case OrderRefused:
		return fmt.Sprintf("Order refused: %s. %s", ev.Order, ev.Refusal.Said(ev.Guard))
	case LiquidDried:
		return sayDried(ev)
	case ZeroRefused:
		what := "The jacket"
		if ev.Evidence == ByAir {
			what = "The air leaving"
		}
		return fmt.Sprintf("%s is %.1f K off the air before wetting, so it cannot tell later when the disk is dry. "+
			"Let a disk come to the room's temperature before its cycle.", what, ev.Value)
	default:
		return ""
	}
}

// sayDried says on what a "dry" rests.
func sayDried(ev Event) string {
	why := map[Evidence]string{
		ByWeight:  "the cartridge weighs what it did dry, to the last 2 % of its liquid",
		BySurface: "the jacket's coldness has faded to what less than 2 % of the liquid makes",
		ByAir:     "the air leaves as it came, but for less than 2 % of the liquid",
		ByDrag:    "the hub coasts as it did dry, to the last 2 % of the liquid",
	}[ev.Evidence]
	if why == "" {
		return fmt.Sprintf("The clock ended the drying after %.1f min: unproven.", ev.Value)
	}
	return fmt.Sprintf("Dry after %.1f min, by %s: %s.", ev.Value, sayEvidence(ev.Evidence), why)
}

// sayEvidence is the evidence as it stands after "by".
func sayEvidence(e Evidence) string {
	if e == ByWeight {
		return "weight"
	}
	return e.String()
}

func (p *Program) sayEnding(ev Event) string {
	name := p.StageName(int(ev.Stage))
	took := recipe.SayTime(time.Duration(ev.Value * float64(time.Second)).Round(time.Second))
	switch ev.Ending {
	case CutByGuard:
		return fmt.Sprintf("%s was cut off by a guard after %s.", name, took)
	case CutByOrder:
		return fmt.Sprintf("%s was ended by order after %s.", name, took)
	default:
		return fmt.Sprintf("%s is done after %s.", name, took)
	}
}

// sayTripped names the sensor where one reading is the cause.
func (p *Program) sayTripped(ev Event) string {
	if ev.Sensor < recipe.NumSensors {
		return fmt.Sprintf("(%s) %s", ev.Sensor, ev.Guard.Said())
	}
	return ev.Guard.Said()
}

// StageName names a stage of the program: "Scrub", or "Scrub, pass 2" where the recipe repeats.
func (p *Program) StageName(i int) string {
	if i < 0 || i >= len(p.stages) {
		return "Stage"
	}
	st := &p.stages[i]
	name := stageTitles[st.Do]
	if p.recipe.Repeat > 1 && !st.isDry() {
		name += fmt.Sprintf(", pass %d", st.pass)
	}
	return name
}

var stageTitles = map[recipe.Kind]string{
	recipe.Wet: "Wet", recipe.Scrub: "Scrub", recipe.Rinse: "Rinse", recipe.SpinOut: "Spin-out", recipe.Soak: "Soak",
	recipe.Dry: "Dry",
}

// Said tells the operator why an order was not taken and what to do; g is the guard in its way, if any.
func (r Refusal) Said(g Guard) string {
	switch r {
	case WrongState:
		return "It means nothing in this state."
	case CauseRemains:
		return "A cause is still there. " + g.Said()
	case LookFirst:
		return "Look at the bench first, then give the order again and confirm that you looked."
	case PurgeFirst:
		return "The fan clears the vapour first; give the order again when it has."
	case NothingToDry:
		return "This recipe has no drying ahead."
	default:
		return ""
	}
}
