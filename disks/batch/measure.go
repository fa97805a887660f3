package batch

import (
	"math"
	"math/bits"
)

// Means and spreads are whole numbers of thousandths of a sector. They are rounded so finely that nobody at the bench could
// tell, and exactly, so that two deals that are equal are equal on every machine.

// sectors turns thousandths into sectors.
func sectors(thousandths int64) float64 { return float64(thousandths) / 1000 }

// mean1000 is the mean of n numbers with that sum, none of them negative, in thousandths, halves rounded up.
func mean1000(n, sum int64) int64 { return (2000*sum + n) / (2 * n) }

// spread1000 is the standard deviation (n − 1) of n numbers, at least two, in thousandths, halves rounded up.
//
// It is √(N/D) with N = n·Σx² − (Σx)² and D = n(n − 1). The two parts of N may wrap around; N itself, at most n²/4 times
// the range squared, does not. The root of floats may be off by one: the comparisons after it are in whole numbers.
func spread1000(n, sum, squares int64) int64 {
	over := uint64(n)*uint64(squares) - uint64(sum)*uint64(sum)
	under := uint64(n) * uint64(n-1)
	r := uint64(math.Round(1000 * math.Sqrt(float64(over)/float64(under))))
	for r > 0 && !reaches(over, under, 2*r-1) {
		r--
	}
	for reaches(over, under, 2*r+1) {
		r++
	}
	return int64(r)
}

// reaches tells whether 1000·√(over/under) ≥ halves/2, that is 4·10⁶·over ≥ halves²·under.
func reaches(over, under, halves uint64) bool {
	hi, lo := bits.Mul64(over, 4_000_000)
	hi2, lo2 := bits.Mul64(halves*halves, under)
	return hi > hi2 || hi == hi2 && lo >= lo2
}

// between is a range of thousandths.
type between struct{ least, most int64 }

// with widens the range; first begins it.
func (b between) with(x int64, first bool) between {
	if first {
		return between{x, x}
	}
	return between{min(b.least, x), max(b.most, x)}
}

// tally is what some groups have, in thousandths: the ranges of means and of spreads, and of a group's mean plus and less its
// spread, which bound imbalances better than both ranges alone.
type tally struct {
	groups, spreads int // how many have a mean, and a spread
	mean, spread    between
	upper, lower    between
}

// with adds a group of n disks. Numbers may be counted from any least one: differences stay the same.
func (t tally) with(n, sum, squares int64) tally {
	if n < 2 {
		return t.add(mean1000(n, sum), 0, false)
	}
	return t.add(mean1000(n, sum), spread1000(n, sum, squares), true)
}

// add adds a group by its figures; a group of one disk has no spread.
func (t tally) add(mean, spread int64, hasSpread bool) tally {
	t.mean = t.mean.with(mean, t.groups == 0)
	t.groups++
	if hasSpread {
		first := t.spreads == 0
		t.spread, t.upper, t.lower = t.spread.with(spread, first), t.upper.with(mean+spread, first), t.lower.with(mean-spread, first)
		t.spreads++
	}
	return t
}

// turned is the tally of the same groups with the disks turned round: x becomes most − x.
func (t tally) turned(most int64) tally {
	turn := func(b between) between { return between{1000*most - b.most, 1000*most - b.least} }
	t.mean, t.upper, t.lower = turn(t.mean), turn(t.lower), turn(t.upper)
	return t
}

// imbalance is what is made small, in thousandths of a sector.
func (t tally) imbalance() int64 { return t.mean.most - t.mean.least + t.spread.most - t.spread.least }
