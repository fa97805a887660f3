package compare

import "math"

// studentQuantile returns the p-quantile of Student's t, for p from a half up and at least one degree of freedom.
func studentQuantile(p, freedom float64) float64 {
	if freedom > 1e6 {
		return normalQuantile(p)
	}
	low, high := 0.0, 1.0
	for studentBeyond(high, freedom) > 1-p && high < 1e9 {
		high *= 2
	}
	for high-low > 1e-10*high {
		if middle := (low + high) / 2; studentBeyond(middle, freedom) > 1-p {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

// studentBeyond is the probability that Student's t is above t, for t from zero up. Abramowitz and Stegun 26.7.1.
func studentBeyond(t, freedom float64) float64 {
	return betaBelow(freedom/(freedom+t*t), freedom/2, 0.5) / 2
}

// betaBelow is the regularised incomplete beta function, by its continued fraction, Abramowitz and Stegun 26.5.8, summed
// from the front (the method of Lentz). Good to ten digits.
func betaBelow(x, a, b float64) float64 {
	if x <= 0 || x >= 1 {
		return min(max(x, 0), 1)
	}
	if x > (a+1)/(a+b+2) {
		return 1 - betaBelow(1-x, b, a)
	}
	lnA, _ := math.Lgamma(a)
	lnB, _ := math.Lgamma(b)
	lnAB, _ := math.Lgamma(a + b)
	front := math.Exp(lnAB-lnA-lnB+a*math.Log(x)+b*math.Log1p(-x)) / a
	const tiny = 1e-300
	c, d := 1.0, 1/nonzero(1-(a+b)*x/(a+1), tiny)
	sum := d
	for m := 1.0; m < 10000; m++ {
		even := m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m))
		odd := -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))
		before := sum
		for _, term := range []float64{even, odd} {
			d = 1 / nonzero(1+term*d, tiny)
			c = nonzero(1+term/c, tiny)
			sum *= c * d
		}
		if math.Abs(sum-before) < 1e-15*math.Abs(sum) {
			break
		}
	}
	return front * sum
}

func nonzero(x, least float64) float64 {
	if math.Abs(x) < least {
		return least
	}
	return x
}
