package sensors

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// feed returns the values that were new, in order.
func feed(d *Despike, values ...float64) (out []float64) {
	for _, v := range values {
		if got, fresh := d.Next(v); fresh {
			out = append(out, got)
		}
	}
	return out
}

// A steady load with one transfer glitch, as people met it with such amplifiers.
func TestOneSpikeInASteadyLoad(t *testing.T) {
	d := Despike{Jump: 5, Quiet: 8}
	out := feed(&d, 170.75, 170.83, 171.22, 170.80, 170.95, 171.04, -143.37, 171.36, 170.72, 170.86)
	var sum float64
	for _, v := range out {
		sum += v
	}
	if mean := sum / float64(len(out)); math.Abs(mean-170.9) > 0.2 {
		t.Errorf("mean %.2f, want 170.9 ± 0.2", mean)
	}
	if d.Rejected != 1 || len(out) != 9 {
		t.Errorf("rejected %d, kept %d", d.Rejected, len(out))
	}
}

func TestDespike(t *testing.T) {
	for _, c := range []struct {
		name     string
		in, want []float64
		rejected int
	}{
		{"steady", []float64{1, 1.1, 0.9}, []float64{1, 1.1, 0.9}, 0},
		{"a real step is one value late", []float64{0, 0, 9, 9, 9}, []float64{0, 0, 9, 9}, 0},
		{"a ramp goes on", []float64{0, 3, 6, 9, 9}, []float64{0, 6, 9}, 0},
		{"two spikes far apart", []float64{0, 9, 0, 0, 0, 0, 9, 0}, []float64{0, 0, 0, 0, 0, 0}, 2},
		{"flicker is the signal, not a spike", []float64{0, 9, 0, 9, 0, 9, 0}, []float64{0, 0, 9, 0, 9, 0}, 1},
		{"flicker for long", []float64{0, 9, 0, 9, 0, 9, 0, 9, 0, 9, 0, 9}, []float64{0, 0, 9, 0, 9, 0, 9, 0, 9, 0, 9}, 1},
	} {
		d := Despike{Jump: 2, Quiet: 3}
		got := feed(&d, c.in...)
		if len(got) != len(c.want) || d.Rejected != c.rejected {
			t.Errorf("%s: %v (%d rejected), want %v (%d)", c.name, got, d.Rejected, c.want, c.rejected)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
				break
			}
		}
	}
}

// Whatever comes in: a value returned was put in, the filter never holds back two in a row, and what it holds back
// and does not reject is never more than one value late.
func TestDespikeInventsNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Despike{Jump: rapid.Float64Range(0, 5).Draw(t, "jump"), Quiet: rapid.IntRange(0, 5).Draw(t, "quiet")}
		in := rapid.SliceOf(rapid.Float64Range(-10, 10)).Draw(t, "in")
		held, holds, settled := false, 0, 0
		for _, v := range in {
			got, fresh := d.Next(v)
			if fresh && got != v {
				t.Fatalf("%v came out of %v", got, v)
			}
			if !fresh && held {
				t.Fatal("two values held back in a row")
			}
			if held && fresh {
				settled++
			}
			if held = !fresh; held {
				holds++
			}
		}
		if d.Rejected > settled {
			t.Fatalf("%d rejected of %d held and settled", d.Rejected, settled)
		}
	})
}
