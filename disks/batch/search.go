package batch

import (
	"math"
	"math/bits"
	"slices"
)

// The exact search (branch and bound). Disks stand in the order of missing sectors. The first disk that is not dealt leads
// the next group; its companions are chosen among those after it; the rest goes on in the same way. So every partition is
// met once, whatever its groups are called. Three things make it short:
//
//   - A group that is chosen fixes how far all others may lie from it, so that the sum of the next one's companions has a
//     window; most choices leave it after a disk or two.
//   - bounds tell what the disks that are left can still do.
//   - Disks of one class are taken in their order only, and groups with leaders of one class in a fixed order only. What
//     differs but in the names of such disks is counted, not visited.
//
// Deals as good as the best are not pruned: all are met, each counted as often as there are deals that look like it, and
// one is kept at random.
const mostExact = 32 // disks; beyond, no number of nodes would do

// part is a group of the search.
type part struct {
	members uint64 // bit i: item i
	size    int
	allowed uint64 // methods that all of them may get
}

// level is one depth of the search: the disks that are left, the leader first, and what is asked of the group.
type level struct {
	items                []int
	ledger               ledger
	turned               ledger // the same disks, counted down from the worst of all, so that the best come first
	before               tally
	free                 uint64
	larger               int // groups of one disk more that are left
	size                 int
	lo, hi               int64 // window of the group's sum
	loSquares, hiSquares int64 // and of its sum of squares
}

type search struct {
	p        *problem
	chance   chance
	levels   []level
	parts    []part
	best     int64 // thousandths
	kept     []part
	weight   float64 // deals as good as the best, so far
	alike    float64 // orders of all disks within their classes
	nodes    int
	limit    int
	complete bool
}

// newSearch begins a search for deals at least as good as the one found.
func newSearch(p *problem, found int64, c chance, nodes int) *search {
	s := &search{p: p, chance: c, best: found, limit: nodes, alike: 1, levels: make([]level, len(p.methods))}
	for i, run := 0, 0; i < len(p.items); i++ {
		if run++; i > 0 && p.items[i].class != p.items[i-1].class {
			run = 1
		}
		s.alike *= float64(run)
	}
	return s
}

// run searches until all is seen or the nodes are used up.
func (s *search) run() {
	if s.p.bound && len(s.p.methods) > mostMatched {
		return
	}
	s.complete = true
	s.deal(^uint64(0)>>(64-len(s.p.items)), tally{}, s.p.larger)
}

// deal deals the free disks into the groups that are left.
func (s *search) deal(free uint64, t tally, larger int) {
	left := len(s.p.methods) - len(s.parts)
	if left == 0 {
		s.found(t.imbalance())
		return
	}
	lv := &s.levels[len(s.parts)]
	lv.load(s.p, free)
	lv.before, lv.larger = t, larger
	sp := split{left, larger, s.p.size}
	b := lv.ledger.bounds(sp, float64(s.best)+slack)
	if least := float64(s.best) + slack; b.under(t) > least || lv.ledger.crowded(sp, t) > least ||
		lv.turned.crowded(sp, t.turned(s.p.items[0].x)) > least {
		return
	}
	lead := s.p.items[lv.items[0]]
	for size := s.p.size + 1; size >= s.p.size; size-- {
		if size > s.p.size && larger == 0 || size == s.p.size && larger == left || s.late(lead.class, size) {
			continue
		}
		lv.size = size
		lv.window(left, b, float64(s.best)+slack)
		s.choose(lv, 1, size-1, lead.x, lead.x*lead.x, part{1 << lv.items[0], size, lead.allowed})
	}
}

// load takes the free disks, in their order.
func (lv *level) load(p *problem, free uint64) {
	lv.items, lv.free = lv.items[:0], free
	lv.ledger.begin()
	for f := free; f != 0; f &= f - 1 {
		i := bits.TrailingZeros64(f)
		lv.items = append(lv.items, i)
		lv.ledger.enter(p.items[i].x)
	}
	lv.turned.begin()
	for at := len(lv.items) - 1; at >= 0; at-- {
		lv.turned.enter(p.items[0].x - p.items[lv.items[at]].x)
	}
}

// window limits the sum of the next group, and its sum of squares.
//
// Its mean may be apart from any mean that is there already, and from the mean of what it leaves, by no more than the best
// imbalance, less what the spreads are known to use up. Likewise its spread; and what scatter it has is not left for the
// others, which must not have too little. best has its slack.
func (lv *level) window(left int, b bounds, best float64) {
	if t := lv.before; t.groups > 0 {
		b.leastMean, b.mostMean = min(b.leastMean, float64(t.mean.least)), max(b.mostMean, float64(t.mean.most))
	}
	if t := lv.before; t.spreads > 0 {
		b.leastSpread, b.mostSpread = min(b.leastSpread, float64(t.spread.least)), max(b.mostSpread, float64(t.spread.most))
	}
	size, n := float64(lv.size), float64(len(lv.items))
	apart := best - max(0, b.mostSpread-b.leastSpread)
	least, most := (b.mostMean-apart)*size/1000, (b.leastMean+apart)*size/1000
	if left > 1 {
		total, share := float64(lv.ledger.total(0, len(lv.items))), 1/size+1/(n-size)
		least, most = max(least, (total/(n-size)-apart/1000)/share), min(most, (total/(n-size)+apart/1000)/share)
	}
	lv.lo, lv.hi = max(0, int64(least-1)), int64(most+1) // a sector too wide rather than a rounding too narrow

	apart = best - max(0, b.mostMean-b.leastMean)
	narrow, wide, scatter := max(0, b.mostSpread-apart)/1000, (b.leastSpread+apart)/1000, lv.ledger.scatter(0, len(lv.items))
	others := n - size - float64(left-1) // their degrees of freedom
	low, high := (size-1)*narrow*narrow, scatter-others*narrow*narrow
	if size > 1 {
		high = min(high, (size-1)*wide*wide)
	}
	lv.loSquares = int64(low + float64(lv.lo)*float64(lv.lo)/size - 1)
	lv.hiSquares = int64(high + float64(lv.hi)*float64(lv.hi)/size + 1)
}

// choose adds need more companions, from the at-th disk on.
func (s *search) choose(lv *level, at, need int, sum, squares int64, g part) {
	if need == 0 {
		s.close(lv, sum, squares, g)
		return
	}
	n := len(lv.items)
	lightest, flattest := lv.ledger.total(n-need+1, n), lv.ledger.squares[n]-lv.ledger.squares[n-need+1]
	for at+need <= n && s.complete {
		it := &s.p.items[lv.items[at]]
		if sum+lv.ledger.total(at, at+need) < lv.lo || squares+lv.ledger.squares[at+need]-lv.ledger.squares[at] < lv.loSquares {
			return // and all further ones are lighter
		}
		if allowed := g.allowed & it.allowed; allowed != 0 && sum+it.x+lightest <= lv.hi && squares+it.x*it.x+flattest <= lv.hiSquares {
			s.choose(lv, at+1, need-1, sum+it.x, squares+it.x*it.x, part{g.members | 1<<lv.items[at], g.size, allowed})
		}
		for at++; at < n && s.p.items[lv.items[at]].class == it.class; at++ { // the others of its class are no other choice
		}
	}
}

// close looks at a group that is full.
func (s *search) close(lv *level, sum, squares int64, g part) {
	if s.nodes++; s.nodes > s.limit {
		s.nodes, s.complete = s.limit, false
		return
	}
	if sum < lv.lo || sum > lv.hi || squares < lv.loSquares || squares > lv.hiSquares {
		return
	}
	t := lv.before.with(int64(g.size), sum, squares)
	if t.imbalance() > s.best || s.behind(g) || s.hopeless(lv, t, int64(g.size), sum, squares) {
		return
	}
	larger := lv.larger
	if g.size > s.p.size {
		larger--
	}
	s.parts = append(s.parts, g)
	if !s.p.bound || matchings(s.parts, len(s.p.methods)) > 0 {
		s.deal(lv.free&^g.members, t, larger)
	}
	s.parts = s.parts[:len(s.parts)-1]
}

// hopeless is a first glance at what a group leaves: another group, whose figures are known then, or disks with a known mean,
// whose spreads cannot all be greater than their scatter makes them.
func (s *search) hopeless(lv *level, t tally, size, sum, squares int64) bool {
	n, groups := int64(len(lv.items))-size, len(s.p.methods)-len(s.parts)-1
	sum, squares = lv.ledger.sum[len(lv.items)]-sum, lv.ledger.squares[len(lv.items)]-squares
	switch free := n - int64(groups); {
	case groups == 1:
		return t.with(n, sum, squares).imbalance() > s.best
	case groups > 1 && free > 0:
		b := bounds{leastMean: 1000 * float64(sum) / float64(n), leastSpread: math.Inf(1), mostSpread: math.Inf(-1)}
		b.mostMean = b.leastMean
		b.spread(float64(uint64(n)*uint64(squares)-uint64(sum)*uint64(sum))/float64(n), int(free))
		return b.under(t) > float64(s.best)+slack
	}
	return false
}

// late tells whether a group of that size would come after a smaller one whose leader is of the same class.
func (s *search) late(class, size int) bool {
	if len(s.parts) == 0 {
		return false
	}
	last := s.parts[len(s.parts)-1]
	return s.classOf(last.members) == class && last.size < size
}

// behind tells whether a group should have come before the last one: both have leaders of one class, and its classes come
// first.
func (s *search) behind(g part) bool {
	if len(s.parts) == 0 {
		return false
	}
	last := s.parts[len(s.parts)-1]
	return last.size == g.size && s.classOf(last.members) == s.classOf(g.members) && s.compare(g.members, last.members) < 0
}

// classOf is the class of a group's leader.
func (s *search) classOf(members uint64) int { return s.p.items[bits.TrailingZeros64(members)].class }

// compare compares the classes of two groups of one size, disk by disk.
func (s *search) compare(a, b uint64) int {
	for a != 0 {
		if x, y := s.classOf(a), s.classOf(b); x != y {
			return x - y
		}
		a, b = a&(a-1), b&(b-1)
	}
	return 0
}

// found counts a deal that is as good as the best or better, and perhaps keeps it.
func (s *search) found(imbalance int64) {
	if imbalance < s.best {
		s.best, s.weight = imbalance, 0
	}
	w := s.look()
	s.weight += w
	if s.chance.unit()*s.weight < w {
		s.kept = slices.Clone(s.parts)
	}
}

// look counts the deals that look like this one: the disks of a class may change places, methods may be given to groups in
// any way that is allowed, and groups with the same classes are told apart by neither.
func (s *search) look() float64 {
	w := s.alike * matchings(s.parts, len(s.p.methods))
	for i, g := range s.parts {
		for run, last := 0, -1; g.members != 0; g.members &= g.members - 1 {
			class := s.classOf(g.members)
			if run++; class != last {
				run = 1
			}
			last, w = class, w/float64(run)
		}
		same := 1
		for _, h := range s.parts[:i] {
			if h.size == g.size && s.compare(h.members, s.parts[i].members) == 0 {
				same++
			}
		}
		w /= float64(same)
	}
	return w
}
