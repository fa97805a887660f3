package compare

import (
	"math"
	"slices"
)

// fewDeals is how many deals are written out one by one. More are counted by the sums that they make.
const fewDeals = 1 << 17

// dealt returns the two-sided probability that a deal of the labels within the blocks gives A a sum of scores at least as
// far out as it has: twice the smaller of the two tails.
func dealt(blocks []shared, score func(disk) float64, o Options) (p, failure float64, exact bool) {
	if deals(blocks) > fewDeals {
		return within(scored(blocks, score), o)
	}
	sums, seen, size := []float64{0}, 0.0, 1.0
	for _, b := range blocks {
		low, _ := b.span(score) // counted from, so that nothing is lost to large numbers
		scores := make([]float64, len(b.disks))
		for i, d := range b.disks {
			scores[i] = score(d) - low
			seen += scores[i] * is(i < b.a)
			size += scores[i]
		}
		sums = added(sums, chosen(scores, b.a))
	}
	low, high := 0, 0
	for _, sum := range sums {
		low += int(is(sum <= seen+1e-10*size)) // a tie but for rounding is a tie
		high += int(is(sum >= seen-1e-10*size))
	}
	return min(1, 2*float64(min(low, high))/float64(len(sums))), 0, true
}

// chosen returns the sums of all choices of k of the scores.
func chosen(scores []float64, k int) []float64 {
	if k == 0 {
		return []float64{0}
	}
	if k > len(scores) {
		return nil
	}
	first, rest := scores[0], scores[1:]
	return append(added([]float64{first}, chosen(rest, k-1)), chosen(rest, k)...)
}

// added returns all sums of one of each.
func added(xs, ys []float64) []float64 {
	out := make([]float64, 0, len(xs)*len(ys))
	for _, x := range xs {
		for _, y := range ys {
			out = append(out, x+y)
		}
	}
	return out
}

// deals is the number of ways to deal the labels within all blocks.
func deals(blocks []shared) float64 {
	product := 1.0
	for _, b := range blocks {
		product *= choose(len(b.disks), b.a)
	}
	return product
}

func choose(n, k int) float64 {
	ways := 1.0
	for i := 1; i <= min(k, n-k); i++ {
		ways = ways * float64(n-min(k, n-k)+i) / float64(i)
	}
	return math.Round(ways)
}

// scored gives every disk a whole number of steps, from zero in each block. The steps begin at a sixty-fourth of a sector
// and are made coarser while the count would take long; above a sector only when it would take very long. They are the same
// for both methods, so that rounding takes nothing from the test's exactness, and a block keeps some hundreds of them.
func scored(blocks []shared, score func(disk) float64) (strata []stratum) {
	spread := 0.0
	for _, b := range blocks {
		low, high := b.span(score)
		spread = max(spread, high-low)
	}
	for step := 1.0 / 64; ; step *= 2 {
		strata = strata[:0]
		for _, b := range blocks {
			strata = append(strata, b.stratum(score, step))
		}
		limit := work / 400
		if step >= 1 {
			limit = work / 8
		}
		if effort(strata) <= limit || spread/step < 400 {
			return strata
		}
	}
}

func (b shared) span(score func(disk) float64) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, d := range b.disks {
		low, high = min(low, score(d)), max(high, score(d))
	}
	return low, high
}

// stratum puts the method with fewer disks first, which makes counting cheaper. Where that is B, scores are turned around:
// a large sum then still speaks for a large sum of A's.
func (b shared) stratum(score func(disk) float64, step float64) stratum {
	low, high := b.span(score)
	s := stratum{a: b.a}
	for _, d := range b.disks {
		s.scores = append(s.scores, int(math.Round((score(d)-low)/step)))
	}
	if others := len(b.disks) - b.a; others < b.a {
		top := int(math.Round((high - low) / step))
		for i := range s.scores {
			s.scores[i] = top - s.scores[i]
		}
		slices.Reverse(s.scores)
		s.a = others
	}
	return s
}
