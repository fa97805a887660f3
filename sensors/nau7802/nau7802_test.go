package nau7802

import (
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"fullery/sensors"
)

// The traffic of beginning and of the first reading, byte for byte: one input, 3.0 V (VLDO 101), gain 128 (111), 10
// conversions a second.
func TestTraffic(t *testing.T) {
	ops := []i2ctest.IO{
		{Addr: address, W: []byte{0x00, 0x01}}, // reset
		{Addr: address, W: []byte{0x00, 0x02}}, // digital part on
		{Addr: address, W: []byte{0x00}, R: []byte{0x02}},
		{Addr: address, W: []byte{0x00}, R: []byte{0x0a}}, // up
		{Addr: address, W: []byte{0x1f}, R: []byte{0x0f}},
		{Addr: address, W: []byte{0x00, 0x86}},
		{Addr: address, W: []byte{0x01, 0x2f}},
		{Addr: address, W: []byte{0x02, 0x00}},
		{Addr: address, W: []byte{0x15, 0x30}},
		{Addr: address, W: []byte{0x1c, 0x80}},
		{Addr: address, W: []byte{0x00, 0x96}}, // conversions
		{Addr: address, W: []byte{0x02, 0x04}}, // calibrate
		{Addr: address, W: []byte{0x02}, R: []byte{0x04}},
		{Addr: address, W: []byte{0x02}, R: []byte{0x00}},
		{Addr: address, W: []byte{0x00}, R: []byte{0x9e, 0x2f, 0x00}},
		{Addr: address, W: []byte{0x02, 0x00}}, // first input
	}
	for range settleAfter {
		ops = append(ops, i2ctest.IO{Addr: address, W: []byte{0x00}, R: []byte{0xbe, 0x2f, 0x00}},
			i2ctest.IO{Addr: address, W: []byte{0x12}, R: []byte{0x11, 0x11, 0x11}},
			i2ctest.IO{Addr: address, W: []byte{0x00}, R: []byte{0x9e, 0x2f, 0x00}})
	}
	ops = append(ops, i2ctest.IO{Addr: address, W: []byte{0x00}, R: []byte{0x9e, 0x2f, 0x00}}, // not ready
		i2ctest.IO{Addr: address, W: []byte{0x00}, R: []byte{0xbe, 0x2f, 0x00}},
		i2ctest.IO{Addr: address, W: []byte{0x12}, R: []byte{0xff, 0xff, 0xff}},
		i2ctest.IO{Addr: address, W: []byte{0x00}, R: []byte{0x9e, 0x2f, 0x00}})
	bus := &i2ctest.Playback{DontPanic: true, Ops: ops}
	d := New(&i2c.Dev{Bus: bus, Addr: address}, Settings{Rate: 10}, func(time.Duration) {})
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	if got, err := d.Read(0); err != nil || got != (Reading{Code: -1}) {
		t.Errorf("%+v, %v", got, err)
	}
	if err := bus.Close(); err != nil {
		t.Error(err)
	}
}

// Left in any state by a killed process, the chip gives right counts after Begin, and as well without it.
func TestFirstReadingFromAnyState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newChip(100_000, -200_000)
		for range rapid.IntRange(0, 8).Draw(t, "writes") {
			c.write(rapid.SampledFrom([]int{0, 1, 2, 0x15, 0x1c}).Draw(t, "register"), rapid.Byte().Draw(t, "value"))
			c.sleep(time.Duration(rapid.IntRange(0, 900).Draw(t, "ms")) * time.Millisecond)
		}
		set := Settings{Both: rapid.Bool().Draw(t, "both"), Rate: rapid.SampledFrom([]int{0, 10, 20, 40, 80, 320}).Draw(t, "rate")}
		d := c.dev(set)
		if rapid.Bool().Draw(t, "begin") {
			if err := d.Begin(); err != nil {
				t.Fatal(err)
			}
		}
		for range 3 {
			channel := 0
			if set.Both {
				channel = rapid.IntRange(0, 1).Draw(t, "input")
			}
			if got, err := d.Read(channel); err != nil || got.Code != c.counts[channel] {
				t.Fatalf("input %d: %+v, %v", channel, got, err)
			}
		}
	})
}

// E01, the same for this chip's switch: two readers of its two inputs never get the other's.
func TestE01TwoReadersNeverSwap(t *testing.T) {
	c := newChip(8_000_000, 0)
	d := c.dev(Settings{Both: true, Rate: 320})
	var readers sync.WaitGroup
	for channel, want := range c.counts {
		readers.Go(func() {
			for range 1000 {
				if got, err := d.Read(channel); err != nil || got.Code != want {
					t.Errorf("input %d: %+v, %v, want %d", channel, got, err, want)
					return
				}
			}
		})
	}
	readers.Wait()
}

// D01: whichever transfer of a beginning or a reading fails, it is told as such, without a number, and the next works,
// of either input, at once.
func TestD01AnyTransferMayFail(t *testing.T) {
	for _, used := range []bool{false, true} {
		for _, next := range []int{0, 1} {
			for fail, reached := 1, true; reached; fail++ {
				c := newChip(1000, 2000)
				d := c.dev(Settings{Both: true})
				if used {
					if _, err := d.Read(0); err != nil {
						t.Fatal(err)
					}
				}
				c.fail = fail
				got, err := d.Read(1)
				reached = c.fail <= 0
				if reached && (!errors.Is(err, sensors.ErrNoAnswer) || !errors.Is(err, errNAK) || got != (Reading{})) {
					t.Errorf("transfer %d: %+v, %v", fail, got, err)
				}
				if !reached && fail < 19 {
					t.Errorf("a reading after a change of input took only %d transfers", fail-1)
				}
				c.fail = 0
				if got, err := d.Read(next); err != nil || got.Code != c.counts[next] {
					t.Errorf("after transfer %d failed: input %d: %+v, %v", fail, next, got, err)
				}
			}
		}
	}
}

// Begin may come again at any time, and if it fails half-way the next reading finishes the work.
func TestBeginAgain(t *testing.T) {
	for fail := 0; fail < 40; fail++ {
		c := newChip(1000, 2000)
		d := c.dev(Settings{Both: true})
		if _, err := d.Read(1); err != nil {
			t.Fatal(err)
		}
		c.fail = fail
		err := d.Begin()
		if (err == nil) != (fail == 0 || c.fail > 0) {
			t.Errorf("transfer %d: %v", fail, err)
		}
		c.fail = 0
		if got, err := d.Read(1); err != nil || got.Code != 2000 {
			t.Errorf("transfer %d: afterwards %+v, %v", fail, got, err)
		}
	}
}

// Settings that somebody else changed give no number, and are put right by the next reading.
func TestChangedSettings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newChip(1_000_000, 2_000_000)
		d := c.dev(Settings{Both: true})
		if _, err := d.Read(0); err != nil {
			t.Fatal(err)
		}
		c.write(rapid.IntRange(0, 2).Draw(t, "register"), rapid.Byte().Draw(t, "value"))
		c.sleep(time.Second)
		got, err := d.Read(0)
		if err == nil && got.Code != 1_000_000 || err != nil && (!errors.Is(err, sensors.ErrNotReady) || got != (Reading{})) {
			t.Fatalf("%+v, %v", got, err)
		}
		if got, err := d.Read(0); err != nil || got.Code != 1_000_000 {
			t.Fatalf("afterwards %+v, %v", got, err)
		}
	})
}

// D01: absent at start is told, and there is no number. Each cause has its kind.
func TestD01NoBeginning(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*chip)
		want  error
		words string
	}{
		"absent":              {func(c *chip) { c.gone = true }, sensors.ErrNoAnswer, "no such device"},
		"never up":            {func(c *chip) { c.asleep = true }, sensors.ErrNotReady, "power up"},
		"another chip":        {func(c *chip) { c.revision = 0x60 }, sensors.ErrForeign, "0x60"},
		"calibration fails":   {func(c *chip) { c.crooked = true }, sensors.ErrNotReady, "calibration of its own parts failed"},
		"calibration endless": {func(c *chip) { c.endless = true }, sensors.ErrNotReady, "does not end"},
	} {
		model := newChip(1, 2)
		c.spoil(model)
		d := model.dev(Settings{})
		if err := d.Begin(); !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s: Begin: %v", name, err)
		}
		if got, err := d.Read(0); !errors.Is(err, c.want) || got != (Reading{}) {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
		model.gone, model.asleep, model.crooked, model.endless, model.revision = false, false, false, false, 0x0f
		if got, err := d.Read(0); err != nil || got.Code != 1 {
			t.Errorf("%s, mended: %+v, %v", name, got, err)
		}
	}
}

// Conversions that never come are an error in a bounded time, and the next reading begins the chip anew.
func TestNeverReady(t *testing.T) {
	c := newChip(1, 2)
	d := c.dev(Settings{Rate: 10})
	got, err := d.Read(0)
	c.dead = true
	before := c.now
	for range 2 { // one may have been there already
		if err == nil {
			got, err = d.Read(0)
		}
	}
	if !errors.Is(err, sensors.ErrNotReady) || got != (Reading{}) || c.now-before > 8*time.Second {
		t.Errorf("%+v, %v in %v", got, err, c.now-before)
	}
	if got, err := d.Read(0); err != nil || got.Code != 1 {
		t.Errorf("afterwards %+v, %v", got, err)
	}
}

// A supply that dips at any moment gives no number at another gain, of another input, or uncalibrated.
func TestResetAtAnyMoment(t *testing.T) {
	for at, reached := 1, true; reached; at++ {
		c := newChip(1_000_000, 2_000_000)
		d := c.dev(Settings{Both: true})
		if _, err := d.Read(0); err != nil {
			t.Fatal(err)
		}
		c.reset = at
		got, err := d.Read(1)
		reached, c.reset = c.reset <= 0, 0
		if err == nil && got.Code != 2_000_000 || err != nil && (!errors.Is(err, sensors.ErrNotReady) || got != (Reading{})) {
			t.Errorf("reset before transfer %d: %+v, %v", at, got, err)
		}
		if got, err := d.Read(1); err == nil && got.Code != 2_000_000 {
			t.Errorf("reset before transfer %d, next: %+v", at, got)
		}
		if got, err := d.Read(1); err != nil || got.Code != 2_000_000 {
			t.Errorf("reset before transfer %d, afterwards: %+v, %v", at, got, err)
		}
	}
}

// B01: the ends of the range are no weight, through the whole driver.
func TestB01SaturatedIsNoWeight(t *testing.T) {
	for code, want := range map[int32]string{highest: "saturated high", lowest: "saturated low"} {
		got, err := newChip(code, 0).dev(Settings{}).Read(0)
		if !errors.Is(err, sensors.ErrSaturated) || !strings.Contains(err.Error(), want) || got != (Reading{}) {
			t.Errorf("%d: %+v, %v, want %s", code, got, err, want)
		}
	}
}

// What cannot be asked for is refused before anything is sent.
func TestImpossibleSettings(t *testing.T) {
	for _, c := range []struct {
		set     Settings
		channel int
	}{
		{Settings{}, 1}, {Settings{}, -1}, {Settings{Both: true}, 2},
		{Settings{Rate: 100}, 0}, {Settings{Rate: -10}, 0},
		{Settings{LDO: 5}, 0}, {Settings{LDO: 2.1}, 0}, {Settings{LDO: 3.1}, 0}, {Settings{LDO: -3}, 0},
	} {
		model := newChip(1, 1)
		got, err := model.dev(c.set).Read(c.channel)
		if err == nil || got != (Reading{}) || model.transfers != 0 {
			t.Errorf("%+v, input %d: %+v, %v after %d transfers", c.set, c.channel, got, err, model.transfers)
		}
	}
}
