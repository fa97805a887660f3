// Package chips has models of the chips on the bench's bus, register by register as their data sheets describe them and
// no more than the bench uses. They are the other side of the product's drivers and share nothing with them.
//
// Commands, registers, times and start-up values are from memory of the data sheets that each file names; two of the
// models are held against the kernel's own drivers when the rig runs.
//
// A model is pure: the time is an argument, counted from any moment, and what it measures comes from a Sense.
package chips

import "time"

// Sense is the world as one chip feels it: the value of a quantity at a time, in the unit that its name says, as in
// "celsius".
type Sense func(quantity string, now time.Duration) float64

// Chip is one target on the bus. False stands for a message that is not acknowledged.
type Chip interface {
	// Power puts the chip into the state after power-on.
	Power()
	Write(b []byte, now time.Duration) bool
	Read(n int, now time.Duration) ([]byte, bool)
	// Quantities names what the chip can be made to feel.
	Quantities() []string
}

// Checked is a chip that adds checksums to what it says.
type Checked interface {
	// Corrupt makes every checksum wrong from now on, or right again.
	Corrupt(wrong bool)
}

// fill copies an answer into n bytes; beyond it the bus reads as ones, because nobody pulls it down.
func fill(n int, answer []byte) []byte {
	out := make([]byte, n)
	for i := copy(out, answer); i < n; i++ {
		out[i] = 0xff
	}
	return out
}

// clamp rounds to the nearest code that a converter has.
func clamp(v float64, low, high int) int {
	switch {
	case v != v: // a quantity that is not set to a number
		return low
	case v <= float64(low):
		return low
	case v >= float64(high):
		return high
	case v < 0:
		return int(v - 0.5)
	}
	return int(v + 0.5)
}
