package pca9685

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The divider. 200 Hz: data sheet section 7.3.5 (from memory), also its power-on value; the others by its formula.
func TestPrescale(t *testing.T) {
	for frequency, want := range map[float64]byte{200: 30, 50: 121, 1000: 5, 24: 253, 1526: 3, 60: 101} {
		if got, err := prescale(frequency); err != nil || got != want {
			t.Errorf("%g Hz: %d, %v, want %d", frequency, got, err, want)
		}
	}
}

// What comes out of the model is the frequency asked for, within half a step of the divider.
func TestFrequency(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.Float64Range(24, 1526).Draw(t, "Hz")
		c := newChip()
		if err := c.dev().Begin(want); err != nil {
			t.Fatal(err)
		}
		periods := 25e6 / 4096 // ticks of the divider a second
		if math.Abs(periods/c.frequency()-periods/want) > 0.5+1e-9 {
			t.Fatalf("%g Hz became %g", want, c.frequency())
		}
	})
}

// Counts and ends, section 7.3.3.
func TestEncode(t *testing.T) {
	for duty, want := range map[float64][4]byte{
		0:             {0, 0, 0, 0x10},
		0.4 / 4096:    {0, 0, 0, 0x10},
		1.0 / 4096:    {0, 0, 1, 0},
		0.25:          {0, 0, 0, 0x04},
		0.5:           {0, 0, 0, 0x08},
		4095.0 / 4096: {0, 0, 0xff, 0x0f},
		4095.6 / 4096: {0, 0x10, 0, 0},
		1:             {0, 0x10, 0, 0},
	} {
		if got, err := encode(duty); err != nil || got != want {
			t.Errorf("%g: % x, %v, want % x", duty, got, err, want)
		}
	}
}

// Whatever number comes, the pin does it to half a step, or it is refused.
func FuzzEncode(f *testing.F) {
	for _, duty := range []float64{0, 1, 0.5, -1, 2, math.NaN(), math.SmallestNonzeroFloat64} {
		f.Add(duty)
	}
	f.Fuzz(func(t *testing.T, duty float64) {
		counts, err := encode(duty)
		if in := duty >= 0 && duty <= 1; (err == nil) != in {
			t.Fatalf("%g: %v", duty, err)
		}
		if err != nil {
			return
		}
		c := newChip()
		c.reg[0] = 0x20
		copy(c.reg[6:], counts[:])
		if got := c.duty(0); math.Abs(got-duty) > 0.5/4096+1e-12 || (duty == 0 && got != 0) {
			t.Errorf("%g came out as %g", duty, got)
		}
	})
}
