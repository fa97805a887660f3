package tmp102

import (
	"errors"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

var errRefused = errors.New("no such device or address") // as the kernel says it when a chip does not acknowledge

// model is a TMP102 or an LM75, register by register as their data sheets describe them, on a bus of its own. Its clock
// moves only when the driver sleeps.
type model struct {
	kind    Kind
	feels   uint16 // what the next conversion gives
	pointer byte
	value   uint16 // the temperature register
	set     [2]byte

	now, done time.Duration // done: when the conversion that runs ends
	transfers int
	refuse    int              // how many of the next transfers are refused
	fails     func(n int) bool // whether the nth fails
}

func newModel(k Kind, feels uint16) *model {
	m := &model{kind: k, feels: feels}
	m.power()
	return m
}

// power is what happens when the supply comes back: the register reads 0 °C until the first conversion is over.
func (m *model) power() {
	m.pointer, m.value, m.set = 0, 0, [2]byte{0, 0}
	if m.kind == TMP102 {
		m.set = [2]byte{0x60, 0xA0}
	}
	m.done = m.now + m.takes()
}

func (m *model) takes() time.Duration {
	if m.kind == LM75 {
		return 300 * time.Millisecond
	}
	return 35 * time.Millisecond
}

// period is the time from one conversion to the next.
func (m *model) period() time.Duration {
	if m.kind == LM75 {
		return m.takes()
	}
	return [4]time.Duration{4000, 1000, 250, 125}[m.set[1]>>6] * time.Millisecond
}

func (m *model) dev() *Dev { return New(&i2c.Dev{Bus: m, Addr: 0x48}, m.kind, m.sleep) }

func (m *model) sleep(d time.Duration) { m.now += d }

func (m *model) String() string { return "model" }

func (m *model) SetSpeed(physic.Frequency) error { return nil }

func (m *model) Tx(addr uint16, w, r []byte) error {
	m.transfers++
	if m.refuse > 0 {
		m.refuse--
		return errRefused
	}
	if addr != 0x48 || m.fails != nil && m.fails(m.transfers-1) {
		return errRefused
	}
	m.convert()
	if len(w) > 0 {
		m.pointer = w[0]
	}
	if len(w) > 1 && m.pointer == 1 {
		m.write(w[1:])
	}
	m.give(r)
	return nil
}

func (m *model) convert() {
	for m.set[0]&1 == 0 && m.now >= m.done {
		m.value = m.feels
		m.done += m.period()
	}
}

func (m *model) write(b []byte) {
	slept := m.set[0]&1 == 1
	if m.kind == LM75 {
		m.set[0] = b[0] & 0x1F
	} else {
		m.set[0] = b[0]&0x1F | 0x60
		if len(b) > 1 {
			m.set[1] = b[1]&0xD0 | 0x20 // nothing is too warm for the alert
		}
	}
	if slept && m.set[0]&1 == 0 {
		m.done = m.now + m.takes()
	}
}

func (m *model) give(r []byte) {
	from := []byte{byte(m.value >> 8), byte(m.value)}
	switch {
	case m.pointer == 1 && m.kind == LM75:
		from = []byte{m.set[0], m.set[0]}
	case m.pointer == 1:
		from = []byte{m.set[0] | 0x80, m.set[1]}
	}
	for i := range r {
		r[i] = from[i%2]
	}
}
