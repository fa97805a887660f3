package hx711

import (
	"errors"
	"sync"
	"time"
)

var errLine = errors.New("line was taken away")

// chip is a model of the two lines with its time, in its own words: a clock that is high for more than 60 µs powers it
// down; low again, it starts anew on input A and settles; a sample pulls the line low; pulses shift it out, and their
// number chooses what is next.
type chip struct {
	mu sync.Mutex

	cell   [3]uint32 // raw, by 25, 26, 27 pulses
	period time.Duration
	settle time.Duration

	stuck  *bool         // the data line does this whatever the chip wants; nil: as it wants
	eager  bool          // it hands out what it has before it has settled
	frozen bool          // the clock stands still
	long   map[int]int   // pulse, counted from now on, that lasts longer: µs
	slow   time.Duration // what a look at the line takes
	fail   int           // the use of a line, counted down, that fails; 0: none

	now      time.Duration
	high     bool // the clock
	since    time.Duration
	ready    time.Duration // when the sample is done
	settled  time.Duration // when it is worth something
	gain     int           // of the sample that comes: 25 to 27
	next     int           // pulses of this sample so far
	shift    uint32
	bit      bool
	pulses   int // in all
	slept    time.Duration
	perTurn  []int
	powerUps int
}

func newChip(a128, b32, a64 uint32) *chip {
	return &chip{cell: [3]uint32{a128, b32, a64}, period: 100 * time.Millisecond, settle: 400 * time.Millisecond,
		slow: 2 * time.Microsecond, gain: 25}
}

func (c *chip) dev(g Gain) *Dev {
	return New(c, c, func() time.Duration { c.mu.Lock(); defer c.mu.Unlock(); return c.now }, c.sleep, g)
}

func (c *chip) sleep(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.slept += d
	c.pass(d)
}

func (c *chip) pass(d time.Duration) {
	if !c.frozen {
		c.now += d
	}
}

func (c *chip) use() error {
	c.pass(c.slow)
	if c.fail--; c.fail == 0 {
		return errLine
	}
	return nil
}

func (c *chip) Set(on bool) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.use(); err != nil {
		return err
	}
	switch {
	case on && !c.high:
		c.since = c.now
		c.rise()
		c.pulses++
		if us, is := c.long[c.pulses]; is {
			c.pass(time.Duration(us) * time.Microsecond)
		}
	case !on && c.high && c.now-c.since > 60*time.Microsecond:
		c.powerUps++
		c.gain = 25
		c.convert(c.now, c.settle)
	}
	c.high = on
	return nil
}

// rise is a rising edge: the next bit, or one pulse more after them.
func (c *chip) rise() {
	if c.now-c.ready < 0 {
		return
	}
	if c.next == 0 {
		c.shift = c.cell[c.gain-25]
		if c.now-c.settled < 0 {
			c.shift = 0x123456
		}
	}
	c.next++
	switch {
	case c.next <= 24:
		c.bit = c.shift>>(24-c.next)&1 == 1
	default:
		c.bit = true
	}
}

func (c *chip) High() (bool, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.use(); err != nil {
		return false, err
	}
	if c.next >= 25 && c.now-c.since > 20*time.Microsecond { // no more pulses come
		c.turn()
	}
	switch {
	case c.stuck != nil:
		return *c.stuck, nil
	case c.high && c.now-c.since > 60*time.Microsecond, c.now-c.ready < 0:
		return true, nil
	case c.next > 0:
		return c.bit, nil
	}
	return false, nil
}

// turn begins the next conversion, which takes longer after a change of the input or gain.
func (c *chip) turn() {
	c.perTurn = append(c.perTurn, c.next)
	wait := c.period
	if c.next != c.gain {
		wait = c.settle
	}
	c.gain = min(c.next, 27)
	c.convert(c.since, wait)
}

func (c *chip) convert(from, wait time.Duration) {
	if c.settled-from < wait { // it may still be settling
		c.settled = from + wait
	}
	c.next, c.ready = 0, c.settled
	if c.eager {
		c.ready = from + c.period
	}
}
