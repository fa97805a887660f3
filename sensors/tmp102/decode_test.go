package tmp102

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"fullery/sensors"
)

// The tables of the data sheets: SBOS397, table of the 12-bit format; SNIS153B, page 9. The codes there are the upper
// bits of the register.
func TestTables(t *testing.T) {
	for _, c := range []struct {
		kind    Kind
		code    uint16
		celsius float64
		refused bool // honest arithmetic, but no temperature that the chip measures
	}{
		{TMP102, 0x7FF, 127.9375, true},
		{TMP102, 0x640, 100, false},
		{TMP102, 0x500, 80, false},
		{TMP102, 0x4B0, 75, false},
		{TMP102, 0x320, 50, false},
		{TMP102, 0x190, 25, false},
		{TMP102, 0x004, 0.25, false},
		{TMP102, 0x001, 0.0625, false},
		{TMP102, 0x000, 0, false},
		{TMP102, 0xFFF, -0.0625, false},
		{TMP102, 0xFFC, -0.25, false},
		{TMP102, 0xE70, -25, false},
		{TMP102, 0xC90, -55, false},
		{TMP102, 0x7D0, 125, false},
		{TMP102, 0x7D1, 125.0625, true},
		{TMP102, 0xC8F, -55.0625, true},
		{TMP102, 0x800, -128, true},
		{LM75, 0x0FA, 125, false},
		{LM75, 0x0FB, 125.5, true},
		{LM75, 0x032, 25, false},
		{LM75, 0x001, 0.5, false},
		{LM75, 0x000, 0, false},
		{LM75, 0x1FF, -0.5, false},
		{LM75, 0x1CE, -25, false},
		{LM75, 0x192, -55, false},
		{LM75, 0x191, -55.5, true},
		{LM75, 0x100, -128, true},
	} {
		word := c.code << 4
		if c.kind == LM75 {
			word = c.code << 7
		}
		if got := celsius(c.kind, word); got != c.celsius {
			t.Errorf("%v %03X: %v °C, want %v", c.kind, c.code, got, c.celsius)
		}
		got, err := Decode(c.kind, word)
		if c.refused {
			if !errors.Is(err, sensors.ErrRange) || got != (Reading{}) {
				t.Errorf("%v %03X: %+v, %v", c.kind, c.code, got, err)
			}
			continue
		}
		atAnEnd := c.celsius == -55 || c.celsius == 125
		if err != nil || math.Abs(got.Temperature-273.15-c.celsius) > 1e-9 || got.Raw != word || got.Saturated != atAnEnd {
			t.Errorf("%v %03X: %+v, %v", c.kind, c.code, got, err)
		}
	}
}

// The seven low bits of an LM75 are undefined; they change nothing but the raw code.
func TestLM75SpareBits(t *testing.T) {
	for spare := range uint16(0x80) {
		got, err := Decode(LM75, 0xE700|spare)
		if err != nil || math.Abs(got.Temperature-248.15) > 1e-9 || got.Raw != 0xE700|spare {
			t.Errorf("%04X: %+v, %v", 0xE700|spare, got, err)
		}
	}
}

// The extended format of the TMP102 marks itself in bit 0. Read as the plain one it would be twice as cold: 25 °C is 0C81
// there, and 12.5 °C here.
func TestExtendedFormatIsRefused(t *testing.T) {
	for _, word := range []uint16{0x0C81, 0x0001, 0x1908} {
		if got, err := Decode(TMP102, word); !errors.Is(err, sensors.ErrForeign) || got != (Reading{}) {
			t.Errorf("%04X: %+v, %v", word, got, err)
		}
	}
}

// Case C03: −144.7 °C cannot be coded, but what can be coded and not measured is refused with its raw code. A bus that
// nobody drives reads FFFF; the LM75's format makes −0.5 °C of it, and only the settings tell (TestNobodyThere).
func TestC03ImpossibleIsRefused(t *testing.T) {
	for word, k := range map[uint16]Kind{0x8000: TMP102, 0x7FF0: TMP102, 0x8080: LM75, 0x7F80: LM75} {
		got, err := Decode(k, word)
		if !errors.Is(err, sensors.ErrRange) || got != (Reading{}) || !strings.Contains(err.Error(), "raw ") {
			t.Errorf("%v %04X: %+v, %v", k, word, got, err)
		}
	}
	if got, err := Decode(TMP102, 0xFFFF); !errors.Is(err, sensors.ErrForeign) || got != (Reading{}) {
		t.Errorf("%+v, %v", got, err)
	}
}

// Any word decodes within the ends of the range or is refused, and warmer is never a lower temperature.
func TestDecodeProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom([]Kind{TMP102, LM75}).Draw(t, "kind")
		a, b := rapid.Uint16().Draw(t, "a"), rapid.Uint16().Draw(t, "b")
		honest(t, k, a)
		if int16(a) <= int16(b) && celsius(k, a) > celsius(k, b) {
			t.Fatalf("%v: %04X is %v °C and %04X is %v °C", k, a, celsius(k, a), b, celsius(k, b))
		}
	})
}

// The same for every word there is, and a second way to its number: the signed word as a whole is 1/256 °C.
func TestEveryWord(t *testing.T) {
	for w := range 0x10000 {
		word := uint16(w)
		for k, step := range map[Kind]float64{TMP102: 0.0625, LM75: 0.5} {
			honest(t, k, word)
			want := math.Floor(float64(int16(word))/256/step) * step
			if r, err := Decode(k, word); err == nil && math.Abs(r.Temperature-273.15-want) > 1e-9 {
				t.Fatalf("%v %04X: %+v, want %v °C", k, word, r, want)
			}
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(uint8(0), uint16(0x1900))
	f.Add(uint8(0), uint16(0xC900))
	f.Add(uint8(1), uint16(0xC900))
	f.Add(uint8(7), uint16(0xFFFF))
	f.Fuzz(func(t *testing.T, k uint8, word uint16) { honest(t, Kind(k), word) })
}

type failer interface{ Fatalf(string, ...any) }

// honest: a reading is within its range and as its raw code says, or there is an error of a known kind and no reading.
func honest(t failer, k Kind, word uint16) {
	r, err := Decode(k, word)
	if err != nil {
		if r != (Reading{}) || !errors.Is(err, sensors.ErrForeign) && !errors.Is(err, sensors.ErrRange) {
			t.Fatalf("%v %04X: %+v, %v", k, word, r, err)
		}
		return
	}
	if !(r.Temperature >= 218.15-1e-9 && r.Temperature <= 398.15+1e-9) || r.Raw != word {
		t.Fatalf("%v %04X: %+v", k, word, r)
	}
}
