package controller

import (
	"math/bits"
	"time"

	"fullery/recipe/endpoint"
)

// State is everything a cycle remembers from one step to the next.
//
// It is a comparable plain value, so that the tests can use it as a map key and walk through every reachable one.
// Spans are counted, not remembered as moments, and counted no further than something depends on them: two states
// that will behave alike are equal. Last is the only absolute time.
type State struct {
	Last    time.Duration // Now of the step before
	Ticking bool          // there was a step before
	Late    bool          // this step came too long after the last one

	Cycle    CycleState
	InState  time.Duration // since Cycle was entered, where something waits for it
	Cause    Guard         // the guard that held or aborted the cycle; noGuard when an order did
	MustLook bool          // a person must look before anything turns again

	Stage   int8          // index into the program's stages
	InStage time.Duration // running time in this stage
	Worked  time.Duration // of it, with the stage's work really on
	Total   time.Duration // running time of the whole cycle
	Dosed   float64       // m³, what both pumps have given in this cycle

	Drove Levels // asked by the step before: what the bench has been doing since

	FanAsked   time.Duration // how long the fan has been asked to turn
	FanProof   time.Duration // how long its tach has agreed
	FanDoubt   time.Duration // how long it has been asked without being proven
	FanBad     bool          // the fan is what failed: it is not asked again until a reset or a resume
	Blow       bool          // heat or vapour was seen: the fan blows until a reset, whatever ended the cycle
	PurgeLeft  time.Duration // fan time that the vapour still needs
	PressedFor time.Duration // how long the pads have been pressed
	AwayFor    time.Duration // how long the pads have not been pressed
	PadsFor    time.Duration // how long the pads have been asked to turn
	HubFor     time.Duration // how long the hub has been asked to turn
	PadsRest   time.Duration // the pads stay off for so long yet
	PumpRest   time.Duration // both pumps stay off for so long yet
	HeaterRest time.Duration // the heater stays off for so long yet
	HeaterOff  time.Duration // how long the heater has been off
	Heated     bool          // the heater was on in this cycle
	Warmth     float64       // the part of its power that has been added up to hold the asked temperature
	AirLow     float64       // K, the coolest air at the cartridge since the heater went off

	Drying Drying

	Held    [numGuards]time.Duration // how long each guard's cause has been there, up to its debounce
	Tripped GuardSet                 // guards that tripped and whose cause is not gone
	Waiting GuardSet                 // guards with a span in Held: the only ones that must be asked where they do not look
}

// Drying is what the dry stage has seen of the disk.
type Drying struct {
	Seen     endpoint.State // what the sensors have shown of it, and before it of the dry disk
	Unseen   time.Duration  // since the sensors were last asked, up to a second
	Broken   bool           // it was held meanwhile: Took is not the whole drying
	Resumed  time.Duration  // Worked when it was last held
	Took     time.Duration  // drying time until it ended, when it has
	Evidence Evidence       // what "dry" rests on, when it has ended
}

// GuardSet is a set of guards.
type GuardSet uint32

// Has tells whether the set holds g.
func (s GuardSet) Has(g Guard) bool { return s&(1<<g) != 0 }

// first returns the most urgent guard of a set that is not empty.
func (s GuardSet) first() Guard { return Guard(bits.TrailingZeros32(uint32(s))) }

func (s *GuardSet) put(g Guard)  { *s |= 1 << g }
func (s *GuardSet) drop(g Guard) { *s &^= 1 << g }

// Evidence is what a "dry" rests on.
type Evidence = endpoint.Evidence

// The kinds of evidence of dryness, best first, and none.
const (
	NoEvidence = endpoint.NoEvidence
	ByWeight   = endpoint.ByWeight
	BySurface  = endpoint.BySurface
	ByAir      = endpoint.ByAir
	ByDrag     = endpoint.ByDrag
	ByClock    = endpoint.ByClock // only the clock: unproven
)
