package batch

import (
	"testing"

	"pgregory.net/rapid"
)

// checkBlocks holds what a comparison relies on: disks of a block stand under the same constraints and follow each other in
// missing sectors, and every block has all the methods that such disks have at all.
func checkBlocks(t *rapid.T, disks []Disk, methods []string, d Dealt) {
	p, err := pose(disks, methods)
	if err != nil {
		t.Fatal(err)
	}
	placed := map[string]Placed{}
	for _, x := range d.Disks {
		placed[x.Name] = x
	}
	set, have, whole := map[int]uint64{}, map[int]map[string]bool{}, map[uint64]map[string]bool{}
	last := map[uint64]int{}
	for _, it := range p.items {
		x := placed[it.name]
		if lone := it.allowed&(it.allowed-1) == 0; lone != (x.Block == 0) {
			t.Fatalf("%+v may get %b", x, it.allowed)
		}
		if x.Block == 0 {
			continue
		}
		if have[x.Block] == nil {
			set[x.Block], have[x.Block] = it.allowed, map[string]bool{}
		}
		if whole[it.allowed] == nil {
			whole[it.allowed] = map[string]bool{}
		}
		have[x.Block][x.Group], whole[it.allowed][x.Group] = true, true
		if set[x.Block] != it.allowed || x.Block < last[it.allowed] {
			t.Fatalf("block %d: %+v is under other constraints or out of order", x.Block, x)
		}
		last[it.allowed] = x.Block
	}
	for b := 1; b <= len(have); b++ {
		if len(have[b]) != len(whole[set[b]]) {
			t.Fatalf("block %d of %d has %v of %v", b, len(have), have[b], whole[set[b]])
		}
	}
}

func TestBlocks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		disks, methods := drawDisks(t, 30, rapid.Bool().Draw(t, "constrained"))
		d, err := Deal(disks, methods, 5, 2000)
		if err != nil {
			t.Skip("no deal")
		}
		checkBlocks(t, disks, methods, d)
		checkSheet(t, d)
	})
}

// How fine blocks are: pairs where pairs are enough exchanges, wider ones where they are not.
func TestHowFineBlocksAre(t *testing.T) {
	for _, c := range []struct{ n, k, blocks int }{
		{24, 2, 12}, // 2^12 exchanges
		{12, 2, 6},  // 2^6 are 64, at least 40
		{10, 2, 2},  // 2^5 are too few; blocks of four and of six: 6·20
		{6, 2, 1},   // 20 are all there are
		{24, 4, 2},  // 6³ are fewer than 40 for each of six pairs: 20²
		{24, 3, 8},  // 2^8 are enough for each of three pairs
	} {
		missing := make([]int, c.n)
		for i := range missing {
			missing[i] = i / c.k // disks in rows that are alike: an optimal deal gives each method one of each row
		}
		p, err := pose(disksOf(missing...), Numbered(c.k))
		if err != nil {
			t.Fatal(err)
		}
		group, most := make([]int, c.n), 0
		for i := range group {
			group[i] = i % c.k
		}
		for _, b := range p.blocks(group) {
			most = max(most, b)
		}
		if most != c.blocks {
			t.Errorf("%d in %d: %d blocks, want %d", c.n, c.k, most, c.blocks)
		}
	}
}

// checkSheet holds the order of work: every disk once, every method once a round, and rounds that go to and fro, so that
// the mean place in the order is the same for all methods when rounds are even in number.
func checkSheet(t *rapid.T, d Dealt) {
	lines, k := d.Sheet(), len(d.Groups)
	want := map[string]Placed{}
	for _, p := range d.Disks {
		want[p.Name] = p
	}
	places, count := map[string]int{}, map[string]int{}
	for i, l := range lines {
		if p := want[l.Disk]; p.Group != l.Method || p.Missing != l.Missing || p.Block != l.Block || l.No != i+1 ||
			l.Changeover != (i > 0 && lines[i-1].Method != l.Method) {
			t.Fatalf("line %d: %+v for %+v", i+1, l, p)
		}
		delete(want, l.Disk)
		places[l.Method] += i
		count[l.Method]++
		if count[l.Method] != i/k+1 {
			t.Fatalf("line %d: method %s comes the %d. time", i+1, l.Method, count[l.Method])
		}
	}
	if len(want) != 0 {
		t.Fatalf("not on the sheet: %v", want)
	}
	if len(lines)%(2*k) == 0 {
		for _, m := range d.Groups {
			if places[m.Name] != places[d.Groups[0].Name] {
				t.Fatalf("the places of the methods add up to %v", places)
			}
		}
	}
}
