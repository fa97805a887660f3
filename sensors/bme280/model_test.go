package bme280

import (
	"errors"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

var errRefused = errors.New("no such device or address") // as the kernel says it when a chip does not acknowledge

// model is a BME280, register by register as its data sheet describes it, on a bus of its own. Its clock moves only when
// the driver sleeps.
type model struct {
	regs  [256]byte
	data  []byte // what the next measurement gives, in the order of the registers
	born  [256]byte
	takes time.Duration // of a measurement

	now, done, copied time.Duration
	busy              bool
	latched           byte // the humidity setting that counts

	transfers int
	refuse    int              // how many of the next transfers are refused
	fails     func(n int) bool // whether the nth fails
	disturb   func(register byte, r []byte)
}

// newModel is a chip with an identity and the calibration of calibrated, just switched on.
func newModel(id byte) *model {
	m := &model{data: []byte{0x65, 0x5A, 0xC0, 0x7E, 0xED, 0x00, 0x80, 0x00}, takes: 9300 * time.Microsecond}
	low, high := calibrationBytes(calibrated)
	copy(m.born[0x88:], low)
	copy(m.born[0xE1:], high)
	m.born[0xD0] = id
	copy(m.born[0xF7:], []byte{0x80, 0, 0, 0x80, 0, 0, 0x80, 0})
	m.power()
	return m
}

// power is what happens at a reset and when the supply comes back.
func (m *model) power() {
	m.regs, m.busy, m.latched = m.born, false, 0
	m.copied = m.now + 2*time.Millisecond
}

func (m *model) dev() *Dev { return New(&i2c.Dev{Bus: m, Addr: 0x76}, m.sleep) }

func (m *model) sleep(d time.Duration) { m.now += d }

func (m *model) String() string { return "model" }

func (m *model) SetSpeed(physic.Frequency) error { return nil }

func (m *model) Tx(addr uint16, w, r []byte) error {
	m.transfers++
	if m.refuse > 0 {
		m.refuse--
		return errRefused
	}
	if addr != 0x76 || m.fails != nil && m.fails(m.transfers-1) {
		return errRefused
	}
	m.settle()
	if len(r) > 0 {
		for i := range r {
			r[i] = m.at(int(w[0]) + i)
		}
		if m.disturb != nil {
			m.disturb(w[0], r)
		}
		return nil
	}
	for i := 0; i+1 < len(w); i += 2 {
		m.write(w[i], w[i+1])
	}
	return nil
}

// at is a register as it reads now: while the calibration is being copied, its registers are nonsense.
func (m *model) at(n int) byte {
	calibration := 0x88 <= n && n <= 0xA1 || 0xE1 <= n && n <= 0xE7
	switch {
	case m.now < m.copied && calibration:
		return 0x55
	case n == 0xF3 && m.now < m.copied:
		return m.regs[n] | 1
	}
	return m.regs[n]
}

func (m *model) write(register, value byte) {
	switch register {
	case 0xE0:
		if value == 0xB6 {
			m.power()
		}
	case 0xF2, 0xF5:
		m.regs[register] = value
	case 0xF4:
		m.regs[register], m.latched = value, m.regs[0xF2]
		if value&3 != 0 {
			m.busy, m.done, m.regs[0xF3] = true, m.now+m.takes, 8
		}
	}
}

// settle ends a measurement whose time is over. What is not sampled reads as at the start.
func (m *model) settle() {
	if !m.busy || m.now < m.done {
		return
	}
	copy(m.regs[0xF7:], m.data)
	if m.regs[0xF4]>>2&7 == 0 {
		copy(m.regs[0xF7:], []byte{0x80, 0, 0})
	}
	if m.regs[0xF4]>>5 == 0 {
		copy(m.regs[0xFA:], []byte{0x80, 0, 0})
	}
	if m.latched&7 == 0 {
		copy(m.regs[0xFD:], []byte{0x80, 0})
	}
	if m.regs[0xF4]&3 == 3 { // the normal mode begins again
		m.done = m.now + m.takes
		return
	}
	m.busy, m.regs[0xF3], m.regs[0xF4] = false, 0, m.regs[0xF4]&^3
}

// calibrationBytes lays the words out as the chip has them (table 16).
func calibrationBytes(c Calibration) (low, high []byte) {
	for _, w := range []uint16{c.T1, uint16(c.T2), uint16(c.T3), c.P1, uint16(c.P2), uint16(c.P3), uint16(c.P4), uint16(c.P5),
		uint16(c.P6), uint16(c.P7), uint16(c.P8), uint16(c.P9)} {
		low = append(low, byte(w), byte(w>>8))
	}
	low = append(low, 0, c.H1)
	h4, h5 := uint16(c.H4)&0xFFF, uint16(c.H5)&0xFFF
	return low, []byte{byte(c.H2), byte(uint16(c.H2) >> 8), c.H3, byte(h4 >> 4), byte(h4&0xF | h5<<4), byte(h5 >> 4), byte(c.H6)}
}
