package compare

import (
	"math"
	"math/rand/v2"
)

// stratum is one block of a pair: the scores of its disks, whole numbers from zero, those of one method first.
type stratum struct {
	scores []int
	a      int // how many disks that method has
}

func (s stratum) sum() (sum int) {
	for _, x := range s.scores[:s.a] {
		sum += x
	}
	return sum
}

// within returns the two-sided probability, twice the smaller of the two tails, that a deal of the labels within the
// blocks gives the first method a sum of scores at least as far out as it has. Counted, or, where that would take too long, drawn.
func within(strata []stratum, o Options) (p, failure float64, exact bool) {
	seen := 0
	for _, s := range strata {
		seen += s.sum()
	}
	if effort(strata) > work {
		return drawDeals(strata, o)
	}
	low, high := 0.0, 0.0
	for sum, share := range sums(strata) {
		if sum <= seen {
			low += share
		}
		if sum >= seen {
			high += share
		}
	}
	return min(1, max(2*min(low, high), leastP)), 0, true
}

// effort is about how many additions sums takes.
func effort(strata []stratum) (steps float64) {
	total := 0.0
	for _, s := range strata {
		width := float64(s.a)*float64(s.top()) + 1
		total += width
		steps += float64(len(s.scores))*float64(s.a)*width + min(width, choose(len(s.scores), s.a))*total
		if len(s.scores) > 900 { // the number of deals of so large a block is beyond what a float holds
			return math.Inf(1)
		}
	}
	return steps
}

// top is the largest score of the block.
func (s stratum) top() (top int) {
	for _, x := range s.scores {
		top = max(top, x)
	}
	return top
}

// sums returns the share of all deals that give the first method each sum of scores.
func sums(strata []stratum) []float64 {
	all := []float64{1}
	for _, s := range strata {
		all = convolve(all, s.sums())
	}
	return all
}

// sums returns the same for one block: among all choices of as many disks as it has.
func (s stratum) sums() []float64 {
	width := s.a*s.top() + 1
	ways := make([][]float64, s.a+1) // by number of disks chosen, then by their sum
	for k := range ways {
		ways[k] = make([]float64, width)
	}
	ways[0][0] = 1
	for i, score := range s.scores {
		for k := min(i+1, s.a); k > 0; k-- {
			for sum, n := range ways[k-1][:width-score] {
				ways[k][sum+score] += n
			}
		}
	}
	share, all := ways[s.a], choose(len(s.scores), s.a)
	for sum := range share {
		share[sum] /= all
	}
	return share
}

// convolve returns the distribution of the sum of two independent whole numbers.
func convolve(all, more []float64) []float64 {
	out := make([]float64, len(all)+len(more)-1)
	for by, share := range more {
		if share == 0 {
			continue
		}
		for sum, x := range all {
			out[sum+by] += x * share
		}
	}
	return out
}

// drawDeals estimates what sums counts. The deal that was seen counts as one of the draws, so that p is never nothing.
func drawDeals(strata []stratum, o Options) (p, failure float64, exact bool) {
	random := rand.New(rand.NewPCG(o.Seed, 2))
	seen := 0
	for _, s := range strata {
		seen += s.sum()
	}
	low, high := 0, 0
	for range o.Draws {
		sum := 0
		for _, s := range strata {
			sum += s.deal(random)
		}
		if sum <= seen {
			low++
		}
		if sum >= seen {
			high++
		}
	}
	tail := float64(min(low, high)+1) / float64(o.Draws+1)
	return min(1, 2*tail), 2 * math.Sqrt(tail*(1-tail)/float64(o.Draws)), false
}

// deal draws a deal of the block and returns the first method's sum of scores.
func (s stratum) deal(random *rand.Rand) (sum int) {
	left, n := s.a, len(s.scores)
	for i, score := range s.scores {
		if random.IntN(n-i) < left {
			sum += score
			left--
		}
	}
	return sum
}
