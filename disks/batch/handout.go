package batch

import (
	"math/bits"
	"slices"
)

// Handing out: which group gets which method, and which of several disks that look alike goes where. All of it by chance,
// each way as likely as any other.

// mostMatched is the most methods for which the ways to give constrained groups their methods are counted.
const mostMatched = 12

// matchings counts the ways to give the parts a method each that all of their disks may get, none twice.
func matchings(parts []part, methods int) float64 {
	return ways(parts, methods)[0]
}

// ways counts, for every set of methods that the first parts have got already, the ways to go on. The number of methods
// in the set tells how many parts those are. Without constraints every set of a size is like any other, and k! is all.
func ways(parts []part, methods int) []float64 {
	all := ^uint64(0) >> (64 - methods)
	if !slices.ContainsFunc(parts, func(g part) bool { return g.allowed != all }) {
		w := 1.0
		for i := range parts {
			w *= float64(methods - i)
		}
		return []float64{w}
	}
	count := make([]float64, 1<<methods)
	for set := len(count) - 1; set >= 0; set-- {
		at := bits.OnesCount(uint(set))
		if at >= len(parts) {
			count[set] = 1
			continue
		}
		for free := parts[at].allowed &^ uint64(set); free != 0; free &= free - 1 {
			count[set] += count[set|1<<bits.TrailingZeros64(free)]
		}
	}
	return count
}

// handOut gives the parts their methods, and the disks of each class their places.
func (p *problem) handOut(parts []part, c chance) []int {
	k := len(p.methods)
	methods := c.order(k)
	if p.bound {
		methods = match(parts, k, c)
	}
	group := make([]int, len(p.items))
	for at, g := range parts {
		for ; g.members != 0; g.members &= g.members - 1 {
			group[bits.TrailingZeros64(g.members)] = methods[at]
		}
	}
	p.mixClasses(group, c)
	return group
}

// match draws one of the matchings, step by step: a method is as likely as the ways that it leaves.
func match(parts []part, methods int, c chance) []int {
	count := ways(parts, methods)
	if len(count) == 1 {
		return c.order(methods)
	}
	var got []int
	set := 0
	for _, g := range parts {
		at, last := c.unit()*count[set], -1
		for free := g.allowed &^ uint64(set); free != 0; free &= free - 1 {
			m := bits.TrailingZeros64(free)
			w := count[set|1<<m]
			if w == 0 {
				continue
			}
			if last = m; at < w {
				break
			}
			at -= w
		}
		got, set = append(got, last), set|1<<last
	}
	return got
}

// mixClasses lets the disks of each class change places at random.
func (p *problem) mixClasses(group []int, c chance) {
	for from := 0; from < len(group); {
		to := from + 1
		for to < len(group) && p.items[to].class == p.items[from].class {
			to++
		}
		c.shuffle(group[from:to])
		from = to
	}
}

// mix does the same for a deal that was improved from a random start, whose groups have methods already.
func (p *problem) mix(group []int, c chance) []int {
	group = slices.Clone(group)
	if !p.bound {
		methods := c.order(len(p.methods))
		for i, g := range group {
			group[i] = methods[g]
		}
	}
	p.mixClasses(group, c)
	return group
}
