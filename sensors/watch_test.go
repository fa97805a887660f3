package sensors

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A 24-bit bridge converter gives two's complement and saturates at 0x800000 and 0x7FFFFF (its data sheet).
func TestSaturatedConverterIsNoWeight(t *testing.T) {
	for _, c := range []struct {
		raw  float64
		want Verdict
	}{
		{8388607, Saturated},  // 0x7FFFFF
		{-8388608, Saturated}, // 0x800000
		{-1, Plausible},       // 0xFFFFFF
		{-8388607, Plausible}, // 0x800001
		{8388608, OutOfRange},
		{math.NaN(), NotANumber},
		{math.Inf(1), OutOfRange},
		{math.Inf(-1), OutOfRange},
	} {
		w := Watch{Limits: LoadCell(-8388608, 8388607)}
		if got := w.Judge(c.raw, 0); got != c.want {
			t.Errorf("raw %v: %v, want %v", c.raw, got, c.want)
		}
	}
}

// Humidity in percent: impossible values are refused, never clamped; exactly 100 is usable as a bound only.
func TestImpossibleClimate(t *testing.T) {
	for _, c := range []struct {
		low, high, raw float64
		want           Verdict
	}{
		{0, 100, 104, OutOfRange},
		{0, 100, 121318, OutOfRange},
		{0, 100, -3, OutOfRange},
		{0, 100, 100, Saturated},
		{0, 100, 99.9, Plausible},
		{-40, 125, -144.7, OutOfRange},
		{-40, 125, 21, Plausible},
	} {
		w := Watch{Limits: Climate(c.low, c.high)}
		if got := w.Judge(c.raw, 0); got != c.want {
			t.Errorf("%v in %v…%v: %v, want %v", c.raw, c.low, c.high, got, c.want)
		}
	}
}

// firstStuck feeds a sequence with one value every step and returns at which it was first called stuck, or -1.
func firstStuck(w *Watch, n int, every time.Duration, raw func(i int) float64) int {
	for i := range n {
		if w.Judge(raw(i), time.Duration(i)*every) == Stuck {
			return i
		}
	}
	return -1
}

func TestStuck(t *testing.T) {
	frozen := func(int) float64 { return 1234 }
	// A slow but real change: one step a minute, read every second or four times a second.
	slow := func(every time.Duration) func(int) float64 {
		return func(i int) float64 { return 2000 + float64(time.Duration(i)*every/time.Minute) }
	}
	flicker := func(i int) float64 { return 1000 + float64(i*7%5) }
	for _, c := range []struct {
		name   string
		limits Limits
		every  time.Duration
		raw    func(int) float64
		want   int
	}{
		{"load cell frozen", LoadCell(-1e6, 1e6), 100 * time.Millisecond, frozen, 19},
		{"load cell alive", LoadCell(-1e6, 1e6), 100 * time.Millisecond, flicker, -1},
		{"climate frozen at 1 Hz", Climate(0, 65535), time.Second, frozen, 120},
		{"climate frozen at 4 Hz", Climate(0, 65535), time.Second / 4, frozen, 480},
		{"climate, one step a minute at 1 Hz", Climate(0, 65535), time.Second, slow(time.Second), -1},
		{"climate, one step a minute at 4 Hz", Climate(0, 65535), time.Second / 4, slow(time.Second / 4), -1},
		{"contact", Limits{Low: -1, High: 2000}, time.Second / 20, frozen, -1},
	} {
		w := Watch{Limits: c.limits}
		if got := firstStuck(&w, 20000, c.every, c.raw); got != c.want {
			t.Errorf("%s: stuck at %d, want %d", c.name, got, c.want)
		}
	}
}

func TestSixtyIdenticalWhileTheHeaterMoved(t *testing.T) {
	w := Watch{Limits: Climate(0, 65535)}
	for i := range 60 {
		if i == 5 {
			w.Moved()
		}
		got := w.Judge(30000, time.Duration(i)*time.Second)
		if want := i == 59; (got == Stuck) != want {
			t.Fatalf("value %d: %v", i, got)
		}
	}
	if w.Judge(30001, time.Minute) != Plausible {
		t.Error("a change must end it")
	}
	if got := firstStuck(&w, 60, time.Second, func(int) float64 { return 30002 }); got != -1 {
		t.Errorf("the heater's move must not outlast the run it happened in: stuck at %d", got)
	}
}

func TestSaturatedForLongIsSaturatedNotStuck(t *testing.T) {
	w := Watch{Limits: Climate(0, 1)}
	if got := firstStuck(&w, 5000, time.Second, func(int) float64 { return 1 }); got != -1 {
		t.Errorf("stuck at %d", got)
	}
}

func TestNonsenseDoesNotHideAFrozenSensor(t *testing.T) {
	w := Watch{Limits: LoadCell(-10, 10)}
	raw := func(i int) float64 {
		if i%4 == 3 {
			return math.NaN()
		}
		return 2.5
	}
	if got := firstStuck(&w, 100, time.Second/10, raw); got != 25 {
		t.Errorf("stuck at %d, want 25 (the twentieth real value)", got)
	}
}

// Against a dumb second implementation that keeps the whole sequence.
func TestJudgeAgainstHistory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		limits := Limits{Low: 0, High: 5, Same: rapid.IntRange(0, 4).Draw(t, "same"),
			For: time.Duration(rapid.IntRange(0, 4).Draw(t, "for")) * time.Second}
		seq := rapid.SliceOfN(rapid.IntRange(-1, 6), 1, 40).Draw(t, "raw")
		w := Watch{Limits: limits}
		type value struct{ raw, at int }
		var kept []value
		for at, raw := range seq {
			got := w.Judge(float64(raw), time.Duration(at)*time.Second)
			want := Plausible
			if raw < 0 || raw > 5 {
				want = OutOfRange
			} else {
				kept = append(kept, value{raw, at})
				first := len(kept) - 1
				for first > 0 && kept[first-1].raw == raw {
					first--
				}
				switch {
				case raw == 0 || raw == 5:
					want = Saturated
				case limits.Same > 0 && len(kept)-first >= limits.Same &&
					time.Duration(at-kept[first].at)*time.Second >= limits.For:
					want = Stuck
				}
			}
			if got != want {
				t.Fatalf("%v at %d: %v, want %v", seq, at, got, want)
			}
		}
	})
}

func TestVerdictsHaveWords(t *testing.T) {
	seen := map[string]bool{}
	for v := Plausible; v <= Stuck+1; v++ {
		if s := v.String(); s == "" || seen[s] {
			t.Errorf("verdict %d: %q", v, s)
		} else {
			seen[s] = true
		}
	}
}
