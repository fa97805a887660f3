package compare

import (
	"math"
	"slices"
)

// walsh returns the median of all means of two of the changes, a change with itself among them, and the 95 % interval
// that the signed-rank statistic gives it: of the means in order, the k-th from either end.
//
// J. L. Hodges and E. L. Lehmann, Annals of Mathematical Statistics 34 (1963) 598.
func walsh(changes []int) (estimate float64, interval *[2]float64) {
	means := make([]float64, 0, len(changes)*(len(changes)+1)/2)
	for i, x := range changes {
		for _, y := range changes[i:] {
			means = append(means, float64(x+y)/2)
		}
	}
	return middle(means, 0, signedRankDepth(len(changes)))
}

// contrast is what two disks of a block, or the means of two such contrasts, say of the difference between the methods: a
// difference d makes them differ by d times reach, and differ is how much they do. Reach is 1 less what the difference of
// their starts took for itself when the line was laid; without a line it is 1.
type contrast struct{ differ, reach float64 }

// shift returns the difference between the methods of a pair, and its 95 % interval.
//
// A difference d is in the interval if, once every change of A was made d smaller, the methods are not told apart by rank:
// the line through the starts is laid anew for each d, without looking at the labels, so that the test of each d is as
// exact as that of none. Where each block holds one disk of each method, the contrasts within the blocks are put through
// the signed-rank statistic; otherwise all pairs of two disks of one block are counted, by the rank-sum statistics of the
// blocks added up. For either, the d at which a pair turns over is differ/reach; the estimate is their median.
func shift(blocks []shared, l line) (estimate float64, interval *[2]float64) {
	var pairs []contrast
	paired := true
	for _, b := range blocks {
		paired = paired && len(b.disks) == 2
		for _, x := range b.disks[:b.a] {
			for _, y := range b.disks[b.a:] {
				start := x.before - y.before
				pairs = append(pairs, contrast{x.change - y.change - l.blind*start, 1 - l.pull*start})
			}
		}
	}
	if !paired {
		return turns(pairs, rankSumDepth(blocks))
	}
	means := make([]contrast, 0, len(pairs)*(len(pairs)+1)/2)
	for i, x := range pairs {
		for _, y := range pairs[i:] {
			means = append(means, contrast{(x.differ + y.differ) / 2, (x.reach + y.reach) / 2})
		}
	}
	return turns(means, signedRankDepth(len(pairs)))
}

// turns returns the median and the depth-th from either end of the differences at which the pairs turn over. Disks whose
// starts lie so far apart that a difference would not show in them, or the wrong way round, say nothing of either end:
// they count as if they lay beyond both.
func turns(pairs []contrast, depth int64) (estimate float64, interval *[2]float64) {
	at := make([]float64, 0, len(pairs))
	for _, p := range pairs {
		if p.reach > 1e-9 {
			at = append(at, p.differ/p.reach)
		}
	}
	return middle(at, int64(len(pairs)-len(at)), depth)
}

// middle returns the median, and the depth-th from either end when so many more lie beyond both ends; no interval where
// that is nowhere, and no median of nothing.
func middle(xs []float64, beyond, depth int64) (median float64, interval *[2]float64) {
	n := int64(len(xs))
	if n == 0 {
		return math.NaN(), nil
	}
	slices.Sort(xs)
	median = (xs[(n-1)/2] + xs[n/2]) / 2
	if k := depth - beyond; k >= 1 {
		interval = &[2]float64{xs[k-1], xs[n-k]}
	}
	return median, interval
}
