package sensors

import (
	"math"
	"time"
)

// MostMedian is the widest window of a Median.
const MostMedian = 15

// Median gives the middle one of the last values. It is for a signal that is noisy all the time with wild values among
// it: up to half of the window may be nonsense and leaves no trace, where a mean would be pulled along. The price is
// delay: a real step shows only when half of the window has seen it. Where the signal is quiet and the wild values are
// rare and single, Despike costs no delay at all.
type Median struct {
	Over int // values in the window, odd; an even number counts as the next odd one, 0 and 1 pass everything

	values [MostMedian]float64
	times  [MostMedian]time.Duration
	next   int
	held   int
}

// Next takes a value with the time of its conversion and returns the value to use with the time that it stands for: the
// middle of the window, because a step shows half a window after it was made. A NaN is not taken in. Until the window
// is full the newest odd number of values is used.
func (m *Median) Next(v float64, at time.Duration) (value float64, when time.Duration) {
	over := m.over()
	if !math.IsNaN(v) {
		m.values[m.next], m.times[m.next] = v, at
		m.next = (m.next + 1) % MostMedian
		m.held = min(m.held+1, over)
	}
	if m.held == 0 {
		return v, at
	}
	var sorted [MostMedian]float64
	n := m.held - (m.held+1)%2 // odd
	for i := range n {
		v := m.values[m.back(i)]
		j := i
		for ; j > 0 && sorted[j-1] > v; j-- {
			sorted[j] = sorted[j-1]
		}
		sorted[j] = v
	}
	return sorted[n/2], m.times[m.back(n/2)]
}

// back returns where the value taken in i values ago is kept.
func (m *Median) back(i int) int { return (m.next - 1 - i + 2*MostMedian) % MostMedian }

func (m *Median) over() int { return min(max(m.Over, 1)|1, MostMedian) }
