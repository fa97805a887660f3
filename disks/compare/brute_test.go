package compare

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// A second, dumb implementation: everything is written out and counted.

func bruteSigns(changes []int) float64 {
	hits, all, seen := 0, 1<<len(changes), 0
	for _, x := range changes {
		seen += x
	}
	for signs := range all {
		sum := 0
		for i, x := range changes {
			if signs>>i&1 == 0 {
				x = -x
			}
			sum += x
		}
		if abs(sum) >= abs(seen) {
			hits++
		}
	}
	return float64(hits) / float64(all)
}

// bruteDeals returns the sums of the first method's scores under all deals.
func bruteDeals(strata []stratum) (sums []int) {
	if len(strata) == 0 {
		return []int{0}
	}
	rest := bruteDeals(strata[1:])
	s := strata[0]
	for chosen := range 1 << len(s.scores) {
		n, sum := 0, 0
		for i, score := range s.scores {
			n += chosen >> i & 1
			sum += chosen >> i & 1 * score
		}
		if n != s.a {
			continue
		}
		for _, r := range rest {
			sums = append(sums, sum+r)
		}
	}
	return sums
}

// A p is never nothing, however few draws come so far out: what was seen is one of them.
func TestDrawnPIsNeverNothing(t *testing.T) {
	ones := slices.Repeat([]int{1}, 60)
	if p, _, _ := drawSigns(ones, 60, Options{Draws: 100}); p != 1.0/101 {
		t.Errorf("signs: p %v, want 1/101", p)
	}
	apart := stratum{append(slices.Repeat([]int{0}, 30), slices.Repeat([]int{1}, 30)...), 30}
	if p, _, _ := drawDeals([]stratum{apart}, Options{Draws: 100}); p != 2.0/101 {
		t.Errorf("deals: p %v, want 2/101", p)
	}
}

// Beyond the deals that are written out, the count by steps gives the same, whichever method has fewer disks in a block.
func TestStepsCountTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blocks := anyBlocks(t)
		if deals(blocks) > fewDeals {
			return
		}
		change := func(d disk) float64 { return d.change }
		listed, _, _ := dealt(blocks, change, Options{})
		stepped, _, exact := within(scored(blocks, change), Options{})
		if !exact || math.Abs(listed-stepped) > 1e-9 {
			t.Fatalf("written out p %v, by steps %v", listed, stepped)
		}
	})
}

func bruteWithin(strata []stratum) float64 {
	seen, low, high := 0, 0, 0
	for _, s := range strata {
		seen += s.sum()
	}
	sums := bruteDeals(strata)
	for _, sum := range sums {
		if sum <= seen {
			low++
		}
		if sum >= seen {
			high++
		}
	}
	return min(1, 2*float64(min(low, high))/float64(len(sums)))
}

func TestCountsAreEnumerations(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		changes := rapid.SliceOfN(rapid.IntRange(-30, 30), 1, 12).Draw(t, "changes")
		p, _, exact := signFlip(changes, Options{})
		if want := bruteSigns(changes); p != want || !exact {
			t.Fatalf("signs: p %v, want %v", p, want)
		}
		var strata []stratum
		for range rapid.IntRange(1, 3).Draw(t, "blocks") {
			scores := rapid.SliceOfN(rapid.IntRange(0, 25), 2, 6).Draw(t, "scores")
			strata = append(strata, stratum{scores, rapid.IntRange(1, len(scores)-1).Draw(t, "a")})
		}
		p, _, exact = within(strata, Options{})
		if want := bruteWithin(strata); math.Abs(p-want) > 1e-12 || !exact {
			t.Fatalf("deals: p %v, want %v", p, want)
		}
		var blocks []shared
		for _, s := range strata {
			b := shared{a: s.a}
			for _, score := range s.scores {
				b.disks = append(b.disks, disk{change: float64(score) + 0.1})
			}
			blocks = append(blocks, b)
		}
		if deals(blocks) != float64(len(bruteDeals(strata))) {
			t.Fatalf("%v deals, want %d", deals(blocks), len(bruteDeals(strata)))
		}
		listed, _, exact := dealt(blocks, func(d disk) float64 { return d.change }, Options{})
		if math.Abs(listed-p) > 1e-12 || !exact {
			t.Fatalf("deals written out: p %v, counted %v", listed, p)
		}
	})
}

// Draws come out near the count, within five of their own standard errors, and again the same with the same seed.
func TestDrawsAreNearTheCount(t *testing.T) {
	for seed := range uint64(20) {
		o := Options{Seed: seed, Draws: 4000}
		sizes, _, sum := sizesOf(darwin)
		p, failure, exact := drawSigns(sizes, sum, o)
		if again, _, _ := drawSigns(sizes, sum, o); exact || again != p || math.Abs(p-1726.0/32768) > 5*failure {
			t.Errorf("seed %d: p %v ± %v, then %v", seed, p, failure, again)
		}
		strata := []stratum{{[]int{3, 9, 4, 0, 8, 7, 1}, 3}, {[]int{0, 5, 5, 2}, 2}, {[]int{0, 6}, 1}}
		p, failure, exact = drawDeals(strata, o)
		if want := bruteWithin(strata); exact || math.Abs(p-want) > 5*failure {
			t.Errorf("seed %d: deals p %v ± %v, want %v", seed, p, failure, want)
		}
	}
}

// A difference is in the interval exactly if the rank statistic of its own residuals, each with a line laid anew, is not
// among the extreme ones; the estimate lies where as many pairs speak for more as for less.
func TestIntervalsAreInvertedTests(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		blocks := anyBlocks(t)
		l := fit(blocks)
		estimate, interval := shift(blocks, l)
		depth, paired := rankSumDepth(blocks), !slices.ContainsFunc(blocks, func(b shared) bool { return len(b.disks) != 2 })
		if paired {
			depth = signedRankDepth(len(blocks))
		}
		for _, d := range []float64{-300, -90.3, -20.1, -4.7, 0.123, 7.9, 33.3, 120.7, 400} {
			above, below := turnedOver(blocks, d, l.blind != 0, paired)
			rejected := min(above, below) < depth
			if interval == nil {
				continue
			}
			if inside := interval[0] < d && d < interval[1]; !inside && !rejected {
				t.Fatalf("%v is outside of %v, but %d and %d are not below the depth %d", d, *interval, above, below, depth)
			} else if inside && rejected && l.pull == 0 {
				t.Fatalf("%v is inside of %v, but %d or %d is below the depth %d", d, *interval, above, below, depth)
			}
		}
		above, _ := turnedOver(blocks, estimate+1e-6, l.blind != 0, paired)
		_, below := turnedOver(blocks, estimate-1e-6, l.blind != 0, paired)
		if pairs := pairsOf(blocks, paired); l.pull == 0 && (2*above > pairs || 2*below > pairs) {
			t.Fatalf("of %d pairs %d lie above the estimate, %d below it", pairs, above, below)
		}
	})
}

func pairsOf(blocks []shared, paired bool) (n int64) {
	for _, b := range blocks {
		n += int64(b.a * (len(b.disks) - b.a))
	}
	if paired {
		n = n * (n + 1) / 2
	}
	return n
}

// turnedOver counts the pairs that speak for more and for less than a difference d, by the definition: change all of A by
// d, lay the line anew, compare every two.
func turnedOver(blocks []shared, d float64, lined, paired bool) (above, below int64) {
	var moved []shared
	for _, b := range blocks {
		m := shared{slices.Clone(b.disks), b.a}
		for i := range m.disks[:m.a] {
			m.disks[i].change -= d
		}
		moved = append(moved, m)
	}
	blind := 0.0
	if lined {
		blind = fit(moved).blind
	}
	var left []float64
	for _, b := range moved {
		for _, x := range b.disks[:b.a] {
			for _, y := range b.disks[b.a:] {
				left = append(left, x.change-y.change-blind*(x.before-y.before))
			}
		}
	}
	count := func(x float64) {
		above += int64(is(x > 0))
		below += int64(is(x < 0))
	}
	for i, x := range left {
		if !paired {
			count(x)
			continue
		}
		for _, y := range left[i:] {
			count(x + y)
		}
	}
	return above, below
}

func anyBlocks(t *rapid.T) (blocks []shared) {
	most := rapid.SampledFrom([]int{1, 4}).Draw(t, "most disks of a method in a block")
	for range rapid.IntRange(1, 9).Draw(t, "blocks") {
		b := shared{a: rapid.IntRange(1, most).Draw(t, "a")}
		for range b.a + rapid.IntRange(1, most).Draw(t, "b") {
			before := 100 + float64(rapid.IntRange(0, 30).Draw(t, "before"))
			b.disks = append(b.disks, disk{before, float64(rapid.IntRange(-100, 50).Draw(t, "change"))})
		}
		blocks = append(blocks, b)
	}
	return blocks
}

// The textbook's analysis of covariance, by the normal equations of all columns at once: blocks, method, start.
func TestSlopeIsThatOfTheAnalysisOfCovariance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var blocks []shared
		var design [][]float64
		var changes []float64
		count := rapid.IntRange(1, 3).Draw(t, "blocks")
		for k := range count {
			b := shared{a: rapid.IntRange(2, 4).Draw(t, "a")}
			for i := range b.a + rapid.IntRange(2, 4).Draw(t, "b") {
				d := disk{float64(rapid.IntRange(0, 300).Draw(t, "before")), float64(rapid.IntRange(-100, 50).Draw(t, "change"))}
				b.disks = append(b.disks, d)
				row := make([]float64, count+2)
				row[k], row[count], row[count+1] = 1, is(i < b.a), d.before
				design, changes = append(design, row), append(changes, d.change)
			}
			blocks = append(blocks, b)
		}
		got := fit(blocks)
		solution, ok := solve(design, changes)
		if !ok || got.spare+1 < 3+spareDisks {
			return
		}
		square := 0.0
		for i, row := range design {
			square += math.Pow(changes[i]-dot(row, solution), 2)
		}
		scatter := math.Sqrt(square / float64(len(changes)-count-2))
		if math.Abs(got.slope-solution[count+1]) > 1e-6 || math.Abs(got.scatter-scatter) > 1e-4*(1+scatter) {
			t.Fatalf("slope %v, scatter %v; want %v, %v", got.slope, got.scatter, solution[count+1], scatter)
		}
	})
}

// solve returns the least-squares solution by Gauss's elimination; false when the columns hang together.
func solve(rows [][]float64, y []float64) ([]float64, bool) {
	n := len(rows[0])
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n+1)
		for r, row := range rows {
			for j := range row {
				m[i][j] += row[i] * row[j]
			}
			m[i][n] += row[i] * y[r]
		}
	}
	for i := range n {
		if math.Abs(m[i][i]) < 1e-3 {
			return nil, false
		}
		for k := range n {
			if k == i {
				continue
			}
			f := m[k][i] / m[i][i]
			for j := range m[k] {
				m[k][j] -= f * m[i][j]
			}
		}
	}
	x := make([]float64, n)
	for i := range x {
		x[i] = m[i][n] / m[i][i]
	}
	return x, true
}
