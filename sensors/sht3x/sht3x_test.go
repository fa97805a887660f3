package sht3x

import (
	"errors"
	"math"
	"testing"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"fullery/sensors"
)

// op is one transfer with the chip at 0x44.
func op(w, r []byte) i2ctest.IO { return i2ctest.IO{Addr: 0x44, W: w, R: r} }

var (
	begins = []i2ctest.IO{op([]byte{0x30, 0x93}, nil), op([]byte{0x30, 0xA2}, nil), op([]byte{0x30, 0x66}, nil),
		op([]byte{0xF3, 0x2D}, nil), op(nil, []byte{0x80, 0x10, 0xE1})}
	good = reads([]byte{0x66, 0x66, 0x93, 0x66, 0x66, 0x93})
	bad  = reads([]byte{0x66, 0x66, 0x93, 0x66, 0x66, 0x94})[:2] // the status is not asked for then
)

func reads(frame []byte) []i2ctest.IO {
	return []i2ctest.IO{op([]byte{0x24, 0x00}, nil), op(nil, frame), op([]byte{0xF3, 0x2D}, nil), op(nil, []byte{0x80, 0x10, 0xE1})}
}

// playback is a bus on which exactly these transfers happen.
func playback(t *testing.T, parts ...[]i2ctest.IO) *Dev {
	t.Helper()
	bus := &i2ctest.Playback{DontPanic: true}
	for _, p := range parts {
		bus.Ops = append(bus.Ops, p...)
	}
	t.Cleanup(func() {
		if err := bus.Close(); err != nil {
			t.Error(err)
		}
	})
	return New(&i2c.Dev{Bus: bus, Addr: 0x44}, func(time.Duration) {})
}

func is25and40(t *testing.T, r Reading, err error) {
	t.Helper()
	if err != nil || math.Abs(r.Temperature-298.15) > 1e-9 || math.Abs(r.Humidity-0.4) > 1e-12 || r.RawTemperature != 0x6666 ||
		r.RawHumidity != 0x6666 || r.Saturated {
		t.Errorf("%+v, %v", r, err)
	}
}

func TestTraffic(t *testing.T) {
	d := playback(t, begins, good, good,
		[]i2ctest.IO{op([]byte{0x36, 0x82}, nil), op(nil, []byte{0xBE, 0xEF, 0x92, 0x66, 0x66, 0x93})})
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		r, err := d.Read()
		is25and40(t, r, err)
	}
	if n, err := d.Serial(); n != 0xBEEF6666 || err != nil {
		t.Errorf("%08X, %v", n, err)
	}
}

// Case C01: bad, good, good recovers at once.
func TestC01BadGoodGood(t *testing.T) {
	d := playback(t, begins, bad, begins, good, good)
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	if r, err := d.Read(); !errors.Is(err, sensors.ErrChecksum) || r != (Reading{}) {
		t.Errorf("%+v, %v", r, err)
	}
	for range 2 {
		r, err := d.Read()
		is25and40(t, r, err)
	}
}

func healthy() *model { return &model{t: 0x6666, h: 0x6666, number: 0x12345678} }

// Case C02: Begin commands the heater off and looks whether it is.
func TestC02HeaterLeftOn(t *testing.T) {
	m := healthy()
	m.heater = true
	d := m.dev()
	if err := d.Begin(); err != nil || m.heater {
		t.Errorf("heater %v, %v", m.heater, err)
	}
	r, err := d.Read()
	is25and40(t, r, err)
}

// Case C02: a heater that is on without our command spoils every reading; when it can be switched off, the next Read
// does so.
func TestC02HeaterOnWithoutOurCommand(t *testing.T) {
	m := healthy()
	d := m.dev()
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	m.heater = true // another program's doing
	if r, err := d.Read(); !errors.Is(err, sensors.ErrRange) || !sensors.Disbelieved(err) || r != (Reading{}) {
		t.Errorf("%+v, %v", r, err)
	}
	r, err := d.Read()
	is25and40(t, r, err)

	m.heater, m.burned = true, true
	for range 4 {
		if r, err := d.Read(); !errors.Is(err, sensors.ErrRange) || r != (Reading{}) {
			t.Errorf("burned: %+v, %v", r, err)
		}
	}
	if err := m.dev().Begin(); !errors.Is(err, sensors.ErrRange) {
		t.Errorf("burned: %v", err)
	}
}

// Case C04: a frozen chip reads like a live one; its raw codes are what a Watch finds it by.
func TestC04FrozenShowsInTheRawCodes(t *testing.T) {
	m := healthy()
	d := m.dev()
	w := sensors.Watch{Limits: sensors.Climate(0, 65535)}
	w.Moved()
	for i := 1; ; i++ {
		r, err := d.Read()
		if err != nil {
			t.Fatal(err)
		}
		if w.Judge(float64(r.RawTemperature), time.Duration(i)*2500*time.Millisecond) == sensors.Stuck {
			if i < 60 {
				t.Errorf("stuck after %d", i)
			}
			return
		}
		if i > 60 {
			t.Fatal("never stuck")
		}
	}
}

// Case C05: left in the periodic mode by an earlier program, and refusing its first commands.
func TestC05AnyEarlierState(t *testing.T) {
	for refused := range 5 {
		m := healthy()
		m.periodic, m.heater, m.refuse, m.busy = true, true, refused, 14*time.Millisecond
		d := m.dev()
		if err := d.Begin(); err != nil || m.now > 2*time.Second {
			t.Errorf("%d refused: after %v: %v", refused, m.now, err)
		}
		r, err := d.Read()
		is25and40(t, r, err)
	}
}

// Case C05: a chip that never answers is a clear error after a bounded number of tries, and works again once it does.
func TestC05NeverAnswers(t *testing.T) {
	m := healthy()
	m.fails = func(int) bool { return true }
	d := m.dev()
	if err := d.Begin(); !errors.Is(err, sensors.ErrNoAnswer) || sensors.Disbelieved(err) {
		t.Error(err)
	}
	if m.transfers > 10 || m.now > 2*time.Second {
		t.Errorf("%d transfers in %v", m.transfers, m.now)
	}
	before := m.transfers
	if r, err := d.Read(); !errors.Is(err, sensors.ErrNoAnswer) || r != (Reading{}) || m.transfers > before+2 {
		t.Errorf("%+v, %v, %d transfers", r, err, m.transfers-before)
	}
	if n, err := d.Serial(); !errors.Is(err, sensors.ErrNoAnswer) || n != 0 {
		t.Errorf("%08X, %v", n, err)
	}
	m.fails = nil
	r, err := d.Read()
	is25and40(t, r, err)
}

// Case D01: any single transfer may fail; the reading fails with it or not, the next one is good.
func TestD01OneBadTransfer(t *testing.T) {
	whole := healthy()
	d := whole.dev()
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	begun := whole.transfers
	if _, err := d.Read(); err != nil {
		t.Fatal(err)
	}
	for k := range whole.transfers {
		m := healthy()
		m.fails = func(n int) bool { return n == k }
		d := m.dev()
		if err := d.Begin(); err != nil {
			t.Errorf("transfer %d: %v", k, err)
		}
		if r, err := d.Read(); k >= begun && err != nil {
			if !errors.Is(err, sensors.ErrNoAnswer) || r != (Reading{}) {
				t.Errorf("transfer %d: %+v, %v", k, r, err)
			}
		} else {
			is25and40(t, r, err)
		}
		r, err := d.Read()
		is25and40(t, r, err)
	}
}

// Case D01: one of 50 transfers fails.
func TestD01OneOfFifty(t *testing.T) {
	m := healthy()
	m.fails = func(n int) bool { return n%50 == 49 }
	d, failed, last := m.dev(), 0, false
	for i := range 500 {
		r, err := d.Read()
		if err == nil {
			is25and40(t, r, err)
			last = false
			continue
		}
		if failed++; last || r != (Reading{}) {
			t.Fatalf("reading %d: two failures in a row, or a value: %+v, %v", i, r, err)
		}
		last = true
	}
	if failed == 0 || failed > 50 {
		t.Errorf("%d of 500 failed", failed)
	}
}

// Case D01: unplugged for a while; meanwhile each Read is short, so that the chips beside it are not held up.
func TestD01UnpluggedAndBack(t *testing.T) {
	m := healthy()
	d := m.dev()
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	m.fails = func(int) bool { return true }
	for range 10 {
		before, then := m.transfers, m.now
		r, err := d.Read()
		if !errors.Is(err, sensors.ErrNoAnswer) || r != (Reading{}) || m.transfers > before+2 || m.now > then+5*time.Millisecond {
			t.Errorf("%+v, %v after %d transfers and %v", r, err, m.transfers-before, m.now-then)
		}
	}
	m.fails = nil
	r, err := d.Read()
	is25and40(t, r, err)
}

func TestNeverFinishes(t *testing.T) {
	m := healthy()
	d := m.dev()
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	m.slow = time.Second
	before := m.transfers
	r, err := d.Read()
	if !errors.Is(err, sensors.ErrNotReady) || errors.Is(err, sensors.ErrNoAnswer) || r != (Reading{}) || m.transfers > before+4 {
		t.Errorf("%+v, %v after %d transfers", r, err, m.transfers-before)
	}
	m.slow = 0
	m.now += time.Second
	r, err = d.Read()
	is25and40(t, r, err)

	m.slow = 4 * time.Millisecond // late, but within the tries
	r, err = d.Read()
	is25and40(t, r, err)
}

func TestSerial(t *testing.T) {
	m := healthy()
	d := m.dev()
	if n, err := d.Serial(); n != 0x12345678 || err != nil { // begins by itself
		t.Errorf("%08X, %v", n, err)
	}
	m.oneAlone = true
	if n, err := d.Serial(); n != 0x12345678 || err != nil {
		t.Errorf("the other command: %08X, %v", n, err)
	}
	m.corrupt = 2
	if n, err := d.Serial(); !errors.Is(err, sensors.ErrChecksum) && !errors.Is(err, sensors.ErrNoAnswer) || n != 0 {
		t.Errorf("damaged: %08X, %v", n, err)
	}
	m.corrupt = 0
	if n, err := d.Serial(); n != 0x12345678 || err != nil {
		t.Errorf("%08X, %v", n, err)
	}
}

// Whatever happens to the chip, a reading that comes without an error is what the chip measured, and once the trouble is
// over the second Read at the latest gives one.
func TestTroubleProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := healthy()
		d := m.dev()
		for range rapid.IntRange(1, 20).Draw(t, "steps") {
			m.t = rapid.Uint16Range(1873, 63662).Draw(t, "temperature")
			m.h = rapid.Uint16().Draw(t, "humidity")
			switch rapid.IntRange(0, 6).Draw(t, "trouble") {
			case 1:
				m.refuse = rapid.IntRange(1, 8).Draw(t, "refused")
			case 2:
				m.corrupt = rapid.IntRange(1, 3).Draw(t, "damaged")
			case 3:
				m.periodic = true
			case 4:
				m.heater = true
			case 5:
				m.busy = m.now + time.Duration(rapid.IntRange(1, 40).Draw(t, "busy"))*time.Millisecond
			}
			believed := func() bool {
				r, err := d.Read()
				if err == nil && (r.RawTemperature != m.t || r.RawHumidity != m.h || m.heater) || err != nil && r != (Reading{}) {
					t.Fatalf("%+v, %v", r, err)
				}
				return err == nil
			}
			believed()
			m.refuse, m.corrupt, m.busy = 0, 0, 0
			for tries := 1; !believed(); tries++ {
				if tries == 2 {
					t.Fatalf("does not recover")
				}
			}
		}
	})
}
