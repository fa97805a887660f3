package compare

import (
	"math"
	"slices"
)

// summarise says what became of the disks of one method.
func summarise(name string, rows []Row, o Options) Method {
	m := Method{Name: name, N: len(rows)}
	var before, after, changes []int
	regained, lost := 0, 0
	for _, r := range rows {
		before, after, changes = append(before, r.Before), append(after, r.After), append(changes, r.change())
		m.Net -= r.change()
		switch {
		case r.change() < 0:
			m.Better++
		case r.change() > 0:
			m.Worse++
		}
		if r.Split {
			m.Counted++
			regained += r.Regained
			lost += r.NewlyLost
		}
	}
	if m.Counted > 0 {
		m.Regained, m.NewlyLost = &regained, &lost
	}
	m.Before, m.After = mean(before), mean(after)
	m.BeforeMedian, m.AfterMedian, m.MedianChange = median(before), median(after), median(changes)
	m.Shift, m.Interval = walsh(changes)
	m.P, m.Error, m.Exact = signFlip(changes, o)
	m.SmallestP = max(math.Ldexp(2, -m.N), leastP)
	return m
}

func mean(xs []int) float64 {
	sum := 0
	for _, x := range xs {
		sum += x
	}
	return float64(sum) / float64(len(xs))
}

func median(xs []int) float64 {
	xs = slices.Sorted(slices.Values(xs))
	n := len(xs)
	return float64(xs[(n-1)/2]+xs[n/2]) / 2
}
