package tmp102

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

// op is one transfer with the chip at 0x48.
func op(w, r []byte) i2ctest.IO { return i2ctest.IO{Addr: 0x48, W: w, R: r} }

func is(t *testing.T, celsius float64, r Reading, err error) {
	t.Helper()
	if err != nil || math.Abs(r.Temperature-273.15-celsius) > 1e-9 {
		t.Errorf("%+v, %v", r, err)
	}
}

func TestTraffic(t *testing.T) {
	for _, c := range []struct {
		kind Kind
		ops  []i2ctest.IO
	}{
		{TMP102, []i2ctest.IO{op([]byte{1, 0x61, 0xC0}, nil), op([]byte{1, 0x60, 0xC0}, nil), op([]byte{1}, []byte{0xE0, 0xE0}),
			op([]byte{0}, []byte{0xE7, 0x00}), op([]byte{1}, []byte{0x60, 0xC0})}},
		{LM75, []i2ctest.IO{op([]byte{1, 0x09}, nil), op([]byte{1, 0x08}, nil), op([]byte{1}, []byte{0x08}),
			op([]byte{0}, []byte{0xE7, 0x2A}), op([]byte{1}, []byte{0x08})}},
	} {
		bus := &i2ctest.Playback{Ops: c.ops, DontPanic: true}
		var slept time.Duration
		d := New(&i2c.Dev{Bus: bus, Addr: 0x48}, c.kind, func(d time.Duration) { slept += d })
		if err := d.Begin(); err != nil {
			t.Errorf("%v: %v", c.kind, err)
		}
		if slept == 0 {
			t.Errorf("%v: does not wait for the first conversion", c.kind)
		}
		r, err := d.Read()
		is(t, -25, r, err)
		if err := bus.Close(); err != nil {
			t.Errorf("%v: %v", c.kind, err)
		}
	}
}

var kinds = []Kind{TMP102, LM75}

// warm and cold are 25 °C and −25 °C in either format.
const warm, cold = 0x1900, 0xE700

// Case C05: asleep, converting every four seconds, in the extended mode, just switched on, refusing its first commands;
// the first reading is of now and not what the register held.
func TestC05AnyEarlierState(t *testing.T) {
	for _, k := range kinds {
		for _, set := range [][2]byte{{0x61, 0xC0}, {0x60, 0x00}, {0x60, 0xB0}, {0xFF, 0xF0}, {0x60, 0xA0}, {0x01, 0}, {0x1E, 0}} {
			for refused := range 5 {
				m := newModel(k, warm)
				m.value, m.set, m.done, m.refuse = cold, set, m.now+4*time.Second, refused
				if k == LM75 {
					m.set[0] &= 0x1F
					m.done = m.now + m.takes()
				}
				d := m.dev()
				if err := d.Begin(); err != nil || m.now > 2*time.Second {
					t.Errorf("%v % X, %d refused: after %v: %v", k, set, refused, m.now, err)
				}
				r, err := d.Read()
				is(t, 25, r, err)
			}
		}
	}
}

// Case C05: a chip that never answers is a clear error after a bounded number of tries, and works again once it does.
func TestC05NeverAnswers(t *testing.T) {
	for _, k := range kinds {
		m := newModel(k, warm)
		m.fails = func(int) bool { return true }
		d := m.dev()
		if err := d.Begin(); !errors.Is(err, sensors.ErrNoAnswer) || sensors.Disbelieved(err) || m.transfers > 5 || m.now > 2*time.Second {
			t.Errorf("%v: %v; %d transfers in %v", k, err, m.transfers, m.now)
		}
		before := m.transfers
		if r, err := d.Read(); !errors.Is(err, sensors.ErrNoAnswer) || r != (Reading{}) || m.transfers > before+1 {
			t.Errorf("%v: %+v, %v", k, r, err)
		}
		m.fails = nil
		r, err := d.Read()
		is(t, 25, r, err)
	}
}

// A supply that fails for a moment makes 0 °C of any temperature. It is not taken for one: not the reading in which it
// shows, and not the next, which waits for a conversion.
func TestSupplyFails(t *testing.T) {
	for _, k := range kinds {
		m := newModel(k, warm)
		d := m.dev()
		if err := d.Begin(); err != nil {
			t.Fatal(err)
		}
		m.power()
		if r, err := d.Read(); !errors.Is(err, sensors.ErrNotReady) || r != (Reading{}) {
			t.Errorf("%v: %+v, %v", k, r, err)
		}
		r, err := d.Read()
		is(t, 25, r, err)
	}
}

// Another program puts the chip to sleep: it would give its last value for ever.
func TestPutToSleep(t *testing.T) {
	for _, k := range kinds {
		m := newModel(k, warm)
		d := m.dev()
		if err := d.Begin(); err != nil {
			t.Fatal(err)
		}
		m.set[0] |= 1
		m.feels = cold
		if r, err := d.Read(); !errors.Is(err, sensors.ErrNotReady) || r != (Reading{}) {
			t.Errorf("%v: %+v, %v", k, r, err)
		}
		r, err := d.Read()
		is(t, -25, r, err)
	}
}

// The wrong kind: its settings do not come back.
func TestOtherKind(t *testing.T) {
	for _, c := range []struct{ asked, there Kind }{{TMP102, LM75}, {LM75, TMP102}} {
		m := newModel(c.there, warm)
		d := New(&i2c.Dev{Bus: m, Addr: 0x48}, c.asked, m.sleep)
		if err := d.Begin(); !errors.Is(err, sensors.ErrForeign) {
			t.Errorf("%v asked, %v there: %v", c.asked, c.there, err)
		}
		if r, err := d.Read(); !errors.Is(err, sensors.ErrForeign) || r != (Reading{}) {
			t.Errorf("%v asked, %v there: %+v, %v", c.asked, c.there, r, err)
		}
	}
}

// idle is a bus on which a transfer succeeds and nobody pulls the lines down, or something holds them down.
type idle struct {
	model
	with byte
}

func (b *idle) Tx(_ uint16, _, r []byte) error {
	for i := range r {
		r[i] = b.with
	}
	return nil
}

func TestNobodyThere(t *testing.T) {
	for _, k := range kinds {
		for _, with := range []byte{0x00, 0xFF} {
			b := &idle{with: with}
			d := New(&i2c.Dev{Bus: b, Addr: 0x48}, k, b.sleep)
			if err := d.Begin(); !errors.Is(err, sensors.ErrForeign) {
				t.Errorf("%v %02X: %v", k, with, err)
			}
			d.begun = true // as if it had been there
			if r, err := d.Read(); err == nil || r != (Reading{}) {
				t.Errorf("%v %02X: %+v, %v", k, with, r, err)
			}
		}
	}
}

// Case D01: any single transfer may fail; the reading fails with it or not, the next one is good.
func TestD01OneBadTransfer(t *testing.T) {
	for _, k := range kinds {
		for n := range 8 {
			m := newModel(k, cold)
			m.fails = func(i int) bool { return i == n }
			d := m.dev()
			if err := d.Begin(); err != nil {
				t.Errorf("%v, transfer %d: %v", k, n, err)
			}
			if r, err := d.Read(); err != nil && (!errors.Is(err, sensors.ErrNoAnswer) || r != (Reading{})) {
				t.Errorf("%v, transfer %d: %+v, %v", k, n, r, err)
			} else if err == nil {
				is(t, -25, r, err)
			} else {
				r, err := d.Read()
				is(t, -25, r, err)
			}
		}
	}
}

// Case D01: unplugged for a while; meanwhile each Read is short, so that the chips beside it are not held up.
func TestD01UnpluggedAndBack(t *testing.T) {
	for _, k := range kinds {
		m := newModel(k, warm)
		d := m.dev()
		if err := d.Begin(); err != nil {
			t.Fatal(err)
		}
		m.fails = func(int) bool { return true }
		for range 10 {
			before, then := m.transfers, m.now
			r, err := d.Read()
			if !errors.Is(err, sensors.ErrNoAnswer) || r != (Reading{}) || m.transfers > before+1 || m.now != then {
				t.Errorf("%v: %+v, %v after %d transfers and %v", k, r, err, m.transfers-before, m.now-then)
			}
		}
		m.fails = nil
		m.power()
		r, err := d.Read()
		is(t, 25, r, err)
	}
}

// Case C04: a chip that hangs reads like a live one; its raw code is what a Watch finds it by.
func TestC04FrozenShowsInTheRawCode(t *testing.T) {
	m := newModel(TMP102, warm)
	d := m.dev()
	w := sensors.Watch{Limits: sensors.Climate(-128, 128)}
	var verdict sensors.Verdict
	for i := range 61 {
		r, err := d.Read()
		if err != nil {
			t.Fatal(err)
		}
		verdict = w.Judge(float64(int16(r.Raw)>>4)/16, time.Duration(i)*2*time.Second)
		if i < 59 && verdict != sensors.Plausible {
			t.Fatalf("reading %d: %v", i, verdict)
		}
	}
	if verdict != sensors.Stuck {
		t.Error(verdict)
	}
}

// Whatever happens to the chip, a reading that comes without an error is one that it converted, never its start value,
// and once the trouble is over the second Read at the latest gives one.
func TestTroubleProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom(kinds).Draw(t, "kind")
		m := newModel(k, warm)
		d := m.dev()
		for range rapid.IntRange(1, 20).Draw(t, "steps") {
			switch rapid.IntRange(0, 4).Draw(t, "trouble") {
			case 1:
				m.refuse = rapid.IntRange(1, 6).Draw(t, "refused")
			case 2:
				m.power()
			case 3:
				m.set[0] |= 1
			case 4:
				m.set[1] |= 0x10
			}
			m.sleep(time.Duration(rapid.IntRange(0, 500).Draw(t, "later")) * time.Millisecond)
			r, err := d.Read()
			if err == nil && r.Raw != warm || err != nil && r != (Reading{}) {
				t.Fatalf("%+v, %v", r, err)
			}
			if m.refuse = 0; err != nil {
				if r, err = d.Read(); err != nil || r.Raw != warm {
					t.Fatalf("does not recover: %+v, %v", r, err)
				}
			}
		}
	})
}
