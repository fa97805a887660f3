// Package recipe reads and checks the two kinds of file a person writes: recipes (what to do with a disk) and
// bench files (what the machine is made of).
//
// Reading is pure: bytes in, a Recipe or Bench and a list of problems out. Every problem says where it is
// (file:line:column), what is wrong, and what would be right; all problems of a file are reported at once.
// Quantities are strings with a unit at this edge and SI numbers inside.
package recipe

import "time"

// Recipe is what one cycle does with one disk: stages in order, and the limits that hold over all of them.
// All quantities are SI: m³, m³/s, Pa, K, fractions of one; speeds are revolutions per second.
type Recipe struct {
	Name   string   // file name without folder and ending; "water-detergent"
	Text   string   // the file as read, kept with the record of every cycle that ran it
	Title  string   // one line for a person
	Media  []string // sizes it is meant for: "90 mm", "130 mm", "200 mm"
	Liquid string   // what the pads are wetted with; a name that package liquid knows; "" when nothing wets
	Rinse  string   // what the rinse pump gives; "" when there is no rinse stage
	Repeat int      // how often the block of stages before the first dry is run; at least 1
	Pads   Pads
	Limits Limits
	Stages []Stage // as written; Repeat is applied by Unrolled

	places places // where the keys stand in the file
}

// Pads is the pressure asked of the pads and how far it may be off.
type Pads struct {
	Pressure float64 // Pa, each pad; 0 when no stage presses the pads
	Within   float64 // fraction of Pressure that each pad may be off
	Balance  float64 // fraction of their mean by which the two pads may differ
}

// Limits hold over a whole cycle.
type Limits struct {
	Liquid float64       // m³, everything both pumps give in one cycle
	Time   time.Duration // running time, holds not counted
}

// Kind is what a stage does.
type Kind uint8

// The kinds of stage.
const (
	NoStage Kind = iota
	Wet          // the pump wets the pads
	Scrub        // the pads press and turn, the hub turns the disk
	Rinse        // the rinse pump rinses the disk
	SpinOut      // the hub spins liquid off the disk
	Soak         // everything rests while the liquid works
	Dry          // the fan, perhaps warmed, dries the liner
)

var kindNames = [...]string{"", "wet", "scrub", "rinse", "spin-out", "soak", "dry"}

// String returns the word for the kind in a recipe file.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "unknown stage"
}

// Stage is one step of a recipe. Fields that a kind does not use are zero.
type Stage struct {
	Do       Kind
	Line     int           // line of its [[stage]] in the file, for messages
	For      time.Duration // how long the work itself lasts; zero for a dry that runs until dry
	AtMost   time.Duration // the stage's hard end; zero only before Check has filled it in
	Flow     float64       // m³/s asked of the pump (wet) or the rinse pump (rinse)
	Pads     float64       // revolutions per second of the pads
	Hub      float64       // revolutions per second of the hub
	Reverse  time.Duration // the pads turn round after each such span of work; zero: never
	Fan      float64       // fraction of full speed
	Warm     float64       // K, air asked at the cartridge; zero: not warmed
	UntilDry bool          // dry: ends on evidence of dryness, at the latest after AtMost
}

// Unrolled returns the stages in the order in which they run: the block before the first dry Repeat times, then the
// rest once.
func (r Recipe) Unrolled() []Stage {
	block := r.Block()
	var all []Stage
	for range max(r.Repeat, 1) {
		all = append(all, r.Stages[:block]...)
	}
	return append(all, r.Stages[block:]...)
}

// Block returns how many stages, as written, are in the repeated block: all before the first dry.
func (r Recipe) Block() int {
	for i, s := range r.Stages {
		if s.Do == Dry {
			return i
		}
	}
	return len(r.Stages)
}
