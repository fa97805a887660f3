package batch

import (
	"cmp"
	"math"
	"slices"
)

// Blocks: which disks may be exchanged when a comparison asks what chance alone would have done.
//
// Only disks under the same constraints, because another disk could not have had their place. And only disks that start
// nearly alike, because what becomes of a disk hangs on how it starts: so disks stand in the order of missing sectors, and
// a block is a run of them. A block has at least r disks of every method that those disks have, and what is left over at
// the end belongs to the last one: a block in which one method stands alone would tell nothing.
//
// r is as small as it can be, and blocks as narrow, with one condition: blocks of pairs leave a small batch so few
// exchanges that nothing could ever be found. For each pair of methods there are to be so many that the smallest
// two-sided p, twice one in that number, is still at most 5 % after it was multiplied by the number of pairs; or else as
// many as one single block has. In a block that is wide the test errs on the side of finding less, because the deal has
// balanced what the exchanges then unbalance.

// perPair is the least number of exchanges, for each pair that is compared: 2 ÷ 40 is 5 %.
const perPair = 40

// blocks gives each item its block.
func (p *problem) blocks(group []int) []int {
	k := len(p.methods)
	sets := p.constraints()
	whole := p.exchanges(cut(sets, group, k, len(group)), group)
	want := perPair * float64(k*(k-1)/2)
	for r := 1; ; r++ {
		runs := cut(sets, group, k, r)
		have, enough := p.exchanges(runs, group), true
		for pair, n := range have {
			enough = enough && n >= min(want, whole[pair])
		}
		if !enough && r < len(group) {
			continue
		}
		block := make([]int, len(group))
		for b, run := range runs {
			for _, i := range run {
				block[i] = b + 1
			}
		}
		return block
	}
}

// constraints gathers the items that may get the same methods, two or more, those that may get most first. Items stay in
// their order, most missing sectors first.
func (p *problem) constraints() [][]int {
	sets := map[uint64][]int{}
	for i, it := range p.items {
		if it.allowed&(it.allowed-1) != 0 {
			sets[it.allowed] = append(sets[it.allowed], i)
		}
	}
	var all [][]int
	for _, set := range sets {
		all = append(all, set)
	}
	slices.SortFunc(all, func(a, b []int) int { return cmp.Compare(p.items[b[0]].allowed, p.items[a[0]].allowed) })
	return all
}

// cut cuts each set into runs with at least r disks of each of its methods.
func cut(sets [][]int, group []int, methods, r int) [][]int {
	var runs [][]int
	for _, set := range sets {
		whole := make([]int, methods)
		for _, i := range set {
			whole[group[i]]++
		}
		first, from, have := len(runs), 0, make([]int, methods)
		for at, i := range set {
			have[group[i]]++
			if full(have, whole, r) {
				runs, from, have = append(runs, set[from:at+1]), at+1, make([]int, methods)
			}
		}
		if left := set[from:]; len(left) > 0 && len(runs) > first {
			last := &runs[len(runs)-1]
			*last = set[len(set)-len(left)-len(*last):]
		} else if len(left) > 0 {
			runs = append(runs, left)
		}
	}
	return runs
}

// full tells whether a run has r disks of each method that its set has.
func full(have, whole []int, r int) bool {
	for m := range have {
		if whole[m] > 0 && have[m] < r {
			return false
		}
	}
	return true
}

// exchanges counts, for each pair of methods, in how many ways its disks can be exchanged within the runs.
func (p *problem) exchanges(runs [][]int, group []int) []float64 {
	k := len(p.methods)
	count := make([]float64, k*k)
	for i := range count {
		count[i] = 1
	}
	for _, run := range runs {
		have := make([]int, k)
		for _, i := range run {
			have[group[i]]++
		}
		for a := range k {
			for b := range a {
				count[a*k+b] = min(count[a*k+b]*choices(have[a]+have[b], have[b]), math.MaxFloat64)
			}
		}
	}
	return count
}

// choices is the binomial coefficient of n over m; infinite when it is larger than a float.
func choices(n, m int) float64 {
	c := 1.0
	for i := 1; i <= m; i++ {
		c = c * float64(n-m+i) / float64(i)
	}
	return math.Round(c)
}
