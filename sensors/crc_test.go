package sensors

import (
	"errors"
	"testing"

	"pgregory.net/rapid"
)

func TestCRC8(t *testing.T) {
	for _, c := range []struct {
		data   []byte
		want   byte
		source string
	}{
		{[]byte{0xBE, 0xEF}, 0x92, "data sheet SHT3x-DIS, table 20"},
		{[]byte{0x00}, 0xAC, "data sheet SHTC3, table 16"},
		{[]byte{0xA1, 0x33}, 0x1C, "data sheet SHTC3, figure 7: humidity"},
		{[]byte{0x64, 0x8B}, 0xC7, "data sheet SHTC3, figure 7: temperature"},
		{[]byte{0x66, 0x66}, 0x93, "the frame of 25 °C and 40 %"},
		{nil, 0xFF, "nothing: the value it begins with"},
	} {
		if got := CRC8(c.data); got != c.want {
			t.Errorf("CRC8(% X) = %02X, want %02X (%s)", c.data, got, c.want, c.source)
		}
	}
}

// A bus that nobody drives reads as ones, one that is held down as zeros: neither is a word.
func TestIdleBusIsNoWord(t *testing.T) {
	for _, b := range [][]byte{{0xFF, 0xFF, 0xFF}, {0, 0, 0}, {}, {0xBE, 0xEF}, {0xBE, 0xEF, 0x92, 0}} {
		if w, err := CheckedWord(b); !errors.Is(err, ErrChecksum) || w != 0 {
			t.Errorf("% X: %04X, %v", b, w, err)
		}
	}
}

// Every error of one, two or three bits in a word is found. The code is linear, so one word stands for all; the property
// below tries others.
func TestUpToThreeWrongBitsAreFound(t *testing.T) {
	good := []byte{0xBE, 0xEF, 0x92}
	if w, err := CheckedWord(good); w != 0xBEEF || err != nil {
		t.Fatalf("% X: %04X, %v", good, w, err)
	}
	for i := range 24 {
		for j := i; j < 24; j++ {
			for k := j; k < 24; k++ {
				bits := map[int]bool{i: true, j: true, k: true}
				bad := append([]byte{}, good...)
				for n := range bits {
					bad[n/8] ^= 1 << (n % 8)
				}
				if w, err := CheckedWord(bad); !errors.Is(err, ErrChecksum) || w != 0 {
					t.Fatalf("bits %v flipped: % X taken for %04X (%v)", bits, bad, w, err)
				}
			}
		}
	}
}

func TestCheckedWordProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.Uint16().Draw(t, "word")
		b := []byte{byte(word >> 8), byte(word), 0}
		b[2] = CRC8(b[:2])
		if got, err := CheckedWord(b); got != word || err != nil {
			t.Fatalf("% X: %04X, %v", b, got, err)
		}
		first := rapid.IntRange(0, 23).Draw(t, "first bit")
		burst := rapid.ByteRange(0, 255).Draw(t, "burst") | 1 // any damage within eight neighbouring bits
		for i := range min(8, 24-first) {
			if n := first + i; burst>>i&1 == 1 {
				b[n/8] ^= 1 << (7 - n%8)
			}
		}
		if got, err := CheckedWord(b); !errors.Is(err, ErrChecksum) {
			t.Fatalf("% X: %04X, %v", b, got, err)
		}
	})
}
