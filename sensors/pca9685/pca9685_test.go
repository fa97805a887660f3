package pca9685

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"periph.io/x/conn/v3"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"fullery/sensors"
)

// The traffic byte for byte: all off comes before anything else.
func TestTraffic(t *testing.T) {
	bus := &i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		{Addr: address, W: []byte{0xfd, 0x10}}, // all off
		{Addr: address, W: []byte{0x01, 0x04}}, // MODE2: totem pole
		{Addr: address, W: []byte{0xfd, 0x10}}, // off again, now that it heeds for sure
		{Addr: address, W: []byte{0x00, 0x30}}, // MODE1: sleep
		{Addr: address, W: []byte{0xfe, 0x05}}, // 25 MHz / 4096 / 1000 Hz − 1
		{Addr: address, W: []byte{0x00, 0x20}}, // wake
		{Addr: address, W: []byte{0x00, 0xa0}}, // restart
		{Addr: address, W: []byte{0x00}, R: []byte{0x20}},
		{Addr: address, W: []byte{0x01}, R: []byte{0x04}},
		{Addr: address, W: []byte{0xfe}, R: []byte{0x05}},
		{Addr: address, W: []byte{0x06}, R: bytes.Repeat([]byte{0, 0, 0, 0x10}, 16)},
		{Addr: address, W: []byte{0x06, 0, 0, 0, 8}},    // channel 0, half
		{Addr: address, W: []byte{0x42, 0, 0x10, 0, 0}}, // channel 15, on
		{Addr: address, W: []byte{0x42, 0, 0, 0, 0x10}}, // channel 15, off
		{Addr: address, W: []byte{0xfd, 0x10}},
	}}
	var slept []time.Duration
	d := New(&i2c.Dev{Bus: bus, Addr: address}, func(s time.Duration) { slept = append(slept, s) })
	for i, err := range []error{d.Begin(1000), d.Set(0, 0.5), d.Set(15, 1), d.Set(15, 0), d.AllOff()} {
		if err != nil {
			t.Errorf("step %d: %v", i, err)
		}
	}
	if want := []time.Duration{wakes}; !cmp.Equal(slept, want) {
		t.Errorf("slept %v, want %v", slept, want)
	}
	if err := bus.Close(); err != nil {
		t.Error(err)
	}
}

// From any registers that an earlier program left, everything is off from the first transfer, or at the latest from
// the third, when an inversion and a change on acknowledge have been taken back, and stays off; then each channel does as told.
func TestBeginFromAnyState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newChip()
		for at := range 70 {
			c.reg[at] = rapid.Byte().Draw(t, "register")
		}
		c.reg[0] &^= externalClock
		c.reg[0xFE] = rapid.ByteRange(3, 255).Draw(t, "prescale")
		d := c.dev()
		// The model notes what is driven after each transfer; the first ones are let pass.
		d.c = &watched{Conn: d.c, c: c, from: 3}
		if err := d.Begin(1000); err != nil {
			t.Fatal(err)
		}
		if c.everDriven {
			t.Fatal("something was on while beginning")
		}
		want := rapid.SliceOfN(rapid.Float64Range(0, 1), Channels, Channels).Draw(t, "duties")
		for channel, duty := range want {
			if err := d.Set(channel, duty); err != nil {
				t.Fatal(err)
			}
		}
		for channel, duty := range want {
			if got := c.duty(channel); math.Abs(got-duty) > 0.5/4096+1e-12 {
				t.Fatalf("channel %d: %g, want %g", channel, got, duty)
			}
		}
		if err := d.AllOff(); err != nil {
			t.Fatal(err)
		}
		for channel := range Channels {
			if got := c.duty(channel); got != 0 {
				t.Fatalf("channel %d is at %g after all off", channel, got)
			}
		}
	})
}

// watched forgets what was driven during the first few transfers.
type watched struct {
	conn.Conn
	c    *chip
	from int
}

func (w *watched) Tx(out, in []byte) error {
	err := w.Conn.Tx(out, in)
	if w.from > 0 {
		w.from--
		w.c.everDriven = false
	}
	return err
}

// A dip of the supply is found, also at the frequency that the chip has after power-on, and what was on can be set again
// only after a new beginning.
func TestCheckFindsABrownOut(t *testing.T) {
	for _, frequency := range []float64{200, 1000} {
		c := newChip()
		d := c.dev()
		if err := errors.Join(d.Begin(frequency), d.Set(3, 1), d.Check(), d.Check()); err != nil {
			t.Fatal(err)
		}
		c.reset()
		if err := d.Check(); !errors.Is(err, ErrReset) || !strings.Contains(err.Error(), "supply") {
			t.Errorf("%g Hz: %v", frequency, err)
		}
		if err := d.Set(3, 1); !errors.Is(err, ErrReset) || c.duty(3) != 0 {
			t.Errorf("set without a new beginning: %v, duty %g", err, c.duty(3))
		}
		if err := d.Check(); !errors.Is(err, ErrReset) {
			t.Errorf("second check: %v", err)
		}
		if err := errors.Join(d.Begin(frequency), d.Check()); err != nil || c.duty(3) != 0 {
			t.Errorf("new beginning: %v, duty %g", err, c.duty(3))
		}
		if err := d.Set(3, 1); err != nil || c.duty(3) != 1 {
			t.Errorf("%v, duty %g", err, c.duty(3))
		}
	}
}

// Whatever register somebody else changes, Check tells.
func TestCheckFindsEachChange(t *testing.T) {
	for at, value := range map[byte]byte{0x00: 0x30, 0x01: 0x14, 0xFE: 0x06} {
		c := newChip()
		d := c.dev()
		if err := d.Begin(1000); err != nil {
			t.Fatal(err)
		}
		c.reg[at] = value
		if err := d.Check(); !errors.Is(err, ErrReset) {
			t.Errorf("register %02X: %v", at, err)
		}
	}
}

// D01: whichever transfer fails, it is told, and the next call works by itself.
func TestD01AnyTransferMayFail(t *testing.T) {
	for _, fail := range []int{2, 4, 5, 6, 7, 8, 9, 10, 11} { // 1 and 3 are all off, which is tried again
		c := newChip()
		d := c.dev()
		c.fail = fail
		if err := d.Begin(1000); !errors.Is(err, sensors.ErrNoAnswer) || !errors.Is(err, errNAK) {
			t.Errorf("transfer %d: %v", fail, err)
		}
		if err := d.Set(1, 1); !errors.Is(err, ErrReset) {
			t.Errorf("set after a failed beginning: %v", err)
		}
		if err := errors.Join(d.Begin(1000), d.Set(1, 1)); err != nil || c.duty(1) != 1 {
			t.Errorf("afterwards: %v", err)
		}
		c.fail = fail // a second beginning that fails takes back what the first one allowed
		if err := errors.Join(d.Begin(1000), d.Set(1, 1)); !errors.Is(err, ErrReset) || c.duty(1) > 0 {
			t.Errorf("set after a failed second beginning: %v, duty %g", err, c.duty(1))
		}
		if err := errors.Join(d.Begin(1000), d.Set(1, 1)); err != nil {
			t.Error(err)
		}
		c.fail = 1
		if err := d.Set(1, 0); !errors.Is(err, sensors.ErrNoAnswer) {
			t.Errorf("set: %v", err)
		}
		c.fail = 2
		if err := d.Check(); !errors.Is(err, sensors.ErrNoAnswer) {
			t.Errorf("check: %v", err)
		}
		if err := errors.Join(d.Check(), d.Set(1, 0)); err != nil || c.duty(1) != 0 {
			t.Errorf("afterwards: %v", err)
		}
	}
}

// D01: a single bad transfer does not keep the outputs on; a chip that is gone is told, after a bounded number of tries.
func TestD01AllOffTriesAgain(t *testing.T) {
	c := newChip()
	d := c.dev()
	if err := errors.Join(d.Begin(1000), d.Set(7, 0.7)); err != nil {
		t.Fatal(err)
	}
	c.fail = 1
	if err := d.AllOff(); err != nil || c.duty(7) != 0 {
		t.Errorf("%v, duty %g", err, c.duty(7))
	}
	c.gone = true
	before := c.transfers
	if err := d.AllOff(); !errors.Is(err, sensors.ErrNoAnswer) || !strings.Contains(err.Error(), "may still be on") {
		t.Error(err)
	}
	if c.transfers-before != offTries {
		t.Errorf("%d tries", c.transfers-before)
	}
	if err := d.Begin(1000); !errors.Is(err, sensors.ErrNoAnswer) {
		t.Errorf("absent at start: %v", err)
	}
}

// What does not keep its settings is not this chip; one on an external clock is told as such.
func TestForeign(t *testing.T) {
	c := newChip()
	c.foreign = true
	if err := c.dev().Begin(1000); !errors.Is(err, sensors.ErrForeign) {
		t.Error(err)
	}
	c = newChip()
	c.reg[9], c.deaf = 0, true // channel 0 is not off
	if err := c.dev().Begin(1000); !errors.Is(err, sensors.ErrForeign) || !strings.Contains(err.Error(), "channel 0") {
		t.Error(err)
	}
	c = newChip()
	c.reg[0] |= externalClock
	d := c.dev()
	if err := d.Begin(1000); !errors.Is(err, sensors.ErrForeign) || !strings.Contains(err.Error(), "external clock") {
		t.Error(err)
	}
	if err := d.Set(0, 1); err == nil {
		t.Error("set on a chip that was refused")
	}
}

// What cannot be is refused, and nothing is sent; a beginning switches off nevertheless.
func TestImpossible(t *testing.T) {
	c := newChip()
	d := c.dev()
	if err := errors.Join(d.Begin(1000), d.Set(5, 0.25)); err != nil {
		t.Fatal(err)
	}
	before := c.transfers
	for _, s := range []struct {
		channel int
		duty    float64
	}{{-1, 0}, {16, 0}, {5, -0.01}, {5, 1.01}, {5, math.NaN()}, {5, math.Inf(1)}} {
		if err := d.Set(s.channel, s.duty); err == nil {
			t.Errorf("%+v was taken", s)
		}
	}
	if c.transfers != before || c.duty(5) != 0.25 {
		t.Errorf("%d transfers, duty %g", c.transfers-before, c.duty(5))
	}
	for _, frequency := range []float64{0, -50, 23, 1800, math.NaN(), math.Inf(1)} {
		d.begun = true
		_ = d.Set(5, 0.25)
		if err := d.Begin(frequency); err == nil || c.duty(5) != 0 {
			t.Errorf("%g Hz: %v, duty %g", frequency, err, c.duty(5))
		}
	}
	if err := New(&i2c.Dev{Bus: c, Addr: address}, noSleep).Check(); !errors.Is(err, ErrReset) {
		t.Errorf("check before a beginning: %v", err)
	}
}

// A stop from another goroutine may come at any time.
func TestAllOffFromElsewhere(t *testing.T) {
	c := newChip()
	d := c.dev()
	if err := d.Begin(1000); err != nil {
		t.Fatal(err)
	}
	var both sync.WaitGroup
	both.Go(func() {
		for i := range 200 {
			if err := d.Set(i%Channels, 0.5); err != nil {
				t.Error(err)
			}
		}
	})
	both.Go(func() {
		for range 200 {
			if err := d.AllOff(); err != nil {
				t.Error(err)
			}
		}
	})
	both.Wait()
}
