package compare

import (
	"cmp"
	"math"
	"slices"
)

// power is the chance with which a true difference of the detectable size is to be shown.
const power = 0.80

// detectable returns the true difference that so many disks, with their scatter, would have shown: at 5 %, shared out
// among the pairs, with a power of 80 %. Nil where the deal has too few ways for any p to be small enough, or the disks
// too few to tell their scatter.
//
// The difference is (t(1-α/2) + t(0.80)) times its standard error, with Student's t for the degrees of freedom that the
// scatter was told by: within 2 % of the noncentral t, and, by simulation, of what the permutation test does.
func (l line) detectable(smallestP float64, pairs int) *float64 {
	if l.spare < 1 || l.scatter == 0 || l.weight <= 0 || smallestP*float64(pairs) > alpha {
		return nil
	}
	return sane(reach(l.spare, pairs) * l.scatter / math.Sqrt(l.weight))
}

// reach is the detectable difference in standard errors.
func reach(spare float64, pairs int) float64 {
	return studentQuantile(1-alpha/2/float64(max(pairs, 1)), spare) + studentQuantile(power, spare)
}

// NeededPerGroup returns how many disks a method it would take to show a true difference of so many sectors a disk, with
// a power of 80 % at a risk of 5 % shared out among so many pairs, when disks of one method and one start scatter with
// that standard deviation, in sectors. False where no number up to a million would do, or the disks do not scatter.
func NeededPerGroup(scatter, difference float64, pairs int) (int, bool) {
	return needed(scatter, difference, func(n int) (spare, weight, least float64) {
		return float64(2*n - 2), float64(n) / 2, 2 / choose(2*n, n) * float64(pairs)
	}, pairs)
}

// needed returns the least n for which the difference is in reach. For n disks, design tells the degrees of freedom, what
// the variance of the estimate is divided by, and the smallest p, times the number of pairs.
func needed(scatter, difference float64, design func(n int) (spare, weight, least float64), pairs int) (int, bool) {
	const most = 1_000_000
	difference = math.Abs(difference)
	if !(scatter > 0) || !(difference > 0) {
		return 0, false
	}
	enough := func(n int) bool {
		spare, weight, least := design(n)
		return least <= alpha && reach(spare, pairs)*scatter/math.Sqrt(weight) <= difference
	}
	low, high := 1, 2 // low is not enough
	for !enough(high) {
		if low, high = high, 2*high; high > most {
			return 0, false
		}
	}
	for high-low > 1 {
		if middle := (low + high) / 2; enough(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return high, true
}

// alone is plan for a single method: the change that its disks would have shown, and how many disks would show the change
// that was asked about or seen.
func alone(rows []Row, o Options) (detectable *float64, need *int) {
	middle, n, square := 0.0, float64(len(rows)), 0.0
	for _, r := range rows {
		middle += float64(r.change()) / n
	}
	for _, r := range rows {
		square += math.Pow(float64(r.change())-middle, 2)
	}
	if n < 2 || square < 1e-9 {
		return nil, nil
	}
	scatter := math.Sqrt(square / (n - 1))
	if math.Ldexp(2, -len(rows)) <= alpha {
		detectable = sane(reach(n-1, 1) * scatter / math.Sqrt(n))
	}
	if o.Difference > 0 {
		middle = o.Difference
	}
	design := func(n int) (spare, weight, least float64) { return float64(n - 1), float64(n), math.Ldexp(2, -n) }
	if n, ok := needed(scatter, middle, design, 1); ok {
		need = &n
	}
	return detectable, need
}

// sortPairs sorts by p, then by names.
func sortPairs(pairs []*Pair) {
	slices.SortFunc(pairs, func(a, b *Pair) int {
		return cmp.Or(cmp.Compare(a.P, b.P), cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B))
	})
}
