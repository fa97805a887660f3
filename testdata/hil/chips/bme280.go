package chips

import "time"

// BME280 measures temperature, pressure and humidity (data sheet BST-BME280-DS002). It gives raw codes; the constants that
// turn them into values are read from the chip. This model goes the other way and looks for the code that would be
// compensated to what the chip feels.
type BME280 struct {
	Sense Sense

	pointer  byte
	regs     [256]byte
	humidity byte // the humidity setting that counts: it is taken over only when ctrl_meas is written
	done     time.Duration
	busy     bool
}

// Constants: temperature and pressure from the example of the data sheet of the BMP280, which is compensated alike;
// humidity from a part that somebody published.
var (
	bmeT = [3]float64{27504, 26435, -1000}
	bmeP = [9]float64{36477, -10685, 3024, 2855, 140, -7, 15500, -14600, 6000}
	bmeH = [6]float64{75, 362, 0, 315, 50, 30}
)

const (
	bmeID, bmeReset, bmeCtrlHum, bmeStatus, bmeCtrlMeas, bmeData = 0xd0, 0xe0, 0xf2, 0xf3, 0xf4, 0xf7
)

// Quantities names temperature, pressure and relative humidity.
func (c *BME280) Quantities() []string { return []string{"celsius", "pascal", "percent"} }

// Power resets the chip: asleep, with the constants in place.
func (c *BME280) Power() {
	*c = BME280{Sense: c.Sense}
	c.regs[bmeID] = 0x60
	copy(c.regs[bmeData:], []byte{0x80, 0, 0, 0x80, 0, 0, 0x80, 0})
	at := 0x88
	for _, v := range append(bmeT[:], bmeP[:]...) {
		c.regs[at], c.regs[at+1] = byte(int(v)), byte(int(v)>>8)
		at += 2
	}
	h4, h5 := int(bmeH[3]), int(bmeH[4])
	c.regs[0xa1] = byte(int(bmeH[0]))
	copy(c.regs[0xe1:], []byte{byte(int(bmeH[1])), byte(int(bmeH[1]) >> 8), byte(int(bmeH[2])), byte(h4 >> 4),
		byte(h4&15 | h5&15<<4), byte(h5 >> 4), byte(int(bmeH[5]))})
}

// Write takes pairs of a register's number and its value.
func (c *BME280) Write(b []byte, now time.Duration) bool {
	c.settle(now)
	if len(b) > 0 {
		c.pointer = b[0]
	}
	for i := 0; i+1 < len(b); i += 2 {
		switch register, value := b[i], b[i+1]; register {
		case bmeReset:
			if value == 0xb6 {
				c.Power()
			}
		case bmeCtrlHum, 0xf5:
			c.regs[register] = value
		case bmeCtrlMeas:
			c.regs[register] = value
			c.humidity = c.regs[bmeCtrlHum] & 7
			if value&3 != 0 {
				c.busy, c.done = true, now+c.duration()
			}
		}
	}
	return true
}

// samples is how often a quantity is sampled, by its three bits.
func samples(bits byte) time.Duration {
	return [8]time.Duration{0, 1, 2, 4, 8, 16, 16, 16}[bits&7]
}

// duration is the longest time of one measurement (section 9.1).
func (c *BME280) duration() time.Duration {
	t, p, h := samples(c.regs[bmeCtrlMeas]>>5), samples(c.regs[bmeCtrlMeas]>>2), samples(c.humidity)
	d := 1250*time.Microsecond + t*2300*time.Microsecond
	if p > 0 {
		d += p*2300*time.Microsecond + 575*time.Microsecond
	}
	if h > 0 {
		d += h*2300*time.Microsecond + 575*time.Microsecond
	}
	return d
}

// settle ends a measurement whose time is over. A forced one is followed by sleep; in the normal mode the next begins.
func (c *BME280) settle(now time.Duration) {
	if c.regs[bmeStatus] = 0; c.busy && now < c.done {
		c.regs[bmeStatus] = 0x08
	}
	if !c.busy || now < c.done {
		return
	}
	c.measure(now)
	if c.busy = c.regs[bmeCtrlMeas]&3 == 3; c.busy {
		c.done = now + c.duration()
	} else {
		c.regs[bmeCtrlMeas] &^= 3
	}
}

// measure writes the codes; what is not sampled reads as its start-up value.
func (c *BME280) measure(now time.Duration) {
	t, p, h := 0x80000, 0x80000, 0x8000

	fine := func(code float64) float64 { _, f := bmeTemperature(code); return f }
	celsius := func(code float64) float64 { v, _ := bmeTemperature(code); return v }
	felt := search(celsius, c.Sense("celsius", now), 1<<20-1)
	if c.regs[bmeCtrlMeas]>>5&7 != 0 {
		t = felt
	}
	if c.regs[bmeCtrlMeas]>>2&7 != 0 { // the pressure falls as the code rises
		falling := func(code float64) float64 { return -bmePressure(code, fine(float64(felt))) }
		p = search(falling, -c.Sense("pascal", now), 1<<20-1)
	}
	if c.humidity != 0 {
		h = search(func(code float64) float64 { return bmeHumidity(code, fine(float64(felt))) }, c.Sense("percent", now), 1<<16-1)
	}
	copy(c.regs[bmeData:], []byte{byte(p >> 12), byte(p >> 4), byte(p << 4), byte(t >> 12), byte(t >> 4), byte(t << 4),
		byte(h >> 8), byte(h)})
}

// search finds the code whose value is nearest above the wanted one, for a function that rises.
func search(value func(float64) float64, wanted float64, most int) int {
	low, high := 0, most
	for low < high {
		if middle := (low + high) / 2; value(float64(middle)) < wanted {
			low = middle + 1
		} else {
			high = middle
		}
	}
	return low
}

// Read gives the registers from the pointer on.
func (c *BME280) Read(n int, now time.Duration) ([]byte, bool) {
	c.settle(now)
	out := make([]byte, n)
	for i := range out {
		out[i] = c.regs[c.pointer]
		c.pointer++
	}
	return out, true
}

// bmeTemperature is the compensation in floating point (section 8.1): degrees, and the fine value that the others need.
func bmeTemperature(code float64) (celsius, fine float64) {
	a := (code/16384 - bmeT[0]/1024) * bmeT[1]
	b := code/131072 - bmeT[0]/8192
	fine = a + b*b*bmeT[2]
	return fine / 5120, fine
}

// bmePressure is in Pa.
func bmePressure(code, fine float64) float64 {
	a := fine/2 - 64000
	b := a*a*bmeP[5]/32768 + a*bmeP[4]*2
	b = b/4 + bmeP[3]*65536
	a = (bmeP[2]*a*a/524288 + bmeP[1]*a) / 524288
	a = (1 + a/32768) * bmeP[0]
	if a == 0 {
		return 0
	}
	p := (1048576 - code - b/4096) * 6250 / a
	return p + (bmeP[8]*p*p/2147483648+p*bmeP[7]/32768+bmeP[6])/16
}

// bmeHumidity is in percent.
func bmeHumidity(code, fine float64) float64 {
	h := fine - 76800
	h = (code - (bmeH[3]*64 + bmeH[4]/16384*h)) * (bmeH[1] / 65536 * (1 + bmeH[5]/67108864*h*(1+bmeH[2]/67108864*h)))
	h *= 1 - bmeH[0]*h/524288
	return min(max(h, 0), 100)
}
