package ads1115

import (
	"encoding/binary"
	"errors"
	"math"
	"runtime"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

const address = 0x48

var errNAK = errors.New("no such device or address") // what the kernel says to a missing acknowledge

// chip is a model of the chip with its time: a conversion lasts, a start during it is ignored, and the switch moves only
// for the next one. Time passes by sleeping and by the bus.
type chip struct {
	mu sync.Mutex

	now     time.Duration
	volts   [4]float64
	slow    float64 // length of its conversions as a multiple of the nominal one; 0: 1
	dead    bool    // never finishes
	dying   bool    // never finishes another one
	mute    bool    // says that it rests while it converts without end
	gone    bool    // does not acknowledge
	fail    int     // the transfer, counted down, that fails; 0: none
	reset   int     // the transfer, counted down, before which its supply dips; 0: none
	foreign uint16  // config bits that do not stick

	config, result uint16
	busy           bool
	active         uint16 // the settings of the conversion under way
	end            time.Duration

	transfers int
}

func newChip(volts ...float64) *chip {
	c := &chip{config: 0x8583 &^ bitStart} // its settings after power-on
	copy(c.volts[:], volts)
	return c
}

func (c *chip) String() string                    { return "model" }
func (c *chip) SetSpeed(_ physic.Frequency) error { return nil }

func (c *chip) dev(s Settings) *Dev { return New(&i2c.Dev{Bus: c, Addr: address}, s, c.sleep) }

func (c *chip) sleep(d time.Duration) {
	runtime.Gosched() // others have their turn while one waits
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now += d
	c.settle()
}

func (c *chip) Tx(addr uint16, w, r []byte) error {
	runtime.Gosched()
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now += 100 * time.Microsecond
	c.settle()
	c.transfers++
	if c.reset--; c.reset == 0 {
		c.busy, c.result, c.config = false, 0, 0x0583
	}
	if c.fail--; c.gone || c.fail == 0 || addr != address {
		return errNAK
	}
	if len(w) == 3 && w[0] == regConfig {
		c.write(binary.BigEndian.Uint16(w[1:]))
	}
	if len(r) == 2 {
		binary.BigEndian.PutUint16(r, c.read(w[0]))
	}
	return nil
}

func (c *chip) write(word uint16) {
	c.config = word &^ (bitStart | c.foreign)
	if !c.busy && (word&bitStart != 0 || word&bitSingle == 0) {
		c.start()
	}
}

func (c *chip) read(register byte) uint16 {
	if register == regResult {
		return c.result
	}
	if c.busy && !(c.mute && c.config&bitSingle == 0) {
		return c.config
	}
	return c.config | bitStart
}

func (c *chip) start() {
	slow := c.slow
	if slow == 0 {
		slow = 1
	}
	nominal := time.Second / time.Duration(rates[c.config>>rateShift&7])
	c.busy, c.active = true, c.config
	c.end = c.now + time.Duration(slow*float64(nominal))
}

// settle ends the conversions whose time is over.
func (c *chip) settle() {
	for c.busy && !c.dead && c.now >= c.end {
		c.result, c.busy, c.dead = c.convert(), false, c.dying
		if c.config&bitSingle == 0 {
			at := c.now
			c.now = c.end
			c.start()
			c.now = at
		}
	}
}

// convert does it in its own way: from the voltage at the switch to the code.
func (c *chip) convert() uint16 {
	full := [8]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256}[c.active>>rangeShift&7]
	var v float64
	switch mux := c.active >> muxShift & 7; mux {
	case 0:
		v = c.volts[0] - c.volts[1]
	case 1, 2, 3:
		v = c.volts[mux-1] - c.volts[3]
	default:
		v = c.volts[mux-4]
	}
	code := math.Round(v / full * 32768)
	return uint16(int16(max(-32768, min(32767, code))))
}

func noSleep(time.Duration) {}
