package sht4x

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fullery/sensors"
)

func near(a, b, within float64) bool { return math.Abs(a-b) <= within }

// code is the humidity word of a percentage, by the formula turned round.
func code(percent float64) uint16 { return uint16(math.Round((percent + 6) / 125 * 65535)) }

// No vector of the maker's is at hand: these follow from the formulas.
func TestDecode(t *testing.T) {
	for _, c := range []struct {
		t, h             uint16
		celsius, percent float64
		saturated        bool
	}{
		{warm, moist, 25, 40, false},
		{0x6666, 0x6666, 25, 44, false}, // 0x6666 is 0.4 of 65535: 40 % with the formula of the SHT3x, here −6 + 50
		{0x8000, 0x8001, 42.50134, 56.5028, false},
		{0x0751, moist, -39.99847, 40, false}, // the first code within the range
		{0xF8AE, moist, 124.99847, 40, false}, // the last one
		{warm, code(0.01), 25, 0.01, false},
		{warm, code(99.99), 25, 99.99, false},
		{warm, code(-0.01), 25, -0.01, true},
		{warm, code(100.01), 25, 100.01, true},
		{warm, code(-1.99), 25, -1.99, true},
		{warm, code(101.99), 25, 101.99, true},
	} {
		r, err := Decode(words(c.t, c.h))
		if err != nil {
			t.Errorf("%04X %04X: %v", c.t, c.h, err)
			continue
		}
		if !near(r.Temperature, c.celsius+273.15, 1e-5) || !near(r.Humidity, c.percent/100, 2e-5) || r.Saturated != c.saturated ||
			r.RawTemperature != c.t || r.RawHumidity != c.h {
			t.Errorf("%04X %04X: %+v, want %g °C, %g %%, saturated %v", c.t, c.h, r, c.celsius, c.percent, c.saturated)
		}
	}
}

// C01: a wrong last byte, one word, one byte too long, an idle bus.
func TestC01DamagedFrame(t *testing.T) {
	for _, frame := range [][]byte{
		{0x66, 0x66, 0x93, 0x66, 0x66, 0x94},
		{0x66, 0x66, 0x94, 0x66, 0x66, 0x93},
		{0x66, 0x66, 0x93},
		{0x66, 0x66, 0x93, 0x66, 0x66, 0x93, 0},
		{0, 0, 0, 0, 0, 0},
		{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF},
		nil,
	} {
		if r, err := Decode(frame); !errors.Is(err, sensors.ErrChecksum) || r != (Reading{}) {
			t.Errorf("% X: %+v, %v", frame, r, err)
		}
	}
}

// C03: what no air has and what the chip does not measure is refused, not cut off, with its code in the text. 121318 %
// and −144.7 °C have no code at all; the ends of the scales stand for them.
func TestC03NothingIsClamped(t *testing.T) {
	for _, c := range []struct{ t, h, raw uint16 }{
		{warm, code(104), code(104)},
		{warm, code(-3), code(-3)},
		{warm, code(-2.01), code(-2.01)},
		{warm, code(102.01), code(102.01)},
		{warm, 0, 0},
		{warm, 0xFFFF, 0xFFFF},
		{0, moist, 0},
		{0x0750, moist, 0x0750},
		{0xF8B0, moist, 0xF8B0},
		{0xFFFF, moist, 0xFFFF},
		{0x8000, 0x8000, 0x8000}, // a damaged chip
	} {
		r, err := Decode(words(c.t, c.h))
		if !errors.Is(err, sensors.ErrRange) || r != (Reading{}) {
			t.Errorf("%04X %04X: %+v, %v", c.t, c.h, r, err)
		}
		if err != nil && !strings.Contains(err.Error(), fmt.Sprintf("%04X", c.raw)) {
			t.Errorf("%04X %04X: the code is missing in %q", c.t, c.h, err)
		}
	}
	if r, err := Decode(words(warm, code(100)+1)); err != nil || !r.Saturated {
		t.Errorf("100 %%: %+v, %v", r, err)
	}
}

// wrongWith tells what must not be in the answer of Decode to anything, or nothing.
func wrongWith(frame []byte) string {
	r, err := Decode(frame)
	switch {
	case err != nil && r != Reading{}:
		return "a reading beside an error"
	case err != nil && !errors.Is(err, sensors.ErrChecksum) && !errors.Is(err, sensors.ErrRange):
		return "an error of no kind: " + err.Error()
	case err != nil:
		return ""
	case !(r.Temperature >= 233.15 && r.Temperature <= 398.15):
		return "temperature out of range without an error"
	case !(r.Humidity >= -0.02 && r.Humidity <= 1.02):
		return "humidity out of range without an error"
	case r.Saturated != (r.Humidity <= 0 || r.Humidity >= 1):
		return "wrong flag"
	}
	return ""
}

func TestAnyWordsDecodeWithinTheRangeOrNotAtAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temperature, h := rapid.Uint16().Draw(t, "temperature"), rapid.Uint16().Draw(t, "humidity")
		if wrong := wrongWith(words(temperature, h)); wrong != "" {
			t.Fatal(wrong)
		}
		r, err := Decode(words(temperature, h))
		if errors.Is(err, sensors.ErrChecksum) {
			t.Fatal(err)
		}
		if err == nil && (r.RawTemperature != temperature || r.RawHumidity != h) {
			t.Fatalf("raw codes lost: %+v", r)
		}
	})
}

func TestC01AnyFlippedBitIsRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		frame := words(rapid.Uint16().Draw(t, "temperature"), rapid.Uint16().Draw(t, "humidity"))
		bit := rapid.IntRange(0, 47).Draw(t, "bit")
		frame[bit/8] ^= 1 << (bit % 8)
		if r, err := Decode(frame); !errors.Is(err, sensors.ErrChecksum) || r != (Reading{}) {
			t.Fatalf("% X: %+v, %v", frame, r, err)
		}
	})
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte{0x66, 0x66, 0x93, 0x66, 0x66, 0x93})
	f.Add([]byte{0xBE, 0xEF, 0x92, 0xFF, 0xFF, 0xAC})
	f.Add(words(0x8000, 0x8000))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, frame []byte) {
		if wrong := wrongWith(frame); wrong != "" {
			t.Errorf("% X: %s", frame, wrong)
		}
		if len(frame) >= 4 { // as a chip would send it
			if wrong := wrongWith(words(uint16(frame[0])<<8|uint16(frame[1]), uint16(frame[2])<<8|uint16(frame[3]))); wrong != "" {
				t.Errorf("% X as words: %s", frame[:4], wrong)
			}
		}
	})
}
