package advice

import "math"

// What is believed of a disk before its first round. Assumed, no source: a cleaning brings back a quarter of what is
// missing, give or take as much, and costs one sector in two hundred of those that were readable. Rounds scatter around a
// disk's rate as shares of twenty sectors would: so a round of a thousand sectors tells about as much as one of twenty.
const (
	regainA, regainB = 1.0, 3.0
	lossA, lossB     = 0.5, 99.5
	alike            = 20.0
	fading           = 0.5 // weight of a round against the one after it: what is left grows harder, and the disk older
)

// eighty is the 90 % quantile of the normal distribution: 80 % lie within as many standard deviations.
const eighty = 1.2815515655446004

// belief is what is known of a rate: its possible values and their probabilities.
type belief struct{ rate, weight []float64 }

// learn returns what so many successes among so many say of a rate whose prior is a beta distribution, the last counting
// most. Values are even in the logarithm of the odds.
func learn(a, b float64, successes, among []int) belief {
	const points, far = 61, 12.0
	var out belief
	most := math.Inf(-1)
	for i := range points {
		odds := far * (2*float64(i)/(points-1) - 1)
		rate := 1 / (1 + math.Exp(-odds))
		log := a*math.Log(rate) + b*math.Log1p(-rate)
		part := 1.0
		for k := len(successes) - 1; k >= 0; k-- {
			log += part * logBetaBinomial(successes[k], among[k], alike*rate, alike*(1-rate))
			part *= fading
		}
		out.rate, out.weight = append(out.rate, rate), append(out.weight, log)
		most = max(most, log)
	}
	sum := 0.0
	for i := range out.weight {
		out.weight[i] = math.Exp(out.weight[i] - most)
		sum += out.weight[i]
	}
	for i := range out.weight {
		out.weight[i] /= sum
	}
	return out
}

// logBetaBinomial is the logarithm of the probability of k of n when the rate is beta distributed.
func logBetaBinomial(k, n int, a, b float64) float64 {
	x, m := float64(k), float64(n)
	return -math.Log(m+1) - logBeta(m-x+1, x+1) + logBeta(x+a, m-x+b) - logBeta(a, b)
}

func logBeta(a, b float64) float64 {
	x, _ := math.Lgamma(a)
	y, _ := math.Lgamma(b)
	z, _ := math.Lgamma(a + b)
	return x + y - z
}

// betaBinomial returns the probabilities of 0 to n, each from the one before.
func betaBinomial(n int, a, b float64) []float64 {
	out := make([]float64, n+1)
	out[0] = math.Exp(logBetaBinomial(0, n, a, b))
	for k := range n {
		x, left := float64(k), float64(n-k)
		out[k+1] = out[k] * left * (a + x) / ((x + 1) * (b + left - 1))
	}
	return out
}

// foretell returns what the rates say of so many sectors: for each rate the probabilities of every count.
func (b belief) foretell(n int) (each [][]float64) {
	for _, rate := range b.rate {
		each = append(each, betaBinomial(n, alike*rate, alike*(1-rate)))
	}
	return each
}

// foretell sets what another round of cleaning will do to a disk with so many sectors missing of all.
func (a *Advice) foretell(rounds []attempt, missing, sectors int) {
	var regained, missed, lost, readable []int
	for _, r := range rounds {
		regained, missed = append(regained, r.regained), append(missed, r.missing)
		lost, readable = append(lost, r.lost), append(readable, r.readable)
	}
	gain, loss := learn(regainA, regainB, regained, missed), learn(lossA, lossB, lost, readable)
	gains, losses := gain.foretell(missing), loss.foretell(sectors-missing)
	a.Regained, a.NewlyLost = gain.count(gains), loss.count(losses)
	var chances, weights []float64
	for i, g := range gains {
		more := above(g)
		for j, l := range losses {
			chances, weights = append(chances, exceeds(more, l)), append(weights, gain.weight[i]*loss.weight[j])
		}
	}
	for i, c := range chances {
		a.Chance += c * weights[i]
	}
	a.Chance = min(a.Chance, 1)
	a.Interval = [2]float64{quantile(chances, weights, 0.1), quantile(chances, weights, 0.9)}
}

// above returns for each count the probability of a larger one.
func above(share []float64) []float64 {
	out := make([]float64, len(share))
	for k := len(share) - 2; k >= 0; k-- {
		out[k] = out[k+1] + share[k+1]
	}
	return out
}

// exceeds is the probability that a count, of which above tells, exceeds another.
func exceeds(above, other []float64) (sum float64) {
	for k := range min(len(above), len(other)) {
		sum += other[k] * above[k]
	}
	return min(sum, 1)
}

// count mixes the rates' probabilities and returns the mean with the 80 % interval.
func (b belief) count(each [][]float64) Count {
	mixed := make([]float64, len(each[0]))
	for i, share := range each {
		for k, x := range share {
			mixed[k] += b.weight[i] * x
		}
	}
	c, counts := Count{}, make([]float64, len(mixed))
	for k, x := range mixed {
		counts[k] = float64(k)
		c.Mean += x * float64(k)
	}
	c.Low, c.High = quantile(counts, mixed, 0.1), quantile(counts, mixed, 0.9)
	return c
}
