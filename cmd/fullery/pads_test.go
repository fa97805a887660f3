package main

import (
	"bytes"
	"errors"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"fullery/controller"
	"fullery/controller/piobench"
	"fullery/controller/piobench/lines"
	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipes"

	"github.com/spf13/cobra"
)

// oneChip is a bus with an analogue converter on it and nothing else.
type oneChip struct {
	mu     sync.Mutex
	config uint16
	codes  [4]int16
}

func (*oneChip) String() string                  { return "one chip" }
func (*oneChip) SetSpeed(physic.Frequency) error { return nil }
func (*oneChip) Close() error                    { return nil }

func (o *oneChip) Tx(address uint16, w, r []byte) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	switch {
	case address != 0x48:
		return errors.New("no such device or address")
	case len(w) == 3:
		o.config = uint16(w[1])<<8 | uint16(w[2])
	case w[0] == 1:
		r[0], r[1] = byte(o.config>>8)|0x80, byte(o.config)
	default:
		c := &o.codes[o.config>>12&3]
		*c ^= 1 // the last digit of a live bridge flickers
		r[0], r[1] = byte(uint16(*c)>>8), byte(uint16(*c))
	}
	return nil
}

// padBench opens the shipped board with nothing on its bus but the pads' converter.
func padBench(t *testing.T, chip *oneChip) (recipe.Bench, *piobench.Bench) {
	t.Helper()
	b, err := recipes.Bench("board")
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	kernel := &lines.Fake{Clock: func() time.Duration { return time.Since(began) }}
	kernel.Add(lines.FakeChip{Name: "gpiochip0", Label: b.Board.Chip, Lines: make([]lines.FakeLine, 54)})
	sysfs := lines.NewFakeSysfs(t.TempDir())
	if err := errors.Join(sysfs.AddPWM(0, "sys/devices/fe20c000.pwm", "pwm", 2), sysfs.AddAdapter(1, b.Board.Buses[0].Adapter)); err != nil {
		t.Fatal(err)
	}
	bench, err := piobench.Open(b, piobench.World{Kernel: kernel, Sysfs: sysfs.Sysfs(), Sleep: time.Sleep,
		Bus: func(int) (i2c.BusCloser, error) { return chip, nil }}, piobench.Options{Tolerant: true})
	if err != nil {
		t.Fatal(err)
	}
	return b, bench
}

// made is a calibration of a cell with zero at 1000 counts and 4000 counts a newton, so long ago.
func made(part string, ago time.Duration) record.CellCalibration {
	k := record.CellCalibration{Bench: "board", Part: part, Made: time.Now().Add(-ago), Accepted: true, ZeroCounts: 1000, GainPerN: 4000, SpanN: 4.9}
	for i, p := range [][2]float64{{0, 1000}, {100, 4922.66}, {200, 8845.32}, {500, 20613.3}, {200, 8845.32}, {0, 1000}} {
		sd := 2.0
		k.Points = append(k.Points, record.CellPoint{MassG: p[0], Counts: p[1], SDCounts: &sd, Readings: 30, Rising: i < 4})
	}
	return k
}

// TestCellsAreTrusted: before every cycle a calibration is used, and one that is old, or whose zero has moved, is told.
func TestCellsAreTrusted(t *testing.T) {
	for _, c := range []struct {
		name  string
		ago   time.Duration
		front int16 // counts with nothing on the pad
		doubt string
	}{
		{"fresh", time.Hour, 1001, ""},
		{"a year old", 365 * 24 * time.Hour, 1001, "pad-front"},
		{"its zero has moved", time.Hour, 6001, "pad-front"},
	} {
		synctest.Test(t, func(t *testing.T) {
			chip := &oneChip{codes: [4]int16{c.front, 1201}}
			b, bench := padBench(t, chip)
			rec, err := record.Open(t.Context(), filepath.Join(t.TempDir(), "r.db"))
			if err != nil {
				t.Fatal(err)
			}
			if _, err := rec.PutCellCalibration(t.Context(), made("pad-front", c.ago)); err != nil {
				t.Fatal(err)
			}
			unknown, doubts, err := calibrate(t.Context(), rec, b, bench)
			if err != nil {
				t.Fatal(err)
			}
			if len(unknown) != 1 || !strings.Contains(unknown[0], "pad-back") {
				t.Errorf("%s: unknown are %q", c.name, unknown)
			}
			if said := strings.Join(doubts, " "); (c.doubt == "") != (said == "") || !strings.Contains(said, c.doubt) {
				t.Errorf("%s: doubts %q", c.name, doubts)
			}
			var errs bytes.Buffer
			cmd := &cobra.Command{}
			cmd.SetErr(&errs)
			for _, trusted := range []bool{false, true} {
				j := &job{bench: b, plant: bench, board: bench, record: rec, flags: runFlags{trustCells: trusted}}
				err := j.useCalibrations(t.Context(), cmd, recipe.Recipe{Pads: recipe.Pads{Pressure: 2000}})
				if refused := err != nil; refused != (c.doubt != "" && !trusted) {
					t.Errorf("%s, trusted %v: %v", c.name, trusted, err)
				}
			}
			if !strings.Contains(errs.String(), "Attention: pad-back") {
				t.Errorf("%s: %q", c.name, errs.String())
			}
			passes(t.Context(), bench, time.Second)
			r, err := bench.Read(0)
			if want := (float64(c.front) - 1000) / 4000; err != nil || r[recipe.PadFront].Quality != controller.Good || r[recipe.PadFront].Value-want > 0.01 ||
				want-r[recipe.PadFront].Value > 0.01 {
				t.Errorf("%s: the pad reads %+v, want %g N", c.name, r[recipe.PadFront], want)
			}
			if err := errors.Join(rec.Close(), bench.Close()); err != nil {
				t.Error(err)
			}
		})
	}
}

// TestPressing: what is said of two pads, and that nothing is said of pads that are away or not read.
func TestPressing(t *testing.T) {
	b := recipe.Bench{Pads: recipe.PadPair{Area: 6e-4}}
	r := recipe.Recipe{Pads: recipe.Pads{Pressure: 2000, Within: 0.25, Balance: 0.15}}
	good := func(v float64) controller.Reading { return controller.Reading{Value: v, Quality: controller.Good} }
	for _, c := range []struct {
		name        string
		lid         float64
		front, back controller.Reading
		good, seen  bool
		says        string
	}{
		{"even", 1, good(1.2), good(1.22), true, true, ""},
		{"back too light", 1, good(1.2), good(0.5), false, true, "back"},
		{"lid open", 0, good(1.2), good(1.2), false, false, "away"},
		{"front not read", 1, controller.Reading{Value: 1.2, Quality: controller.Failed}, good(1.2), false, false, "not read"},
	} {
		var last controller.Readings
		last[recipe.Lid], last[recipe.EStop], last[recipe.PadFront], last[recipe.PadBack] = good(c.lid), good(1), c.front, c.back
		p := pressing(b, r, &last)
		var out bytes.Buffer
		printPressing(&out, r, p, false)
		text := out.String()
		if p.Good != c.good || p.LowKPa != 1.5 || p.HighKPa != 2.5 || (p.FrontKPa != nil && p.BackKPa != nil) != c.seen ||
			!strings.Contains(text, c.says) || strings.Contains(text, "│") != c.seen {
			t.Errorf("%s: %+v\n%s", c.name, p, text)
		}
		if c.seen && (*p.FrontKPa < 1.99 || *p.FrontKPa > 2.01) { // 1.2 N on 6 cm² are 2 kPa
			t.Errorf("%s: %g kPa", c.name, *p.FrontKPa)
		}
	}
}
