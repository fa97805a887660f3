package main

import (
	"time"

	"hil/lines"
)

// quiet is how long no edge comes before all are taken to be there.
const quiet = 200 * time.Millisecond

// pulses lets the host turn a part for as long as its output is on: a fan and its tachometer.
func (t *test) pulses() {
	out, err := lines.Claim(t.chip, t.output, lines.Output, false)
	if !t.Check(err == nil, "claiming the output of a fan (%v)", err) {
		return
	}
	defer out.Close()
	in, err := lines.Claim(t.chip, t.pulsed, lines.Input|lines.Rising, false)
	if !t.Check(err == nil, "claiming the input of its pulses (%v)", err) {
		return
	}
	defer in.Close()
	const hertz = 50
	_, err = t.Ask("pulse %d %d line%d 1", t.pulsed, hertz, t.output)
	still, err2 := in.Edges(quiet)
	t.Check(err == nil && err2 == nil && len(still) == 0, "a fan that is off gives no pulse: %d (%v, %v)", len(still), err, err2)
	out.Set(true)
	time.Sleep(time.Second)
	out.Set(false)
	turned, err := in.Edges(quiet)
	// The guest's second is about the host's second. A factor of two tells a rhythm from none and from a storm.
	t.Check(err == nil && len(turned) > hertz/2 && len(turned) < hertz*2, "a second on gives about %d pulses: %d (%v)", hertz, len(turned), err)
	more, err := in.Edges(quiet)
	t.Check(err == nil && len(more) == 0, "and none after it: %d (%v)", len(more), err)
	t.Ask("still %d", t.pulsed)
	t.edges()
}
