package hx711

import (
	"errors"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"fullery/sensors"
)

// The lines as they move, edge by edge: power down and up, 25 pulses, and a look at the data line after each.
func TestEdges(t *testing.T) {
	for gain, want := range map[Gain]string{
		A128: "+-" + "??" + strings.Repeat("+-?", 24) + "+-?",
		B32:  "+-" + "?" + strings.Repeat("+-?", 24) + "+-+-?" + "??" + strings.Repeat("+-?", 24) + "+-+-?",
		A64:  "+-" + "?" + strings.Repeat("+-?", 24) + "+-+-+-?" + "??" + strings.Repeat("+-?", 24) + "+-+-+-?",
	} {
		l := &lines{}
		d := New(l, l, func() time.Duration { return l.now }, func(time.Duration) {}, gain)
		l.after = gain.pulses()
		if got, err := d.Read(); err != nil || got.Code != 0 {
			t.Errorf("gain %d: %+v, %v", gain, got, err)
		}
		if diff := cmp.Diff(want, l.trace.String()); diff != "" {
			t.Errorf("gain %d:\n%s", gain, diff)
		}
	}
}

// lines write down what is done to them. Every sample is zero. Between samples a second goes by at each look.
type lines struct {
	trace        strings.Builder
	after, count int
	now          time.Duration
}

func (l *lines) Set(on bool) error {
	if on {
		l.trace.WriteByte('+')
		l.count++
	} else {
		l.trace.WriteByte('-')
	}
	return nil
}

func (l *lines) High() (bool, error) {
	l.trace.WriteByte('?')
	if l.trace.Len() == len("+-?") { // the line after the reset: ready
		l.count = 0
	}
	high := l.count == l.after
	if high {
		l.count = 0
	}
	if l.count == 0 {
		l.now += time.Second
	}
	return high, nil
}

// Each gain gives the value of its own input from the first reading on, from any earlier state, with and without Begin.
func TestEachGainFromAnyState(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newChip(1000, 2000, 3000)
		c.now = time.Duration(rapid.Int64().Draw(t, "clock"))
		c.ready, c.settled = c.now, c.now
		if rapid.Bool().Draw(t, "fast") {
			c.period, c.settle = 12500*time.Microsecond, 50*time.Millisecond
		}
		for range rapid.IntRange(0, 40).Draw(t, "pulses") { // half a sample, or one and a half
			_, _ = c.Set(true), c.Set(false)
		}
		if rapid.Bool().Draw(t, "left high") {
			_ = c.Set(true)
			c.sleep(time.Second)
		}
		gain := Gain(rapid.IntRange(0, 2).Draw(t, "gain"))
		d := c.dev(gain)
		if rapid.Bool().Draw(t, "begin") {
			if err := d.Begin(); err != nil {
				t.Fatal(err)
			}
		}
		for range 3 {
			if got, err := d.Read(); err != nil || got != (Reading{Code: 1000 * int32(gain+1)}) {
				t.Fatalf("gain %d: %+v, %v", gain, got, err)
			}
		}
		for _, pulses := range c.perTurn[min(1, len(c.perTurn)):] {
			if pulses != 25+int(gain) {
				t.Fatalf("pulses %v", c.perTurn)
			}
		}
	})
}

// A chip that hands out samples while it settles: none of them is taken for a weight, at either of its speeds.
func TestUnsettledSamplesAreThrownAway(t *testing.T) {
	for _, gain := range []Gain{A128, B32, A64} {
		for _, settle := range []time.Duration{50 * time.Millisecond, 400 * time.Millisecond} {
			c := newChip(1000, 2000, 3000)
			c.eager, c.settle, c.period = true, settle, settle/4
			d := c.dev(gain)
			for range 3 {
				if got, err := d.Read(); err != nil || got.Code != 1000*int32(gain+1) {
					t.Errorf("gain %d, settles in %v: %+v, %v", gain, settle, got, err)
				}
			}
			if d.Thrown() != 0 {
				t.Errorf("%d thrown away for a long pulse", d.Thrown())
			}
		}
	}
}

// A clock that stands still never lets a chip settle: an error after a bounded number of samples.
func TestClockStandsStill(t *testing.T) {
	l := &lines{after: A128.pulses()}
	uses := 0
	d := New(l, l, func() time.Duration { uses++; return 0 }, func(time.Duration) {}, A128)
	if err := value(d.Read()); !errors.Is(err, sensors.ErrNotReady) || uses > 2*unsettled*30 {
		t.Errorf("%v after %d looks at the clock", err, uses)
	}
}

// Any 24 bits come through the lines as they are.
func TestAnyCode(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		raw := rapid.Uint32Range(0, 1<<24-1).Draw(t, "raw")
		got, err := newChip(raw, 0, 0).dev(A128).Read()
		want, wantErr := Decode(raw)
		if got != want || (err == nil) != (wantErr == nil) {
			t.Fatalf("%06X: %+v, %v, want %+v, %v", raw, got, err, want, wantErr)
		}
	})
}

// B01, through the whole driver: the ends of the range are no weight, and the next sample is one again, without a reset.
func TestB01SaturatedIsNoWeight(t *testing.T) {
	for raw, word := range map[uint32]string{0x7fffff: "saturated high", 0x800000: "saturated low"} {
		c := newChip(raw, 0, 0)
		d := c.dev(A128)
		got, err := d.Read()
		if !errors.Is(err, sensors.ErrSaturated) || !strings.Contains(err.Error(), word) || got != (Reading{}) {
			t.Errorf("%06X: %+v, %v, want %s", raw, got, err, word)
		}
		c.cell[0] = 0xffffff
		if got, err := d.Read(); err != nil || got != (Reading{Code: -1}) || c.powerUps != 1 {
			t.Errorf("afterwards: %+v, %v, %d resets", got, err, c.powerUps)
		}
		if err := newChip(raw, 0, 0).dev(A128).Begin(); err != nil {
			t.Errorf("begin: %v", err)
		}
	}
}

// B02: the amplifier is missing, and the line is pulled high. An error in at most 500 ms wherever the clock stands, or if
// it stands still.
func TestB02MissingAmplifier(t *testing.T) {
	for _, now := range []time.Duration{0, 1, math.MaxInt64, math.MaxInt64 - 250*time.Millisecond, math.MinInt64, -1} {
		for _, frozen := range []bool{false, true} {
			c := newChip(1, 1, 1)
			c.now, c.ready, c.settled, c.frozen = now, now, now, frozen
			high := true
			c.stuck = &high
			d := c.dev(B32)
			for _, call := range []func() error{d.Begin, func() error { return value(d.Read()) }} {
				before, slept := c.now, c.slept
				if err := call(); !errors.Is(err, sensors.ErrNotReady) {
					t.Errorf("clock at %d: %v", now, err)
				}
				if took := max(c.now-before, c.slept-slept); took > 500*time.Millisecond+powerDown+20*time.Microsecond {
					t.Errorf("clock at %d: %v", now, took)
				}
			}
			c.stuck, c.frozen = nil, false
			if got, err := d.Read(); err != nil || got.Code != 1 {
				t.Errorf("plugged in: %+v, %v", got, err)
			}
		}
	}
}

// value is the error of a reading, which must be empty beside one.
func value(r Reading, err error) error {
	if err != nil && r != (Reading{}) {
		return errors.New("a number beside an error")
	}
	return err
}

// B03: nothing drives the line and it is low: that looks ready and reads as zero, and is no converter.
func TestB03FloatingLine(t *testing.T) {
	for _, gain := range []Gain{A128, B32, A64} {
		c := newChip(5, 5, 5)
		low := false
		c.stuck = &low
		d := c.dev(gain)
		for _, call := range []func() error{d.Begin, func() error { return value(d.Read()) }} {
			if err := call(); !errors.Is(err, sensors.ErrNoAnswer) || !strings.Contains(err.Error(), "no converter") {
				t.Errorf("gain %d: %v", gain, err)
			}
		}
		c.stuck = nil
		if got, err := d.Read(); err != nil || got.Code != 5 {
			t.Errorf("plugged in: %+v, %v", got, err)
		}
	}
}

// B04: a pulse of 130 µs at bit 11 throws the sample away and counts it; the next is one of the settled chip, at its gain.
func TestB04StretchedPulse(t *testing.T) {
	for _, gain := range []Gain{A128, B32, A64} {
		for pulse := 1; pulse <= gain.pulses(); pulse++ {
			c := newChip(1000, 2000, 3000)
			d := c.dev(gain)
			if err := d.Begin(); err != nil {
				t.Fatal(err)
			}
			c.long = map[int]int{c.pulses + pulse: 130}
			got, err := d.Read()
			if !errors.Is(err, sensors.ErrChecksum) || got != (Reading{}) || d.Thrown() != 1 {
				t.Errorf("gain %d, pulse %d: %+v, %v, thrown %d", gain, pulse, got, err, d.Thrown())
			}
			before := c.now
			got, err = d.Read()
			if err != nil || got != (Reading{Code: 1000 * int32(gain+1)}) || c.now-before < c.settle {
				t.Errorf("gain %d, after pulse %d: %+v, %v in %v", gain, pulse, got, err, c.now-before)
			}
		}
	}
}

// B04: what the limit is, measured over the whole of switching on and off.
func TestB04Limit(t *testing.T) {
	for us, want := range map[int]error{40: nil, 46: nil, 47: sensors.ErrChecksum, 55: sensors.ErrChecksum} {
		c := newChip(7, 7, 7)
		d := c.dev(A128)
		if err := d.Begin(); err != nil {
			t.Fatal(err)
		}
		c.long = map[int]int{c.pulses + 11: us} // and 2 µs for each of the two switchings
		if got, err := d.Read(); !errors.Is(err, want) || (err == nil) != (got.Code == 7) {
			t.Errorf("%d µs: %+v, %v", us, got, err)
		}
	}
}

// B04: 30 % of the samples thrown away is a degraded sensor, and a quiet time mends it.
func TestB04Degraded(t *testing.T) {
	c := newChip(7, 7, 7)
	d := c.dev(A128)
	for sample := range 40 {
		if bad := sample%10 < 3; bad {
			c.long = map[int]int{c.pulses + 5: 200}
			if !d.begun {
				c.long = map[int]int{c.pulses + 6: 200}
			}
		}
		got, err := d.Read()
		if (err != nil) != (sample%10 < 3) || err == nil && got.Code != 7 {
			t.Fatalf("sample %d: %+v, %v", sample, got, err)
		}
		if want := sample >= 12; d.Degraded() != want {
			t.Errorf("sample %d: degraded %v", sample, d.Degraded())
		}
	}
	for good := range window {
		if want := good == 0; d.Degraded() != want { // sample 20, a bad one, is then too old
			t.Errorf("%d good ones later: degraded %v", good, d.Degraded())
		}
		if _, err := d.Read(); err != nil {
			t.Fatal(err)
		}
	}
	if d.Degraded() || d.Thrown() != 12 {
		t.Errorf("after a quiet time: %v, thrown %d", d.Degraded(), d.Thrown())
	}
}

// Fetching for longer than the chip takes for the next sample is not believed either, with every pulse short.
func TestSlowLooks(t *testing.T) {
	c := newChip(7, 7, 7)
	d := c.dev(A128)
	if err := d.Begin(); err != nil {
		t.Fatal(err)
	}
	d.data = slowly{c}
	if got, err := d.Read(); !errors.Is(err, sensors.ErrChecksum) || got != (Reading{}) {
		t.Errorf("%+v, %v", got, err)
	}
}

// slowly is a data line that takes half a millisecond to look at.
type slowly struct{ c *chip }

func (s slowly) High() (bool, error) {
	s.c.sleep(500 * time.Microsecond)
	return s.c.High()
}

// D01: whichever use of a line fails, it is told, without a number, and the next reading is right.
func TestD01AnyLineUseMayFail(t *testing.T) {
	for _, gain := range []Gain{A128, A64} {
		for fail := 1; fail <= 70; fail++ {
			c := newChip(1000, 2000, 3000)
			d := c.dev(gain)
			c.fail = fail
			got, err := d.Read()
			if !errors.Is(err, sensors.ErrNoAnswer) && !errors.Is(err, sensors.ErrNotReady) || got != (Reading{}) {
				if c.fail > 0 {
					break
				}
				t.Errorf("use %d: %+v, %v", fail, got, err)
			}
			if got, err := d.Read(); err != nil || got.Code != 1000*int32(gain+1) {
				t.Errorf("after use %d failed: %+v, %v", fail, got, err)
			}
		}
	}
}

// Two readers share a chip: no half samples.
func TestTwoReaders(t *testing.T) {
	c := newChip(0x5a5a5a, 0, 0)
	d := c.dev(A128)
	var readers sync.WaitGroup
	for range 2 {
		readers.Go(func() {
			for range 200 {
				if got, err := d.Read(); err != nil || got.Code != 0x5a5a5a || d.Degraded() {
					t.Errorf("%+v, %v", got, err)
					return
				}
			}
		})
	}
	readers.Wait()
}

func TestUnknownGain(t *testing.T) {
	for _, gain := range []Gain{-1, 3, 25} {
		c := newChip(1, 1, 1)
		if got, err := c.dev(gain).Read(); err == nil || got != (Reading{}) || c.pulses != 0 {
			t.Errorf("gain %d: %+v, %v", gain, got, err)
		}
	}
}
