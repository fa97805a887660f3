package tmp102

import (
	"fmt"

	"fullery/sensors"
)

// Reading is one temperature. The zero value is no reading: it is what comes with an error.
type Reading struct {
	Temperature float64 // K, within the chips' range of 218.15 to 398.15
	Saturated   bool    // exactly at an end of that range: the true value may lie beyond
	Raw         uint16  // the register as read, from bit 15 down
}

// The range in which the chips measure, in °C (LM75: data sheet SNIS153, table of temperatures; TMP102: the same limits,
// which are the lower end of its table and the upper end of its specification).
const coldest, hottest = -55, 125

const zeroCelsius = 273.15 // K

// spare are the low bits of the register of a TMP102 that always read zero outside of its extended mode (data sheet
// SBOS397, tables of the temperature register). The LM75 leaves its seven low bits undefined (SNIS153, page 11); some
// parts that go by its name have more digits there.
const spare = 0x000F

// Decode turns the temperature register into a reading. Errors: sensors.ErrForeign for a word that is not of the kind's
// format, sensors.ErrRange for a temperature that the chip does not measure.
func Decode(k Kind, word uint16) (Reading, error) {
	if k == TMP102 && word&spare != 0 {
		return Reading{}, fmt.Errorf("%v: %w: the temperature reads %04X, and its last digit is always 0 (1 is the extended mode)",
			k, sensors.ErrForeign, word)
	}
	degrees := celsius(k, word)
	if degrees < coldest || degrees > hottest {
		return Reading{}, fmt.Errorf("%v: %w: %.1f °C (raw %04X), and the chip measures %d to %d °C", k, sensors.ErrRange,
			degrees, word, coldest, hottest)
	}
	return Reading{
		Temperature: degrees + zeroCelsius,
		Saturated:   degrees == coldest || degrees == hottest,
		Raw:         word,
	}, nil
}

// celsius is two's complement in the upper bits: twelve of 0.0625 °C (SBOS397, table 5), or nine of 0.5 °C (SNIS153,
// page 9). Shifting a signed number keeps its sign.
func celsius(k Kind, word uint16) float64 {
	if k == LM75 {
		return float64(int16(word)>>7) / 2
	}
	return float64(int16(word)>>4) / 16
}
