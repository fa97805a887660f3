package ads1115

import (
	"errors"
	"math"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"fullery/sensors"
)

// The traffic of one reading of input 2 at ±4.096 V and 128 conversions a second, byte for byte: OS 1, MUX 110, PGA 001,
// MODE 1, DR 100, COMP_QUE 11 is 0xE383 (bits of the config register, SBAS444D).
func TestTrafficOfAReading(t *testing.T) {
	bus := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		{Addr: address, W: []byte{0x01}, R: []byte{0x85, 0x83}},
		{Addr: address, W: []byte{0x01, 0xe3, 0x83}},
		{Addr: address, W: []byte{0x01}, R: []byte{0x63, 0x83}}, // still converting
		{Addr: address, W: []byte{0x01}, R: []byte{0xe3, 0x83}},
		{Addr: address, W: []byte{0x00}, R: []byte{0x1f, 0x40}},
		{Addr: address, W: []byte{0x01}, R: []byte{0xe3, 0x83}},
	}}
	var slept []time.Duration
	d := New(&i2c.Dev{Bus: bus, Addr: address}, Settings{Range: FS4096}, func(s time.Duration) { slept = append(slept, s) })
	got, err := d.Read(2)
	if want := (Reading{Code: 8000, Volts: 1}); err != nil || got != want {
		t.Errorf("got %+v, %v, want %+v", got, err, want)
	}
	if want := []time.Duration{7812500, 390625}; !cmp.Equal(slept, want) {
		t.Errorf("slept %v, want %v", slept, want)
	}
	if err := bus.Close(); err != nil {
		t.Error(err)
	}
}

// E01, two readers of one chip: never the other one's input.
func TestE01TwoReadersNeverSwap(t *testing.T) {
	c := newChip(4.5, 0)
	d := c.dev(Settings{})
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	var readers sync.WaitGroup
	for channel, want := range []float64{4.5, 0} {
		readers.Go(func() {
			for range 1000 {
				if got, err := d.Read(channel); err != nil || got.Volts != want {
					t.Errorf("input %d: %+v, %v, want %g V", channel, got, err, want)
					return
				}
			}
		})
	}
	readers.Wait()
}

// E01: an oscillator that is 10 % slow or fast gives right readings. A fixed wait of the nominal time would not do.
func TestE01SlowOscillator(t *testing.T) {
	for _, slow := range []float64{0.9, 1, 1.1} {
		for rate := range rates[2:] {
			c := newChip(1, 2, 3, 4)
			c.slow = slow
			d := c.dev(Settings{Rate: rates[2:][rate]})
			for channel := range 8 {
				got, err := d.Read(channel % 4)
				if want := float64(channel%4 + 1); err != nil || math.Abs(got.Volts-want) > FS6144.LSB() {
					t.Errorf("slow %g, rate %d, input %d: %+v, %v", slow, rate, channel%4, got, err)
				}
			}
		}
	}
}

// E01: ready never comes, in at most 100 ms, and the next reading is right again.
func TestE01NeverReady(t *testing.T) {
	for rate := range rates[2:] {
		c := newChip(1, 2)
		d := c.dev(Settings{Rate: rates[2:][rate]})
		c.dead = true
		for range 2 { // the second finds the chip converting
			before := c.now
			got, err := d.Read(1)
			if !errors.Is(err, sensors.ErrNotReady) || got != (Reading{}) {
				t.Errorf("rate %d: %+v, %v", rates[2:][rate], got, err)
			}
			if took := c.now - before; took > 100*time.Millisecond {
				t.Errorf("rate %d: %v until the error", rates[2:][rate], took)
			}
		}
		c.dead = false
		if got, err := d.Read(0); err != nil || math.Abs(got.Volts-1) > FS6144.LSB() {
			t.Errorf("rate %d: afterwards %+v, %v", rates[2:][rate], got, err)
		}
	}
}

// E01: at most 100 ms also at the slowest rate, however long a conversion had to be waited for before.
func TestE01NeverReadyAfterWaiting(t *testing.T) {
	longest := time.Duration(0)
	for end := range 150 {
		c := newChip(1)
		c.write(0x8583)
		c.end, c.dying = c.now+time.Duration(end)*time.Millisecond, true
		before := c.now
		if _, err := c.dev(Settings{Rate: 32}).Read(0); !errors.Is(err, sensors.ErrNotReady) {
			t.Error(err)
		}
		longest = max(longest, c.now-before)
	}
	if longest > 100*time.Millisecond || longest < 90*time.Millisecond {
		t.Errorf("up to %v until the error", longest)
	}
}

// From any earlier state, left by a killed process or by another program, the first reading is that of the asked input.
func TestFirstReadingFromAnyState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newChip(0.1, 0.2, 0.3, 0.4)
		c.slow = rapid.Float64Range(0.9, 1.1).Draw(t, "slow")
		c.result = rapid.Uint16().Draw(t, "result")
		c.mute = rapid.Bool().Draw(t, "mute")
		c.write(rapid.Uint16().Draw(t, "config"))
		c.sleep(time.Duration(rapid.IntRange(0, 200).Draw(t, "ms")) * time.Millisecond)
		d := c.dev(Settings{Range: FS512})
		if rapid.Bool().Draw(t, "begin") {
			if err := d.Begin(); err != nil {
				t.Fatal(err)
			}
		}
		channel := rapid.IntRange(0, 3).Draw(t, "input")
		got, err := d.Read(channel)
		if errors.Is(err, sensors.ErrNotReady) { // a foreign conversion longer than ours may be
			got, err = d.Read(channel)
			if errors.Is(err, sensors.ErrNotReady) {
				got, err = d.Read(channel)
			}
		}
		if want := float64(channel+1) / 10; err != nil || math.Abs(got.Volts-want) > FS512.LSB() {
			t.Fatalf("input %d: %+v, %v", channel, got, err)
		}
	})
}

// D01: whichever transfer of a reading or a beginning fails, it is told as such, without a number, and the next works.
func TestD01AnyTransferMayFail(t *testing.T) {
	for fail := 1; ; fail++ {
		c := newChip(1, 2, 3, 4)
		d := c.dev(Settings{Range: FS4096})
		if _, err := d.Read(0); err != nil {
			t.Fatal(err)
		}
		c.fail = fail
		got, err := d.Read(3)
		if c.fail > 0 { // it was not reached any more
			if fail <= 5 {
				t.Errorf("a reading took %d transfers", fail-1)
			}
			break
		}
		if !errors.Is(err, sensors.ErrNoAnswer) || !errors.Is(err, errNAK) || got != (Reading{}) {
			t.Errorf("transfer %d: %+v, %v", fail, got, err)
		}
		if got, err := d.Read(2); err != nil || got.Volts != 3 {
			t.Errorf("after transfer %d failed: %+v, %v", fail, got, err)
		}
	}
	for fail := 1; fail <= 3; fail++ {
		c := newChip()
		c.fail = fail
		if err := c.dev(Settings{}).Begin(); !errors.Is(err, sensors.ErrNoAnswer) {
			t.Errorf("Begin, transfer %d: %v", fail, err)
		}
	}
}

// D01, absent at start: refused.
func TestD01Absent(t *testing.T) {
	c := newChip()
	c.gone = true
	if err := c.dev(Settings{}).Begin(); !errors.Is(err, sensors.ErrNoAnswer) {
		t.Error(err)
	}
}

// A supply that dips at any moment of a reading gives no number of another input.
func TestResetDuringAReading(t *testing.T) {
	for at := 1; at <= 5; at++ {
		c := newChip(1, 2, 3, 4)
		d := c.dev(Settings{})
		if _, err := d.Read(0); err != nil {
			t.Fatal(err)
		}
		c.reset = at
		got, err := d.Read(2)
		switch {
		case (err == nil) != (at <= 2): // before the settings were written a reset does not matter
			t.Errorf("reset before transfer %d: %v", at, err)
		case err == nil && math.Abs(got.Volts-3) > FS6144.LSB():
			t.Errorf("reset before transfer %d: %+v", at, got)
		case err != nil && !errors.Is(err, sensors.ErrNotReady):
			t.Errorf("reset before transfer %d: %v", at, err)
		}
		if got, err := d.Read(3); err != nil || math.Abs(got.Volts-4) > FS6144.LSB() {
			t.Errorf("afterwards: %+v, %v", got, err)
		}
	}
}

// A TMP102 at the same address has no use for the lowest bits of its second register (from memory).
func TestForeignChip(t *testing.T) {
	c := newChip(1)
	c.foreign = 0x000f
	d := c.dev(Settings{})
	if err := d.Begin(); !errors.Is(err, sensors.ErrForeign) {
		t.Error(err)
	}
	if got, err := d.Read(0); !errors.Is(err, sensors.ErrForeign) || got != (Reading{}) {
		t.Errorf("%+v, %v", got, err)
	}
}

// What cannot be asked for is refused before anything is sent.
func TestImpossibleSettings(t *testing.T) {
	for _, c := range []struct {
		set     Settings
		channel int
	}{
		{Settings{}, -1}, {Settings{}, 4},
		{Settings{Range: FS256 + 1}, 0},
		{Settings{Rate: 8}, 0}, {Settings{Rate: 100}, 0}, {Settings{Rate: -128}, 0},
		{Settings{Supply: 12}, 0}, {Settings{Supply: -1}, 0}, {Settings{Supply: math.NaN()}, 0},
	} {
		model := newChip(1)
		got, err := model.dev(c.set).Read(c.channel)
		if err == nil || got != (Reading{}) || model.transfers != 0 {
			t.Errorf("%+v, input %d: %+v, %v after %d transfers", c.set, c.channel, got, err, model.transfers)
		}
		if err := model.dev(c.set).Begin(); c.set != (Settings{}) && err == nil {
			t.Errorf("%+v: Begin agrees", c.set)
		}
	}
}
