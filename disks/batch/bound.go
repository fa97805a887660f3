package batch

import "math"

// Bounds: figures that no way of dealing some disks into some groups gets past. They prune the search, and are all that is
// known of the optimum where the search has not ended. Computed in floats, in thousandths of a sector, used with slack.
//
// slack: rounding moves each of the four figures of an imbalance by at most half a thousandth. What floats add is far below
// 0.01: what could cancel is added up in whole numbers first.
const slack = 2.01

// ledger has the sums over the first i of some disks, most missing sectors first, and of their squares: with it the sums of
// any run of them.
type ledger struct{ sum, squares []int64 }

// begin empties the ledger.
func (l *ledger) begin() { l.sum, l.squares = append(l.sum[:0], 0), append(l.squares[:0], 0) }

// enter writes one more disk down.
func (l *ledger) enter(x int64) {
	last := len(l.sum) - 1
	l.sum, l.squares = append(l.sum, l.sum[last]+x), append(l.squares, l.squares[last]+x*x)
}

// n is the number of disks.
func (l *ledger) n() int { return len(l.sum) - 1 }

// total is the sum of the disks from a to just before b.
func (l *ledger) total(a, b int) int64 { return l.sum[b] - l.sum[a] }

// mean is the mean of those disks, in thousandths.
func (l *ledger) mean(a, b int) float64 { return 1000 * float64(l.total(a, b)) / float64(b-a) }

// scatter is the sum of squares of those disks about their own mean, in sectors². The parts of the difference may wrap
// around; the difference does not.
func (l *ledger) scatter(a, b int) float64 {
	s := uint64(l.total(a, b))
	return float64(uint64(b-a)*uint64(l.squares[b]-l.squares[a])-s*s) / float64(b-a)
}

// split says into how many groups disks are yet to go: groups of size disks, and larger ones of one more.
type split struct{ groups, larger, size int }

// fewest is how many disks there are in c groups at least.
func (s split) fewest(c int) int { return c*s.size + max(0, c-(s.groups-s.larger)) }

// smallest and largest are the sizes of groups that there are.
func (s split) smallest() int {
	if s.larger == s.groups {
		return s.size + 1
	}
	return s.size
}

func (s split) largest() int {
	if s.larger > 0 {
		return s.size + 1
	}
	return s.size
}

// bounds are what any way of dealing has: some mean at most leastMean and some mean at least mostMean, and spreads likewise.
type bounds struct{ leastMean, mostMean, leastSpread, mostSpread float64 }

// none is what is known of no groups.
var none = bounds{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}

// bounds looks at all ways of dealing the ledger's disks in which the means of two groups differ at most by apart
// (thousandths).
//
// Some group is no better than the mean of all, and some no worse. More is known of disks that stick out: the j worst disks
// are in at most j groups. The other groups have to do without them, so that one of them has no more than the mean of the
// next worst, and no more spread than the disks that are left can give them together. The same from the other end.
func (l *ledger) bounds(s split, apart float64) bounds {
	n, b := l.n(), none
	if s.groups == 0 {
		return b
	}
	b.leastMean, b.mostMean = l.mean(0, n), l.mean(0, n)
	b.spread(l.scatter(0, n), n-s.groups)
	if free := n - s.groups; free > 0 {
		// The means of groups scatter at most by n·apart²/4 (Popoviciu); the rest of the scatter is inside of groups.
		inside := l.scatter(0, n) - float64(n)*apart*apart/4e6
		b.mostSpread = 1000 * math.Sqrt(max(0, inside)/float64(free))
	}
	for j := 1; j < s.groups; j++ {
		fewest := s.fewest(s.groups - j)
		b.leastMean = min(b.leastMean, l.mean(j, j+fewest))
		b.mostMean = max(b.mostMean, l.mean(n-j-fewest, n-j))
		b.spread(l.scatter(j, n), fewest-(s.groups-j))
		b.spread(l.scatter(0, n-j), fewest-(s.groups-j))
	}
	return b
}

// spread notes that some group has at most the spread that a scatter makes with so many degrees of freedom.
func (b *bounds) spread(scatter float64, free int) {
	if free > 0 {
		b.leastSpread = min(b.leastSpread, 1000*math.Sqrt(scatter/float64(free)))
	}
}

// under is the least imbalance of what is dealt and what is not.
func (b bounds) under(t tally) float64 {
	if t.groups > 0 {
		b.leastMean, b.mostMean = min(b.leastMean, float64(t.mean.least)), max(b.mostMean, float64(t.mean.most))
	}
	if t.spreads > 0 {
		b.leastSpread, b.mostSpread = min(b.leastSpread, float64(t.spread.least)), max(b.mostSpread, float64(t.spread.most))
	}
	return max(0, b.mostMean-b.leastMean) + max(0, b.mostSpread-b.leastSpread)
}

// root is a bound for the whole deal, in thousandths, rounded up. found is the imbalance of some deal: only better ones
// matter.
func (p *problem) root(found int64) int64 {
	var l ledger
	l.begin()
	for _, it := range p.items {
		l.enter(it.x)
	}
	s := split{len(p.methods), p.larger, p.size}
	b := l.bounds(s, float64(found)+slack)
	means := max(b.mostMean-b.leastMean, l.stickingOut(s), l.grain(s))
	whole := func(x float64) int64 { return int64(max(0, math.Ceil(x-slack/2))) }
	crowd := max(l.crowded(s, tally{}), p.turned().crowded(s, tally{}))
	return min(found, max(whole(means)+whole(b.mostSpread-b.leastSpread), whole(crowd-slack/2)))
}

// turned is the ledger of all disks counted down from the worst.
func (p *problem) turned() *ledger {
	var l ledger
	l.begin()
	for at := len(p.items) - 1; at >= 0; at-- {
		l.enter(p.items[0].x - p.items[at].x)
	}
	return &l
}

// stickingOut is how far the mean of the worst disk's group must be from that of the others: it is least when it has the
// best of the other disks beside it. Likewise for the best disk. In thousandths.
func (l *ledger) stickingOut(s split) float64 {
	n, least := l.n(), math.Inf(1)
	for _, size := range []int{s.size, s.size + 1} {
		if size > s.size && s.larger == 0 || size == s.size && s.larger == s.groups {
			continue
		}
		least = min(least, max(l.apart(l.total(0, 1)+l.total(n-size+1, n), size), -l.apart(l.total(n-1, n)+l.total(0, size-1), size)))
	}
	return least
}

// apart is how far the mean of a group lies above that of all other disks, in thousandths.
func (l *ledger) apart(sum int64, size int) float64 {
	n := l.n()
	return 1000 * (float64(sum)/float64(size) - float64(l.total(0, n)-sum)/float64(n-size))
}

// grain is what is left because sectors are whole: when the sum does not divide by the number of groups, some two groups of
// equal size differ by a sector. In thousandths.
func (l *ledger) grain(s split) float64 {
	if s.larger > 0 || l.total(0, l.n())%int64(s.groups) == 0 {
		return 0
	}
	return 1000 / float64(s.size)
}
