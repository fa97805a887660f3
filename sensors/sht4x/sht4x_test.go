package sht4x

import (
	"errors"
	"testing"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"fullery/sensors"
)

// good reads and wants 25 °C and 40 %.
func good(t *testing.T, d *Dev) {
	t.Helper()
	r, err := d.Read()
	if err != nil || !near(r.Temperature, 298.15, 1e-9) || !near(r.Humidity, 0.4, 1e-5) || r.Saturated {
		t.Fatalf("%+v, %v", r, err)
	}
}

// bad reads and wants an error of a kind and nothing beside it.
func bad(t *testing.T, d *Dev, kind error) {
	t.Helper()
	if r, err := d.Read(); !errors.Is(err, kind) || r != (Reading{}) {
		t.Fatalf("%+v, %v; want %v", r, err, kind)
	}
}

func begin(t *testing.T, c *chip) *Dev {
	t.Helper()
	d := c.dev()
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	return d
}

// The whole conversation, byte for byte: reset and serial number; then a measurement; the serial number again.
func TestTraffic(t *testing.T) {
	number := i2ctest.IO{Addr: 0x45, R: []byte{0xBE, 0xEF, 0x92, 0x66, 0x66, 0x93}}
	bus := i2ctest.Playback{DontPanic: true, Ops: []i2ctest.IO{
		{Addr: 0x45, W: []byte{0x94}},
		{Addr: 0x45, W: []byte{0x89}}, number,
		{Addr: 0x45, W: []byte{0xFD}}, {Addr: 0x45, R: words(warm, moist)},
		{Addr: 0x45, W: []byte{0x89}}, number,
	}}
	d := New(&i2c.Dev{Bus: &bus, Addr: 0x45}, func(time.Duration) {})
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	good(t, d)
	if n, err := d.Serial(); n != 0xBEEF6666 || err != nil {
		t.Errorf("%08X, %v", n, err)
	}
	if err := bus.Close(); err != nil {
		t.Error(err)
	}
}

func TestReadWithoutBegin(t *testing.T) { good(t, newChip().dev()) }

// C01: bad, good, good recovers at once, and any number of bad ones leaves no trace.
func TestC01RecoversAtOnce(t *testing.T) {
	c := newChip()
	d := begin(t, c)
	c.flips = []int{0, -1, -1, 47, 8, 16, 24, 40}
	bad(t, d, sensors.ErrChecksum)
	good(t, d)
	good(t, d)
	for range 5 {
		bad(t, d, sensors.ErrChecksum)
	}
	good(t, d)
}

// C02 and C05: a burst of heat, in which the chip may refuse everything, is outlasted, within 2 s.
func TestC02BurstOfHeatIsOutlasted(t *testing.T) {
	c := newChip()
	c.ready = 1100 * time.Millisecond // the longest burst, with the part's tolerance (data sheet, section 4.8, from memory)
	d := begin(t, c)
	if c.now > 2*time.Second {
		t.Errorf("took %v", c.now)
	}
	good(t, d)
}

// C05: whatever refuses at first, Begin gets through.
func TestC05RefusesAtFirst(t *testing.T) {
	for n := range 6 {
		c := newChip()
		c.refuse = n
		good(t, begin(t, c))
	}
	c := newChip()
	c.ready, c.answer = 8*time.Millisecond, words(1, 2) // in the midst of a measurement
	good(t, begin(t, c))
}

func TestC05NeverAnswers(t *testing.T) {
	c := newChip()
	c.gone = true
	d := c.dev()
	err := d.Begin()
	if !errors.Is(err, sensors.ErrNoAnswer) || !errors.Is(err, errRemote) {
		t.Errorf("%v", err)
	}
	if c.now > 2*time.Second || c.transfers > 20 {
		t.Errorf("gave up after %v and %d transfers", c.now, c.transfers)
	}
	if n, err := d.Serial(); n != 0 || !errors.Is(err, sensors.ErrNoAnswer) {
		t.Errorf("%d, %v", n, err)
	}
}

// A chip that takes the bytes and has no serial number, or a damaged one, is not believed.
func TestBeginWantsASerialNumber(t *testing.T) {
	c := newChip()
	c.foreign = true
	if err := c.dev().Begin(); !errors.Is(err, sensors.ErrNoAnswer) {
		t.Errorf("SHT3x: %v", err)
	}
	c = newChip()
	c.flipNumber = true
	if err := c.dev().Begin(); !errors.Is(err, sensors.ErrChecksum) {
		t.Errorf("damaged: %v", err)
	}
}

func TestSerial(t *testing.T) {
	c := newChip()
	d := begin(t, c)
	if n, err := d.Serial(); n != 0x12345678 || err != nil {
		t.Errorf("%08X, %v", n, err)
	}
	c.flipNumber = true
	if n, err := d.Serial(); n != 0 || !errors.Is(err, sensors.ErrChecksum) {
		t.Errorf("damaged: %08X, %v", n, err)
	}
	c.flipNumber = false
	if n, err := d.Serial(); n != 0x12345678 || err != nil {
		t.Errorf("after the damage: %08X, %v", n, err)
	}
	good(t, d)
}

// D01: single failures lose one reading each and no other.
func TestD01OneTransferInFifty(t *testing.T) {
	c := newChip()
	d := begin(t, c)
	lost := 0
	for i := range 200 {
		if i%25 == 6 { // two transfers a reading
			c.refuse = 1
		}
		if r, err := d.Read(); err != nil {
			lost++
			if !errors.Is(err, sensors.ErrNoAnswer) || r != (Reading{}) {
				t.Fatalf("%+v, %v", r, err)
			}
		}
	}
	if want := 8; lost != want {
		t.Errorf("%d readings lost of 200, want %d", lost, want)
	}
}

// D01: a chip that is unplugged and comes back reads again without another Begin, and in between each Read is short.
func TestD01UnpluggedAndBack(t *testing.T) {
	c := newChip()
	d := begin(t, c)
	c.gone = true
	for range 10 {
		before := c.transfers
		bad(t, d, sensors.ErrNoAnswer)
		if n := c.transfers - before; n > 4 {
			t.Errorf("%d transfers to a chip that is gone", n)
		}
	}
	c.gone = false
	good(t, d)
}

// C04: a frozen chip reads like a live one; its raw codes are what a Watch finds it by.
func TestC04FrozenShowsInTheRawCodes(t *testing.T) {
	d := begin(t, newChip())
	w := sensors.Watch{Limits: sensors.Climate(0, 65535)}
	var verdict sensors.Verdict
	for i := range 61 {
		r, err := d.Read()
		if err != nil {
			t.Fatal(err)
		}
		verdict = w.Judge(float64(r.RawHumidity), time.Duration(i)*2*time.Second)
		if i < 59 && verdict != sensors.Plausible {
			t.Fatalf("reading %d: %v", i, verdict)
		}
	}
	if verdict != sensors.Stuck {
		t.Error(verdict)
	}
}

func TestNotReady(t *testing.T) {
	c := newChip()
	d := begin(t, c)
	c.unfinished = true
	before := c.transfers
	bad(t, d, sensors.ErrNotReady)
	if n := c.transfers - before; n > 5 {
		t.Errorf("asked %d times", n)
	}
	c.unfinished = false
	good(t, d)
}

// Whatever the bus does, there is never a number beside an error, every error is of a kind, every number is the chip's,
// and the next Read after an error works.
func TestAnyTrouble(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := newChip()
		d := c.dev()
		for range rapid.IntRange(1, 12).Draw(rt, "reads") {
			c.gone, c.foreign = rapid.Bool().Draw(rt, "gone"), rapid.Bool().Draw(rt, "foreign")
			c.refuse = rapid.IntRange(0, 8).Draw(rt, "refuse")
			c.unfinished, c.flipNumber = rapid.Bool().Draw(rt, "unfinished"), rapid.Bool().Draw(rt, "number")
			c.flips = []int{rapid.IntRange(-1, 47).Draw(rt, "flip")}
			r, err := d.Read()
			if err == nil && (r.RawTemperature != warm || r.RawHumidity != moist) || err != nil && r != (Reading{}) {
				rt.Fatalf("%+v, %v", r, err)
			}
			if err != nil && !ofAKind(err) {
				rt.Fatalf("an error of no kind: %v", err)
			}
		}
		c.gone, c.foreign, c.refuse, c.unfinished, c.flipNumber, c.flips = false, false, 0, false, false, nil
		if _, err := d.Read(); err != nil {
			rt.Fatalf("the trouble is over, and: %v", err)
		}
	})
}

func ofAKind(err error) bool {
	for _, kind := range []error{sensors.ErrNoAnswer, sensors.ErrNotReady, sensors.ErrChecksum, sensors.ErrRange} {
		if errors.Is(err, kind) {
			return true
		}
	}
	return false
}
