package sht3x

import (
	"errors"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"fullery/sensors"
)

var errRefused = errors.New("no such device or address") // as the kernel says it when a chip does not acknowledge

// model is an SHT3x, command by command as its data sheet describes it, on a bus of its own. Its clock moves only when
// the driver sleeps.
type model struct {
	t, h   uint16 // what it would measure
	number uint32

	now      time.Duration
	busy     time.Duration // until then it acknowledges nothing
	periodic bool          // then it obeys only the break (and the fetching of results, which nobody asks for here)
	heater   bool
	burned   bool   // the heater cannot be switched off
	answer   []byte // to the last command
	oneAlone bool   // knows only the serial number's command that may hold the clock

	transfers, refuse int              // how many there were; how many of the next are refused
	fails             func(n int) bool // whether the nth transfer fails
	corrupt           int              // how many of the next answers are damaged
	slow              time.Duration    // a measurement takes that much longer
	commands          []uint16
}

func (m *model) dev() *Dev { return New(&i2c.Dev{Bus: m, Addr: 0x44}, m.sleep) }

func (m *model) sleep(d time.Duration) { m.now += d }

func (m *model) String() string { return "model" }

func (m *model) SetSpeed(physic.Frequency) error { return nil }

func (m *model) Tx(addr uint16, w, r []byte) error {
	m.transfers++
	switch {
	case m.fails != nil && m.fails(m.transfers-1):
		return errRefused
	case m.refuse > 0:
		m.refuse--
		return errRefused
	case addr != 0x44, m.now < m.busy:
		return errRefused
	case len(w) == 2 && !m.obey(uint16(w[0])<<8|uint16(w[1])):
		return errRefused
	case len(w) != 0 && len(w) != 2:
		return errRefused
	case len(r) > 0:
		return m.give(r)
	}
	return nil
}

func (m *model) obey(command uint16) bool {
	m.commands = append(m.commands, command)
	if m.periodic && command != 0x3093 {
		return false
	}
	m.answer = nil
	switch command {
	case 0x3093:
		m.periodic = false
	case 0x30A2:
		m.busy, m.heater = m.now+1500*time.Microsecond, m.burned
	case 0x3066:
		m.heater = m.burned
	case 0x2400:
		m.busy, m.answer = m.now+15*time.Millisecond+m.slow, words(m.t, m.h)
	case 0xF32D:
		status := uint16(0x8010)
		if m.heater {
			status |= 0x2000
		}
		m.answer = words(status)
	case 0x3682, 0x3780:
		if command == 0x3780 || !m.oneAlone {
			m.answer = words(uint16(m.number>>16), uint16(m.number))
		}
	}
	return true
}

func (m *model) give(r []byte) error {
	if m.answer == nil {
		return errRefused
	}
	for i := range r {
		r[i] = 0xFF
	}
	copy(r, m.answer)
	if m.answer = nil; m.corrupt > 0 {
		m.corrupt--
		r[1] ^= 0x10
	}
	return nil
}

// words puts the checksum behind each word.
func words(ws ...uint16) (b []byte) {
	for _, w := range ws {
		b = append(b, byte(w>>8), byte(w))
		b = append(b, sensors.CRC8(b[len(b)-2:]))
	}
	return b
}
