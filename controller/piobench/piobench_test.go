package piobench

import (
	"errors"
	"io/fs"
	"math"
	"strings"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"fullery/controller"
	"fullery/controller/piobench/lines"
	"fullery/recipe"
)

// TestA01NoPulseAtStart: from before the claim to after the end no wire is ever at the level at which its load is on, for
// either polarity, whatever the line was before.
func TestA01NoPulseAtStart(t *testing.T) {
	for _, low := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			f := newFake(t)
			for o := range lineOf {
				f.spec.Board.Outputs[o].ActiveLow = low
			}
			for _, offset := range lineOf { // a line that rests at off
				f.kernel.Drive(label, offset, low)
			}
			b := f.open()
			f.pass(b, time.Second, controller.Levels{})
			if err := b.Close(); err != nil {
				t.Fatal(err)
			}
			for _, s := range f.kernel.Trace() {
				for o, offset := range lineOf {
					if s.Offset == offset && s.High != low && s.Why != "outside" {
						t.Errorf("active low %v: %s at %v by %s", low, o, s.At, s.Why)
					}
				}
			}
		})
	}
}

// TestReadings: what the chips say arrives in SI units.
func TestReadings(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		r := f.pass(b, 2*time.Second, controller.Levels{})
		near := func(s recipe.Sensor, want, within float64) {
			t.Helper()
			if x := r[s]; x.Quality != controller.Good || math.Abs(x.Value-want) > within {
				t.Errorf("%s: %+v, want %g", s, x, want)
			}
		}
		near(recipe.AirIn, -45+175*float64(0x6000)/65535+273.15, 0.01)
		near(recipe.AirInRH, float64(0x8000)/65535, 1.1/65535)
		near(recipe.AirOutRH, float64(0x9000)/65535, 1.1/65535)
		near(recipe.Air, float64(0x150)/16+273.15, 1e-9)
		near(recipe.PadFront, (9200.0-1200)/8000, 1.1/8000)
		near(recipe.PadBack, (9250.0-1150)/8100, 1.1/8100)
		near(recipe.Lid, 1, 0)
		near(recipe.FanSpeed, 0, 0)
		for range 200 { // the fan turns: two pulses a turn, 20 ms apart
			f.kernel.Drive(label, 4, false)
			time.Sleep(time.Millisecond)
			f.kernel.Drive(label, 4, true)
			time.Sleep(19 * time.Millisecond)
		}
		var err error
		if r, err = b.Read(0); err != nil {
			t.Fatal(err)
		}
		near(recipe.FanSpeed, 25, 0.5)
		f.kernel.Drive(label, 5, true) // the lid's wire breaks
		if r, _ = b.Read(0); r[recipe.Lid].Value != 0 {
			t.Errorf("N01: the lid's wire is open, and it reads %+v", r[recipe.Lid])
		}
	})
}

// TestD01OneBadTransfer: among good ones it leaves the last reading, growing old; several in a row fail it; and it comes
// back by itself.
func TestD01OneBadTransfer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		f.pass(b, time.Second, controller.Levels{})
		good := f.bus.chips[0x48]
		count := 0
		f.bus.with(func() {
			f.bus.chips[0x48] = func(w, r []byte) error {
				if count++; count%50 == 0 {
					return errNAK
				}
				return good(w, r)
			}
		})
		for range 40 {
			r := f.pass(b, 250*time.Millisecond, controller.Levels{})
			if x := r[recipe.PadFront]; x.Quality != controller.Good || x.Age > f.spec.Sensors[recipe.PadFront].Stale {
				t.Fatalf("one transfer in fifty fails, and the force reads %+v", x)
			}
		}
		fails := 0
		for _, l := range b.Looks() {
			fails += l.Fails
		}
		if fails == 0 {
			t.Error("nobody counted them")
		}
		f.bus.with(func() { f.bus.gone[0x48] = true })
		if r := f.pass(b, time.Second, controller.Levels{}); r[recipe.PadFront].Quality != controller.Failed {
			t.Errorf("unplugged: %+v", r[recipe.PadFront])
		}
		f.bus.with(func() { f.bus.gone[0x48] = false })
		if r := f.pass(b, 10*time.Second, controller.Levels{}); r[recipe.PadFront].Quality != controller.Good { // D03: without a restart
			t.Errorf("plugged in again: %+v", r[recipe.PadFront])
		}
	})
}

// TestD02SlowBus: with a second for each transfer readings grow old, and no output is late by a tick.
func TestD02SlowBus(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		f.pass(b, time.Second, controller.Levels{})
		f.bus.with(func() { f.bus.takes = time.Second })
		f.pass(b, 5*time.Second, controller.Levels{Press: true})
		before := time.Now()
		if err := b.Drive(time.Since(f.began), controller.Levels{}); err != nil {
			t.Fatal(err)
		}
		r, err := b.Read(0)
		if time.Since(before) != 0 || f.kernel.High(label, lineOf[recipe.OutPress]) {
			t.Errorf("a slow bus held the press up for %v", time.Since(before))
		}
		if x := r[recipe.AirIn]; err != nil || x.Quality == controller.Good && x.Age < f.spec.Sensors[recipe.AirIn].Stale {
			t.Errorf("a bus that takes seconds gives %+v, %v", x, err)
		}
		if err := b.Close(); err != nil && !strings.Contains(err.Error(), "hangs") {
			t.Error(err)
		}
	})
}

// TestSaturatedIsImplausible: B01 through the whole bench.
func TestSaturatedIsImplausible(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		f.pass(b, time.Second, controller.Levels{})
		f.bus.with(func() { f.codes[0] = 32767 })
		if r := f.pass(b, 500*time.Millisecond, controller.Levels{}); r[recipe.PadFront].Quality != controller.Implausible || r[recipe.PadFront].Value != 0 {
			t.Errorf("%+v", r[recipe.PadFront])
		}
	})
}

// TestC04Frozen: a chip whose codes do not move any more is found, though it answers.
func TestC04Frozen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		f.pass(b, time.Second, controller.Levels{})
		last := map[uint16][]byte{}
		for _, address := range []uint16{0x44, 0x48} {
			alive := f.bus.chips[address]
			f.bus.with(func() {
				f.bus.chips[address] = func(w, r []byte) error {
					if len(r) == 6 || len(r) == 2 && len(w) == 1 && w[0] == 0 { // its values
						if last[address] == nil {
							last[address] = make([]byte, len(r))
							if err := alive(w, last[address]); err != nil {
								return err
							}
						}
						copy(r, last[address])
						return nil
					}
					return alive(w, r)
				}
			})
		}
		r := f.pass(b, 10*time.Second, controller.Levels{})
		for _, s := range []recipe.Sensor{recipe.AirIn, recipe.PadFront} {
			if r[s].Quality != controller.Implausible {
				t.Errorf("%s froze, and reads %+v", s, r[s])
			}
		}
		if r[recipe.Vapour].Quality != controller.Good {
			t.Errorf("vapour may rest: %+v", r[recipe.Vapour])
		}
	})
}

// TestOpenSays: each thing that can be missing is one sentence that says which and how to mend it, and leaves all off.
func TestOpenSays(t *testing.T) {
	for _, c := range []struct {
		name string
		with func(*fake)
		says []string
	}{
		{"A09 another board", func(f *fake) { f.spec.Board.Chip = "pinctrl-other" }, []string{"pinctrl-other", label}},
		{"no permission", func(f *fake) {
			*f.kernel = lines.Fake{Clock: f.kernel.Clock}
			f.kernel.Add(lines.FakeChip{Name: "gpiochip0", Label: label, Lines: make([]lines.FakeLine, 54)},
				lines.FakeNode{Path: "/dev/gpiochip0", Chip: "gpiochip0", Denied: true})
		}, []string{"/dev/gpiochip0", "group"}},
		{"the bus is off in the firmware", func(f *fake) { f.spec.Board.Buses[0].Adapter = "not there" }, []string{"main", "not there", "7e804000"}},
		{"C07 swapped sensors", func(f *fake) {
			f.spec.Board.Inputs[recipe.AirIn].Serial, f.spec.Board.Inputs[recipe.AirInRH].Serial = 7, 7
		}, []string{"0x44", "serial", "swapped"}},
		{"D01 a sensor is missing", func(f *fake) { f.bus.gone[0x4a] = true }, []string{"tmp102 at 0x4a on main", "no answer"}},
	} {
		synctest.Test(t, func(t *testing.T) {
			f := newFake(t)
			c.with(f)
			b, err := Open(f.spec, f.world, Options{})
			if err == nil {
				b.Close()
				t.Fatalf("%s: it opens", c.name)
			}
			for _, want := range c.says {
				if !strings.Contains(err.Error(), want) {
					t.Errorf("%s: %q does not say %q", c.name, err, want)
				}
			}
			if strings.HasPrefix(c.name, "D01") {
				b, err := Open(f.spec, f.world, Options{Tolerant: true})
				if err != nil {
					t.Fatal(err)
				}
				looks := f.pass(b, time.Second, controller.Levels{})
				if looks[recipe.Air].Quality != controller.Failed || looks[recipe.Surface].Quality != controller.Good {
					t.Errorf("%+v, %+v", looks[recipe.Air], looks[recipe.Surface])
				}
				b.Close()
			}
		})
	}
}

// TestA08LineIsTaken: the holder is named, nothing moves, and the first goes on.
func TestA08LineIsTaken(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		f.pass(b, time.Second, controller.Levels{Press: true})
		before := len(f.kernel.Trace())
		if _, err := Open(f.spec, f.world, Options{}); !errors.Is(err, syscall.EBUSY) || !strings.Contains(err.Error(), "fullery") {
			t.Errorf("%v", err)
		}
		if len(f.kernel.Trace()) != before || !f.kernel.High(label, lineOf[recipe.OutPress]) {
			t.Error("the second moved a wire of the first")
		}
	})
}

// TestA04Off: whatever the owner left, and whatever the chip does with lines that are let go, everything is off after Off,
// and what somebody else holds is told.
func TestA04Off(t *testing.T) {
	for _, turns := range []bool{false, true} {
		synctest.Test(t, func(t *testing.T) {
			f := newFake(t)
			f.kernel.TurnToInput = turns
			b := f.open()
			f.pass(b, 3*time.Second, controller.Levels{Press: true, Fan: 1, Hub: f.spec.Hub.Fastest, Heater: 1, HeaterEnable: true})
			if err := Off(f.spec, f.world); err == nil || !strings.Contains(err.Error(), "fullery") {
				t.Errorf("lines of a living owner are taken: %v", err)
			}
			f.kernel.Kill() // the owner dies
			if err := Off(f.spec, f.world); err != nil {
				t.Fatal(err)
			}
			r := &rig{f, b}
			for o := range recipe.NumOutputs {
				if share, _ := r.Share(o); share > 0 {
					t.Errorf("turning to input %v: %s is on", turns, o)
				}
			}
		})
	}
}

// TestDriveGoesOn: an output that cannot be driven does not keep the others from going off.
func TestDriveGoesOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		f.pass(b, 2*time.Second, controller.Levels{Press: true, Hub: f.spec.Hub.Fastest})
		f.sysfs.Fail(fs.ErrPermission)
		if err := b.Drive(time.Since(f.began), controller.Levels{}); err == nil || !strings.Contains(err.Error(), "hub") {
			t.Errorf("%v", err)
		}
		if f.kernel.High(label, lineOf[recipe.OutPress]) {
			t.Error("the press stays on because the hub cannot be driven")
		}
		if err := b.Close(); err == nil || b.Close() == nil {
			t.Error("it does not say that the hub may be on")
		}
	})
}

// TestProveCutOffs: both switches of the heater are shown to work alone; a wire that does not follow is found.
func TestProveCutOffs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		b := f.open()
		all := b.ProveCutOffs(time.Sleep)
		if len(all) != 4 {
			t.Fatalf("%+v", all)
		}
		for _, p := range all {
			if !p.OK {
				t.Errorf("%+v", p)
			}
		}
		both := false
		var on [2]bool
		for _, s := range f.kernel.Trace() {
			for i, offset := range []int{24, 25} {
				if s.Offset == offset {
					on[i] = s.High
				}
			}
			both = both || on[0] && on[1]
		}
		if both {
			t.Error("both switches were on at once")
		}
	})
}

// TestReadWaitsForNoBus, and neither does it allocate when nothing happens.
func TestReadAllocatesNothing(t *testing.T) {
	f := newFake(t)
	b := f.open()
	if n := testing.AllocsPerRun(200, func() {
		if _, err := b.Read(0); err != nil {
			t.Fatal(err)
		}
	}); n > 0 {
		t.Errorf("Read allocates %g times", n)
	}
}

// TestSignOfLife: the wire changes with every drive, whatever is asked of the loads, and with nothing else; it ends off.
func TestSignOfLife(t *testing.T) {
	const offset = 10
	synctest.Test(t, func(t *testing.T) {
		f := newFake(t)
		f.spec.Board.Outputs[recipe.OutAlive] = recipe.OutputWiring{Fitted: true, Line: recipe.Line{Offset: offset},
			Drive: recipe.DriveSwitched, Pull: "down"}
		b := f.open()
		if f.kernel.High(label, offset) {
			t.Error("high before the first drive")
		}
		was := false
		for i := range 40 {
			l := controller.Levels{}
			if i > 20 {
				l.Fan = 1
			}
			f.pass(b, 50*time.Millisecond, l)
			is := f.kernel.High(label, offset)
			if is == was {
				t.Fatalf("drive %d did not change it", i)
			}
			was = is
			if _, err := b.Read(0); err != nil || f.kernel.High(label, offset) != is {
				t.Fatalf("a look changed it: %v", err)
			}
		}
		f.pass(b, 50*time.Millisecond, controller.Levels{})
		if err := b.Close(); err != nil || f.kernel.High(label, offset) {
			t.Errorf("after the end: high %v, %v", f.kernel.High(label, offset), err)
		}
	})
}
