package chips

import "time"

// NAU7802 converts a bridge's voltage with 24 bits (data sheet revision 1.7). It has to be reset, powered up, calibrated
// and started by whoever uses it; a conversion that is ready is told by a bit which reading the result clears.
type NAU7802 struct {
	Sense Sense

	pointer byte
	regs    [32]byte
	wake    time.Duration // when the digital part will be ready after power-up; 0: it sleeps
	next    time.Duration // when the next conversion is done
	calDone time.Duration // when the calibration is done; 0: none under way
}

// Registers and bits that matter here.
const (
	nauControl, nauRate, nauResult, nauRevision      = 0x00, 0x02, 0x12, 0x1f
	nauReset, nauDigital, nauAnalogue                = 1 << 0, 1 << 1, 1 << 2
	nauUp, nauCycles, nauReady                       = 1 << 3, 1 << 4, 1 << 5
	nauCalibrate, nauSecond                     byte = 1 << 2, 1 << 7
)

// Quantities names the counts of the two bridges: what the load cells would give.
func (c *NAU7802) Quantities() []string { return []string{"counts1", "counts2"} }

// Power resets the chip; everything sleeps.
func (c *NAU7802) Power() {
	*c = NAU7802{Sense: c.Sense}
	c.regs[nauRevision] = 0x0f
	c.regs[0x06], c.regs[0x0d] = 0x80, 0x80 // gains of one
}

// Write takes a register's number, and bytes for it and those after it.
func (c *NAU7802) Write(b []byte, now time.Duration) bool {
	c.settle(now)
	if len(b) > 0 {
		c.pointer = b[0] & 31
	}
	for i := 1; i < len(b); i++ {
		c.set(c.pointer, b[i], now)
		c.pointer = (c.pointer + 1) & 31
	}
	return true
}

func (c *NAU7802) set(register, value byte, now time.Duration) {
	switch register {
	case nauControl:
		c.control(value, now)
	case nauRate:
		c.regs[nauRate] = value
		if value&nauCalibrate != 0 && c.running() {
			c.calDone = now + 4*c.period()
		}
	case nauRevision, nauResult, nauResult + 1, nauResult + 2: // these are only read
	default:
		c.regs[register] = value
	}
}

func (c *NAU7802) control(value byte, now time.Duration) {
	if value&nauReset != 0 {
		c.Power()
		c.regs[nauControl] = nauReset
		return
	}
	before := c.regs[nauControl]
	c.regs[nauControl] = before&(nauUp|nauReady) | value&^(nauUp|nauReady)
	switch {
	case value&nauDigital == 0:
		c.wake, c.regs[nauControl] = 0, c.regs[nauControl]&^(nauUp|nauReady)
	case before&nauDigital == 0:
		c.wake = now + 200*time.Microsecond
	}
	if c.running() && before&nauCycles == 0 {
		c.next = now + 4*c.period() // the filter has to settle first
	}
}

func (c *NAU7802) running() bool {
	const all = nauDigital | nauAnalogue | nauCycles
	return c.regs[nauControl]&all == all
}

// period is the time between conversions, by the rate.
func (c *NAU7802) period() time.Duration {
	rates := [8]time.Duration{10, 20, 40, 80, 80, 80, 80, 320}
	return time.Second / rates[c.regs[nauRate]>>4&7]
}

// settle lets happen what is due.
func (c *NAU7802) settle(now time.Duration) {
	if c.wake > 0 && now >= c.wake {
		c.regs[nauControl] |= nauUp
	}
	if c.calDone > 0 && now >= c.calDone {
		c.calDone = 0
		c.regs[nauRate] &^= nauCalibrate
	}
	if !c.running() || now < c.next {
		return
	}
	c.next = now + c.period()
	c.regs[nauControl] |= nauReady
	quantity := "counts1"
	if c.regs[nauRate]&nauSecond != 0 {
		quantity = "counts2"
	}
	code := clamp(c.Sense(quantity, now), -1<<23, 1<<23-1)
	c.regs[nauResult], c.regs[nauResult+1], c.regs[nauResult+2] = byte(code>>16), byte(code>>8), byte(code)
}

// Read gives the registers from the pointer on.
func (c *NAU7802) Read(n int, now time.Duration) ([]byte, bool) {
	c.settle(now)
	out := make([]byte, n)
	for i := range out {
		out[i] = c.regs[c.pointer]
		if c.pointer >= nauResult && c.pointer <= nauResult+2 {
			c.regs[nauControl] &^= nauReady
		}
		c.pointer = (c.pointer + 1) & 31
	}
	return out, true
}
