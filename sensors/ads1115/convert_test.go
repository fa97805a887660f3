package ads1115

import (
	"errors"
	"math"
	"strings"
	"testing"

	"periph.io/x/conn/v3"
	"pgregory.net/rapid"

	"fullery/sensors"
)

// E02: codes and voltages. Steps of the ranges from SBAS444D table 3; meaning of the end codes from memory.
func TestE02CodesAndVoltages(t *testing.T) {
	for _, c := range []struct {
		r       Range
		code    uint16
		volts   float64
		clipped bool
	}{
		{FS4096, 0x7fff, 4.095875, true},
		{FS4096, 0xffff, -0.000125, false},
		{FS4096, 0x0001, 0.000125, false},
		{FS4096, 0x0000, 0, false},
		{FS6144, 0x0001, 187.5e-6, false},
		{FS2048, 0x0001, 62.5e-6, false},
		{FS1024, 0x0001, 31.25e-6, false},
		{FS512, 0x0001, 15.625e-6, false},
		{FS256, 0x0001, 7.8125e-6, false},
		{FS256, 0xffff, -7.8125e-6, false},
		{FS256, 0x8000, -0.256, true},
		{FS256, 0x8001, -32767 * 7.8125e-6, false},
		{FS256, 0x7ffe, 32766 * 7.8125e-6, false},
	} {
		got, err := Settings{Range: c.r}.Decode(int16(c.code))
		if err != nil || math.Abs(got.Volts-c.volts) > 1e-12 || got.Clipped != c.clipped || got.Code != int16(c.code) {
			t.Errorf("range %d, code 0x%04x: %+v, %v, want %g V, clipped %v", c.r, c.code, got, err, c.volts, c.clipped)
		}
	}
}

// E02: an input cannot lie above the supply by more than 0.3 V, nor below ground by more, whatever the range allows.
func TestE02ImpossibleVoltages(t *testing.T) {
	for _, c := range []struct {
		set  Settings
		volt float64
		want error
	}{
		{Settings{Supply: 3.3}, 3.61, sensors.ErrRange},
		{Settings{Supply: 3.3}, 3.59, nil},
		{Settings{Supply: 3.3}, 6.1438, sensors.ErrRange},
		{Settings{Supply: 5}, 5.2, nil},
		{Settings{}, 6.1, nil}, // nobody said what the supply is
		{Settings{}, -0.29, nil},
		{Settings{}, -0.31, sensors.ErrRange},
		{Settings{Range: FS4096, Supply: 3.3}, -4.096, sensors.ErrRange},
	} {
		code := int16(math.Round(c.volt / c.set.Range.LSB()))
		got, err := c.set.Decode(code)
		if !errors.Is(err, c.want) || (c.want != nil) != (got == Reading{}) {
			t.Errorf("%+v, %g V: %+v, %v, want %v", c.set, c.volt, got, err, c.want)
		}
	}
}

// E02: each range is set with the code that the chip understands as the same range: what goes in comes out.
func TestE02RoundTripOfRanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Range(rapid.IntRange(int(FS6144), int(FS256)).Draw(t, "range"))
		channel := rapid.IntRange(0, 3).Draw(t, "input")
		want := rapid.Float64Range(-0.25, fullScale[r]-2*r.LSB()).Draw(t, "volts")
		c := newChip(-0.1, -0.1, -0.1, -0.1)
		c.volts[channel] = want
		got, err := c.dev(Settings{Range: r, Rate: 860}).Read(channel)
		if err != nil || math.Abs(got.Volts-want) > 1.01*r.LSB() {
			t.Fatalf("%g V: %+v, %v", want, got, err)
		}
	})
}

// E02: Read refuses what is clipped, names the end, and the next reading is right by itself.
func TestE02ClippedIsNoValue(t *testing.T) {
	for _, tt := range []struct {
		volts float64
		word  string
	}{{0.3, "saturated high"}, {-0.28, "saturated low"}} {
		c := newChip(tt.volts, 0.125)
		d := c.dev(Settings{Range: FS256})
		got, err := d.Read(0)
		if !errors.Is(err, sensors.ErrSaturated) || !strings.Contains(err.Error(), tt.word) || got != (Reading{}) {
			t.Errorf("%g V: %+v, %v, want %s", tt.volts, got, err, tt.word)
		}
		if got, err := d.Read(1); err != nil || got.Volts != 0.125 {
			t.Errorf("afterwards: %+v, %v", got, err)
		}
	}
}

// Whatever code comes, there is a finite voltage within the range, or an error and nothing else.
func FuzzDecode(f *testing.F) {
	f.Add(int16(0), uint8(0), 0.0)
	f.Add(int16(math.MinInt16), uint8(5), 3.3)
	f.Add(int16(math.MaxInt16), uint8(1), 5.5)
	f.Fuzz(func(t *testing.T, code int16, r uint8, supply float64) {
		set := Settings{Range: Range(r), Supply: supply}
		got, err := set.Decode(code)
		if err != nil && got != (Reading{}) {
			t.Errorf("%+v beside %v", got, err)
		}
		if !(math.Abs(got.Volts) <= 6.144) || (err == nil && got.Code != code) {
			t.Errorf("code %d: %+v", code, got)
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

// Whatever a bus answers, a reading ends soon, and with a reading or an error.
func FuzzAnswers(f *testing.F) {
	f.Add([]byte{0x85, 0x83, 0xc1, 0x83, 0x1f, 0x40}, 0)
	f.Add([]byte{0x05, 0x83, 0x85, 0x83}, 1)
	f.Fuzz(func(t *testing.T, data []byte, channel int) {
		b := &babble{data: data}
		d := New(b, Settings{Supply: 3.3}, noSleep)
		got, err := d.Read(channel)
		if (err != nil && got != (Reading{})) || b.count > restTries+lateTries+5 {
			t.Errorf("%+v, %v after %d transfers", got, err, b.count)
		}
		if err := d.Begin(); err == nil && len(data) < 4 {
			t.Error("begun on nothing")
		}
	})
}
