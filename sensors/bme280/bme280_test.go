package bme280

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"pgregory.net/rapid"

	"fullery/sensors"
)

// op is one transfer with the chip at 0x76.
func op(w, r []byte) i2ctest.IO { return i2ctest.IO{Addr: 0x76, W: w, R: r} }

// isExample: the reading is that of the published example.
func isExample(t *testing.T, r Reading, err error) {
	t.Helper()
	if err != nil || math.Abs(r.Temperature-298.2325) > 1e-3 || math.Abs(r.Pressure-100653.27) > 0.005 ||
		math.Abs(r.Humidity-0.69647) > 1e-4 {
		t.Errorf("%+v, %v", r, err)
	}
}

// is: no reading, and an error of this kind.
func is(t *testing.T, kind error, r Reading, err error) {
	t.Helper()
	if !errors.Is(err, kind) || r != (Reading{}) {
		t.Errorf("%+v, %v; want %v", r, err, kind)
	}
}

func TestTraffic(t *testing.T) {
	low, high := calibrationBytes(calibrated)
	block := func(settings ...byte) []byte { return append(append(settings, 0), example...) }
	ops := []i2ctest.IO{
		op([]byte{0xD0}, []byte{0x60}),
		op([]byte{0xE0, 0xB6}, nil),
		op([]byte{0xF2}, block(0, 1, 0, 0)), // still copying
		op([]byte{0xF2}, block(0, 0, 0, 0)),
		op([]byte{0x88}, low), op([]byte{0xE1}, high), op([]byte{0x88}, low), op([]byte{0xE1}, high),
		op([]byte{0xF5, 0x00, 0xF2, 0x01, 0xF4, 0x24}, nil),
		op([]byte{0xF2, 0x01, 0xF4, 0x25}, nil),
		op([]byte{0xF2}, block(1, 8, 0x25, 0)), // still measuring
		op([]byte{0xF2}, block(1, 0, 0x24, 0)),
	}
	bus := &i2ctest.Playback{Ops: ops, DontPanic: true}
	d := New(&i2c.Dev{Bus: bus, Addr: 0x76}, func(time.Duration) {})
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	r, err := d.Read()
	isExample(t, r, err)
	if err := bus.Close(); err != nil {
		t.Error(err)
	}
}

func TestForeignChips(t *testing.T) {
	for id, says := range map[byte]string{0x58: "BMP280", 0x56: "BMP280", 0x57: "BMP280", 0x61: "61", 0x00: "00", 0xFF: "FF"} {
		m := newModel(id)
		wrote := m.regs
		d := m.dev()
		if err := d.Begin(); !errors.Is(err, sensors.ErrForeign) || !sensors.Disbelieved(err) || !strings.Contains(err.Error(), says) {
			t.Errorf("%02X: %v", id, err)
		}
		if id == 0x58 && !strings.Contains(d.Begin().Error(), "no humidity") {
			t.Error(d.Begin())
		}
		r, err := d.Read()
		is(t, sensors.ErrForeign, r, err)
		if m.regs != wrote {
			t.Errorf("%02X: another chip was written to", id)
		}
	}
}

// Case C05: asleep, in the normal mode with a filter, in the midst of a measurement, just switched on, refusing its first
// commands.
func TestC05AnyEarlierState(t *testing.T) {
	for name, leave := range map[string]func(*model){
		"just switched on": func(*model) {},
		"asleep":           func(m *model) { m.copied = 0 },
		"normal mode": func(m *model) {
			m.write(0xF5, 0x1C)
			m.write(0xF2, 5)
			m.write(0xF4, 0xB7)
		},
		"measuring":    func(m *model) { m.write(0xF4, 0x25) },
		"no humidity":  func(m *model) { m.write(0xF2, 0); m.write(0xF4, 0x24) },
		"other values": func(m *model) { m.data, m.copied = example, 0; copy(m.regs[0xF7:], make([]byte, 8)) },
	} {
		for refused := range 5 {
			m := newModel(0x60)
			leave(m)
			m.refuse = refused
			d := m.dev()
			if err := d.Begin(); err != nil || m.now > 2*time.Second {
				t.Errorf("%s, %d refused: after %v: %v", name, refused, m.now, err)
			}
			r, err := d.Read()
			isExample(t, r, err)
		}
	}
}

// Case C05: a chip that never answers is a clear error after a bounded number of tries, and works again once it does.
func TestC05NeverAnswers(t *testing.T) {
	m := newModel(0x60)
	m.fails = func(int) bool { return true }
	d := m.dev()
	if err := d.Begin(); !errors.Is(err, sensors.ErrNoAnswer) || sensors.Disbelieved(err) || m.transfers > 5 || m.now > 2*time.Second {
		t.Errorf("%v; %d transfers in %v", err, m.transfers, m.now)
	}
	before := m.transfers
	r, err := d.Read()
	is(t, sensors.ErrNoAnswer, r, err)
	if m.transfers > before+1 {
		t.Errorf("%d transfers to a dead chip", m.transfers-before)
	}
	m.fails = nil
	r, err = d.Read()
	isExample(t, r, err)
}

// Case D01: any single transfer may fail; the reading fails with it or not, the next one is good.
func TestD01OneBadTransfer(t *testing.T) {
	for n := range 12 {
		m := newModel(0x60)
		m.fails = func(i int) bool { return i == n }
		d := m.dev()
		if err := d.Begin(); err != nil {
			t.Errorf("transfer %d: %v", n, err)
		}
		r, err := d.Read()
		if err != nil {
			is(t, sensors.ErrNoAnswer, r, err)
			r, err = d.Read()
		}
		isExample(t, r, err)
	}
}

// A calibration that was damaged on its way would spoil every value for as long as the program runs.
func TestDamagedCalibration(t *testing.T) {
	for _, register := range []byte{0x88, 0xE1} {
		for _, which := range []int{0, 1} {
			m := newModel(0x60)
			seen := 0
			m.disturb = func(at byte, r []byte) {
				if at == register {
					if seen == which {
						r[3] ^= 0x40
					}
					seen++
				}
			}
			d := m.dev()
			r, err := d.Read() // a single try
			is(t, sensors.ErrChecksum, r, err)
			r, err = d.Read()
			isExample(t, r, err)
		}
	}
	m := newModel(0x60)
	wrong := byte(0)
	m.disturb = func(at byte, r []byte) { // wrong each time, and each time in another way
		if at == 0x88 {
			wrong++
			r[0] ^= wrong
		}
	}
	if err := m.dev().Begin(); !errors.Is(err, sensors.ErrChecksum) {
		t.Error(err)
	}
}

// A chip whose calibration is blank is refused by Begin.
func TestBlankChip(t *testing.T) {
	m := newModel(0x60)
	clear(m.born[0x88:0xA2])
	clear(m.born[0xE1:0xE8])
	m.power()
	if err := m.dev().Begin(); !errors.Is(err, sensors.ErrForeign) {
		t.Error(err)
	}
}

func TestNeverFinishes(t *testing.T) {
	m := newModel(0x60)
	d := m.dev()
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	m.takes = time.Hour
	before := m.transfers
	r, err := d.Read()
	is(t, sensors.ErrNotReady, r, err)
	if m.transfers > before+6 {
		t.Errorf("%d transfers", m.transfers-before)
	}
	m.takes = 15 * time.Millisecond // late, but within the tries
	r, err = d.Read()
	isExample(t, r, err)
}

// A chip that never gets its calibration copied.
func TestNeverStarts(t *testing.T) {
	m := newModel(0x60)
	m.disturb = func(at byte, r []byte) {
		if at == 0xF2 {
			r[1] |= 1
		}
	}
	if err := m.dev().Begin(); !errors.Is(err, sensors.ErrNotReady) || m.now > 2*time.Second {
		t.Errorf("%v after %v", err, m.now)
	}
}

// A supply that fails during a measurement leaves the values that the chip starts with, which are honest codes one by
// one: 26.4 °C here.
func TestSupplyFails(t *testing.T) {
	m := newModel(0x60)
	d := New(&i2c.Dev{Bus: m, Addr: 0x76}, func(d time.Duration) { m.now += d })
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	d.sleep = func(s time.Duration) {
		m.now += s / 2
		m.power()
		m.now += s
	}
	r, err := d.Read()
	is(t, sensors.ErrNotReady, r, err)
	d.sleep = m.sleep
	r, err = d.Read()
	isExample(t, r, err)
}

// Another program changes the settings in the midst of a measurement: without its humidity the chip reads 0x8000 there,
// which would be taken for 70 %.
func TestSettingsChangedByOthers(t *testing.T) {
	for register, value := range map[byte]byte{0xF2: 0, 0xF4: 0x00, 0xF5: 0x1C} {
		m := newModel(0x60)
		d := m.dev()
		if err := d.Begin(); err != nil {
			t.Fatal(err)
		}
		d.sleep = func(s time.Duration) { m.sleep(s); m.settle(); m.regs[register] = value }
		r, err := d.Read()
		is(t, sensors.ErrNotReady, r, err)
		d.sleep = m.sleep
		r, err = d.Read()
		isExample(t, r, err)
	}
}

// Case C04: a chip that hangs reads like a live one; its raw codes are what a Watch finds it by.
func TestC04FrozenShowsInTheRawCodes(t *testing.T) {
	m := newModel(0x60)
	d := m.dev()
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

// Whatever happens to the chip, a reading that comes without an error is what it measured, and once the trouble is over
// the second Read at the latest gives one.
func TestTroubleProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := newModel(0x60)
		d := m.dev()
		for range rapid.IntRange(1, 15).Draw(t, "steps") {
			code := rapid.Uint16Range(22000, 36000).Draw(t, "humidity")
			m.data = withHumidity(code)
			switch rapid.IntRange(0, 4).Draw(t, "trouble") {
			case 1:
				m.refuse = rapid.IntRange(1, 6).Draw(t, "refused")
			case 2:
				m.power()
			case 3:
				m.write(0xF4, 0x27) // the normal mode, without humidity if it was never set
			case 4:
				m.takes = time.Duration(rapid.IntRange(1, 30).Draw(t, "takes")) * time.Millisecond
			}
			r, err := d.Read()
			if err == nil && r.RawHumidity != code || err != nil && r != (Reading{}) {
				t.Fatalf("%+v, %v", r, err)
			}
			m.refuse, m.takes = 0, 9300*time.Microsecond
			if err != nil {
				if r, err = d.Read(); err != nil || r.RawHumidity != code {
					t.Fatalf("does not recover: %+v, %v", r, err)
				}
			}
		}
	})
}
