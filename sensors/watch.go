package sensors

import (
	"math"
	"time"
)

// Verdict is what a Watch thinks of one raw value.
type Verdict uint8

// The verdicts.
const (
	Plausible  Verdict = iota
	Saturated          // exactly at an end of its range: the true value may lie beyond, so it is a bound, no evidence
	OutOfRange         // a value that the sensor cannot honestly give
	NotANumber         // no value at all
	Stuck              // the same raw value for longer than a live sensor's noise allows
)

var verdictNames = [...]string{"plausible", "saturated", "out of range", "not a number", "stuck"}

// String returns the words for the verdict.
func (v Verdict) String() string {
	if int(v) < len(verdictNames) {
		return verdictNames[v]
	}
	return "unknown verdict"
}

// Limits is what a live sensor can honestly say, in the unit of its raw values.
type Limits struct {
	Low, High float64 // the ends of its range; a value exactly at an end is Saturated

	// Same identical raw values in a row mean that the sensor is stuck, if they also span For. The time is for slow
	// quantities: one step a minute is a real change, however often it is read. Same zero: never stuck (contacts and
	// speeds rest at one value for good reason).
	Same int
	For  time.Duration
}

// Watch judges the raw values of one sensor in the order in which they were converted. The zero value with its
// Limits set is ready.
type Watch struct {
	Limits
	last  float64
	since time.Duration // when the run of identical values began
	run   int           // how many identical values so far
	moved bool          // something that must show in the reading happened during the run
}

// Judge takes one raw value converted at a time (monotonic, since any start) and says what it is worth. A value that
// is out of range does not end a run of identical ones, nor begin one.
func (w *Watch) Judge(raw float64, at time.Duration) Verdict {
	switch {
	case math.IsNaN(raw):
		return NotANumber
	case raw < w.Low || raw > w.High:
		return OutOfRange
	}
	if raw != w.last || w.run == 0 {
		w.last, w.since, w.run, w.moved = raw, at, 0, false
	}
	w.run++
	switch {
	case raw == w.Low || raw == w.High:
		return Saturated
	case w.Same > 0 && w.run >= w.Same && (w.moved || at-w.since >= w.For):
		return Stuck
	}
	return Plausible
}

// Moved tells the watch that something happened which must show in the reading, such as a heater going from off to
// full: from now on Same identical values are enough, however short they took.
func (w *Watch) Moved() { w.moved = true }

// LoadCell returns the limits of a load cell's converter between two readings, in the same unit: twenty identical
// values in a row do not come from a live bridge, whose last digits always flicker.
func LoadCell(low, high float64) Limits { return Limits{Low: low, High: high, Same: 20} }

// Climate returns the limits of a temperature or humidity sensor: sixty identical values over two minutes or more.
// Two minutes, so that a real change of one step a minute is never called stuck.
func Climate(low, high float64) Limits {
	return Limits{Low: low, High: high, Same: 60, For: 2 * time.Minute}
}
