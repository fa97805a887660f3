package chips

import "time"

// TMP102 measures temperature (data sheet SBOS397): twelve bits of a sixteenth of a degree, converting four times a second
// unless it is told otherwise.
type TMP102 struct {
	Sense Sense

	pointer byte
	regs    [4]uint16 // temperature, configuration, low and high limit
	next    time.Duration
}

// Quantities names temperature.
func (t *TMP102) Quantities() []string { return []string{"celsius"} }

// Power resets the chip; until the first conversion it reads zero.
func (t *TMP102) Power() { *t = TMP102{Sense: t.Sense, regs: [4]uint16{0, 0x60a0, 0x4b00, 0x5000}} }

// Write takes a register's number, and a word for it.
func (t *TMP102) Write(b []byte, now time.Duration) bool {
	if len(b) > 0 {
		t.pointer = b[0] & 3
	}
	if len(b) >= 3 && t.pointer != 0 {
		t.regs[t.pointer] = uint16(b[1])<<8 | uint16(b[2])
		if t.pointer == 1 {
			const oneShot = 0x8000
			t.next = now
			if t.regs[1]&oneShot != 0 {
				t.next = now + 26*time.Millisecond
			}
		}
	}
	return true
}

// Read gives the register, again and again.
func (t *TMP102) Read(n int, now time.Duration) ([]byte, bool) {
	t.convert(now)
	out := make([]byte, n)
	for i := range out {
		out[i] = byte(t.regs[t.pointer] >> (8 * (1 - i%2)))
	}
	return out, true
}

// convert brings the temperature up to date when a conversion has ended since.
func (t *TMP102) convert(now time.Duration) {
	const shutDown, oneShot, extended = 0x0100, 0x8000, 0x0010
	if now < t.next || t.regs[1]&shutDown != 0 && t.regs[1]&oneShot == 0 {
		return
	}
	rates := [4]time.Duration{4 * time.Second, time.Second, time.Second / 4, time.Second / 8}
	t.next = now + rates[t.regs[1]>>6&3]
	t.regs[1] &^= oneShot
	sixteenths := t.Sense("celsius", now) * 16
	if t.regs[1]&extended != 0 {
		t.regs[0] = uint16(clamp(sixteenths, -4096, 4095))<<3 | 1
	} else {
		t.regs[0] = uint16(clamp(sixteenths, -2048, 2047)) << 4
	}
}
