package batch

import (
	"encoding/json"
	"fmt"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Known means and spreads: [7 7 7] has none, [7 9] has √2, and one disk has no spread.
func TestFigures(t *testing.T) {
	d, err := Deal(disksOf(7, 9, 8), []string{"a", "b"}, 1, DefaultNodes)
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range d.Groups {
		switch {
		case len(g.Disks) == 1 && (g.Spread != nil || g.Mean != 8):
			t.Errorf("one disk: %+v", g)
		case len(g.Disks) == 2 && (*g.Spread != 1.414 || g.Mean != 8):
			t.Errorf("7 and 9: %v %v", g.Mean, *g.Spread)
		}
	}
	if got := spread1000(3, 21, 147); got != 0 {
		t.Errorf("7, 7, 7 have the spread %d", got)
	}
	// The largest batch there can be, half of it at either end: n²/4 times the range squared is what must fit.
	const n, x = MaxDisks, MaxMissing
	want := int64(math.Round(1000 * x / 2 * math.Sqrt(n/(n-1.0))))
	if got := spread1000(n, n/2*x, n/2*x*x); got != want {
		t.Errorf("the largest spread is %d, want %d", got, want)
	}
}

// Prouhet (1851): numbers below b^m, dealt by the sum of their digits to base b, have equal sums of powers below m. So
// these can be dealt with no imbalance at all.
func TestProuhet(t *testing.T) {
	for _, c := range []struct{ base, power int }{{2, 3}, {2, 4}, {3, 3}} {
		n := int(math.Pow(float64(c.base), float64(c.power)))
		missing := make([]int, n)
		for i := range missing {
			missing[i] = i
		}
		d, err := Deal(disksOf(missing...), Numbered(c.base), 1851, DefaultNodes/10)
		if err != nil || d.Imbalance != 0 || !d.Optimal || d.Bound != 0 {
			t.Errorf("0 to %d in %d: imbalance %v, optimal %v, %v", n-1, c.base, d.Imbalance, d.Optimal, err)
		}
	}
}

// When all disks are alike every deal is optimal, and there are n!/(s!)^k of them (multinomial coefficients).
func TestCountsOfDeals(t *testing.T) {
	for _, c := range []struct {
		n, k int
		want float64
	}{
		{4, 2, 6}, {8, 4, 2520}, {12, 4, 369600}, {24, 2, 2704156}, {24, 4, 2308743493056}, // 24!/6!⁴
		{5, 2, 20}, {7, 3, 3 * 210}, // and which groups are the larger ones
	} {
		d, err := Deal(disksOf(make([]int, c.n)...), Numbered(c.k), 3, DefaultNodes)
		if err != nil || math.Abs(d.Equal/c.want-1) > 1e-12 || d.Imbalance != 0 || !d.Uniform {
			t.Errorf("%d in %d: %v deals, want %v; %v", c.n, c.k, d.Equal, c.want, err)
		}
	}
	// The numbers 1 to n into k sets, none empty, with their names: k! times the Stirling number of the second kind, where
	// sizes are 1 and 2 only: {3 over 2} = 3.
	if d, _ := Deal(disksOf(0, 0, 0), Numbered(2), 3, DefaultNodes); d.Equal != 2*3 {
		t.Errorf("3 in 2: %v deals", d.Equal)
	}
}

// Every optimal deal is drawn about as often as any other, over many seeds.
func TestEveryOptimalDealIsAsLikely(t *testing.T) {
	different := 0
	for name, disks := range map[string][]Disk{
		"alike":       disksOf(3, 3, 3, 3, 3),
		"steps":       disksOf(1, 2, 3, 4, 5, 6, 7, 8),
		"two ways":    disksOf(1, 0, 3, 3, 1, 0, 4), // in 2 and, the next, in 3: optimal deals of two looks
		"more ways":   disksOf(2, 2, 3, 4, 0, 1, 2),
		"uneven ways": disksOf(4, 2, 3, 3, 3), // the one look has more deals than the other
		"two of each": disksOf(1, 1, 5, 5, 9, 9),
		"constrained": {{Name: "a", Missing: 4, Only: "group 1"}, {Name: "b", Missing: 4, Never: []string{"group 1"}}, {Name: "c", Missing: 4},
			{Name: "d", Missing: 4}, {Name: "e", Missing: 9}, {Name: "f", Missing: 9}},
	} {
		for _, k := range []int{2, 3} {
			ways := map[string]bool{}
			times, equal := map[string]float64{}, 0.0
			each := 200.0 / float64(1+3*testingShort())
			for seed := uint64(0); seed == 0 || float64(seed) < each*equal; seed++ {
				d, err := Deal(disks, Numbered(k), seed, 10_000)
				if err != nil || !d.Uniform {
					t.Fatal(err)
				}
				equal = d.Equal
				times[fmt.Sprint(d.Groups[0].Disks, d.Groups[1].Disks)]++
				ways[fmt.Sprint(missingOf(d))] = true
			}
			if float64(len(times)) != equal {
				t.Errorf("%s in %d: %d deals were drawn of %v", name, k, len(times), equal)
			}
			different = max(different, len(ways))
			chi := 0.0
			for _, n := range times {
				chi += (n - each) * (n - each) / each
			}
			if free := equal - 1; math.Abs(chi-free) > 5*math.Sqrt(2*free) { // mean and deviation of χ²
				t.Errorf("%s in %d: χ² is %.1f with %v degrees of freedom: %v", name, k, chi, free, times)
			}
		}
	}
	if different < 2 {
		t.Errorf("no case has more than %d optimal deals that differ by more than names: the choice among them is not tested", different)
	}
}

// missingOf lists the missing sectors of each group, the groups in a fixed order: what is left of a deal without names.
func missingOf(d Dealt) []string {
	var groups []string
	for _, g := range d.Groups {
		var x []int
		for _, p := range d.Disks {
			if p.Group == g.Name {
				x = append(x, p.Missing)
			}
		}
		slices.Sort(x)
		groups = append(groups, fmt.Sprint(x))
	}
	slices.Sort(groups)
	return groups
}

// The same disks and methods in another order are dealt the same way.
func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		disks, methods := drawDisks(t, 14, rapid.Bool().Draw(t, "constrained"))
		seed, nodes := rapid.Uint64().Draw(t, "seed"), rapid.SampledFrom([]int{0, 50, 100_000}).Draw(t, "nodes")
		d, err := Deal(disks, methods, seed, nodes)
		e, err2 := Deal(rapid.Permutation(disks).Draw(t, "disks"), rapid.Permutation(methods).Draw(t, "methods"), seed, nodes)
		if (err == nil) != (err2 == nil) {
			t.Fatalf("%v, but in another order %v", err, err2)
		}
		if !slices.Equal(d.Disks, e.Disks) || d.Imbalance != e.Imbalance || !slices.Equal(d.Sheet(), e.Sheet()) {
			t.Fatalf("%+v, but in another order %+v", d.Disks, e.Disks)
		}
	})
}

// Larger batches, and searches that are cut short: the deal keeps to everything, is no worse than any of some random
// deals, and its bound is below both.
func TestLargerBatches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(20, 90).Draw(t, "disks")
		methods := Numbered(rapid.IntRange(2, 9).Draw(t, "methods"))
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "values"), 1))
		c := rapid.SampledFrom(benchCases).Draw(t, "case")
		disks := make([]Disk, n)
		for i := range disks {
			disks[i] = Disk{Name: fmt.Sprint(i), Missing: c.missing(min(i, 23), r)}
			if rapid.IntRange(0, 9).Draw(t, "bound") == 0 {
				disks[i].Never = []string{methods[i%len(methods)]}
			}
		}
		d, err := Deal(disks, methods, 7, rapid.SampledFrom([]int{0, 100, 20_000}).Draw(t, "nodes"))
		if err != nil {
			t.Fatal(err)
		}
		checkDeal(t, disks, methods, d)
		p, _ := pose(disks, methods)
		for i := range uint64(20) {
			x := sectors(p.tallyOf(p.start(stream(i, 99))).imbalance())
			if x < d.Bound || d.Optimal && x < d.Imbalance || d.Nodes == 20_000 && x < d.Imbalance {
				t.Fatalf("a random deal has %v, the deal %v, bound %v", x, d.Imbalance, d.Bound)
			}
		}
	})
}

// The largest batch is dealt; chance alone would leave an imbalance of several sectors.
func TestLargest(t *testing.T) {
	r, missing := rand.New(rand.NewPCG(1, 2)), make([]int, MaxDisks)
	for i := range missing {
		missing[i] = r.IntN(2880)
	}
	d, err := Deal(disksOf(missing...), Numbered(4), 1, 50_000)
	if err != nil || d.Imbalance > 1 || d.Imbalance < d.Bound {
		t.Errorf("imbalance %v, bound %v, %v", d.Imbalance, d.Bound, err)
	}
	t.Logf("%d disks in 4: imbalance %.3f sectors, bound %.3f", MaxDisks, d.Imbalance, d.Bound)
}

// 24 disks in 4 groups, proved a second time: no four of all groups of six make a better deal. Every group of a better one
// lies within the imbalance of the mean of all, so that few groups come into question.
func Test24In4AgainstAllGroups(t *testing.T) {
	for _, seed := range []uint64{4, 3}[:2-testingShort()] {
		r, missing := rand.New(rand.NewPCG(seed, 77)), make([]int, 24)
		for i := range missing {
			missing[i] = r.IntN(2880)
		}
		disks := disksOf(missing...)
		d, err := Deal(disks, Numbered(4), seed, DefaultNodes)
		if err != nil || !d.Optimal {
			t.Fatal(d, err)
		}
		checkDeal(t, disks, Numbered(4), d)
		below := int64(math.Round(d.Imbalance * 1000))
		tried, better := coverBetter(missing, below)
		if better || tried < 4 {
			t.Errorf("seed %d: there is a deal below %d thousandths (%d groups tried)", seed, below, tried)
		}
		if _, same := coverBetter(missing, below+1); !same {
			t.Errorf("seed %d: the second way does not find the deal with %d thousandths", seed, below)
		}
	}
}

// testingShort is 1 where less is to be done, and 0 otherwise.
func testingShort() int {
	if testing.Short() {
		return 1
	}
	return 0
}

// coverBetter tells whether groups of six disks make a deal of 24 with less than that imbalance.
func coverBetter(missing []int, below int64) (tried int, found bool) {
	type six struct {
		members      uint32
		mean, spread int64
	}
	var all []six
	whole := int64(0)
	for _, x := range missing {
		whole += int64(x)
	}
	for m := uint32(1<<6 - 1); m < 1<<24; {
		var s sums
		for b := m; b != 0; b &= b - 1 {
			s = s.with(int64(missing[bits.TrailingZeros32(b)]))
		}
		if mean := mean1000(6, s.sum); max(mean-mean1000(24, whole), mean1000(24, whole)-mean) <= below+1 {
			all = append(all, six{m, mean, spread1000(6, s.sum, s.squares)})
		}
		low := m & -m // the next number with as many bits
		up := m + low
		m = up | (m^up)/low>>2
	}
	var cover func(used uint32, means, spreads []int64) bool
	cover = func(used uint32, means, spreads []int64) bool {
		if width(means)+width(spreads) >= below {
			return false
		}
		if used == 1<<24-1 {
			return true
		}
		lead := ^used & (used + 1)
		for _, g := range all {
			if g.members&lead != 0 && g.members&(lead-1)&^used == 0 && g.members&used == 0 &&
				cover(used|g.members, append(means, g.mean), append(spreads, g.spread)) {
				return true
			}
		}
		return false
	}
	return len(all), cover(0, nil, nil)
}

func TestDealRefuses(t *testing.T) {
	ab := []string{"isopropanol", "by hand"}
	for says, c := range map[string]struct {
		disks   []Disk
		methods []string
	}{
		"name at least two":               {disksOf(1, 2), []string{"a"}},
		"64 are the most":                 {disksOf(make([]int, 99)...), Numbered(65)},
		"every method needs at least one": {disksOf(1), ab},
		"deal them in batches":            {disksOf(make([]int, MaxDisks+1)...), ab},
		"a method has no name":            {disksOf(1, 2), []string{"a", " "}},
		"is named twice":                  {disksOf(1, 2), []string{"a", "a"}},
		"a disk has no name":              {[]Disk{{Name: " "}, {Name: "x"}}, ab},
		`the disk "x" is there twice`:     {[]Disk{{Name: "x"}, {Name: "x"}}, ab},
		"cannot have -1 sectors":          {disksOf(-1, 2), ab},
		"cannot have 500001 sectors":      {disksOf(500001, 2), ab},
		`did you mean "by hand"?`:         {[]Disk{{Name: "x", Only: "by hnad"}, {Name: "y"}}, ab},
		"the methods are by hand, isopro": {[]Disk{{Name: "x", Never: []string{"magic"}}, {Name: "y"}}, ab},
		"no method is left for the disk":  {[]Disk{{Name: "x", Only: "by hand", Never: []string{"by hand"}}, {Name: "y"}}, ab},
		"could be":                        {[]Disk{{Name: "x", Only: "ab"}, {Name: "y"}}, []string{"Ab", "aB"}},
		`2 of them may only get "by hand", where there are 1 places`: {[]Disk{{Name: "x", Only: "by hand"}, {Name: "y", Only: "by hand"}}, ab},
	} {
		if d, err := Deal(c.disks, c.methods, 1, 100); err == nil || !strings.Contains(err.Error(), says) || len(d.Groups) != 0 {
			t.Errorf("%v, want %q", err, says)
		}
	}
	if d, err := Deal([]Disk{{Name: "x", Only: "By Hand"}, {Name: "y"}}, ab, 1, 100); err != nil || d.Disks[0].Group != "by hand" {
		t.Errorf("capitals: %+v, %v", d, err)
	}
}

func TestJSON(t *testing.T) {
	d, err := Deal(disksOf(4, 4, 4), []string{"a", "b"}, 1<<53, 100)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(d)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"groups":[{"name":"a","disks":[`, `"mean":4`, `"spread":null`, `"spread":0`, `"imbalance":0`, `"optimal":true`,
		`"bound":0`, `"seed":9007199254740992`, `"disks":[{"disk":"seed bank 001","missing":4,"group":`, `"block":1`} {
		if !strings.Contains(string(text), want) {
			t.Errorf("%s lacks %s", text, want)
		}
	}
}

func TestNumbered(t *testing.T) {
	if got := Numbered(2); !slices.Equal(got, []string{"group 1", "group 2"}) {
		t.Errorf("%q", got)
	}
	if len(Numbered(-1)) != 0 || len(Numbered(1<<40)) != MaxMethods+1 {
		t.Error("odd numbers")
	}
}
