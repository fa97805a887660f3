package pca9685

import (
	"errors"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

const address = 0x40

var errNAK = errors.New("no such device or address")

// chip is a model of the registers, written down from the register table and not from the driver: what is written where,
// what a write is refused in, and what comes out of the pins.
type chip struct {
	mu sync.Mutex

	reg     [256]byte
	awake   time.Duration // since when the oscillator has been on
	now     time.Duration
	gone    bool
	fail    int // the transfer, counted down, that fails; 0: none
	foreign bool
	deaf    bool // to what is written to all channels

	transfers  int
	everDriven bool // some pin was on at the end of some transfer since this was last cleared
}

func newChip() *chip {
	c := &chip{}
	c.reset()
	return c
}

// reset is what a dip of the supply does: power-on values of the register table.
func (c *chip) reset() {
	c.reg = [256]byte{0x00: 0x11, 0x01: 0x04, 0xFE: 0x1E}
	for channel := range 16 {
		c.reg[6+4*channel+3] = 0x10
	}
}

func (c *chip) String() string                    { return "model" }
func (c *chip) SetSpeed(_ physic.Frequency) error { return nil }
func (c *chip) dev() *Dev                         { return New(&i2c.Dev{Bus: c, Addr: address}, c.sleep) }

func (c *chip) sleep(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now += d
}

func (c *chip) Tx(addr uint16, w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now += 100 * time.Microsecond
	c.transfers++
	if c.fail--; c.gone || c.fail == 0 || addr != address {
		return errNAK
	}
	if len(w) == 0 {
		return nil
	}
	at := w[0]
	for _, b := range w[1:] {
		c.write(at, b)
		at = c.next(at)
	}
	for i := range r {
		r[i] = c.read(at)
		at = c.next(at)
	}
	for channel := range 16 {
		c.everDriven = c.everDriven || c.duty(channel) > 0
	}
	return nil
}

func (c *chip) next(at byte) byte {
	if c.reg[0]&0x20 == 0 {
		return at
	}
	return at + 1
}

func (c *chip) read(at byte) byte {
	if c.foreign || (at >= 0xFA && at <= 0xFD) {
		return 0
	}
	return c.reg[at]
}

func (c *chip) write(at, b byte) {
	switch {
	case at == 0x00:
		c.mode(b)
	case at == 0xFE && c.reg[0]&0x10 == 0: // blocked while awake
	case at == 0xFE:
		c.reg[at] = max(b, 3)
	case at >= 0xFA && at <= 0xFD && (c.reg[1]&0x08 != 0 || c.deaf): // change on acknowledge: waits for the other three
	case at >= 0xFA && at <= 0xFD:
		for channel := range 16 {
			c.reg[6+4*channel+int(at-0xFA)] = b
		}
	default:
		c.reg[at] = b
	}
}

func (c *chip) mode(b byte) {
	was := c.reg[0]
	keep := was & 0x40 // an external clock stays
	if was&0x10 != 0 && b&0x40 != 0 {
		keep = 0x40
	}
	pending := was & 0x80
	switch {
	case was&0x10 == 0 && b&0x10 != 0 && c.running():
		pending = 0x80 // put to sleep while something ran
	case b&0x80 != 0 && was&0x10 == 0 && c.now-c.awake >= 500*time.Microsecond:
		pending = 0
	}
	if was&0x10 != 0 && b&0x10 == 0 {
		c.awake = c.now
	}
	c.reg[0] = b&0x3F | keep | pending
}

// running: some channel makes pulses.
func (c *chip) running() bool {
	for channel := range 16 {
		if r := c.reg[6+4*channel:]; r[3]&0x10 == 0 && r[1]&0x10 == 0 && (r[0]|r[1]|r[2]|r[3]) != 0 {
			return true
		}
	}
	return false
}

// duty is what a pin does, counted period step by period step; −1 while the chip sleeps with a channel that is not off.
func (c *chip) duty(channel int) float64 {
	r := c.reg[6+4*channel:]
	on, off := int(r[0])|int(r[1]&0x0F)<<8, int(r[2])|int(r[3]&0x0F)<<8
	var d float64
	switch {
	case r[3]&0x10 != 0:
	case r[1]&0x10 != 0:
		d = 1
	case c.reg[0]&0x90 != 0:
		return -1
	default:
		d = float64((off-on+4096)%4096) / 4096
	}
	if c.reg[1]&0x10 != 0 { // inverted
		d = 1 - d
	}
	return d
}

// frequency in Hz of what comes out.
func (c *chip) frequency() float64 { return 25e6 / 4096 / (float64(c.reg[0xFE]) + 1) }

func noSleep(time.Duration) {}
