package batch

import "math"

// Improving: from random starts two disks change places, or one moves to a group that may have one more, as long as that
// helps. It finds good deals of any number of disks, mostly the best ones of a few dozen, and proves nothing.

const (
	starts      = 60 // random starts, as long as nodes are left
	evaluations = 10 // changes that are looked at for one node: they are cheaper than a node of the search
)

// cost is what is made small: first the imbalance, then, among equals, how far all groups are from the middle. Without
// the second the search would stand still as soon as two groups are alike bad. Both in thousandths of a sector.
type cost struct{ imbalance, off int64 }

func (c cost) less(d cost) bool {
	return c.imbalance < d.imbalance || c.imbalance == d.imbalance && c.off < d.off
}

// improved is a deal and what it costs.
type improved struct {
	group []int
	cost  cost
}

// improver improves one deal.
type improver struct {
	p      *problem
	group  []int
	sums   []sums
	mean   []int64 // of each group, thousandths
	spread []int64 // likewise; of a group of one disk that of all disks, so that it is nowhere off
	middle tally   // of all disks as one group
	cost   cost
	left   int // changes that may yet be looked at
}

// improve returns the best deal of several starts. It looks at 10 changes a node; every start is finished or stopped.
func (p *problem) improve(c chance, nodes int) improved {
	var best improved
	left := max(nodes, 0)
	if left < math.MaxInt/evaluations {
		left *= evaluations
	}
	for i := range starts {
		m := p.improver(p.start(c), left)
		m.run(c)
		if left = m.left; i == 0 || m.cost.less(best.cost) {
			best = improved{m.group, m.cost}
		}
		if left <= 0 || best.cost.imbalance == 0 {
			break
		}
	}
	return best
}

// start is a random deal. With constraints disks are placed one by one; without, every group gets one disk out of each row
// of disks that are nearly alike, which is a good deal already.
func (p *problem) start(c chance) []int {
	k := len(p.methods)
	if !p.bound {
		group := make([]int, 0, len(p.items)+k)
		for len(group) < len(p.items) {
			group = append(group, c.order(k)...)
		}
		return group[:len(p.items)]
	}
	a := p.place()
	for _, i := range c.order(len(p.items)) {
		c.shuffle(a.order)
		a.add(i)
	}
	return a.group
}

func (p *problem) improver(group []int, left int) *improver {
	k := len(p.methods)
	m := &improver{p: p, group: group, sums: p.sumsOf(group), mean: make([]int64, k), spread: make([]int64, k), left: left}
	var all sums
	for _, it := range p.items {
		all = all.with(it.x)
	}
	m.middle = m.middle.with(all.n, all.sum, all.squares)
	for g := range m.sums {
		m.mean[g], m.spread[g] = m.figures(m.sums[g])
	}
	m.cost = m.price()
	return m
}

// figures are mean and spread of a group.
func (m *improver) figures(s sums) (mean, spread int64) {
	if s.n < 2 {
		return mean1000(s.n, s.sum), m.middle.spread.most
	}
	return mean1000(s.n, s.sum), spread1000(s.n, s.sum, s.squares)
}

// price is the cost of the deal as it stands in mean and spread.
func (m *improver) price() cost {
	var c cost
	var t tally
	for g, mean := range m.mean {
		spread := m.spread[g]
		t = t.add(mean, spread, m.sums[g].n > 1)
		c.off += max(mean-m.middle.mean.most, m.middle.mean.most-mean) + max(spread-m.middle.spread.most, m.middle.spread.most-spread)
	}
	c.imbalance = t.imbalance()
	return c
}

// run improves until nothing helps any more, or the allowance is used up.
func (m *improver) run(c chance) {
	for m.left > 0 && m.pass(c.order(len(m.group))) {
	}
}

// pass tries every disk with every other one, and with every group, in the order given. It tells whether anything helped.
func (m *improver) pass(order []int) bool {
	helped := false
	for at, i := range order {
		for g := range m.sums {
			if m.left > 0 && m.move(i, g) {
				helped = true
			}
		}
		for _, j := range order[:at] {
			if m.left <= 0 || m.cost.imbalance == 0 {
				return false
			}
			if m.swap(i, j) {
				helped = true
			}
		}
	}
	return helped
}

// swap lets two disks change places if that helps.
func (m *improver) swap(i, j int) bool {
	a, b := m.group[i], m.group[j]
	x, y := m.p.items[i], m.p.items[j]
	if a == b || x.x == y.x || x.allowed>>b&1 == 0 || y.allowed>>a&1 == 0 {
		return false
	}
	if !m.change(a, b, m.sums[a].without(x.x).with(y.x), m.sums[b].without(y.x).with(x.x)) {
		return false
	}
	m.group[i], m.group[j] = b, a
	return true
}

// move lets a disk go to a smaller group if that helps. The larger group becomes a smaller one by that, so that sizes still
// differ at most by one.
func (m *improver) move(i, b int) bool {
	a, x := m.group[i], m.p.items[i]
	if m.sums[a].n != m.sums[b].n+1 || x.allowed>>b&1 == 0 {
		return false
	}
	if !m.change(a, b, m.sums[a].without(x.x), m.sums[b].with(x.x)) {
		return false
	}
	m.group[i] = b
	return true
}

// change gives two groups other disks, and takes that back if it does not help.
func (m *improver) change(a, b int, toA, toB sums) bool {
	m.left--
	was := [2]sums{m.sums[a], m.sums[b]}
	means, spreads := [2]int64{m.mean[a], m.mean[b]}, [2]int64{m.spread[a], m.spread[b]}
	m.sums[a], m.sums[b] = toA, toB
	m.mean[a], m.spread[a] = m.figures(toA)
	m.mean[b], m.spread[b] = m.figures(toB)
	if c := m.price(); c.less(m.cost) {
		m.cost = c
		return true
	}
	m.sums[a], m.sums[b] = was[0], was[1]
	m.mean[a], m.mean[b], m.spread[a], m.spread[b] = means[0], means[1], spreads[0], spreads[1]
	return false
}
