package controller

import (
	"context"
	"time"
)

// RealClock counts real time since it was made, by the system's monotonic clock: setting the wall clock does not
// change it.
type RealClock struct{ start time.Time }

// NewRealClock starts a clock at zero.
func NewRealClock() *RealClock { return &RealClock{start: time.Now()} }

// Now returns the time since the clock was made.
func (c *RealClock) Now() time.Duration { return time.Since(c.start) }

// Wait blocks until a moment of this clock, or until the context ends.
func (c *RealClock) Wait(ctx context.Context, until time.Duration) error {
	return sleep(ctx, until-c.Now())
}

// FastClock is a clock for simulated benches: waiting moves it instead of taking time. Speed bounds how much faster
// than real time it goes (zero: as fast as the steps can be computed). Room, if set, is asked now and then whether
// those who follow (the record, a screen) have room for more; while they have not, the clock stands.
type FastClock struct {
	Speed float64
	Room  func() bool

	now     time.Duration
	start   time.Time
	started bool
	waits   int
}

// Now returns the clock's moment.
func (c *FastClock) Now() time.Duration { return c.now }

// Wait moves the clock to a moment, holding it back to its speed and to the room there is.
func (c *FastClock) Wait(ctx context.Context, until time.Duration) error {
	c.now = max(c.now, until)
	const often = 16 // ticks between two looks at the world
	if c.waits++; c.waits%often != 0 {
		return nil
	}
	for c.Room != nil && !c.Room() {
		if err := sleep(ctx, time.Millisecond); err != nil {
			return err
		}
	}
	if c.Speed <= 0 {
		return ctx.Err()
	}
	if !c.started {
		c.start, c.started = time.Now(), true
	}
	return sleep(ctx, time.Duration(float64(c.now)/c.Speed)-time.Since(c.start))
}

// sleep waits for a span of real time, or until the context ends.
func sleep(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return nil
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return context.Cause(ctx)
	}
}
