package sht4x

import (
	"fmt"

	"fullery/sensors"
)

// Reading is one pair of temperature and humidity. The zero value is no reading: it is what comes with an error.
type Reading struct {
	Temperature float64 // K, within the chip's range of 233.15 to 398.15

	// Humidity is relative, 0 to 1, over water. It is never clamped: a Saturated one may lie up to 0.02 beyond either
	// end.
	Humidity float64

	// Saturated: the humidity is at an end of what air can have, or beyond by less than the chip's own error. The true
	// value is a bound and no evidence of anything.
	Saturated bool

	RawTemperature, RawHumidity uint16 // as read
}

// The range in which the chip measures, in °C (data sheet, front page). Its scale goes from −45 to 130.
const coldest, hottest = -40, 125

// beyond is how far outside of 0 and 100 % a value may lie that a sound chip gives in air at that end, in percent. The
// scale goes from −6 to 119 for its sake. Our choice, about the chip's stated error.
const beyond = 2

const zeroCelsius = 273.15 // K

// damaged is what both words read when electrostatic discharge has damaged the chip (the maker's word as a public issue
// thread reports it). As an honest pair, 42.5 °C and 56.5 %, it is too rare to matter.
const damaged = 0x8000

// Decode turns the six bytes that follow a measurement into a reading: temperature, checksum, humidity, checksum. The
// formulas are T = −45 + 175·S/(2¹⁶−1) and RH = −6 + 125·S/(2¹⁶−1) (data sheet, section 4.6, from memory). The data sheet
// would have humidities outside of 0 to 100 % cut off; here they are flagged or refused. Errors: sensors.ErrChecksum, and
// sensors.ErrRange for what the chip cannot honestly give.
func Decode(frame []byte) (Reading, error) {
	if len(frame) != frameSize {
		return Reading{}, fmt.Errorf("SHT4x: %w: %d bytes where a measurement has %d", sensors.ErrChecksum, len(frame), frameSize)
	}
	t, err := sensors.CheckedWord(frame[:3])
	if err != nil {
		return Reading{}, fmt.Errorf("SHT4x: temperature: %w", err)
	}
	h, err := sensors.CheckedWord(frame[3:])
	if err != nil {
		return Reading{}, fmt.Errorf("SHT4x: humidity: %w", err)
	}
	celsius, percent := -45+175*float64(t)/65535, -6+125*float64(h)/65535
	if err := honest(celsius, percent, t, h); err != nil {
		return Reading{}, err
	}
	return Reading{
		Temperature:    celsius + zeroCelsius,
		Humidity:       percent / 100,
		Saturated:      percent <= 0 || percent >= 100,
		RawTemperature: t,
		RawHumidity:    h,
	}, nil
}

func honest(celsius, percent float64, t, h uint16) error {
	switch {
	case t == damaged && h == damaged:
		return fmt.Errorf("SHT4x: %w: %04X %04X is what a damaged chip gives; replace it", sensors.ErrRange, t, h)
	case celsius < coldest || celsius > hottest:
		return fmt.Errorf("SHT4x: %w: %.1f °C (raw %04X), and the chip measures %d to %d °C", sensors.ErrRange, celsius, t,
			coldest, hottest)
	case percent < -beyond || percent > 100+beyond:
		return fmt.Errorf("SHT4x: %w: %.1f %% humidity (raw %04X), which no air has", sensors.ErrRange, percent, h)
	}
	return nil
}
