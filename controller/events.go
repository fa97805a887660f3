package controller

import "fullery/recipe"

// EventKind is what happened in a step.
type EventKind uint8

// The kinds of event.
const (
	NoEvent      EventKind = iota
	StateChanged           // From → To
	StageBegun             // Stage
	StageEnded             // Stage; Ending says how
	GuardTripped           // Guard; Sensor when one reading is the cause
	GuardCleared           // Guard: its cause is gone (nothing starts by itself)
	OrderTaken             // Order
	OrderRefused           // Order; Refusal says why, Guard when a cause is still there
	LiquidDried            // a dry stage ended of itself; Value is minutes of drying, Evidence what it rests on
	ZeroRefused            // the jacket was too far from the air before wetting to tell dryness; Value is K
)

// Ending says how a stage ended.
type Ending uint8

// The endings of a stage.
const (
	NotEnded   Ending = iota
	WorkDone          // its work lasted as long as the recipe asks
	FoundDry          // evidence of dryness
	CutByGuard        // a guard held or aborted the cycle
	CutByOrder        // the operator stopped, aborted or skipped it
	BeforeCut         // it was over before the cycle was cut short
)

var endingNames = [...]string{"not reached", "done", "dry", "guard", "order", "before the cut"}

// String returns the word for the ending.
func (e Ending) String() string {
	if int(e) < len(endingNames) {
		return endingNames[e]
	}
	return "unknown ending"
}

// Event is one thing that happened, as a plain value; Program.Say turns it into a sentence.
type Event struct {
	Kind     EventKind
	From     CycleState
	To       CycleState
	Stage    int8 // index into Program.Stages
	Guard    Guard
	Order    Order
	Refusal  Refusal
	Ending   Ending
	Evidence Evidence
	Sensor   recipe.Sensor
	Value    float64
}

// maxEvents bounds the events of one step: every guard may trip or clear at once, and one order may change the state
// and the stage.
const maxEvents = int(numGuards) + 8

// Events is the list of a step's events.
type Events struct {
	list [maxEvents]Event
	n    int8
}

// add appends an event. The bound cannot be reached (see maxEvents); were it, the event is dropped rather than the
// step failing.
func (e *Events) add(ev Event) {
	if int(e.n) < len(e.list) {
		e.list[e.n] = ev
		e.n++
	}
}

// All returns the events in the order in which they happened.
func (e *Events) All() []Event { return e.list[:e.n] }
