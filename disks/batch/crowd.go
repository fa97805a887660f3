package batch

import "math"

// Crowds: when five disks are far worse than all others and there are four groups, some group has two of them. Then its
// mean and its spread are both large, and those of the other groups small. Neither can be helped, and they are bounded
// together: bounds that take each alone would let the search look at all ways to deal the disks that hardly matter.
//
// A group's height is its mean plus its spread. The imbalance is at least what lies between the height of any group and the
// floor: the least mean plus the least spread.

// crowded is a bound on the imbalance, in thousandths, given the groups that are dealt already. For good disks that crowd
// among bad ones turn ledger and tally round.
func (l *ledger) crowded(s split, t tally) float64 {
	floor, most := math.Inf(1), 0.0
	if s.size > 1 {
		floor = l.floor(s)
	}
	if t.spreads > 0 {
		floor = min(floor, float64(t.mean.least+t.spread.least))
		most = max(0, float64(t.upper.most)-floor)
	}
	for c := 0; c*s.groups < l.n() && c < s.smallest(); c++ {
		worst := math.Inf(1)
		for size := s.smallest(); size <= s.largest(); size++ {
			worst = min(worst, l.crowd(s, c, size, t, floor))
		}
		most = max(most, worst)
	}
	return most
}

// floor is what the least mean and the least spread of all groups add up to, at most.
//
// The j worst disks are in j groups at most; of the few·c − 1 worst of the others, one of the c groups besides has fewer than
// few. Let m be the mean of such a group, r that of all disks in the other groups, and s its spread: least mean and least
// spread are at most min(m, r) + s, and that is at most wm + (1 − w)r + s for any w from 0 to 1. This is a convex function of
// each disk of the group. So the greatest has no disk from between: it is that of some of the worst of the former disks, some
// of the worst of the rest, and of the best. The w that makes it least counts.
func (l *ledger) floor(s split) float64 {
	least := math.Inf(1)
	for j := range s.groups {
		for few := 1; few <= mostFew && few <= s.size; few++ {
			top, greatest := j+few*(s.groups-j)-1, [len(weights)]float64{}
			for size := s.smallest(); size <= s.largest(); size++ {
				for some := range few {
					for worst := 0; some+worst <= size && top+worst <= l.n(); worst++ {
						l.raise(&greatest, j, some, top, worst, size-some-worst)
					}
				}
			}
			for _, g := range greatest {
				least = min(least, g)
			}
		}
	}
	return least
}

// mostFew limits how much is looked at for a floor; weights are the w of the group's own mean that are tried.
const mostFew = 3

var weights = [...]float64{1, 0.8, 0.6, 0.4}

// raise looks at a group of some of the worst disks after the first j, the worst after the top ones, and the best.
func (l *ledger) raise(greatest *[len(weights)]float64, j, some, top, worst, best int) {
	n, size := l.n(), some+worst+best
	sum := l.total(j, j+some) + l.total(top, top+worst) + l.total(n-best, n)
	squares := l.squares[j+some] - l.squares[j] + l.squares[top+worst] - l.squares[top] + l.squares[n] - l.squares[n-best]
	mean := 1000 * float64(sum) / float64(size)
	others := mean
	if n > size {
		others = 1000 * float64(l.total(0, n)-sum) / float64(n-size)
	}
	scatter := uint64(size)*uint64(squares) - uint64(sum)*uint64(sum)
	spread := 1000 * math.Sqrt(float64(scatter)/float64(size*(size-1)))
	for i, w := range weights {
		greatest[i] = max(greatest[i], w*mean+(1-w)*others+spread)
	}
}

// crowd bounds the imbalance for deals in which a group of that size has c + 1 of the c·groups + 1 worst disks, as some
// group must. n disks with the sum T are left.
//
// Let S be the group's sum, and "bad" the least c + 1 of those disks. S is least with bad, and the best of all for
// companions. Its mean lies above that of the other groups that are left by S/s − (T − S)/(n − s), or more. Given S, its
// scatter is least when it has bad, with companions that are all alike, as long as these are not worse than bad; and what
// scatter is left, within groups, bounds the others' spread. As S grows the means part, and the spreads approach each other
// by at most "nearing" a sector, because they do so ever more slowly. If the former is faster, the least S makes the bound.
// Where companions would be worse than bad, the means alone bound.
func (l *ledger) crowd(s split, c, size int, t tally, floor float64) float64 {
	n, top, others := l.n(), c*s.groups+1, size-c-1
	if n-others < top {
		return 0
	}
	g := crowdGroup{n: float64(n), size: float64(size), others: float64(others), bad: float64(l.total(top-c-1, top)),
		badSquares: float64(l.squares[top] - l.squares[top-c-1]), total: float64(l.total(0, n)),
		scatter: l.scatter(0, n), free: float64(n - size - (s.groups - 1))}
	g.least = g.bad + float64(l.total(n-others, n))
	alike := g.bad + g.others*float64(l.total(top-1, top))
	best := 0.0
	for _, d := range g.differences(t, floor) {
		bound := d.means
		if d.nearing <= d.slope {
			bound = min(d.means+max(0, d.spreads), d.means+d.slope*(alike-g.least))
		}
		best = max(best, bound)
	}
	return best
}

// crowdGroup is a group with a crowd in it, and what is left besides.
type crowdGroup struct{ n, size, others, bad, badSquares, total, scatter, free, least float64 }

// difference is what lies between the group and another one when its sum is least, and how that changes a sector, all in
// thousandths.
type difference struct{ means, slope, spreads, nearing float64 }

// differences compares the group with those that are left, with the least figures of those that are dealt, and with the
// floor.
func (g crowdGroup) differences(t tally, floor float64) [5]difference {
	var ds [5]difference
	mean, rise := 1000*g.least/g.size, 1000/g.size
	spread, nearing := g.spread()
	left, rising := g.left()
	if rest := g.n - g.size; rest > 0 {
		means, slope := mean-1000*(g.total-g.least)/rest, rise+1000/rest
		ds[0] = difference{means, slope, spread - left, nearing + rising}
		if t.spreads > 0 {
			ds[1] = difference{means, slope, spread - float64(t.spread.least), nearing}
		}
	}
	if t.spreads > 0 {
		means := mean - float64(t.mean.least)
		ds[2] = difference{means, rise, spread - left, nearing + rising}
		ds[3] = difference{means, rise, spread - float64(t.spread.least), nearing}
	}
	if !math.IsInf(floor, 1) {
		ds[4] = difference{mean - floor, rise, spread, nearing}
	}
	return ds
}

// curve is that of the group's scatter over its sum.
func (g crowdGroup) curve() float64 {
	if g.others == 0 {
		return 0
	}
	return 1/g.others - 1/g.size
}

// mine is the group's least scatter when its sum is least.
func (g crowdGroup) mine() float64 {
	squares := g.badSquares
	if g.others > 0 {
		squares += (g.least - g.bad) * (g.least - g.bad) / g.others
	}
	return max(0, squares-g.least*g.least/g.size)
}

// spread is the group's least spread when its sum is least, and what it loses with a sector more, at most.
func (g crowdGroup) spread() (spread, nearing float64) {
	if g.size < 2 {
		return 0, 0
	}
	return 1000 * math.Sqrt(g.mine()/(g.size-1)), 1000 * math.Sqrt(g.curve()/(g.size-1))
}

// left is the greatest spread that the others can all have, and what it gains with a sector more, at most. Infinite when it
// is not known. Scatter within the group, and between it and the others, is not left for them.
func (g crowdGroup) left() (spread, rising float64) {
	rest := g.n - g.size
	if rest <= 0 || g.free <= 0 || g.others == 0 {
		return math.Inf(1), 0
	}
	ahead := g.least/g.size - g.total/g.n
	left := g.scatter - g.mine() - max(0, ahead)*ahead*g.size*g.n/rest
	if left <= 0 {
		return math.Inf(1), 0
	}
	falls := 2*math.Abs(g.curve()*g.least-g.bad/g.others) - 2*max(0, ahead)*g.n/rest
	return 1000 * math.Sqrt(left/g.free), 1000 * max(0, falls) / (2 * math.Sqrt(left*g.free))
}
