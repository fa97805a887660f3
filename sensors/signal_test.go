package sensors

import (
	"errors"
	"math"
	"testing"
	"time"
)

// Case B05: a steady load with one transfer glitch, as people met it.
func TestSignalB05(t *testing.T) {
	recorded := []float64{170.75, 170.83, 171.22, 170.80, 170.95, 171.04, -143.37, 171.36, 170.72, 170.86}
	for _, c := range []struct {
		name string
		s    Signal
	}{
		{"spikes out", Signal{Watch: Watch{Limits: LoadCell(-1000, 1000)}, Despike: Despike{Jump: 5, Quiet: 8}}},
		{"median", Signal{Watch: Watch{Limits: LoadCell(-1000, 1000)}, Median: Median{Over: 3}}},
		{"too fast", Signal{Watch: Watch{Limits: LoadCell(-1000, 1000)}, Rate: Rate{PerSecond: 10, Slack: 1, Persist: 5}}},
	} {
		var sum float64
		var n int
		for i, raw := range recorded {
			got := c.s.Next(raw, time.Duration(i)*100*time.Millisecond)
			if got.Raw != raw || got.Err() != nil {
				t.Errorf("%s: raw %g became %g, %v", c.name, raw, got.Raw, got.Err())
			}
			if got.Fresh {
				sum, n = sum+got.Value, n+1
			}
			if math.Abs(got.Value-170.9) > 0.6 {
				t.Errorf("%s: value %g", c.name, got.Value)
			}
		}
		if mean := sum / float64(n); math.Abs(mean-170.9) > 0.2 {
			t.Errorf("%s: mean %.2f, want 170.9 ± 0.2", c.name, mean)
		}
		if out := c.s.Counts.Spikes + c.s.Counts.TooFast; c.s.Median.Over == 0 && out != 1 {
			t.Errorf("%s: %d taken out, want 1: %+v", c.name, out, c.s.Counts)
		}
	}
}

// Case B01: an end of the bridge converter's codes is an error and no force; one short of it is a value.
func TestSignalB01(t *testing.T) {
	for _, c := range []struct {
		raw  float64
		want error
	}{{8388607, ErrSaturated}, {-8388608, ErrSaturated}, {-1, nil}, {-8388607, nil}, {8388608, ErrRange}, {math.NaN(), ErrRange}} {
		s := Signal{Watch: Watch{Limits: LoadCell(-8388608, 8388607)}}
		got := s.Next(c.raw, 0)
		if !errors.Is(got.Err(), c.want) || got.Fresh != (c.want == nil) {
			t.Errorf("raw %g: %+v, %v", c.raw, got, got.Err())
		}
	}
}

// Case C03: impossible humidities and temperatures are refused with their raw value kept, never cut to the range.
func TestSignalC03(t *testing.T) {
	for _, c := range []struct {
		low, high, raw float64
		want           Verdict
		refused        bool
	}{
		{0, 100, 104, OutOfRange, true},
		{0, 100, 121318, OutOfRange, true},
		{0, 100, -3, OutOfRange, true},
		{-40, 125, -144.7, OutOfRange, true},
		{0, 100, 100, Saturated, false},
		{0, 100, 99.9, Plausible, false},
	} {
		s := Signal{Watch: Watch{Limits: Climate(c.low, c.high)}, Bounds: true}
		s.Next(c.high/2, 0)
		got := s.Next(c.raw, time.Second)
		if got.Verdict != c.want || got.Refused != c.refused || got.Raw != c.raw {
			t.Errorf("%g: %+v", c.raw, got)
		}
		if want := c.raw; c.refused {
			if got.Value != c.high/2 || got.At != 0 || got.Fresh || !errors.Is(got.Err(), ErrRange) {
				t.Errorf("%g: %+v beside %v; the last good value must stay with its age", c.raw, got, got.Err())
			}
		} else if got.Value != want || !got.Fresh {
			t.Errorf("%g: %+v", c.raw, got)
		}
	}
}

// Case C04: frozen while the heater moved; at 100 % for a quarter of an hour beside dry inlet air; slow is not frozen.
func TestSignalC04(t *testing.T) {
	t.Run("frozen", func(t *testing.T) {
		s := Signal{Watch: Watch{Limits: Climate(0, 65535)}}
		var got Sample
		for i := range 60 {
			if i == 10 {
				s.Watch.Moved()
			}
			got = s.Next(30000, time.Duration(i)*time.Second)
		}
		if !errors.Is(got.Err(), ErrStuck) || s.Counts.Stuck != 1 {
			t.Errorf("%+v, %v", got, got.Err())
		}
	})
	t.Run("condensed", func(t *testing.T) {
		s := Signal{Watch: Watch{Limits: Climate(0, 1)}, Bounds: true}
		for at := time.Duration(0); at <= 20*time.Minute; at += time.Second {
			raw := 1.0
			if at == 0 {
				raw = 0.99
			} else if at == 7*time.Minute {
				raw = 1.2 // nonsense in between
			}
			got := s.Next(raw, at)
			want := at-time.Second >= 15*time.Minute
			if Condensed(got.AtEnd, 0.4) != want {
				t.Fatalf("after %v (at its end for %v): want %v", at, got.AtEnd, want)
			}
		}
		if got := s.Next(0.99, 21*time.Minute); got.AtEnd != 0 {
			t.Error("a live value must end it")
		}
		if Condensed(time.Hour, 0.9) || Condensed(time.Hour, math.NaN()) {
			t.Error("a damp or unknown inlet proves nothing")
		}
	})
	t.Run("slow", func(t *testing.T) {
		s := Signal{Watch: Watch{Limits: Climate(0, 65535)}}
		for at := time.Duration(0); at < time.Hour; at += time.Second {
			if got := s.Next(2000+math.Floor(at.Minutes()), at); got.Err() != nil {
				t.Fatalf("after %v: %v", at, got.Err())
			}
		}
	})
}

// Case B04: three values in ten thrown away is a degraded channel, not a mean of the rest.
func TestSignalDegraded(t *testing.T) {
	for _, c := range []struct {
		name string
		bad  func(i int) bool
		want bool
	}{
		{"all well", func(int) bool { return false }, false},
		{"one in ten", func(i int) bool { return i%10 == 0 }, false},
		{"three in ten", func(i int) bool { return i%10 < 3 }, true},
		{"long ago", func(i int) bool { return i < 60 }, false},
	} {
		for _, how := range []string{"failed", "impossible"} {
			s := Signal{Watch: Watch{Limits: LoadCell(-10, 10)}}
			for i := range 100 {
				switch {
				case !c.bad(i):
					s.Next(float64(i%7), time.Duration(i)*time.Second)
				case how == "failed":
					s.Failed()
				default:
					s.Next(11, time.Duration(i)*time.Second)
				}
			}
			if s.Degraded() != c.want || s.Counts.Taken != 100 {
				t.Errorf("%s, %s: %v, %+v", c.name, how, s.Degraded(), s.Counts)
			}
		}
	}
}

// A step that lasts comes through the whole chain; a refused value does not disturb what the filters hold.
func TestSignalStep(t *testing.T) {
	s := Signal{Watch: Watch{Limits: LoadCell(-100, 100)}, Despike: Despike{Jump: 2, Quiet: 3}, Median: Median{Over: 3}}
	var last Sample
	for i, raw := range []float64{0, 0.1, 0, 50, math.NaN(), 50.1, 500, 50, 50.1, 50} {
		last = s.Next(raw, time.Duration(i)*time.Second)
	}
	if last.Value != 50 || last.At != 8*time.Second || s.Counts.Spikes != 0 || s.Counts.NotANumber != 1 || s.Counts.OutOfRange != 1 {
		t.Errorf("%+v, %+v", last, s.Counts)
	}
}

func TestSignalAllocatesNothing(t *testing.T) {
	s := Signal{Watch: Watch{Limits: LoadCell(-100, 100)}, Despike: Despike{Jump: 2, Quiet: 3},
		Rate: Rate{PerSecond: 5, Persist: 3}, Median: Median{Over: 5}}
	i := 0
	if n := testing.AllocsPerRun(1000, func() { s.Next(float64(i%5), time.Duration(i)); i++ }); n != 0 {
		t.Errorf("%g allocations", n)
	}
}

// The zero value has no limits, so that nothing passes: a channel that was not set up gives no values.
func TestSignalZeroValue(t *testing.T) {
	var s Signal
	for _, raw := range []float64{0, 1, -1} {
		if got := s.Next(raw, 0); !got.Refused || got.Fresh {
			t.Errorf("%g passed", raw)
		}
	}
}
