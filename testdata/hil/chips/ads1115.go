package chips

import "time"

// ADS1115 converts one of four analogue inputs, or the difference of two (data sheet SBAS444). The result register keeps
// the former conversion until the next is done, whichever input that was of.
type ADS1115 struct {
	Sense Sense

	pointer byte
	regs    [4]uint16 // result, configuration, low and high threshold
	busy    bool
	done    time.Duration
}

// Quantities names the four voltages against ground.
func (a *ADS1115) Quantities() []string { return []string{"volt0", "volt1", "volt2", "volt3"} }

// Power resets the chip: it sleeps, set to the difference of the first two inputs.
func (a *ADS1115) Power() { *a = ADS1115{Sense: a.Sense, regs: [4]uint16{0, 0x8583, 0x8000, 0x7fff}} }

// Bits of the configuration.
const (
	adsStart  = 0x8000 // written: begin; read: nothing is being converted
	adsSingle = 0x0100
)

// Write takes a register's number, and a word for it.
func (a *ADS1115) Write(b []byte, now time.Duration) bool {
	a.settle(now)
	if len(b) > 0 {
		a.pointer = b[0] & 3
	}
	if len(b) < 3 || a.pointer == 0 {
		return true
	}
	word := uint16(b[1])<<8 | uint16(b[2])
	a.regs[a.pointer] = word
	if a.pointer == 1 && (word&adsStart != 0 || word&adsSingle == 0) {
		a.busy, a.done = true, now+a.duration()
	}
	return true
}

// duration is the time of one conversion, by the data rate.
func (a *ADS1115) duration() time.Duration {
	rates := [8]time.Duration{8, 16, 32, 64, 128, 250, 475, 860}
	return time.Second / rates[a.regs[1]>>5&7]
}

// settle ends a conversion whose time is over; in the continuous mode the next one begins.
func (a *ADS1115) settle(now time.Duration) {
	if !a.busy || now < a.done {
		return
	}
	a.convert(now)
	if a.busy = a.regs[1]&adsSingle == 0; a.busy {
		a.done = now + a.duration()
	}
}

func (a *ADS1115) convert(now time.Duration) {
	volt := func(n uint16) float64 { return a.Sense(a.Quantities()[n], now) }
	var v float64
	switch which := a.regs[1] >> 12 & 7; {
	case which >= 4:
		v = volt(which - 4)
	case which == 0:
		v = volt(0) - volt(1)
	default: // against the last input
		v = volt(which-1) - volt(3)
	}
	full := [8]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256}[a.regs[1]>>9&7]
	a.regs[0] = uint16(clamp(v/full*32768, -32768, 32767))
}

// Read gives the register, again and again.
func (a *ADS1115) Read(n int, now time.Duration) ([]byte, bool) {
	a.settle(now)
	word := a.regs[a.pointer]
	if a.pointer == 1 {
		if word &^= adsStart; !a.busy {
			word |= adsStart
		}
	}
	out := make([]byte, n)
	for i := range out {
		out[i] = byte(word >> (8 * (1 - i%2)))
	}
	return out, true
}
