package sensors

import (
	"math"
	"time"
)

// Rate refuses values that change faster than the quantity can. Use it where a physical rate is known and the signal is
// slow: air and jacket warm by kelvins a minute, a weight falls by milligrams a second. Use Despike where a real change
// may be as sudden as a spike, such as a pad that meets the disk: it asks only whether the jump lasts.
//
// A limit that is never lifted would keep a sensor at its last value for ever once the quantity has really moved while
// nobody looked, so values that agree with each other are believed after some of them.
type Rate struct {
	PerSecond float64 // the fastest honest change
	Slack     float64 // a change that is always honest, however short the time: noise and resolution
	Persist   int     // values in a row at a new level that are believed after all; 0: one is enough

	Rejected int // values refused so far; those of a level that was believed later are among them

	last, other float64 // the last value believed, and the last refused
	at, when    time.Duration
	begun       bool
	run         int // refused values in a row that agree with each other
}

// Next takes a value with the time of its conversion and returns the value to use. fresh is false while a value is
// refused: the value is then the last one believed, and it keeps its age.
func (r *Rate) Next(v float64, at time.Duration) (value float64, fresh bool) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		r.Rejected++
		return r.last, false
	}
	if r.begun && !r.honest(v-r.last, at-r.at) {
		if r.run == 0 || !r.honest(v-r.other, at-r.when) {
			r.run = 0
		}
		r.run++
		r.other, r.when = v, at
		if r.run < max(r.Persist, 1) {
			r.Rejected++
			return r.last, false
		}
	}
	r.begun, r.run, r.last, r.at = true, 0, v, at
	return v, true
}

// honest tells whether the quantity can have changed so much in a span. A span that goes back counts as none.
func (r *Rate) honest(change float64, span time.Duration) bool {
	return math.Abs(change) <= r.Slack+r.PerSecond*max(span, 0).Seconds()
}
