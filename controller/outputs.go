package controller

import "time"

// Levels is the asked level of every actuator. The zero value is everything off, pads away from the disk: a
// forgotten field is a safe one.
type Levels struct {
	Pump         float64 // duty, 0 to 1
	RinsePump    float64 // duty, 0 to 1
	Press        bool    // pads pressed to the disk
	Pads         float64 // revolutions per second; negative turns the other way
	Hub          float64 // revolutions per second
	Fan          float64 // fraction of full speed, 0 to 1
	Heater       float64 // fraction of full power, 0 to 1
	HeaterEnable bool    // the heater's second, independent line
}

// Outputs is everything one step asks for: complete levels, the events to record, and when the next step is due at
// the latest.
type Outputs struct {
	Levels Levels
	Events Events
	Next   time.Duration
}

// Bench is the one interface between the core and the world.
//
// Read fills the readings; it never blocks for longer than a tick and never gives a number in place of a failed
// reading. Drive asks every actuator for its level. Close leaves every output off, whatever happened before, and
// may be called more than once. A Bench is owned by one goroutine.
type Bench interface {
	Read(now time.Duration) (Readings, error)
	Drive(now time.Duration, levels Levels) error
	Close() error
}
