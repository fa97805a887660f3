package bme280

import (
	"fmt"

	"fullery/sensors"
)

// Reading is one measurement of air. The zero value is no reading: it is what comes with an error.
type Reading struct {
	Temperature float64 // K, within the chip's range of 233.15 to 358.15
	Pressure    float64 // Pa, absolute, within the chip's range of 30 000 to 110 000

	// Humidity is relative, 0 to 1. It is never clamped: a Saturated one may lie up to 0.02 beyond either end.
	Humidity float64

	// Saturated: the humidity is at an end of what air can have, or beyond by less than the chip's own error. The true
	// value is a bound and no evidence of anything.
	Saturated bool

	RawTemperature, RawPressure uint32 // as read, 20 bits
	RawHumidity                 uint16 // as read
}

// What the chip measures (data sheet, front page).
const (
	coldest, hottest     = -40, 85         // °C
	thinnest, thickest   = 30000, 110000   // Pa
	beyond               = 2               // percent humidity that a sound chip may give outside of 0 to 100; its error is 3
	zeroCelsius          = 273.15          // K
	nothing20, nothing16 = 0x80000, 0x8000 // what is not measured reads so (tables 20, 23 and 24)
)

// dataSize is the size of the data registers, 0xF7 to 0xFE: pressure, temperature, humidity.
const dataSize = 8

// Decode turns the data registers into a reading by the chip's own calibration. There is no checksum in them. Errors:
// sensors.ErrNotReady for registers that still hold what the chip starts with, sensors.ErrRange for a value that the chip
// cannot honestly give; one such value condemns all three, for they have one cause.
func Decode(data []byte, c Calibration) (Reading, error) {
	if len(data) != dataSize {
		return Reading{}, fmt.Errorf("BME280: %w: %d bytes where a measurement has %d", sensors.ErrChecksum, len(data), dataSize)
	}
	r := Reading{
		RawPressure:    twenty(data[0:3]),
		RawTemperature: twenty(data[3:6]),
		RawHumidity:    uint16(data[6])<<8 | uint16(data[7]),
	}
	if r.RawPressure == nothing20 && r.RawTemperature == nothing20 && r.RawHumidity == nothing16 {
		return Reading{}, fmt.Errorf("BME280: %w: its data are those it starts with, nothing was measured", sensors.ErrNotReady)
	}
	celsius, fine := c.temperature(r.RawTemperature)
	percent := c.humidity(r.RawHumidity, fine)
	r.Temperature, r.Humidity, r.Pressure = celsius+zeroCelsius, percent/100, c.pressure(r.RawPressure, fine)
	r.Saturated = percent <= 0 || percent >= 100
	if err := honest(celsius, percent, r); err != nil {
		return Reading{}, err
	}
	return r, nil
}

// twenty is a code of 20 bits, the highest first, in the upper bits of three bytes.
func twenty(b []byte) uint32 { return uint32(b[0])<<12 | uint32(b[1])<<4 | uint32(b[2])>>4 }

func honest(celsius, percent float64, r Reading) error {
	within := func(v, low, high float64) bool { return v >= low && v <= high }
	switch {
	case !within(celsius, coldest, hottest):
		return fmt.Errorf("BME280: %w: %.1f °C (raw %05X), and the chip measures %d to %d °C", sensors.ErrRange, celsius,
			r.RawTemperature, coldest, hottest)
	case !within(r.Pressure, thinnest, thickest):
		return fmt.Errorf("BME280: %w: %.0f Pa (raw %05X), and the chip measures %d to %d Pa", sensors.ErrRange, r.Pressure,
			r.RawPressure, thinnest, thickest)
	case !within(percent, -beyond, 100+beyond):
		return fmt.Errorf("BME280: %w: %.1f %% humidity (raw %04X), which no air has", sensors.ErrRange, percent, r.RawHumidity)
	}
	return nil
}
