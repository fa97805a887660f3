package nau7802

import (
	"errors"
	"runtime"
	"sync"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

const address = 0x2a

var errNAK = errors.New("no such device or address") // what the kernel says to a missing acknowledge

// chip is a model of the chip with its time. It gives wrong counts, as a real one would, until it is calibrated for an
// input, while its filter has not settled, and at another gain.
type chip struct {
	mu sync.Mutex

	counts [2]int32 // what the two bridges give at a gain of 128

	gone     bool // does not acknowledge
	fail     int  // the transfer, counted down, that fails; 0: none
	reset    int  // the transfer, counted down, before which its supply dips; 0: none
	asleep   bool // never powers up
	dead     bool // does not convert until it is reset
	endless  bool // never ends a calibration
	crooked  bool // fails its calibration
	revision byte

	now      time.Duration
	regs     [32]byte
	up       time.Duration // when the digital part is up; 0: it sleeps
	analogue time.Duration // since when the analogue part has power; 0: it has none
	next     time.Duration // end of the conversion under way
	calEnd   time.Duration // end of the calibration under way; 0: none
	done     [2]bool       // calibrated
	settled  int           // conversions since the last change of input

	transfers int
}

func newChip(first, second int32) *chip {
	c := &chip{counts: [2]int32{first, second}, revision: 0x0f}
	c.power()
	return c
}

func (c *chip) String() string                    { return "model" }
func (c *chip) SetSpeed(_ physic.Frequency) error { return nil }

func (c *chip) dev(s Settings) *Dev { return New(&i2c.Dev{Bus: c, Addr: address}, s, c.sleep) }

// power is what a reset does.
func (c *chip) power() {
	c.regs = [32]byte{}
	c.regs[regRevision] = c.revision
	c.up, c.analogue, c.calEnd, c.done, c.settled, c.dead = 0, 0, 0, [2]bool{}, 0, false
}

func (c *chip) sleep(d time.Duration) {
	runtime.Gosched() // others have their turn while one waits
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now += d
	c.settle()
}

func (c *chip) Tx(addr uint16, w, r []byte) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now += 100 * time.Microsecond
	c.settle()
	c.transfers++
	if c.reset--; c.reset == 0 {
		c.power()
	}
	if c.fail--; c.gone || c.fail == 0 || addr != address {
		return errNAK
	}
	for i, b := range w[1:] {
		c.write(int(w[0])+i, b)
	}
	for i := range r {
		r[i] = c.regs[int(w[0])+i]
		if int(w[0])+i == regResult+2 {
			c.regs[regPower] &^= powReady
		}
	}
	return nil
}

func (c *chip) write(register int, value byte) {
	switch register {
	case regPower:
		c.control(value)
	case regCtrl2:
		if (value^c.regs[regCtrl2])&second != 0 {
			c.settled = 0
		}
		if value&calibrate != 0 {
			c.calEnd = c.now + 28*c.period()
		}
		c.regs[register] = value&^calFailed | c.regs[register]&calFailed
	case regRevision, regResult, regResult + 1, regResult + 2: // these are only read
	default:
		c.regs[register] = value
	}
}

func (c *chip) control(value byte) {
	if value&powReset != 0 {
		c.power()
		c.regs[regPower] = powReset
		return
	}
	before := c.regs[regPower]
	switch {
	case value&powDigital == 0:
		c.up = 0
	case before&powDigital == 0:
		c.up = c.now + 200*time.Microsecond
	}
	switch {
	case value&powAnalogue == 0:
		c.analogue = 0
	case before&powAnalogue == 0:
		c.analogue = c.now
	}
	if value&powCycles != 0 && before&powCycles == 0 {
		c.next = c.now + c.period()
	}
	c.regs[regPower] = value&^(powUp|powReady) | before&(powUp|powReady)
}

func (c *chip) period() time.Duration {
	return time.Second / time.Duration([8]int{10, 20, 40, 80, 10, 10, 10, 320}[c.regs[regCtrl2]>>4&7])
}

func (c *chip) input() int { return int(c.regs[regCtrl2] >> 7) }

// settle lets happen what is due.
func (c *chip) settle() {
	if c.up > 0 && c.now >= c.up && !c.asleep {
		c.regs[regPower] |= powUp
	}
	if c.calEnd > 0 && c.now >= c.calEnd && !c.endless {
		good := c.analogue > 0 && c.calEnd-c.analogue > 600*time.Millisecond && !c.crooked
		c.calEnd = 0
		c.regs[regCtrl2] &^= calibrate | calFailed
		if !good {
			c.regs[regCtrl2] |= calFailed
		}
		c.done[c.input()] = good
	}
	on := c.regs[regPower]&(powCycles|powAnalogue|powUp) == powCycles|powAnalogue|powUp
	for on && !c.dead && c.now >= c.next {
		c.next += c.period()
		c.settled++
		code := c.convert()
		copy(c.regs[regResult:], []byte{byte(code >> 16), byte(code >> 8), byte(code)})
		c.regs[regPower] |= powReady
	}
}

func (c *chip) convert() int32 {
	input := c.input()
	code := c.counts[input] >> (7 - c.regs[regCtrl1]&7)
	if !c.done[input] {
		code += 12345
	}
	if c.settled <= 4 {
		code = (code + c.counts[1-input]) / 2
	}
	if (c.regs[regPGAPower]&capacitor != 0) && input == 1 {
		code /= 2 // loaded by the capacitor
	}
	return code
}
