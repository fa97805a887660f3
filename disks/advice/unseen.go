package advice

import (
	"math"
	"slices"
)

// Unseen estimates how many of the sectors that came in no reading would come if reading went on, from how many came in
// exactly one and in exactly two: Chao's lower bound, with its log-normal interval so many standard deviations wide to
// either side (1.96 for 95 %). seen[k] is how many came in k of the readings. False for fewer than two readings, or where
// none came once or none twice.
//
// It holds if readings are alike; sectors that differ make it too small, never too large on average. With two readings
// that catch equally many it is Lincoln's and Petersen's estimate. A. Chao, Biometrics 43 (1987) 783; the factor for few
// readings from her later work, from memory.
func Unseen(seen []int, deviations float64) (Count, bool) {
	readings := len(seen) - 1
	if readings < 2 || seen[1] == 0 || seen[2] == 0 {
		return Count{}, false
	}
	once, twice := float64(seen[1]), float64(seen[2])
	few := float64(readings-1) / float64(readings)
	ratio := once / twice
	mean := few * once * ratio / 2
	variance := twice * (math.Pow(ratio, 4)/4 + math.Pow(ratio, 3) + ratio*ratio/2)
	wide := math.Exp(deviations * math.Sqrt(math.Log1p(variance/(mean*mean))))
	return Count{mean, mean / wide, mean * wide}, true
}

// cap bounds the count by what there is.
func (c *Count) cap(most float64) {
	c.Mean, c.Low, c.High = min(c.Mean, most), min(c.Low, most), min(c.High, most)
}

// quantile returns the smallest of the values with at least such a share of the weight at or below it.
func quantile(values, weights []float64, share float64) float64 {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case values[i] < values[j]:
			return -1
		case values[i] > values[j]:
			return 1
		}
		return 0
	})
	sum, all := 0.0, 0.0
	for _, w := range weights {
		all += w
	}
	for _, i := range order {
		if sum += weights[i]; sum >= share*all {
			return values[i]
		}
	}
	return values[order[len(order)-1]]
}
