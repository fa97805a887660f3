package batch

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// A second way to deal, as dumb as can be: every way to give every disk a method, each measured with fractions. It shares
// nothing with the search but what a deal is.

// dumb is what all deals of some disks have in common.
type dumb struct {
	least int64 // thousandths
	equal int   // deals that have it
	deals int
}

// tryAll looks at every deal. equalSizes holds sizes to differ at most by one.
func tryAll(disks []Disk, methods []string) dumb {
	var best dumb
	group := make([]int, len(disks))
	for {
		if allowedAll(disks, methods, group) && evenSizes(group, len(methods)) {
			best.deals++
			switch x := measure(disks, group, len(methods)); {
			case best.deals == 1 || x < best.least:
				best.least, best.equal = x, 1
			case x == best.least:
				best.equal++
			}
		}
		i := 0
		for ; i < len(group); i++ {
			if group[i]++; group[i] < len(methods) {
				break
			}
			group[i] = 0
		}
		if i == len(group) {
			return best
		}
	}
}

func allowedAll(disks []Disk, methods []string, group []int) bool {
	for i, d := range disks {
		if d.Only != "" && methods[group[i]] != d.Only {
			return false
		}
		for _, never := range d.Never {
			if methods[group[i]] == never {
				return false
			}
		}
	}
	return true
}

func evenSizes(group []int, k int) bool {
	n := make([]int, k)
	for _, g := range group {
		n[g]++
	}
	least, most := len(group), 0
	for _, x := range n {
		least, most = min(least, x), max(most, x)
	}
	return least > 0 && most-least <= 1
}

// measure is the imbalance of a deal in thousandths, by fractions.
func measure(disks []Disk, group []int, k int) int64 {
	var means, spreads []int64
	for g := range k {
		var x []int64
		for i, d := range disks {
			if group[i] == g {
				x = append(x, int64(d.Missing))
			}
		}
		m, s, ok := figures(x)
		if means = append(means, m); ok {
			spreads = append(spreads, s)
		}
	}
	return width(means) + width(spreads)
}

func width(x []int64) int64 {
	if len(x) == 0 {
		return 0
	}
	least, most := x[0], x[0]
	for _, v := range x {
		least, most = min(least, v), max(most, v)
	}
	return most - least
}

// figures are mean and standard deviation in thousandths, halves rounded up.
func figures(x []int64) (mean, spread int64, hasSpread bool) {
	n := int64(len(x))
	sum := new(big.Rat)
	for _, v := range x {
		sum.Add(sum, big.NewRat(v, 1))
	}
	m := new(big.Rat).Quo(sum, big.NewRat(n, 1))
	mean = halfUp(new(big.Rat).Mul(m, big.NewRat(1000, 1)))
	if n < 2 {
		return mean, 0, false
	}
	squares := new(big.Rat)
	for _, v := range x {
		d := new(big.Rat).Sub(big.NewRat(v, 1), m)
		squares.Add(squares, d.Mul(d, d))
	}
	// The spread in half thousandths, rounded down: half of it, rounded up, is in thousandths.
	squares.Mul(squares, big.NewRat(4_000_000, n-1))
	halves := new(big.Int).Sqrt(new(big.Int).Quo(squares.Num(), squares.Denom())).Int64()
	return mean, (halves + 1) / 2, true
}

func halfUp(x *big.Rat) int64 {
	x = new(big.Rat).Add(x, big.NewRat(1, 2))
	return new(big.Int).Quo(x.Num(), x.Denom()).Int64()
}

// drawDisks draws a few disks with constraints, and methods.
func drawDisks(t *rapid.T, most int, constrained bool) ([]Disk, []string) {
	methods := []string{"isopropanol", "by hand", "water", "leave it"}[:rapid.IntRange(2, 4).Draw(t, "methods")]
	top := rapid.SampledFrom([]int{0, 1, 5, 40, 2880, MaxMissing}).Draw(t, "top")
	disks := disksOf(rapid.SliceOfN(rapid.IntRange(0, top), len(methods), most).Draw(t, "missing")...)
	if !constrained {
		return disks, methods
	}
	for i := range disks {
		switch rapid.IntRange(0, 3).Draw(t, "constraint") {
		case 0:
			disks[i].Only = rapid.SampledFrom(methods).Draw(t, "only")
		case 1:
			disks[i].Never = []string{rapid.SampledFrom(methods).Draw(t, "never")}
		}
	}
	return disks, methods
}

// Deal finds what looking at every deal finds: the least imbalance, and how many deals have it; or that there is none.
func TestDealAgainstAllDeals(t *testing.T) {
	most := 8
	if testing.Short() {
		most = 6
	}
	deals, impossible := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		disks, methods := drawDisks(t, most, rapid.Bool().Draw(t, "constrained"))
		want := tryAll(disks, methods)
		d, err := Deal(disks, methods, rapid.Uint64().Draw(t, "seed"), DefaultNodes)
		if deals += want.deals; want.deals == 0 {
			impossible++
			if err == nil {
				t.Fatalf("no deal is possible, but there is %+v", d)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if least := sectors(want.least); d.Imbalance != least || d.Bound != least || !d.Optimal || !d.Uniform || d.Equal != float64(want.equal) {
			t.Fatalf("%d of %d deals have %v; got %+v", want.equal, want.deals, least, d)
		}
		checkDeal(t, disks, methods, d)
	})
	t.Logf("%d deals looked at; %d times there was none", deals, impossible)
}

// checkDeal holds a deal against what was asked: all disks once, sizes, constraints, and figures that are those of the disks.
func checkDeal(t interface{ Fatalf(string, ...any) }, disks []Disk, methods []string, d Dealt) {
	group, at := make([]int, len(disks)), map[string]int{}
	for g, x := range d.Groups {
		if x.Name != methods[g] {
			t.Fatalf("group %d is %s, not %s", g, x.Name, methods[g])
		}
		var missing []int64
		for _, name := range x.Disks {
			if _, twice := at[name]; twice {
				t.Fatalf("%s is dealt twice", name)
			}
			at[name] = g
		}
		for i, disk := range disks {
			if a, ok := at[disk.Name]; ok && a == g {
				group[i], missing = g, append(missing, int64(disk.Missing))
			}
		}
		mean, spread, ok := figures(missing)
		if x.Mean != sectors(mean) || ok != (x.Spread != nil) || ok && *x.Spread != sectors(spread) {
			t.Fatalf("group %+v has mean %v and spread %v, %v", x, mean, spread, ok)
		}
	}
	if len(at) != len(disks) || len(d.Disks) != len(disks) || !evenSizes(group, len(methods)) || !allowedAll(disks, methods, group) {
		t.Fatalf("%d of %d disks are dealt: %+v", len(at), len(disks), d.Groups)
	}
	if x := sectors(measure(disks, group, len(methods))); x != d.Imbalance {
		t.Fatalf("the imbalance is %v, not %v", x, d.Imbalance)
	}
	if d.Bound > d.Imbalance || d.Optimal != (d.Bound == d.Imbalance) {
		t.Fatalf("bound %v, imbalance %v, optimal %v", d.Bound, d.Imbalance, d.Optimal)
	}
	for _, p := range d.Disks {
		if g, ok := at[p.Name]; !ok || methods[g] != p.Group {
			t.Fatalf("%s is in %s by one list only", p.Name, p.Group)
		}
	}
}

func TestMeasureAgainstFractions(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		top := rapid.SampledFrom([]int64{1, 10, 3000, MaxMissing}).Draw(t, "top")
		x := rapid.SliceOfN(rapid.Int64Range(0, top), 1, 40).Draw(t, "missing")
		var s sums
		for _, v := range x {
			s = s.with(v)
		}
		mean, spread, ok := figures(x)
		if got := mean1000(s.n, s.sum); got != mean {
			t.Fatalf("mean %d, want %d", got, mean)
		}
		if got := int64(0); ok {
			if got = spread1000(s.n, s.sum, s.squares); got != spread {
				t.Fatalf("spread %d, want %d", got, spread)
			}
		}
	})
}
