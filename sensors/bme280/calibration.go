package bme280

import (
	"fmt"

	"fullery/sensors"
)

// Calibration is the set of words that the maker wrote into one chip (data sheet, table 16).
type Calibration struct {
	T1         uint16
	T2, T3     int16
	P1         uint16
	P2, P3, P4 int16
	P5, P6, P7 int16
	P8, P9     int16
	H1         uint8
	H2         int16
	H3         uint8
	H4, H5     int16 // twelve bits each, with a sign
	H6         int8
}

// Sizes of the two blocks of calibration registers: 0x88 to 0xA1, and 0xE1 to 0xE7.
const lowSize, highSize = 26, 7

// DecodeCalibration takes the two blocks of registers apart. H4 and H5 are twelve bits each and share a byte; the data
// sheet calls them signed shorts and leaves it to the reader that the sign is in bit 11 (table 16). A chip without words
// is sensors.ErrForeign: nothing can be computed from it.
func DecodeCalibration(low, high []byte) (Calibration, error) {
	if len(low) != lowSize || len(high) != highSize {
		return Calibration{}, fmt.Errorf("BME280: %w: calibration of %d and %d bytes, and there are %d and %d",
			sensors.ErrChecksum, len(low), len(high), lowSize, highSize)
	}
	word := func(i int) uint16 { return uint16(low[i+1])<<8 | uint16(low[i]) }
	signed := func(i int) int16 { return int16(word(i)) }
	c := Calibration{
		T1: word(0), T2: signed(2), T3: signed(4),
		P1: word(6), P2: signed(8), P3: signed(10), P4: signed(12), P5: signed(14),
		P6: signed(16), P7: signed(18), P8: signed(20), P9: signed(22),
		H1: low[25],
		H2: int16(high[1])<<8 | int16(high[0]),
		H3: high[2],
		H4: int16(int8(high[3]))<<4 | int16(high[4]&0x0F),
		H5: int16(int8(high[5]))<<4 | int16(high[4]>>4),
		H6: int8(high[6]),
	}
	if c.blank() {
		return Calibration{}, fmt.Errorf("BME280: %w: its calibration words are blank (T1 %04X, P1 %04X, H2 %04X); replace it",
			sensors.ErrForeign, c.T1, c.P1, uint16(c.H2))
	}
	return c, nil
}

// blank tells whether a factor that every value is multiplied by, or divided by, was never written.
func (c Calibration) blank() bool {
	unwritten := func(w uint16) bool { return w == 0 || w == 0xFFFF }
	return unwritten(c.T1) || c.T2 == 0 || unwritten(c.P1) || unwritten(uint16(c.H2))
}

// temperature returns °C, and the fine temperature that the other formulas need (section 8.1 of the data sheet, in double
// precision). The code printed there drops the fine temperature's fraction; the worked example of the BMP280 keeps it:
// only so does its pressure come out as 100653.27 Pa, and not 100653.26.
func (c Calibration) temperature(raw uint32) (celsius, fine float64) {
	a := (float64(raw)/16384 - float64(c.T1)/1024) * float64(c.T2)
	b := float64(raw)/131072 - float64(c.T1)/8192
	fine = a + b*b*float64(c.T3)
	return fine / 5120, fine
}

// pressure returns Pa (section 8.1), or 0 where the formula would divide by zero.
func (c Calibration) pressure(raw uint32, fine float64) float64 {
	a := fine/2 - 64000
	b := a*a*float64(c.P6)/32768 + a*float64(c.P5)*2
	b = b/4 + float64(c.P4)*65536
	a = (float64(c.P3)*a*a/524288 + float64(c.P2)*a) / 524288
	a = (1 + a/32768) * float64(c.P1)
	if a == 0 {
		return 0
	}
	p := (1048576 - float64(raw) - b/4096) * 6250 / a
	return p + (float64(c.P9)*p*p/2147483648+p*float64(c.P8)/32768+float64(c.P7))/16
}

// humidity returns percent (section 8.1), without the data sheet's cut at 0 and 100: what lies beyond is for Decode to
// judge.
func (c Calibration) humidity(raw uint16, fine float64) float64 {
	h := fine - 76800
	h = (float64(raw) - (float64(c.H4)*64 + float64(c.H5)/16384*h)) *
		(float64(c.H2) / 65536 * (1 + float64(c.H6)/67108864*h*(1+float64(c.H3)/67108864*h)))
	return h * (1 - float64(c.H1)*h/524288)
}
