package calibration

import "math"

// Student95 returns the factor that makes a standard uncertainty with so many degrees of freedom half a 95 % interval
// (Student's t, both sides). Without any degree of freedom there is no interval: infinity. It falls towards 1.96; beyond
// 1000 degrees it is that of 1000.
func Student95(df int) float64 {
	if df < 1 {
		return math.Inf(1)
	}
	df = min(df, 1000)     // the sum has half as many terms
	low, high := 1.9, 13.0 // 12.706 is the largest, for one degree of freedom
	for range 60 {
		if mid := (low + high) / 2; between(mid, df) < 0.95 {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// between returns the probability that Student's t lies between -t and t: Abramowitz and Stegun, Handbook of Mathematical
// Functions, 26.7.3 and 26.7.4 (formulas from memory, checked against published tables).
func between(t float64, df int) float64 {
	angle := math.Atan(t / math.Sqrt(float64(df)))
	sin, cos := math.Sincos(angle)
	odd := df%2 == 1
	term, first := 1.0, 2
	if odd {
		term, first = cos, 3
	}
	var sum float64
	for k := first; k <= df; k += 2 {
		sum += term
		term *= cos * cos * float64(k-1) / float64(k)
	}
	if odd {
		return 2 / math.Pi * (angle + sin*sum)
	}
	return sin * sum
}
