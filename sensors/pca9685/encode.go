package pca9685

import (
	"fmt"
	"math"
)

// settings are what a chip holds for good, and what it loses with its supply. After that it holds 11 04 1E: asleep,
// 200 Hz. Asleep is not a state that we leave it in, so the mode tells it even at 200 Hz.
type settings struct {
	mode1, mode2, prescale byte
}

func (s settings) String() string {
	return fmt.Sprintf("mode %02X %02X, prescale %02X", s.mode1, s.mode2, s.prescale)
}

const (
	oscillator = 25e6 // Hz, inside of the chip, section 7.3.5
	steps      = 4096 // counts in a period

	leastScale, mostScale = 3, 255 // the chip takes a smaller divider for 3 (section 7.3.5)
)

// prescale returns the divider for a frequency in Hz: round(oscillator / (4096 · frequency)) − 1 (section 7.3.5).
func prescale(frequency float64) (byte, error) {
	scale := math.Round(oscillator/(steps*frequency)) - 1
	if !(scale >= leastScale && scale <= mostScale) { // so that not-a-number is refused
		return 0, fmt.Errorf("a frequency of %g Hz is not to be had: 24 to 1526 Hz", frequency)
	}
	return byte(scale), nil
}

// encode turns a duty of 0 to 1 into the four bytes of a channel. Neither end is a count: at a count, 0 and 4096 of 4096
// would leave a needle of 1/4096 of a period.
func encode(duty float64) ([4]byte, error) {
	if !(duty >= 0 && duty <= 1) {
		return [4]byte{}, fmt.Errorf("a duty of %g does not exist: 0 to 1", duty)
	}
	switch count := int(math.Round(duty * steps)); count {
	case 0:
		return [4]byte{0, 0, 0, full}, nil
	case steps:
		return [4]byte{0, full, 0, 0}, nil
	default:
		return [4]byte{0, 0, byte(count), byte(count >> 8)}, nil
	}
}
