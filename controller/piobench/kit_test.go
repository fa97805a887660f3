package piobench

import (
	"errors"
	"sync"
	"testing"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"fullery/controller"
	"fullery/controller/piobench/lines"
	"fullery/recipe"
	"fullery/recipes"
	"fullery/sensors"
)

const label = "pinctrl-bcm2711"

// fakeBus is a bus with models of chips by their addresses. It takes time as a bus does.
type fakeBus struct {
	mu     sync.Mutex
	chips  map[uint16]func(w, r []byte) error
	gone   map[uint16]bool
	takes  time.Duration // every transfer
	closed bool
}

var errNAK = errors.New("sysfs-i2c: no such device or address")

func (b *fakeBus) String() string                  { return "fake" }
func (b *fakeBus) SetSpeed(physic.Frequency) error { return nil }
func (b *fakeBus) Close() error                    { b.closed = true; return nil }

func (b *fakeBus) Tx(address uint16, w, r []byte) error {
	for began := time.Now(); ; time.Sleep(100 * time.Microsecond) { // what hangs goes on when it is healed
		b.mu.Lock()
		takes := b.takes
		b.mu.Unlock()
		if time.Since(began) >= takes {
			break
		}
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	chip := b.chips[address]
	if chip == nil || b.gone[address] {
		return errNAK
	}
	return chip(w, r)
}

// with changes the bus under its lock.
func (b *fakeBus) with(f func()) {
	b.mu.Lock()
	defer b.mu.Unlock()
	f()
}

// moistChip is a humidity sensor by what the driver asks of it.
func moistChip(t, rh *uint16) func(w, r []byte) error {
	var answer []byte
	return func(w, r []byte) error {
		if len(w) == 2 {
			switch uint16(w[0])<<8 | uint16(w[1]) {
			case 0xF32D:
				answer = []byte{0x80, 0x10, 0}
				answer[2] = sensors.CRC8(answer[:2])
			case 0x2400, 0x3780:
				*t, *rh = *t^1, *rh^1 // the last digits of a live sensor flicker
				answer = []byte{byte(*t >> 8), byte(*t), 0, byte(*rh >> 8), byte(*rh), 0}
				answer[2], answer[5] = sensors.CRC8(answer[:2]), sensors.CRC8(answer[3:5])
			}
		}
		copy(r, answer)
		return nil
	}
}

// warmChip is a temperature sensor that keeps its configuration.
func warmChip(code *uint16) func(w, r []byte) error {
	var config [2]byte
	return func(w, r []byte) error {
		switch {
		case len(w) == 3 && w[0] == 1:
			copy(config[:], w[1:])
		case len(w) == 1 && len(r) == 2 && w[0] == 1:
			copy(r, config[:])
			r[1] |= 0x20 // its alert rests
		case len(w) == 1 && len(r) == 2 && w[0] == 0:
			r[0], r[1] = byte(*code>>8), byte(*code)
		}
		return nil
	}
}

// analogueChip is a converter that is always ready.
func analogueChip(codes *[4]int16) func(w, r []byte) error {
	var config uint16
	return func(w, r []byte) error {
		switch {
		case len(w) == 3:
			config = uint16(w[1])<<8 | uint16(w[2])
		case w[0] == 1:
			r[0], r[1] = byte((config|1<<15)>>8), byte(config)
		default:
			c := codes[config>>12&3]
			if c < 32767 {
				codes[config>>12&3] ^= 1 // the last digit of a live bridge flickers
			}
			r[0], r[1] = byte(uint16(c)>>8), byte(uint16(c))
		}
		return nil
	}
}

// fake is a whole machine with the shipped board's bench on it.
type fake struct {
	t      testing.TB
	spec   recipe.Bench
	kernel *lines.Fake
	sysfs  *lines.FakeSysfs
	bus    *fakeBus
	world  World
	began  time.Time
	codes  [4]int16
	moist  [2][2]uint16
	warm   [2]uint16
}

func newFake(t testing.TB) *fake {
	t.Helper()
	spec, err := recipes.Bench("board")
	if err != nil {
		t.Fatal(err)
	}
	f := &fake{t: t, spec: spec, began: time.Now(), kernel: &lines.Fake{}, sysfs: lines.NewFakeSysfs(t.TempDir()),
		codes: [4]int16{9200, 9250, 400}, moist: [2][2]uint16{{0x6000, 0x8000}, {0x5f00, 0x9000}}, warm: [2]uint16{0x1500, 0x1480}}
	f.kernel.Clock = func() time.Duration { return time.Since(f.began) }
	chip := lines.FakeChip{Name: "gpiochip0", Label: label, Lines: make([]lines.FakeLine, 54)}
	for i := range chip.Lines {
		chip.Lines[i].Pull = i <= 8
	}
	f.kernel.Add(chip)
	if err := errors.Join(f.sysfs.AddPWM(0, "sys/devices/platform/soc/fe20c000.pwm", "brcm,bcm2835-pwm", 2), f.sysfs.AddAdapter(1, "bcm2835 (i2c@7e804000)")); err != nil {
		t.Fatal(err)
	}
	f.bus = &fakeBus{takes: 300 * time.Microsecond, gone: map[uint16]bool{}, chips: map[uint16]func(w, r []byte) error{
		0x44: moistChip(&f.moist[0][0], &f.moist[0][1]), 0x45: moistChip(&f.moist[1][0], &f.moist[1][1]),
		0x48: analogueChip(&f.codes), 0x4a: warmChip(&f.warm[0]), 0x4b: warmChip(&f.warm[1]),
	}}
	f.world = World{Kernel: f.kernel, Sysfs: f.sysfs.Sysfs(), Sleep: time.Sleep,
		Bus: func(int) (i2c.BusCloser, error) { return f.bus, nil }}
	f.allWell()
	return f
}

// allWell closes every contact.
func (f *fake) allWell() {
	for _, offset := range []int{5, 6, 19, 26, 20} {
		f.kernel.Drive(label, offset, false)
	}
}

// open opens the bench, to be closed with the test.
func (f *fake) open() *Bench {
	f.t.Helper()
	b, err := Open(f.spec, f.world, Options{})
	if err != nil {
		f.t.Fatal(err)
	}
	f.t.Cleanup(func() { _ = b.Close() })
	return b
}

// pass lets time pass in ticks, driving levels, and returns the last readings.
func (f *fake) pass(b *Bench, d time.Duration, l controller.Levels) (r controller.Readings) {
	f.t.Helper()
	for end := time.Now().Add(d); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		var err error
		if r, err = b.Read(0); err != nil {
			f.t.Fatal(err)
		}
		if err := b.Drive(time.Since(f.began), l); err != nil {
			f.t.Fatal(err)
		}
	}
	return r
}

// lineOf is the offset of an output of the shipped board.
var lineOf = map[recipe.Output]int{recipe.OutPump: 17, recipe.OutRinsePump: 27, recipe.OutPress: 22, recipe.OutPadsReverse: 16,
	recipe.OutFan: 23, recipe.OutHeater: 24, recipe.OutHeaterEnable: 25}
