package sht3x

import (
	"fmt"

	"fullery/sensors"
)

// Reading is one pair of temperature and humidity. The zero value is no reading: it is what comes with an error.
type Reading struct {
	Temperature float64 // K, within the chip's range of 233.15 to 398.15
	Humidity    float64 // relative, 0 to 1, over water

	// Saturated: the humidity is exactly at an end of its scale. The true value may lie beyond, so it is a bound and no
	// evidence of anything.
	Saturated bool

	RawTemperature, RawHumidity uint16 // as read
}

// The range in which the chip measures, in °C (data sheet, table 2, from memory). Its scale goes from −45 to 130.
const coldest, hottest = -40, 125

const zeroCelsius = 273.15 // K

// Decode turns the six bytes that follow a measurement into a reading: temperature, checksum, humidity, checksum
// (section 4.4). The formulas are those of section 4.13, without any clamping; the data sheet's divisor is 2¹⁶−1.
// Errors: sensors.ErrChecksum, and sensors.ErrRange for a temperature that the chip does not measure.
func Decode(frame []byte) (Reading, error) {
	if len(frame) != frameSize {
		return Reading{}, fmt.Errorf("SHT3x: %w: %d bytes where a measurement has %d", sensors.ErrChecksum, len(frame), frameSize)
	}
	t, err := sensors.CheckedWord(frame[:3])
	if err != nil {
		return Reading{}, fmt.Errorf("SHT3x: temperature: %w", err)
	}
	h, err := sensors.CheckedWord(frame[3:])
	if err != nil {
		return Reading{}, fmt.Errorf("SHT3x: humidity: %w", err)
	}
	celsius := -45 + 175*float64(t)/65535
	if celsius < coldest || celsius > hottest {
		return Reading{}, fmt.Errorf("SHT3x: %w: %.1f °C (raw %04X), and the chip measures %d to %d °C", sensors.ErrRange,
			celsius, t, coldest, hottest)
	}
	return Reading{
		Temperature:    celsius + zeroCelsius,
		Humidity:       float64(h) / 65535,
		Saturated:      h == 0 || h == 65535,
		RawTemperature: t,
		RawHumidity:    h,
	}, nil
}
