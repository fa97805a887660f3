package nau7802

import (
	"fmt"
	"math"
	"time"

	"fullery/sensors"
)

// Settings are what a chip is to be set to. The zero value is ready to use: one input, 3.0 V, 80 conversions a second.
type Settings struct {
	Both bool    // both inputs are used; the capacitor that boards have at the second is switched off
	Rate int     // conversions a second: 10, 20, 40, 80 or 320; 0: 80
	LDO  float64 // V that feed the bridge: 2.4 to 4.5 in steps of 0.3, at least 0.3 below the supply (from memory); 0: 3.0
}

// Reading is one conversion.
type Reading struct {
	Code      int32 // counts, −8388607 to 8388606
	NearLimit bool  // within 1 % of an end of the converter's range
}

// The ends of the converter's range, and what counts as near them. One per cent: common practice, no source.
const (
	highest   = 1<<23 - 1
	lowest    = -1 << 23
	nearLimit = 1 << 23 / 100
)

// rates are the conversions a second by their code (CRS, data sheet section 11.3); 0: there is none.
var rates = [...]int{10, 20, 40, 80, 0, 0, 0, 320}

// rate is the rate with its default. 80, because the pads are watched several times a second.
func (s Settings) rate() int {
	if s.Rate == 0 {
		return 80
	}
	return s.Rate
}

func (s Settings) period() time.Duration { return time.Second / time.Duration(s.rate()) }

// ldo is the bridge's voltage with its default, the highest that a supply of 3.3 V allows.
func (s Settings) ldo() float64 {
	if s.LDO == 0 {
		return 3.0
	}
	return s.LDO
}

// inputs is how many inputs are used.
func (s Settings) inputs() int {
	if s.Both {
		return 2
	}
	return 1
}

// check refuses what the chip cannot be set to.
func (s Settings) check() error {
	known := false
	for _, rate := range rates {
		known = known || rate == s.Rate || s.Rate == 0
	}
	if !known {
		return fmt.Errorf("%d conversions a second are not to be had: 10, 20, 40, 80 or 320", s.Rate)
	}
	steps := (4.5 - s.ldo()) / 0.3
	if !(steps > -0.01 && steps < 7.01 && math.Abs(steps-math.Round(steps)) < 0.01) {
		return fmt.Errorf("%g V is not to be had for the bridge: 2.4 to 4.5 V in steps of 0.3 V", s.LDO)
	}
	return nil
}

// ctrl1 is the register CTRL1: the regulator's voltage (VLDO, 0 is 4.5 V, each further step 0.3 V less) and the gain.
func (s Settings) ctrl1() byte { return byte(math.Round((4.5-s.ldo())/0.3))<<3 | gain128 }

// ctrl2 is the register CTRL2: the rate and the input.
func (s Settings) ctrl2(channel int) byte {
	var b byte
	for code, rate := range rates {
		if rate == s.rate() {
			b = byte(code) << 4
		}
	}
	if channel == 1 {
		b |= second
	}
	return b
}

// Decode turns the three bytes of a result, two's complement with the highest first, into counts. At either end of the
// range the true value may lie anywhere beyond: sensors.ErrSaturated, with an empty Reading.
func Decode(b [3]byte) (Reading, error) {
	const advice = "the bridge is overloaded or a wire of it is loose or swapped"
	code := int32(uint32(b[0])<<24|uint32(b[1])<<16|uint32(b[2])<<8) >> 8
	switch code {
	case highest:
		return Reading{}, fmt.Errorf("%w high (7FFFFF): %s", sensors.ErrSaturated, advice)
	case lowest:
		return Reading{}, fmt.Errorf("%w low (800000): %s", sensors.ErrSaturated, advice)
	}
	return Reading{Code: code, NearLimit: code >= highest-nearLimit || code <= lowest+nearLimit}, nil
}
