package batch

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// heavy draws numbers of missing sectors as they really are, and worse: some near each other, some far out on either side.
func heavy(t *rapid.T, least, most int) []int {
	middle := rapid.SampledFrom([]int{0, 1000, 2880}).Draw(t, "middle")
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) int {
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 0:
			return rapid.SampledFrom([]int{0, 5000, 5010, 70_000, MaxMissing}).Draw(t, "far")
		case 1:
			return rapid.IntRange(0, 3000).Draw(t, "wide")
		}
		return middle + rapid.IntRange(0, 50).Draw(t, "near")
	}), least, most).Draw(t, "missing")
}

// leastOf is the least imbalance of all ways to deal the items that are left, beside groups that are dealt.
func leastOf(p *problem, items []int, s split, t tally) int64 {
	least, sizes := int64(math.MaxInt64), make([]sums, s.groups)
	var deal func(at int)
	deal = func(at int) {
		if at < len(items) {
			for g := range sizes {
				was := sizes[g]
				if sizes[g] = was.with(p.items[items[at]].x); sizes[g].n <= int64(s.size+1) {
					deal(at + 1)
				}
				sizes[g] = was
			}
			return
		}
		whole, larger := t, 0
		for _, g := range sizes {
			if g.n < int64(s.size) {
				return
			}
			if g.n > int64(s.size) {
				larger++
			}
			whole = whole.with(g.n, g.sum, g.squares)
		}
		if larger == s.larger {
			least = min(least, whole.imbalance())
		}
	}
	deal(0)
	return least
}

// No bound is above what is possible: at the root, and with a group dealt already. If one were, the search could pass the best
// deal by and call another one optimal.
func TestNoBoundIsTooHigh(t *testing.T) {
	most, useful := 9, 0
	if testing.Short() {
		most = 7
	}
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(2, 4).Draw(t, "groups")
		p, err := pose(disksOf(heavy(t, k, most)...), Numbered(k))
		if err != nil {
			t.Fatal(err)
		}
		var lv level
		lv.load(p, 1<<len(p.items)-1)
		sp := split{k, p.larger, p.size}
		if best := leastOf(p, lv.items, sp, tally{}); check(t, p, &lv, sp, tally{}, best) > float64(best)/2 && best > 1000 {
			useful++
		}
		if root, best := p.root(1<<40), leastOf(p, lv.items, sp, tally{}); root > best {
			t.Fatalf("the root's bound is %d, and %d is possible", root, best)
		}
		// A group of any disks is dealt, and the rest is left.
		size := p.size
		if p.larger == k {
			size++
		}
		order := rapid.Permutation(lv.items).Draw(t, "order")
		var done sums
		free := uint64(0)
		for at, i := range order {
			if at < size {
				done = done.with(p.items[i].x)
			} else {
				free |= 1 << i
			}
		}
		dealt := tally{}.with(done.n, done.sum, done.squares)
		lv.load(p, free)
		sp.groups--
		check(t, p, &lv, sp, dealt, leastOf(p, lv.items, sp, dealt))
	})
	if useful == 0 {
		t.Error("the bounds were never above half of what is possible: they would bound nothing")
	}
	t.Logf("%d times the bound at the root was above half of the optimum", useful)
}

// check holds all bounds against the optimum, and returns the greatest.
func check(t *rapid.T, p *problem, lv *level, s split, dealt tally, best int64) float64 {
	if best == math.MaxInt64 {
		t.Fatalf("nothing can be dealt")
	}
	found := max(best, rapid.Int64Range(0, 1_000_000).Draw(t, "found")) // some deal that was found before
	all := []float64{
		lv.ledger.bounds(s, float64(found)+slack).under(dealt),
		lv.ledger.crowded(s, dealt),
		lv.turned.crowded(s, dealt.turned(p.items[0].x)),
	}
	for i, b := range all {
		if b > float64(best)+slack {
			t.Fatalf("bound %d is %.3f, and %d is possible", i, b, best)
		}
	}
	return slices.Max(all)
}

// Least mean and least spread of all groups add up to no more than the floor, whatever the deal.
func TestFloor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(2, 3).Draw(t, "groups")
		p, err := pose(disksOf(heavy(t, 2*k, 10)...), Numbered(k))
		if err != nil {
			t.Fatal(err)
		}
		var lv level
		lv.load(p, 1<<len(p.items)-1)
		bound := lv.ledger.floor(split{k, p.larger, p.size})
		for i := range uint64(30) {
			if d := p.tallyOf(p.start(stream(i, 9))); float64(d.mean.least+d.spread.least) > bound+1 {
				t.Fatalf("least mean and spread of a deal are %d and %d, together more than %.3f", d.mean.least, d.spread.least, bound)
			}
		}
	})
}

// Where the search cannot end, the bound is still worth something: disks that grow by powers have an imbalance that no deal
// can help, and the bound knows most of it.
func TestBoundOfWhatIsNotProved(t *testing.T) {
	missing := make([]int, 24)
	for i := range missing {
		missing[i] = int(math.Pow(1.7, float64(i)))
	}
	d, err := Deal(disksOf(missing...), Numbered(4), 1, 20_000)
	if err != nil || d.Optimal || d.Uniform || d.Equal != 0 || d.Nodes != 20_000 {
		t.Fatalf("%+v, %v", d, err)
	}
	if d.Bound > d.Imbalance || d.Bound < 0.98*d.Imbalance {
		t.Errorf("imbalance %v, bound %v", d.Imbalance, d.Bound)
	}
	checkDeal(t, disksOf(missing...), Numbered(4), d)
}

// Sectors are whole: 0 1 into two groups of one differ by one, and the bound knows it without a search.
func TestGrain(t *testing.T) {
	for _, c := range []struct {
		missing []int
		k       int
		want    int64
	}{
		{[]int{0, 1}, 2, 999},          // exactly 1000, less what rounding could have done
		{[]int{5, 5, 5, 6}, 2, 499},    // means 5 and 5.5
		{[]int{5, 5, 6, 6}, 2, 0},      // 11 each
		{[]int{0, 1, 2}, 2, 0},         // 1 alone, beside a mean of 1: the sum is odd, but the groups are not of equal size
		{[]int{0, 0, 0, 0, 9}, 2, 0},   // 9 in the group of three: see the next
		{[]int{0, 0, 0, 900}, 2, 1084}, // 450 apart in mean, 636 in spread
	} {
		p, err := pose(disksOf(c.missing...), Numbered(c.k))
		if err != nil {
			t.Fatal(err)
		}
		best := tryAll(disksOf(c.missing...), Numbered(c.k)).least
		if got := p.root(1 << 40); got < c.want || got > best {
			t.Errorf("%v in %d: bound %d, want %d to %d", c.missing, c.k, got, c.want, best)
		}
	}
}
