package hx711

import (
	"errors"
	"strings"
	"testing"

	"fullery/sensors"
)

// B01: codes as public drivers have them: saturated at 7FFFFF and 800000, above 7FFFFF less 1000000.
func TestB01Codes(t *testing.T) {
	for _, c := range []struct {
		raw  uint32
		want Reading
		word string // of the error; "": none
	}{
		{0x000000, Reading{Code: 0}, ""},
		{0x000001, Reading{Code: 1}, ""},
		{0xffffff, Reading{Code: -1}, ""},
		{0x800001, Reading{Code: -8388607, NearLimit: true}, ""},
		{0x7ffffe, Reading{Code: 8388606, NearLimit: true}, ""},
		{0x7f0000, Reading{Code: 8323072, NearLimit: true}, ""},
		{0x7e0000, Reading{Code: 8257536}, ""},
		{0x820000, Reading{Code: -8257536}, ""},
		{0x7fffff, Reading{}, "saturated high"},
		{0x800000, Reading{}, "saturated low"},
	} {
		got, err := Decode(c.raw)
		switch {
		case c.word == "" && (err != nil || got != c.want):
			t.Errorf("%06X: %+v, %v, want %+v", c.raw, got, err, c.want)
		case c.word != "" && (!errors.Is(err, sensors.ErrSaturated) || !strings.Contains(err.Error(), c.word) || got != c.want):
			t.Errorf("%06X: %+v, %v, want %s", c.raw, got, err, c.word)
		}
	}
}

// Whatever comes, there is a count that gives the same bits again, or an error and nothing else.
func FuzzDecode(f *testing.F) {
	for _, raw := range []uint32{0, 0x7fffff, 0x800000, 0xffffff, 0x1000000} {
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw uint32) {
		got, err := Decode(raw)
		switch {
		case err != nil && got != (Reading{}):
			t.Errorf("%X: %+v beside %v", raw, got, err)
		case err == nil && uint32(got.Code)&0xffffff != raw:
			t.Errorf("%X: %+v", raw, got)
		case (err != nil) != (raw == 0x7fffff || raw == 0x800000 || raw > 0xffffff):
			t.Errorf("%X: %v", raw, err)
		}
	})
}
