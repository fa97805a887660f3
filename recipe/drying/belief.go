package drying

import (
	"math"
	"slices"

	"fullery/recipe/liquid"
)

// The prior: what is believed of a bench before anything was logged on it.
//
// Its middle is the simulated bench, 2 mL kept and an exposure of 1, that is, h·A as the bench file states it. With
// 0.3 W/K, 3 L/s, 21 °C and 50 % the model then gives about 54 min for water with detergent and 15 min for isopropanol
// 99 %; common practice, no source, is 45 and 15 min. The widths are chosen so that the 80 % interval of a drying spans
// about a factor of two: 0.18, 0.18 and 0.10 add up to a standard deviation of 0.27 in the logarithm, and
// exp(2·1.28·0.27) is 2.0. They were not measured.
const (
	keptWidth     = 0.18 // standard deviation of the logarithm of what a liner keeps
	exposureWidth = 0.18 // the same of the exposure
	defaultJitter = 0.10 // the same of one drying around the model: another disk, another place in the cell
)

// eighty is the 90 % quantile of the normal distribution: 80 % lie within as many standard deviations.
const eighty = 1.2815515655446004

// Spread is a figure with its 80 % interval.
type Spread struct{ Median, Low, High float64 }

func spread(mean, deviation float64) Spread {
	return Spread{math.Exp(mean), math.Exp(mean - eighty*deviation), math.Exp(mean + eighty*deviation)}
}

// Belief is what is known of the two unknowns of a bench: its exposure, one factor on h·A, and what its liners keep of
// each liquid. All of them are log-normal and may hang together. It is plain data, to be stored and read back; the zero
// value is the prior.
type Belief struct {
	Liquids []string    // names of the liquids that something is known of
	Mean    []float64   // logarithm of the exposure, then of m³ kept of each of Liquids; empty: the prior
	Cov     [][]float64 // covariance of Mean
	Jitter  float64     // standard deviation of the logarithm of one drying's time around the model; 0 is 0.10
}

// Prior returns what is believed before anything was logged: see the constants for its origin.
func Prior() Belief { return Belief{}.filled() }

// filled returns b with the prior where nothing is known, or where what was stored does not fit together.
func (b Belief) filled() Belief {
	b.Jitter = orElse(b.Jitter, defaultJitter)
	if b.sound() {
		return b
	}
	return Belief{Mean: []float64{0}, Cov: [][]float64{{exposureWidth * exposureWidth}}, Jitter: b.Jitter}
}

// sound is false for a belief of the wrong shape, or with figures that no fit could have left.
func (b Belief) sound() bool {
	size := len(b.Liquids) + 1
	if len(b.Mean) != size || len(b.Cov) != size || !(b.Jitter > 0 && b.Jitter < 3) {
		return false
	}
	for i, row := range b.Cov {
		if len(row) != size || !(math.Abs(b.Mean[i]) < 50) {
			return false
		}
	}
	_, ok := cholesky(b.Cov)
	return ok
}

// with returns b enlarged by the liquids it knows nothing of, at the prior.
func (b Belief) with(names ...string) Belief {
	b = b.filled()
	out := Belief{slices.Clone(b.Liquids), slices.Clone(b.Mean), nil, b.Jitter}
	for _, name := range names {
		if !slices.Contains(out.Liquids, name) {
			out.Liquids = append(out.Liquids, name)
			out.Mean = append(out.Mean, math.Log(DefaultKept))
		}
	}
	for i := range out.Mean {
		row := make([]float64, len(out.Mean))
		if i < len(b.Mean) {
			copy(row, b.Cov[i])
		} else {
			row[i] = keptWidth * keptWidth
		}
		out.Cov = append(out.Cov, row)
	}
	return out
}

// Exposure returns the factor on h·A.
func (b Belief) Exposure() Spread {
	b = b.filled()
	return spread(b.Mean[0], math.Sqrt(b.Cov[0][0]))
}

// Kept returns what the liner keeps of the liquid, m³.
func (b Belief) Kept(l liquid.Liquid) Spread {
	p := b.pair(l)
	return spread(p.kept, math.Hypot(p.lower[1][0], p.lower[1][1]))
}

// Pin returns b with what the liner keeps of the liquid taken as known within a twentieth, as after weighing this very
// disk. What hangs together with it follows.
func (b Belief) Pin(l liquid.Liquid, kept float64) Belief {
	b = b.with(l.Name)
	if !(kept > 0) {
		return b
	}
	at := 1 + slices.Index(b.Liquids, l.Name)
	// The update of Kalman for one reading of one figure.
	spare := b.Cov[at][at] + keptJitter*keptJitter
	miss := math.Log(kept) - b.Mean[at]
	gain := make([]float64, len(b.Mean))
	for i := range gain {
		gain[i] = b.Cov[i][at] / spare
	}
	row := slices.Clone(b.Cov[at])
	for i := range gain {
		b.Mean[i] += gain[i] * miss
		for j := range gain {
			b.Cov[i][j] -= gain[i] * row[j]
		}
	}
	return b
}

// pair is what an estimate needs of a belief: exposure and what is kept of one liquid, as logarithms, with the lower
// triangular root of their covariance.
type pair struct {
	exposure, kept float64
	lower          [2][2]float64
	jitter         float64
}

func (b Belief) pair(l liquid.Liquid) pair {
	b = b.with(l.Name)
	at := 1 + slices.Index(b.Liquids, l.Name)
	root := math.Sqrt(b.Cov[0][0])
	cross := b.Cov[0][at] / root
	return pair{
		exposure: b.Mean[0], kept: b.Mean[at], jitter: b.Jitter,
		lower: [2][2]float64{{root, 0}, {cross, math.Sqrt(max(b.Cov[at][at]-cross*cross, 0))}},
	}
}
