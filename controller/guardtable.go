package controller

import (
	"time"

	"fullery/recipe"
)

// rule is one row of the guard table: when its cause has been there for its debounce, in a state and a stage where
// it applies, the guard trips and its response is carried out in the same step.
type rule struct {
	debounce time.Duration
	response Response
	states   stateSet
	stages   stageSet
	look     bool // after it, a person must look before anything turns again
	happened string
	did      string
	doNow    string
}

type stateSet uint16

func states(list ...CycleState) (set stateSet) {
	for _, c := range list {
		set |= 1 << c
	}
	return set
}

func (set stateSet) has(c CycleState) bool { return set&(1<<c) != 0 }

type stageSet uint8

func stagesOf(list ...recipe.Kind) (set stageSet) {
	for _, k := range list {
		set |= 1 << k
	}
	return set
}

func (set stageSet) has(k recipe.Kind) bool { return set&(1<<k) != 0 }

// active is where a cycle is under way: what can still be aborted. working is where it moves or is about to.
var (
	active  = states(Running, Holding, Held, Restarting, Stopping)
	working = states(Running, Restarting)
	running = states(Running)
	blowing = active | states(Stopped, Aborting, Aborted, Complete) // where the fan may be on

	everyStage = stagesOf(recipe.Wet, recipe.Scrub, recipe.Rinse, recipe.SpinOut, recipe.Soak, recipe.Dry)
	pumping    = stagesOf(recipe.Wet, recipe.Rinse)
	pressing   = stagesOf(recipe.Scrub, recipe.Rinse)
)

// guards is the guard table. Its order is its urgency: of two guards that trip in one step the first is named as the
// cause, unless a later one has the stronger response.
var guards = [numGuards]rule{
	EStopPressed: {
		response: ToAbort, states: active, stages: everyStage, look: true,
		happened: "The emergency stop is pressed, or its wire is open",
		did:      "Pumps, pads, hub and heater went off at once; only a fan that clears vapour goes on",
		doNow:    "Look at the bench, let the button go, then reset",
	},
	LidOpen: {
		response: ToHold, states: working, stages: everyStage, look: true,
		happened: "The lid is open",
		did:      "Pumps, pads, hub and heater went off",
		doNow:    "Close the lid, look at the disk, then resume; closing it starts nothing",
	},
	DriveFailing: {
		response: ToAbort, states: active, stages: everyStage, look: true,
		happened: "An output could not be driven",
		did:      "Every output was asked to go off",
		doNow:    "Cut the power by hand if anything still runs, look at the wiring, then reset",
	},
	FanUnproven: {
		debounce: time.Second, response: ToAbort, states: blowing, stages: everyStage,
		look:     true,
		happened: "The fan was asked to turn and its tach does not show it",
		did:      "Heater and pumps went off and the fan is not asked again",
		doNow:    "Air the room, look for a blocked or unplugged fan, then reset",
	},
	AirTooHot: {
		debounce: 500 * time.Millisecond, response: ToAbort, states: blowing,
		stages: everyStage, look: true,
		happened: "The air at the cartridge or its jacket is hotter than the bench allows",
		did:      "Both heater lines went off, and the fan blows where there is one",
		doNow:    "Let it cool, look at the disk and at the heater, then reset",
	},
	HeaterStuck: {
		debounce: time.Second, response: ToAbort, states: blowing, stages: everyStage,
		look:     true,
		happened: "The air warms, or stays warm, although the heater is off, as if its switch were welded",
		did:      "The heater's second line was opened and the fan blows",
		doNow:    "Cut the heater's supply at a place where no vapour can be, and have its switches replaced before the next cycle",
	},
	VapourHigh: {
		response: ToAbort, states: blowing, stages: everyStage, look: true,
		happened: "The vapour in the duct reached 25 % of the lower flammable limit",
		did:      "Pumps, pads, hub and heater went off and the fan purges",
		doNow:    "Keep flames and switches away, air the room, find why so much evaporates, then reset",
	},
	TrayWet: {
		response: ToAbort, states: active, stages: everyStage, look: true,
		happened: "There is liquid in the tray up to its float",
		did:      "Both pumps went off and the cycle ended",
		doNow:    "Empty and dry the tray, look for a leak, then reset",
	},
	DoseOver: {
		response: ToHold, states: working, stages: pumping,
		happened: "The cycle has given all the liquid that its recipe allows",
		did:      "The pumps went off before the limit was passed",
		doNow:    "Go on to drying (dry), or stop",
	},
	PadLight: {
		debounce: 300 * time.Millisecond, response: ToHold, states: running,
		stages: pressing, look: true,
		happened: "A pad presses less than the recipe's window",
		did:      "The pads stopped, and were taken off the disk where the bench can do that",
		doNow:    "Set the pad, or look for a worn one, then resume",
	},
	PadHeavy: {
		debounce: 200 * time.Millisecond, response: ToHold, states: running,
		stages: pressing, look: true,
		happened: "A pad presses more than the recipe's window",
		did:      "The pads stopped, and were taken off the disk where the bench can do that",
		doNow:    "Set the pad, look at the disk for marks, then resume",
	},
	PadsUneven: {
		debounce: time.Second, response: ToHold, states: running, stages: pressing,
		look:     true,
		happened: "The two pads differ by more than the recipe allows",
		did:      "The pads stopped, and were taken off the disk where the bench can do that",
		doNow:    "Balance the pads, then resume",
	},
	PadsOn: {
		debounce: 500 * time.Millisecond, response: ToHold, states: running, stages: everyStage, look: true,
		happened: "The pads still press on the disk although they were taken off",
		did:      "Hub and pads went off before the disk could be dragged along them",
		doNow:    "Free the press by hand, look at the disk for marks, then resume",
	},
	PadsStalled: {
		debounce: time.Second, response: ToHold, states: running, stages: pressing,
		look:     true,
		happened: "The pads were asked to turn and do not, or turn at less than half the speed",
		did:      "Their motor went off",
		doNow:    "Look for something caught between pad and disk, then resume",
	},
	HubSlow: {
		debounce: 2 * time.Second, response: ToHold, states: running, stages: everyStage,
		look:     true,
		happened: "The hub turns the disk more slowly than asked: something drags",
		did:      "Hub and pads went off",
		doNow:    "Turn the disk by hand, look at liner and hub, then resume",
	},
	TankLow: {
		debounce: 500 * time.Millisecond, response: ToHold, states: running,
		stages:   pumping,
		happened: "The tank for this stage is low",
		did:      "The pump went off before it could run dry",
		doNow:    "Fill the tank with the same liquid, then resume",
	},
	ReadingStale: {
		response: ToHold, states: working, stages: everyStage, look: true,
		happened: "A reading that this stage needs is missing or too old",
		did:      "What depends on it went off",
		doNow:    "Look at the sensor and its cable, then resume",
	},
	ReadingImplausible: {
		response: ToHold, states: working, stages: everyStage, look: true,
		happened: "A reading that this stage needs is impossible or stuck",
		did:      "What depends on it went off",
		doNow:    "Look at the sensor and its cable, then resume",
	},
	LoopLate: {
		response: ToHold, states: working, stages: everyStage,
		happened: "The control loop came more than a quarter of a second late",
		did:      "Until then what was on stayed on; now pumps, pads, hub and heater went off",
		doNow:    "Find what kept the computer busy, then resume",
	},
	RecordFailing: {
		response: ToHold, states: working, stages: everyStage,
		happened: "The record cannot be written",
		did:      "The cycle is held; what could not be written is kept in memory as long as there is room",
		doNow:    "Make room or mend the disk that holds the record, then resume",
	},
	StageOvertime: {
		response: ToHold, states: running, stages: everyStage,
		happened: "The stage reached its longest time without finishing",
		did:      "The bench went to rest",
		doNow:    "Look why; resume gives it its time once more, stop ends the cycle",
	},
	CycleOvertime: {
		response: ToHold, states: running, stages: everyStage,
		happened: "The cycle reached the recipe's time limit",
		did:      "The bench went to rest",
		doNow:    "Stop; if the disk is still wet, dry it with a dry-only recipe",
	},
	CutShort: {
		response: ToHold, states: 0, stages: everyStage, look: true,
		happened: "The power or the program failed in the middle of this cycle; for how long is not known",
		did:      "Everything is off and nothing starts by itself",
		doNow: "Look at the disk: liquid that dried on it half-way is worse than wetting it again; " +
			"then resume (the stage from its start), dry, or stop",
	},
	VapourRising: {
		debounce: time.Second, response: Warn, states: active, stages: everyStage,
		happened: "The vapour in the duct passed 10 % of the lower flammable limit",
		did:      "The cycle goes on",
		doNow:    "Air the room; at 25 % the cycle is aborted",
	},
}

// GuardRow is one row of the guard table, for a person.
type GuardRow struct {
	Guard    Guard
	Stages   []recipe.Kind
	States   []CycleState
	Debounce time.Duration
	Response Response
	Look     bool // a person must look before anything turns again
	Said     string
}

// Guards returns the guard table, most urgent first.
func Guards() []GuardRow {
	var rows []GuardRow
	for g := noGuard + 1; g < numGuards; g++ {
		r := &guards[g]
		row := GuardRow{Guard: g, Debounce: r.debounce, Response: r.response, Look: r.look, Said: g.Said()}
		for k := recipe.Wet; k <= recipe.Dry; k++ {
			if r.stages.has(k) {
				row.Stages = append(row.Stages, k)
			}
		}
		for c := range numStates {
			if r.states.has(c) {
				row.States = append(row.States, c)
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// Sentences returns the three parts of what the operator reads: what happened, what the bench did, what to do.
func (g Guard) Sentences() (happened, did, doNow string) {
	if g >= numGuards {
		return "", "", ""
	}
	r := &guards[g]
	return r.happened + ".", r.did + ".", r.doNow + "."
}

// Said is the sentence the operator reads when the guard trips: what happened; what the bench did; what to do.
func (g Guard) Said() string {
	if g == noGuard || g >= numGuards {
		return ""
	}
	happened, did, doNow := g.Sentences()
	return happened + " " + did + " " + doNow
}

// Response is what the guard does when it trips.
func (g Guard) Response() Response {
	if g >= numGuards {
		return ToAbort
	}
	return guards[g].response
}
