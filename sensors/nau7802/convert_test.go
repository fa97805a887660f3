package nau7802

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"periph.io/x/conn/v3"

	"fullery/sensors"
)

// 24-bit two's complement: its limits and the numbers next to them (B01).
func TestB01Codes(t *testing.T) {
	for _, c := range []struct {
		bytes [3]byte
		code  int32
		near  bool
		word  string // of the error; "": none
	}{
		{[3]byte{0x00, 0x00, 0x00}, 0, false, ""},
		{[3]byte{0x00, 0x00, 0x01}, 1, false, ""},
		{[3]byte{0xff, 0xff, 0xff}, -1, false, ""},
		{[3]byte{0x80, 0x00, 0x01}, -8388607, true, ""},
		{[3]byte{0x7f, 0xff, 0xfe}, 8388606, true, ""},
		{[3]byte{0x7f, 0xff, 0xff}, 0, false, "saturated high"},
		{[3]byte{0x80, 0x00, 0x00}, 0, false, "saturated low"},
		{[3]byte{0x7e, 0x00, 0x00}, 8257536, false, ""},
		{[3]byte{0x12, 0x34, 0x56}, 0x123456, false, ""},
	} {
		got, err := Decode(c.bytes)
		switch {
		case c.word == "" && (err != nil || got != Reading{Code: c.code, NearLimit: c.near}):
			t.Errorf("% x: %+v, %v", c.bytes, got, err)
		case c.word != "" && (!errors.Is(err, sensors.ErrSaturated) || !strings.Contains(err.Error(), c.word) || got != (Reading{})):
			t.Errorf("% x: %+v, %v", c.bytes, got, err)
		}
	}
}

// The regulator's codes: 000 is 4.5 V and 111 is 2.4 V (VLDO, as public code quotes data sheet section 11.2).
func TestRegulatorAndRate(t *testing.T) {
	for code, volts := range []float64{4.5, 4.2, 3.9, 3.6, 3.3, 3.0, 2.7, 2.4} {
		set := Settings{LDO: volts}
		if err := set.check(); err != nil || set.ctrl1() != byte(code)<<3|7 {
			t.Errorf("%g V: 0x%02x, %v", volts, set.ctrl1(), err)
		}
	}
	for rate, want := range map[int]byte{10: 0x00, 20: 0x10, 40: 0x20, 80: 0x30, 0: 0x30, 320: 0x70} {
		set := Settings{Rate: rate}
		if err := set.check(); err != nil || set.ctrl2(0) != want || set.ctrl2(1) != want|0x80 {
			t.Errorf("%d: 0x%02x, 0x%02x, %v", rate, set.ctrl2(0), set.ctrl2(1), err)
		}
	}
	if err := (Settings{LDO: math.NaN()}).check(); err == nil {
		t.Error("NaN V agreed to")
	}
}

// Any three bytes are counts that give the same bytes again, or an error and nothing else.
func FuzzDecode(f *testing.F) {
	f.Add(byte(0x80), byte(0), byte(0))
	f.Add(byte(0x7f), byte(0xff), byte(0xff))
	f.Fuzz(func(t *testing.T, a, b, c byte) {
		in := [3]byte{a, b, c}
		got, err := Decode(in)
		end := in == [3]byte{0x7f, 0xff, 0xff} || in == [3]byte{0x80, 0, 0}
		switch back := [3]byte{byte(got.Code >> 16), byte(got.Code >> 8), byte(got.Code)}; {
		case (err != nil) != end || err != nil && got != (Reading{}):
			t.Errorf("% x: %+v, %v", in, got, err)
		case err == nil && (back != in || got.Code <= lowest || got.Code >= highest):
			t.Errorf("% x: %+v", in, got)
		}
	})
}

// babble answers with arbitrary bytes.
type babble struct {
	data  []byte
	count int
}

func (b *babble) String() string      { return "babble" }
func (b *babble) Duplex() conn.Duplex { return conn.Half }
func (b *babble) Tx(_, r []byte) error {
	b.count++
	for i := range r {
		if len(b.data) == 0 {
			return errNAK
		}
		r[i], b.data = b.data[0], b.data[1:]
	}
	return nil
}

// Whatever a bus answers, a reading ends, and with a reading or an error.
func FuzzAnswers(f *testing.F) {
	f.Add([]byte{0x0a, 0x0f, 0x00, 0x9e, 0x2f, 0x30, 0xbe, 0x2f, 0x30, 1, 2, 3}, true, 0)
	f.Fuzz(func(t *testing.T, data []byte, both bool, channel int) {
		b := &babble{data: data}
		got, err := New(b, Settings{Both: both}, func(time.Duration) {}).Read(channel)
		if err != nil && got != (Reading{}) || b.count > upTries+2*calTries+7*lateTries+30 {
			t.Errorf("%+v, %v after %d transfers", got, err, b.count)
		}
	})
}
