package ads1115

import (
	"fmt"
	"math"
	"time"

	"fullery/sensors"
)

// Bits of the config register, SBAS444D section 9.6.3.
const (
	bitStart     = 1 << 15 // OS. Written: begin one conversion. Read: nothing is being converted
	bitSingle    = 1 << 8  // MODE: one conversion and then rest
	muxGround    = 1 << 14 // MUX 1xx: input xx against ground
	noComparator = 0b11    // COMP_QUE: the alert pin is left alone
	atPowerOn    = 0x0583  // the whole register after a reset, without OS

	muxShift, rangeShift, rateShift = 12, 9, 5
)

// Range is the voltage at the upper end of the converter; the lower end is its negative. The zero value is the largest,
// which never clips at this chip's supply.
type Range uint8

// The ranges, by their upper end in millivolts. They are in the order of their codes (PGA, SBAS444D section 9.6.3).
const (
	FS6144 Range = iota
	FS4096
	FS2048
	FS1024
	FS512
	FS256
)

var fullScale = [...]float64{FS6144: 6.144, FS4096: 4.096, FS2048: 2.048, FS1024: 1.024, FS512: 0.512, FS256: 0.256}

// LSB returns the voltage of one count, in volts (SBAS444D table 3); 0 for a range that does not exist.
func (r Range) LSB() float64 {
	if int(r) >= len(fullScale) {
		return 0
	}
	return fullScale[r] / (1 << 15)
}

// rates are the conversions a second by their code (DR, SBAS444D section 9.6.3).
var rates = [...]int{8, 16, 32, 64, 128, 250, 475, 860}

// Settings are what a chip is to be set to. The zero value is ready to use.
type Settings struct {
	Range  Range
	Rate   int     // conversions a second: 32, 64, 128, 250, 475 or 860; 0: 128. Slower ones would not fit into 100 ms
	Supply float64 // voltage of its supply in V, 2.0 to 5.5; 0: unknown, and a voltage above it is not noticed
}

// Reading is one conversion.
type Reading struct {
	Code    int16   // as the chip gave it
	Volts   float64 // V, against ground
	Clipped bool    // at an end of the range: the true voltage may lie beyond; never so from Read, which refuses it
}

// overdrive is how far an input can lie outside of the supply before it is clamped or destroyed: GND − 0.3 V to
// VDD + 0.3 V (SBAS444D, absolute maximum ratings). In volts.
const overdrive = 0.3

func (s Settings) rate() int {
	if s.Rate == 0 {
		return 128
	}
	return s.Rate
}

func (s Settings) period() time.Duration { return time.Second / time.Duration(s.rate()) }

// config puts the settings for one input together, without the bit that starts a conversion.
func (s Settings) config(channel int) (uint16, error) {
	if channel < 0 || channel > 3 {
		return 0, fmt.Errorf("there is no input %d: they are 0 to 3", channel)
	}
	if s.Range.LSB() == 0 {
		return 0, fmt.Errorf("there is no range %d", s.Range)
	}
	if s.Supply != 0 && !(s.Supply >= 2.0 && s.Supply <= 5.5) {
		return 0, fmt.Errorf("it cannot run on %g V: 2.0 to 5.5 V", s.Supply)
	}
	for code, rate := range rates {
		if rate == s.rate() && rate >= 32 {
			return muxGround | uint16(channel)<<muxShift | uint16(s.Range)<<rangeShift | bitSingle |
				uint16(code)<<rateShift | noComparator, nil
		}
	}
	return 0, fmt.Errorf("%d conversions a second are not to be had: 32, 64, 128, 250, 475 or 860", s.Rate)
}

// Decode turns a code into a reading, which is Clipped at an end of the range, or refuses with sensors.ErrRange a voltage
// that no input of this chip can have, whatever its range. A voltage is bounded by the supply only if that is set.
func (s Settings) Decode(code int16) (Reading, error) {
	volts := float64(code) * s.Range.LSB()
	if s.Supply > 0 && volts > s.Supply+overdrive {
		return Reading{}, fmt.Errorf("%w: %.4g V (code %d) at a supply of %.4g V; the supply may be another than the bench "+
			"file says, or a ground wire is loose", sensors.ErrRange, volts, code, s.Supply)
	}
	if volts < -overdrive {
		return Reading{}, fmt.Errorf("%w: %.4g V (code %d) against ground; look for a loose ground wire",
			sensors.ErrRange, volts, code)
	}
	return Reading{Code: code, Volts: volts, Clipped: code == math.MaxInt16 || code == math.MinInt16}, nil
}
