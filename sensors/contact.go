package sensors

import (
	"fmt"
	"time"
)

// Contact is a switch that closes a circuit when all is well: lid shut, emergency stop released, tray dry, liquid enough. An
// open circuit is trouble, because a broken wire, a pulled plug and a missing switch are open too. Trouble shows at once;
// that all is well is believed only after the contact was found closed for a while, since closing contacts bounce.
type Contact struct {
	Settle time.Duration // closed for so long before it counts, usually 50 ms (common practice, no source)

	closed bool
	since  time.Duration // when it was first found closed
	last   time.Duration
}

// Next takes what the line says at a moment and returns 1 when all is well and 0 when not. A line that could not be read
// is an error (failed is wrapped) and 0 beside it, and the waiting begins anew: nobody knows what it did meanwhile.
func (c *Contact) Next(closed bool, failed error, at time.Duration) (float64, error) {
	if failed != nil {
		c.Opened()
		return 0, fmt.Errorf("the contact could not be read: %w", failed)
	}
	if !closed {
		c.Opened()
		return 0, nil
	}
	if !c.closed || at < c.last { // a clock that went back proves no waiting
		c.closed, c.since = true, at
	}
	c.last = at
	if at-c.since < c.Settle {
		return 0, nil
	}
	return 1, nil
}

// Opened tells that the contact has opened between two looks, as an edge from the kernel shows.
func (c *Contact) Opened() { c.closed = false }
