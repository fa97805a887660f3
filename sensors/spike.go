package sensors

import "math"

// Despike takes single spikes (transfer glitches, knocks) out of an otherwise steady signal. It does not average, so
// a spike leaves no trace in the values around it. A value that jumps is held back until the next one: if that one
// is back where the signal was, the jump was a spike and is dropped; if not, the change is real. A real jump is
// therefore seen one conversion late, everything else at once.
type Despike struct {
	Jump  float64 // a larger change from one value to the next is suspect, in the unit of the values
	Quiet int     // values without a jump after a spike before the next spike is dropped; a flickering signal is no spike

	Rejected int // spikes dropped so far

	last    float64
	begun   bool
	holding bool
	loud    int
}

// Next takes a value and returns the value to use. fresh is false while a jump is held back: the value is then the
// last one believed, and it keeps its age.
func (d *Despike) Next(v float64) (value float64, fresh bool) {
	jump := d.begun && math.Abs(v-d.last) > d.Jump
	switch {
	case d.holding && !jump:
		d.Rejected++
		d.loud = d.Quiet
	case d.holding: // two in a row: the change is real
	case jump && d.loud == 0:
		d.holding = true
		return d.last, false
	case jump:
		d.loud = d.Quiet
	case d.loud > 0:
		d.loud--
	}
	d.begun, d.holding, d.last = true, false, v
	return v, true
}
