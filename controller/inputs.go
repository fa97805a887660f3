package controller

import (
	"time"

	"fullery/recipe"
)

// Quality says what a reading is worth.
type Quality uint8

// The qualities of a reading. The zero value is Absent, so that a forgotten reading counts as missing and never as
// good.
const (
	Absent      Quality = iota // the bench has no such sensor, or it has not answered yet
	Good                       // read and plausible; its age still counts
	Failed                     // could not be read: bus, checksum, time-out
	Implausible                // read, but refused: out of range, stuck, saturated
)

var qualityNames = [...]string{"absent", "good", "failed", "implausible"}

// String returns the word for the quality.
func (q Quality) String() string {
	if int(q) < len(qualityNames) {
		return qualityNames[q]
	}
	return "unknown quality"
}

// Reading is one sensor's last value, in the SI unit that recipe.Sensor documents, with its age and quality. The
// value means nothing unless the quality is Good.
type Reading struct {
	Value   float64
	Age     time.Duration
	Quality Quality
}

// Readings is every sensor's reading, indexed by recipe.Sensor.
type Readings [recipe.NumSensors]Reading

// Order is what the operator asks for.
type Order uint8

// The orders, as IEC 61512-1 names the commands; Resume is the standard's "restart", ToDry skips from held to the
// dry stage.
const (
	NoOrder Order = iota
	Start
	Hold
	Resume
	ToDry
	Stop
	Abort
	Reset
	numOrders
)

var orderNames = [numOrders]string{"none", "start", "hold", "resume", "dry", "stop", "abort", "reset"}

// String returns the word for the order, as it is typed.
func (o Order) String() string {
	if o < numOrders {
		return orderNames[o]
	}
	return "unknown order"
}

// Command is an operator's order. Looked says that the operator looked at the bench and confirms what the order's
// question asked.
type Command struct {
	Order  Order
	Looked bool
}

// Inputs is everything one step knows. It is a plain value.
type Inputs struct {
	Now           time.Duration // monotonic since the loop started
	Readings      Readings
	Command       Command // at most one per step
	DriveFailed   bool    // the last outputs could not be driven
	RecordFailing bool    // the record cannot be written, or its queue overflowed
}
