package sensors

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestMedian(t *testing.T) {
	for _, c := range []struct {
		name     string
		over     int
		in, want []float64
	}{
		{"passes everything", 0, []float64{3, 1, 2}, []float64{3, 1, 2}},
		{"of three", 3, []float64{3, 1, 2, 99, 2, 2}, []float64{3, 1, 2, 2, 2, 2}},
		{"an even number is the next odd one", 2, []float64{3, 1, 2, 99, 2, 2}, []float64{3, 1, 2, 2, 2, 2}},
		{"two wild ones in five", 5, []float64{1, 1, 1, 1, 1, 99, -99, 1, 1}, []float64{1, 1, 1, 1, 1, 1, 1, 1, 1}},
		{"a step is half a window late", 5, []float64{0, 0, 0, 0, 0, 9, 9, 9, 9}, []float64{0, 0, 0, 0, 0, 0, 0, 9, 9}},
		{"no number is taken in", 3, []float64{1, 2, math.NaN(), 3}, []float64{1, 2, 2, 2}},
	} {
		m := Median{Over: c.over}
		for i, v := range c.in {
			if got, _ := m.Next(v, 0); got != c.want[i] {
				t.Errorf("%s: value %d is %g, want %g", c.name, i, got, c.want[i])
			}
		}
	}
	m := Median{Over: 5}
	for i := range 8 {
		_, when := m.Next(1, time.Duration(i)*time.Second)
		if want := time.Duration(max(i-2, i/2)) * time.Second; i > 3 && when != want {
			t.Errorf("value %d stands for %v, want %v", i, when, want)
		}
	}
}

// Against sorting the whole window, for any window and any values.
func TestMedianAgainstSorting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		over := rapid.IntRange(-1, 20).Draw(t, "over")
		in := rapid.SliceOfN(rapid.Float64Range(-5, 5), 1, 60).Draw(t, "in")
		m := Median{Over: over}
		window := 1
		for window < over && window < MostMedian {
			window += 2
		}
		for i, v := range in {
			got, when := m.Next(v, time.Duration(i))
			n := min(i+1, window)
			if n%2 == 0 {
				n--
			}
			newest := slices.Sorted(slices.Values(in[i+1-n : i+1]))
			if got != newest[n/2] || when != time.Duration(i-n/2) {
				t.Fatalf("value %d of %v over %d: %g at %d, want %g", i, in, over, got, when, newest[n/2])
			}
		}
	})
}

func TestContact(t *testing.T) {
	broken := errors.New("line gone")
	type look struct {
		at     time.Duration
		closed bool
		failed error
		want   float64
	}
	for _, c := range []struct {
		name  string
		looks []look
	}{
		{"closed is believed after a while", []look{{0, true, nil, 0}, {49 * ms, true, nil, 0}, {50 * ms, true, nil, 1}, {time.Hour, true, nil, 1}}},
		{"open shows at once", []look{{0, true, nil, 0}, {60 * ms, true, nil, 1}, {61 * ms, false, nil, 0}, {62 * ms, true, nil, 0}, {111 * ms, true, nil, 0}, {112 * ms, true, nil, 1}}},
		{"bouncing is not closed", []look{{0, true, nil, 0}, {40 * ms, false, nil, 0}, {45 * ms, true, nil, 0}, {90 * ms, true, nil, 0}, {95 * ms, true, nil, 1}}},
		{"what cannot be read is trouble, and proves nothing later", []look{{0, true, nil, 0}, {60 * ms, true, nil, 1}, {70 * ms, true, broken, 0}, {80 * ms, true, nil, 0}, {130 * ms, true, nil, 1}}},
		{"a clock that goes back proves no waiting", []look{{100 * ms, true, nil, 0}, {10 * ms, true, nil, 0}, {59 * ms, true, nil, 0}, {60 * ms, true, nil, 1}}},
		{"broken wire from the start", []look{{0, false, nil, 0}, {time.Hour, false, nil, 0}}},
	} {
		contact := Contact{Settle: 50 * ms}
		for i, l := range c.looks {
			got, err := contact.Next(l.closed, l.failed, l.at)
			if got != l.want || (err != nil) != (l.failed != nil) || err != nil && !errors.Is(err, l.failed) {
				t.Errorf("%s, look %d: %g, %v; want %g", c.name, i, got, err, l.want)
			}
		}
	}
	contact := Contact{Settle: 50 * ms}
	for _, at := range []time.Duration{0, 60 * ms} {
		_, _ = contact.Next(true, nil, at)
	}
	contact.Opened() // for less time than lies between two looks
	if got, _ := contact.Next(true, nil, 70*ms); got != 0 {
		t.Error("an opening between two looks was not seen")
	}
}

// Whatever the line does: 1 only after it was closed, and readable, at every look for the whole of Settle.
func TestContactNeverTooSoon(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Contact{Settle: time.Duration(rapid.IntRange(1, 5).Draw(t, "settle"))}
		closedSince, at := time.Duration(-1), time.Duration(0)
		for _, x := range rapid.SliceOf(rapid.IntRange(0, 5)).Draw(t, "looks") {
			at += time.Duration(x%3) + 1
			var failed error
			if x == 5 {
				failed = ErrNoAnswer
			}
			closed := x != 0
			if !closed || failed != nil {
				closedSince = -1
			} else if closedSince < 0 {
				closedSince = at
			}
			got, _ := c.Next(closed, failed, at)
			if want := closedSince >= 0 && at-closedSince >= c.Settle; (got == 1) != want {
				t.Fatalf("at %d: %g, want %v", at, got, want)
			}
		}
	})
}

func TestRate(t *testing.T) {
	for _, c := range []struct {
		name     string
		in, want []float64 // one a second; want repeats the last one while a value is refused
		rejected int
	}{
		{"slow enough", []float64{20, 20.9, 21.8}, []float64{20, 20.9, 21.8}, 0},
		{"a spike", []float64{20, 85, 20.5}, []float64{20, 20, 20.5}, 1},
		{"a new level is believed in the end", []float64{20, 30, 30.5, 30.2, 30.3}, []float64{20, 20, 20, 30.2, 30.3}, 2},
		{"wild values never are", []float64{20, 85, -40, 85, -40, 85, -40}, []float64{20, 20, 20, 20, 20, 20, 20}, 6},
		{"no numbers", []float64{20, math.NaN(), math.Inf(1), 20}, []float64{20, 20, 20, 20}, 2},
		{"a long silence allows more", []float64{20, 85, 85, 23}, []float64{20, 20, 20, 23}, 2},
	} {
		r := Rate{PerSecond: 1, Slack: 0.1, Persist: 3}
		for i, v := range c.in {
			got, fresh := r.Next(v, time.Duration(i)*time.Second)
			if got != c.want[i] || fresh != (v == c.want[i] && !math.IsNaN(v)) {
				t.Errorf("%s: value %d is %g (%v), want %g", c.name, i, got, fresh, c.want[i])
			}
		}
		if r.Rejected != c.rejected {
			t.Errorf("%s: %d rejected, want %d", c.name, r.Rejected, c.rejected)
		}
	}
	r := Rate{PerSecond: 1}
	r.Next(1, time.Second)
	if v, fresh := r.Next(2, 0); v != 2 || !fresh {
		t.Error("Persist 0: the first value of a new level is believed")
	}
	r = Rate{PerSecond: 1, Slack: 0.5, Persist: 9}
	r.Next(1, time.Hour)
	if v, fresh := r.Next(1.2, 0); v != 1.2 || !fresh {
		t.Error("a clock that goes back takes nothing from the slack")
	}
}

// Whatever comes in: no value is invented, and two neighbours that are used differ by no more than the rate, unless
// as many values as Persist asked for it.
func TestRateInventsNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Rate{PerSecond: 1, Slack: 0.5, Persist: rapid.IntRange(2, 4).Draw(t, "persist")}
		var last float64
		held, begun := 0, false
		var lastAt time.Duration
		for i, v := range rapid.SliceOf(rapid.Float64Range(-10, 10)).Draw(t, "in") {
			at := time.Duration(i) * time.Second
			got, fresh := r.Next(v, at)
			switch {
			case !fresh && got != last:
				t.Fatalf("%g while refused, want %g", got, last)
			case fresh && got != v:
				t.Fatalf("%g came out of %g", got, v)
			case fresh && begun && math.Abs(v-last) > 0.5+(at-lastAt).Seconds()+1e-9 && held < r.Persist-1:
				t.Fatalf("from %g to %g after %d refused", last, v, held)
			}
			if held++; fresh {
				held, begun, last, lastAt = 0, true, v, at
			}
		}
	})
}
