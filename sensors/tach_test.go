package sensors

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

const (
	ms = time.Millisecond
	us = time.Microsecond
)

// fan is a tach of two pulses a turn on a fan rated 3400 rpm.
func fan() *Tach { return &Tach{Pulses: 2, Fastest: 3400.0 / 60} }

// feedEdges hands over edges in the order of time with running sequence numbers.
func feedEdges(t *Tach, edges []time.Duration) {
	slices.Sort(edges)
	for i, at := range edges {
		t.Edge(at, uint32(i)+1)
	}
}

// every returns edges a span apart, from one span after zero up to an end.
func every(span, end time.Duration) (out []time.Duration) {
	for at := span; at < end; at += span {
		out = append(out, at)
	}
	return out
}

// burst returns a burst of spikes 80 µs apart.
func burst(from time.Duration, n int) (out []time.Duration) {
	for i := range n {
		out = append(out, from+time.Duration(i)*80*us)
	}
	return out
}

func wantRPM(t *testing.T, tach *Tach, now time.Duration, rpm, tolerance float64) {
	t.Helper()
	got, _, err := tach.Speed(now)
	if err != nil || math.Abs(got*60-rpm) > tolerance*rpm {
		t.Errorf("%.0f rpm (%v), want %.0f ± %.0f %%", got*60, err, rpm, 100*tolerance)
	}
}

// Case F02: 3400 rpm, two pulses a turn, an edge every 8.82 ms; the same with bursts of 80 µs spikes; hash is no speed.
func TestTachF02(t *testing.T) {
	const end = 2 * time.Second
	clean := every(8820*us, end)
	t.Run("clean", func(t *testing.T) {
		tach := fan()
		feedEdges(tach, clean)
		wantRPM(t, tach, clean[len(clean)-1]+ms, 3400, 0.02)
		if tach.Spurious != 0 || tach.Lost != 0 {
			t.Errorf("%d spurious, %d lost", tach.Spurious, tach.Lost)
		}
	})
	t.Run("bursts behind every edge", func(t *testing.T) {
		tach, all := fan(), slices.Clone(clean)
		for _, at := range clean {
			all = append(all, burst(at+80*us, 10)...)
		}
		feedEdges(tach, all)
		wantRPM(t, tach, clean[len(clean)-1]+2*ms, 3400, 0.02)
	})
	t.Run("bursts at random", func(t *testing.T) {
		random := rand.New(rand.NewPCG(1, 2))
		for range 200 {
			tach, all := fan(), slices.Clone(clean)
			for i, at := range clean {
				if i%4 == 3 {
					all = append(all, burst(at+time.Duration(random.Int64N(int64(8*ms))), 2+random.IntN(8))...)
				}
			}
			feedEdges(tach, all)
			wantRPM(t, tach, clean[len(clean)-1]+3*ms, 3400, 0.02)
		}
	})
	t.Run("hash", func(t *testing.T) {
		for _, hertz := range []float64{300, 1e3, 25e3, 100e3} {
			span := time.Duration(1e9 / hertz)
			tach := fan()
			for i, at := range every(span, end) {
				tach.Edge(at, uint32(i)+1)
				if rps, _, err := tach.Speed(at); err == nil && rps != 0 {
					t.Fatalf("hash of %g Hz was a speed of %g after %v", hertz, rps, at)
				}
			}
			if _, _, err := tach.Speed(end); !errors.Is(err, ErrRange) || !Disbelieved(err) {
				t.Errorf("hash of %g Hz: %v, want it out of range", hertz, err)
			}
		}
	})
	t.Run("faster than anything turns", func(t *testing.T) {
		tach := fan()
		for i, at := range every(5*ms, end) { // 200 Hz, 6000 rpm: above 1.3 times, below the limit of a burst
			tach.Edge(at, uint32(i)+1)
			if rps, _, err := tach.Speed(at); err == nil && rps != 0 {
				t.Fatalf("a speed of %g after %v", rps, at)
			}
		}
		if _, _, err := tach.Speed(end); !errors.Is(err, ErrRange) {
			t.Errorf("%v, want it out of range", err)
		}
	})
	t.Run("hash over a turning fan, then gone", func(t *testing.T) {
		tach, all := fan(), slices.Clone(clean)
		all = append(all, every(10*us, 100*ms)...)
		slices.Sort(all)
		n := 0
		for ; all[n] < 100*ms; n++ {
			tach.Edge(all[n], uint32(n)+1)
		}
		if _, _, err := tach.Speed(100 * ms); !errors.Is(err, ErrRange) {
			t.Errorf("in the hash: %v", err)
		}
		for ; n < len(all); n++ {
			tach.Edge(all[n], uint32(n)+1)
		}
		wantRPM(t, tach, end, 3400, 0.02)
	})
}

// Case F01: gaps in the kernel's sequence numbers are lost edges, and no speed is made of a span that lacks some.
func TestTachF01(t *testing.T) {
	tach := &Tach{Pulses: 1, Fastest: 100}
	for _, e := range []struct {
		at  time.Duration
		seq uint32
	}{{10 * ms, 1}, {20 * ms, 2}, {50 * ms, 5}} {
		tach.Edge(e.at, e.seq)
	}
	if tach.Lost != 2 {
		t.Errorf("lost %d of edges 1, 2, 5; want 2", tach.Lost)
	}
	if rps, _, err := tach.Speed(51 * ms); !errors.Is(err, ErrNotReady) {
		t.Errorf("%g, %v: a span with lost edges is no speed", rps, err)
	}
	tach.Edge(60*ms, 6)
	if rps, age, err := tach.Speed(61 * ms); err != nil || math.Abs(rps-100) > 1e-9 || age != ms {
		t.Errorf("%g rps, age %v, %v; want 100", rps, age, err)
	}
	// The kernel's stamps count, not when the edges are handed over: nothing here knows when that was.
}

// Hash that overruns the kernel's buffer of sixteen events comes in packets with gaps between. It is still hash.
func TestTachHashWithLostEdges(t *testing.T) {
	tach := fan()
	seq := uint32(1)
	for at := time.Duration(0); at < time.Second; at += 50 * ms {
		for i := range uint32(16) {
			tach.Edge(at+time.Duration(i)*10*us, seq+i)
		}
		seq += 5000
	}
	if _, _, err := tach.Speed(time.Second); !errors.Is(err, ErrRange) {
		t.Errorf("%v, want it out of range", err)
	}
	if tach.Lost < 90000 {
		t.Errorf("lost %d", tach.Lost)
	}
}

func TestTachSequence(t *testing.T) {
	for _, c := range []struct {
		name           string
		seq            []uint32
		lost, spurious uint64
	}{
		{"in order", []uint32{7, 8, 9}, 0, 0},
		{"the counter wraps", []uint32{math.MaxUint32 - 1, math.MaxUint32, 0, 1}, 0, 0},
		{"the line was asked for anew", []uint32{500, 501, 1, 2}, 0, 0},
		{"twice the same", []uint32{1, 1, 2}, 0, 1},
		{"no numbers", []uint32{0, 0, 0}, 0, 0},
	} {
		tach := &Tach{Pulses: 1, Fastest: 100}
		for i, seq := range c.seq {
			tach.Edge(time.Duration(i+1)*10*ms, seq)
		}
		if tach.Lost != c.lost || tach.Spurious != c.spurious {
			t.Errorf("%s: lost %d, spurious %d; want %d, %d", c.name, tach.Lost, tach.Spurious, c.lost, c.spurious)
		}
	}
	tach := &Tach{Pulses: 1, Fastest: 100}
	tach.Edge(20*ms, 1)
	tach.Edge(10*ms, 2)
	if tach.Spurious != 1 {
		t.Error("an edge from the past was counted")
	}
}

// A fan that stops is seen at once: after each span without an edge its speed can be no more than that span allows.
func TestTachStops(t *testing.T) {
	tach := fan()
	edges := every(8820*us, time.Second)
	feedEdges(tach, edges)
	last := edges[len(edges)-1]
	previous := math.Inf(1)
	for _, after := range []time.Duration{0, 5 * ms, 8 * ms, 20 * ms, 50 * ms, 100 * ms, 500 * ms, 999 * ms} {
		rps, age, err := tach.Speed(last + after)
		if err != nil || rps > previous || age != after {
			t.Fatalf("after %v: %g rps, age %v, %v", after, rps, age, err)
		}
		if after > 20*ms && rps > 1/after.Seconds() {
			t.Errorf("after %v: %g rps, want at most %g", after, rps, 1/after.Seconds())
		}
		previous = rps
	}
	if rps, _, _ := tach.Speed(last + 100*ms); rps > 0.3*3400/60 {
		t.Errorf("100 ms after the last edge it is %g rps: still proof of a fan", rps)
	}
	if rps, age, err := tach.Speed(last + time.Second); rps != 0 || age != 0 || err != nil {
		t.Errorf("after Quiet: %g, %v, %v", rps, age, err)
	}
	// It starts again: nothing of the old turning is left.
	tach.Edge(5*time.Second, 1000)
	if rps, _, err := tach.Speed(5*time.Second + ms); rps != 0 || err != nil {
		t.Errorf("one edge after a standstill: %g, %v", rps, err)
	}
	tach.Edge(5*time.Second+100*ms, 1001)
	if rps, _, _ := tach.Speed(5*time.Second + 100*ms); math.Abs(rps-5) > 1e-9 {
		t.Errorf("two edges 100 ms apart at two a turn: %g rps, want 5", rps)
	}
}

func TestTachBegins(t *testing.T) {
	tach := fan()
	if _, _, err := tach.Speed(10 * time.Second); !errors.Is(err, ErrNotReady) {
		t.Errorf("nothing known yet: %v", err)
	}
	if _, _, err := tach.Speed(10*time.Second + 999*ms); !errors.Is(err, ErrNotReady) {
		t.Errorf("Quiet has not passed: %v", err)
	}
	if rps, _, err := tach.Speed(11 * time.Second); rps != 0 || err != nil {
		t.Errorf("silent for Quiet: %g, %v", rps, err)
	}
	for _, bad := range []Tach{{}, {Pulses: 2}, {Fastest: 50}, {Pulses: -1, Fastest: 50}, {Pulses: 2, Fastest: math.NaN()}} {
		bad.Edge(ms, 1)
		bad.Edge(2*ms, 2)
		if rps, _, err := bad.Speed(2 * ms); err == nil || rps != 0 {
			t.Errorf("%+v gave %g", bad, rps)
		}
	}
}

// Two pulses of a turn at forty and sixty hundredths of it are one steady speed.
func TestTachUnevenPulses(t *testing.T) {
	tach := fan()
	seq := uint32(0)
	for turn := range 50 {
		at := time.Duration(turn) * 20 * ms
		tach.Edge(at, seq+1)
		tach.Edge(at+8*ms, seq+2)
		seq += 2
		if turn < 3 {
			continue
		}
		for _, look := range []time.Duration{8 * ms, 15 * ms, 19 * ms} {
			if rps, _, err := tach.Speed(at + look); err != nil || math.Abs(rps-50) > 1e-9 {
				t.Fatalf("turn %d, %v: %g rps, %v", turn, look, rps, err)
			}
		}
	}
}

// Any steady speed below the fastest comes out, for any number of pulses, with jitter.
func TestTachAnySpeed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pulses := rapid.IntRange(1, 40).Draw(t, "pulses")
		fastest := rapid.Float64Range(1, 100).Draw(t, "fastest")
		rps := fastest * rapid.Float64Range(0.1, 1).Draw(t, "share")
		tach := Tach{Pulses: pulses, Fastest: fastest, Quiet: time.Minute}
		span := 1e9 / rps / float64(pulses)
		var at time.Duration
		for i := range 60 {
			at = time.Duration(span * (float64(i) + rapid.Float64Range(-0.02, 0.02).Draw(t, "jitter") + 1))
			tach.Edge(at, uint32(i)+1)
		}
		got, age, err := tach.Speed(at)
		if err != nil || age != 0 || math.Abs(got-rps) > 0.05*rps {
			t.Fatalf("%g rps, %v, %v; want %g", got, age, err, rps)
		}
	})
}

// Whatever comes: no panic, never more than 1.3 times the fastest, never below zero, no value beside an error.
func FuzzTach(f *testing.F) {
	f.Add(uint8(2), []byte{1, 2, 3, 200, 4, 0, 0, 9})
	f.Fuzz(func(t *testing.T, pulses uint8, steps []byte) {
		tach := Tach{Pulses: int(pulses), Fastest: 50, Quiet: 100 * ms}
		var at time.Duration
		var seq uint32
		for i, b := range steps {
			at += time.Duration(b) * 100 * us
			seq += uint32(b%5) + 1
			if b%7 == 0 {
				seq -= 3
			}
			tach.Edge(at-time.Duration(b%3)*us, seq)
			if i%2 == 0 {
				continue
			}
			rps, age, err := tach.Speed(at)
			if !(rps >= 0 && rps <= headroom*50*1.000001) || age < 0 || err != nil && rps != 0 {
				t.Fatalf("%g, %v, %v", rps, age, err)
			}
		}
	})
}

func TestTachAllocatesNothing(t *testing.T) {
	tach := fan()
	var at time.Duration
	var seq uint32
	if n := testing.AllocsPerRun(1000, func() {
		at += 8820 * us
		seq++
		tach.Edge(at, seq)
		if seq%50 == 0 { // and hash, whose error must be ready-made
			for i := range time.Duration(1000) {
				tach.Edge(at+i*10*us, 0)
			}
		}
		_, _, _ = tach.Speed(at)
	}); n != 0 {
		t.Errorf("%g allocations", n)
	}
}
