package controller

import (
	"time"

	"fullery/recipe"
	"fullery/recipe/endpoint"
)

// Program is a recipe made ready for one bench: checked, resolved to duties and limits, and immutable. Compile makes
// it; Step runs it.
type Program struct {
	recipe    recipe.Recipe
	bench     recipe.Bench
	stages    []stage
	timing    timing
	flammable bool // the cycle's liquids, or what pads and bath held before, can burn
	arrives   bool // the disk arrives wet: the recipe dries and wets nothing
	lastDry   int  // index of the last stage that dries; below 0: none

	always SensorSet // sensors needed in every stage
	stale  [recipe.NumSensors]time.Duration

	forceLow, forceHigh float64 // N, window of each pad
	balance             float64 // fraction of the mean
	doseLimit           float64 // m³
	airLimit            float64 // K
	surfaceLimit        float64 // K
}

// stage is one stage of a program: the recipe's, with what this bench needs for it.
type stage struct {
	recipe.Stage
	pass      int            // 1 for the first time through the repeated block
	pump      float64        // duty of the pump
	rinsePump float64        // duty of the rinse pump
	needs     SensorSet      // sensors that must be usable while it runs
	evidence  Evidence       // dry until dry: the best evidence this bench can give
	end       *endpoint.Plan // of a drying: what its sensors will see, and how long it may take; nil when that is unknown
	byClock   time.Duration  // when the clock alone ends it
	planned   time.Duration
}

// timing is every span and threshold of the kernel that is not the recipe's or the bench's. They are here together
// so that the tests can coarsen them; nothing else changes them.
type timing struct {
	tick       time.Duration // the loop's period
	late       time.Duration // a step later than this after the last is too late
	rundown    time.Duration // what turning parts need to come to rest
	restart    time.Duration // least time of restarting
	spinUp     time.Duration // what the fan may take until its tach must agree
	proof      time.Duration // how long the tach must agree before the fan counts as proven
	purge      time.Duration // fan time after a flammable liquid
	cool       time.Duration // fan time after the heater
	settle     time.Duration // what the pads need to press
	padsSpin   time.Duration // what the pads may take to come to speed
	hubSpin    time.Duration // what the hub may take to come to speed
	padsRest   time.Duration // least time that the pads stay off
	padsMiss   time.Duration // and after a force left its window
	pumpRest   time.Duration // least time that a pump stays off
	heaterRest time.Duration // least time that the heater stays off
	stuck      time.Duration // a heater off for so long must not warm the air
	ask        time.Duration // between two looks at how the drying goes
	again      time.Duration // what sensors may take after a hold to show the liner wet again
	clear      time.Duration // a cause must be gone for so long to count as gone
}

var usualTiming = timing{
	tick:       50 * time.Millisecond,
	late:       250 * time.Millisecond,
	rundown:    3 * time.Second,
	restart:    1 * time.Second,
	spinUp:     4 * time.Second,
	proof:      1 * time.Second,
	purge:      120 * time.Second,
	cool:       300 * time.Second,
	settle:     1500 * time.Millisecond,
	padsSpin:   1 * time.Second,
	hubSpin:    3 * time.Second,
	padsRest:   500 * time.Millisecond,
	padsMiss:   3 * time.Second,
	pumpRest:   1 * time.Second,
	heaterRest: 5 * time.Second,
	stuck:      30 * time.Second,
	ask:        1 * time.Second,
	again:      10 * time.Minute,
	clear:      2 * time.Second,
}

// longest is the longest that the time in a state matters to anything.
func (t *timing) longest(c CycleState) time.Duration {
	switch c {
	case Holding:
		return t.rundown
	case Restarting:
		return t.restart
	case Stopping, Aborting:
		return 3 * t.purge
	default:
		return 0
	}
}

// StagePlan is what a person may know of one stage before it runs.
type StagePlan struct {
	Do       recipe.Kind
	Pass     int            // 1 for the first time through the repeated block
	Planned  time.Duration  // how long it is expected to last
	AtMost   time.Duration  // when it ends whatever happens
	Liquid   float64        // m³ that the pumps give
	Evidence Evidence       // dry until dry: what "dry" will rest on
	End      *endpoint.Plan // of a drying: what each evidence will see, and the estimate; nil for the others
	Fan      float64        // fraction of full speed
}

// Stages returns the plan of every stage in the order in which they run.
func (p *Program) Stages() []StagePlan {
	plans := make([]StagePlan, len(p.stages))
	for i, s := range p.stages {
		plans[i] = StagePlan{
			Do: s.Do, Pass: s.pass, Planned: s.planned, AtMost: s.AtMost,
			Liquid: s.Flow * s.For.Seconds(), Evidence: s.evidence, End: s.end, Fan: s.Fan,
		}
	}
	return plans
}

// Tick returns the period at which Step wants to be called.
func (p *Program) Tick() time.Duration { return p.timing.tick }

// Flammable tells whether anything in this cycle can burn.
func (p *Program) Flammable() bool { return p.flammable }

// Recipe returns the recipe that the program was compiled from.
func (p *Program) Recipe() recipe.Recipe { return p.recipe }

// Bench returns the bench that the program was compiled for.
func (p *Program) Bench() recipe.Bench { return p.bench }

// PressureWindow returns the least and the largest pressure (Pa) that each pad may have while the pads turn; zeros
// when no stage presses them.
func (p *Program) PressureWindow() (least, most float64) {
	if p.bench.Pads.Area == 0 {
		return 0, 0
	}
	return p.forceLow / p.bench.Pads.Area, p.forceHigh / p.bench.Pads.Area
}

// SensorSet is a set of sensors.
type SensorSet uint32

// Has tells whether the set holds s.
func (set SensorSet) Has(s recipe.Sensor) bool { return set&(1<<s) != 0 }

func sensors(list ...recipe.Sensor) (set SensorSet) {
	for _, s := range list {
		set |= 1 << s
	}
	return set
}

// Kind returns what a stage does; NoStage for an index that the program has not.
func (p *Program) Kind(i int8) recipe.Kind {
	if i < 0 || int(i) >= len(p.stages) {
		return recipe.NoStage
	}
	return p.stages[i].Do
}
