package sht4x

import (
	"errors"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"fullery/sensors"
)

var errRemote = errors.New("remote I/O error") // what the kernel says to a transfer that nobody acknowledges

const address = 0x44

// chip is an SHT4x as the bus sees it, with faults to switch on. Its clock is moved by sleep alone.
type chip struct {
	t, h   uint16 // what it measures
	number uint32

	gone       bool  // never acknowledges
	foreign    bool  // an SHT3x at the same address: takes the bytes and gives nothing
	refuse     int   // transfers to refuse from now on
	unfinished bool  // takes commands and never finishes a measurement
	flips      []int // bits to flip in the next measurements, one each; −1 for none
	flipNumber bool  // the serial number comes damaged

	now, ready time.Duration
	answer     []byte
	transfers  int
}

func newChip() *chip { return &chip{t: warm, h: moist, number: 0x12345678} }

// 25 °C and 40 %: 70/175 and 46/125 of 65535.
const warm, moist = 0x6666, 0x5E35

func (c *chip) dev() *Dev { return New(&i2c.Dev{Bus: c, Addr: address}, c.sleep) }

func (c *chip) sleep(d time.Duration) { c.now += d }

func (c *chip) String() string                    { return "SHT4x model" }
func (c *chip) SetSpeed(_ physic.Frequency) error { return nil }

func (c *chip) Tx(addr uint16, w, r []byte) error {
	c.transfers++
	if c.refuse > 0 {
		c.refuse--
		return errRemote
	}
	if c.gone || addr != address || c.now < c.ready {
		return errRemote
	}
	if len(w) == 1 && len(r) == 0 {
		return c.obey(w[0])
	}
	if len(w) != 0 || len(r) != len(c.answer) || len(r) == 0 {
		return errRemote
	}
	copy(r, c.answer)
	c.answer = nil
	return nil
}

// The commands are written out as numbers, so that a wrong constant in the driver is seen.
func (c *chip) obey(command byte) error {
	c.answer = nil
	if c.foreign {
		return nil
	}
	switch command {
	case 0x94:
		c.ready = c.now + time.Millisecond
	case 0x89:
		c.answer = words(uint16(c.number>>16), uint16(c.number))
		if c.flipNumber {
			c.answer[5] ^= 1
		}
	case 0xFD:
		c.measure()
	default:
		return errRemote
	}
	return nil
}

func (c *chip) measure() {
	if c.unfinished {
		return
	}
	c.answer, c.ready = words(c.t, c.h), c.now+8300*time.Microsecond
	if len(c.flips) > 0 {
		if bit := c.flips[0]; bit >= 0 {
			c.answer[bit/8] ^= 1 << (bit % 8)
		}
		c.flips = c.flips[1:]
	}
}

// words puts its checksum behind each word.
func words(ws ...uint16) (b []byte) {
	for _, w := range ws {
		pair := []byte{byte(w >> 8), byte(w)}
		b = append(b, pair[0], pair[1], sensors.CRC8(pair))
	}
	return b
}
