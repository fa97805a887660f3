package batch

import (
	"math/bits"
	"math/rand/v2"
)

// Chance is drawn from a PCG generator, whose numbers are fixed by its published definition. How they are turned into draws
// stands here, and not in a library that may change it: a seed must give the same deal in ten years.

// Streams of one seed: what one part draws does not move what another draws.
const (
	forImproving = iota + 1
	forChoosing
	forDealing
	forOrdering
)

// chance is one stream of random numbers.
type chance struct{ pcg *rand.PCG }

// stream is the numbers of a seed for one purpose.
func stream(seed, purpose uint64) chance { return chance{rand.NewPCG(seed, purpose)} }

// below draws one of 0 to n − 1, each as likely, by Lemire's method: the product's high half, and again where the low half
// falls into the part that would favour some.
func (c chance) below(n int) int {
	limit := -uint64(n) % uint64(n)
	for {
		hi, lo := bits.Mul64(c.pcg.Uint64(), uint64(n))
		if lo >= limit {
			return int(hi)
		}
	}
}

// unit draws a number from 0 to just below 1.
func (c chance) unit() float64 { return float64(c.pcg.Uint64()>>11) / (1 << 53) }

// order draws an order of 0 to n − 1.
func (c chance) order(n int) []int {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	c.shuffle(order)
	return order
}

// shuffle brings numbers into a random order (Fisher and Yates).
func (c chance) shuffle(x []int) {
	for i := len(x) - 1; i > 0; i-- {
		j := c.below(i + 1)
		x[i], x[j] = x[j], x[i]
	}
}
