package compare

import (
	"math"
	"math/rand/v2"
)

// work is how many additions a count may take before draws take its place: a few tenths of a second.
const work = 2e8

// leastP stands for a probability that is smaller than can be told from nothing: none is ever nothing.
const leastP = 1e-300

// signFlip returns the two-sided probability that the sum of changes, each with a sign by a fair coin, comes out at least
// as far from zero as it did. It counts over all 2^n choices of signs by way of the sums that they make. Where that would
// take too long it draws, and then failure is the standard error of p.
func signFlip(changes []int, o Options) (p, failure float64, exact bool) {
	sizes, total, sum := sizesOf(changes)
	if sum == 0 {
		return 1, 0, true
	}
	// With the minus signs on changes that make s together, the sum is total-2s: at least sum for s up to reach.
	reach := (total - sum) / 2
	if float64(len(sizes))*float64(reach+1) <= work {
		return max(2*subsetsUpTo(sizes, reach), leastP), 0, true
	}
	return drawSigns(sizes, sum, o)
}

// sizesOf returns the sizes of the changes that are not zero, in units of their greatest common divisor, their total, and
// the size of the sum of the changes in the same units.
func sizesOf(changes []int) (sizes []int, total, sum int) {
	unit := 0
	for _, x := range changes {
		unit = divisor(unit, abs(x))
	}
	for _, x := range changes {
		if x != 0 {
			sizes = append(sizes, abs(x)/unit)
			total += abs(x) / unit
			sum += x / unit
		}
	}
	return sizes, total, abs(sum)
}

// subsetsUpTo returns the share of all subsets of the sizes whose sum is at most reach. Halving at each size keeps the
// shares exact as long as there are no more than 53 sizes, and within rounding beyond.
func subsetsUpTo(sizes []int, reach int) float64 {
	share := make([]float64, reach+1)
	share[0] = 1
	for _, size := range sizes {
		for s := reach; s >= 0; s-- {
			with := 0.0
			if s >= size {
				with = share[s-size]
			}
			share[s] = (share[s] + with) / 2
		}
	}
	sum := 0.0
	for _, x := range share {
		sum += x
	}
	return sum
}

// drawSigns estimates what subsetsUpTo counts. The outcome that was seen counts as one of the draws, so that p is never
// nothing.
func drawSigns(sizes []int, sum int, o Options) (p, failure float64, exact bool) {
	random := rand.New(rand.NewPCG(o.Seed, 1))
	hits := 0
	for range o.Draws {
		drawn := 0
		for _, size := range sizes {
			if random.Uint64()&1 == 0 {
				drawn += size
			} else {
				drawn -= size
			}
		}
		if abs(drawn) >= sum {
			hits++
		}
	}
	p = float64(hits+1) / float64(o.Draws+1)
	return p, math.Sqrt(p * (1 - p) / float64(o.Draws)), false
}

func abs(x int) int { return max(x, -x) }

// divisor is the greatest common divisor of two numbers that are not below zero.
func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
