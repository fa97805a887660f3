package sht3x

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fullery/sensors"
)

// The formulas of section 4.13; the first row is the frame of 25 °C and 40 %.
func TestDecode(t *testing.T) {
	for _, c := range []struct {
		name              string
		t, h              uint16
		celsius, humidity float64
		saturated         bool
	}{
		{"25 °C, 40 %", 0x6666, 0x6666, 25, 0.4, false},
		{"0 °C", 16852, 0x8000, 0.0007, 0.5000076, false}, // 45/175·65535 = 16851.86
		{"lowest that is measured", 1873, 0x6666, -39.9985, 0.4, false},
		{"highest that is measured", 63662, 0x6666, 124.9989, 0.4, false},
		{"no water at all", 0x6666, 0, 25, 0, true},
		{"nearly none", 0x6666, 1, 25, 1.5259e-5, false},
		{"wet through", 0x6666, 0xFFFF, 25, 1, true},
		{"nearly so", 0x6666, 0xFFFE, 25, 0.9999847, false},
	} {
		got, err := Decode(words(c.t, c.h))
		if err != nil || math.Abs(got.Temperature-273.15-c.celsius) > 1e-3 || math.Abs(got.Humidity-c.humidity) > 1e-6 ||
			got.Saturated != c.saturated || got.RawTemperature != c.t || got.RawHumidity != c.h {
			t.Errorf("%s: %+v, %v", c.name, got, err)
		}
	}
	exact, err := Decode([]byte{0x66, 0x66, 0x93, 0x66, 0x66, 0x93})
	if err != nil || math.Abs(exact.Temperature-298.15) > 1e-9 || math.Abs(exact.Humidity-0.4) > 1e-12 {
		t.Errorf("%+v, %v", exact, err)
	}
}

// Case C01: a damaged frame is an error and leaves nothing.
func TestC01DamagedFrameIsNoReading(t *testing.T) {
	for _, frame := range [][]byte{
		{0x66, 0x66, 0x93, 0x66, 0x66, 0x94},
		{0x66, 0x66, 0x94, 0x66, 0x66, 0x93},
		{0x66, 0x67, 0x93, 0x66, 0x66, 0x93},
		{0x66, 0x66, 0x93, 0x66, 0x66},
		{0x66, 0x66, 0x93, 0x66, 0x66, 0x93, 0x00},
		{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF},
		{0, 0, 0, 0, 0, 0},
		nil,
	} {
		if got, err := Decode(frame); !errors.Is(err, sensors.ErrChecksum) || got != (Reading{}) {
			t.Errorf("% X: %+v, %v", frame, got, err)
		}
	}
}

// Case C03: a temperature that the chip does not measure is refused with its raw code. (Its humidity cannot leave 0 to
// 100 %: the scale ends there.)
func TestC03ImpossibleIsRefused(t *testing.T) {
	for raw, code := range map[uint16]string{0: "0000", 1872: "0750", 63663: "F8AF", 0xFFFF: "FFFF"} {
		got, err := Decode(words(raw, 0x6666))
		if !errors.Is(err, sensors.ErrRange) || got != (Reading{}) || !strings.Contains(err.Error(), "raw "+code) {
			t.Errorf("%04X: %+v, %v", raw, got, err)
		}
	}
}

// Any two words with right checksums decode within the ends of the range or are refused as out of it, and any flipped bit
// is found.
func TestDecodeProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temperature, humidity := rapid.Uint16().Draw(t, "temperature"), rapid.Uint16().Draw(t, "humidity")
		frame := words(temperature, humidity)
		got, err := Decode(frame)
		honest(t, got, err)
		if want := 1873 <= temperature && temperature <= 63662; want != (err == nil) {
			t.Fatalf("%04X %04X: %v", temperature, humidity, err)
		}
		bit := rapid.IntRange(0, 47).Draw(t, "flipped bit")
		frame[bit/8] ^= 1 << (bit % 8)
		if got, err := Decode(frame); !errors.Is(err, sensors.ErrChecksum) || got != (Reading{}) {
			t.Fatalf("bit %d: % X: %+v, %v", bit, frame, got, err)
		}
	})
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte{0x66, 0x66, 0x93, 0x66, 0x66, 0x93})
	f.Add([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEF, 0x92})
	f.Add([]byte{0, 0, 0x81, 0xFF, 0xFF, 0xAC})
	f.Fuzz(func(t *testing.T, frame []byte) {
		given := bytes.Clone(frame)
		got, err := Decode(frame)
		honest(t, got, err)
		if err == nil && !bytes.Equal(words(got.RawTemperature, got.RawHumidity), given) {
			t.Fatalf("% X: %+v", given, got)
		}
	})
}

type failer interface{ Fatalf(string, ...any) }

// honest: a reading is within its ranges, or there is an error of a known kind and no reading.
func honest(t failer, r Reading, err error) {
	if err != nil {
		if r != (Reading{}) || !errors.Is(err, sensors.ErrChecksum) && !errors.Is(err, sensors.ErrRange) {
			t.Fatalf("%+v, %v", r, err)
		}
		return
	}
	if !(r.Temperature >= 233.15 && r.Temperature <= 398.15) || !(r.Humidity >= 0 && r.Humidity <= 1) ||
		r.Saturated != (r.Humidity == 0 || r.Humidity == 1) {
		t.Fatalf("%+v", r)
	}
}
