package batch

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// benchCases are 24 disks each: easy ones, and those that are hard on a search.
var benchCases = []struct {
	name    string
	missing func(i int, r *rand.Rand) int
}{
	{"random", func(_ int, r *rand.Rand) int { return r.IntN(2880) }},
	{"all equal", func(int, *rand.Rand) int { return 40 }},
	{"1 to 24", func(i int, _ *rand.Rand) int { return i + 1 }},
	{"small counts", func(_ int, r *rand.Rand) int { return r.IntN(4) }},
	{"zero to thirty", func(_ int, r *rand.Rand) int { return r.IntN(31) }},
	{"powers of two", func(i int, _ *rand.Rand) int { return 1 << min(i, 18) }},
	{"powers of 1.4", func(i int, _ *rand.Rand) int { return int(math.Pow(1.4, float64(i))) }},
	{"powers of 1.5", func(i int, _ *rand.Rand) int { return int(math.Pow(1.5, float64(i))) }},
	{"heavy tail", func(_ int, r *rand.Rand) int { return int(min(5/math.Pow(1-r.Float64(), 1.3), MaxMissing)) }},
	{"one giant", func(i int, r *rand.Rand) int { return []int{r.IntN(50), 5000}[max(0, i-22)] }},
	{"two giants", func(i int, r *rand.Rand) int { return []int{r.IntN(50), 5000 + i}[max(0, min(1, i-21))] }},
	{"five giants", func(i int, r *rand.Rand) int { return []int{r.IntN(50), 5000 + i*i}[max(0, min(1, i-18))] }},
	{"two heaps", func(i int, r *rand.Rand) int { return r.IntN(20) + 1400*(i%2) }},
	{"squares", func(i int, _ *rand.Rand) int { return i * i }},
}

// disksOf names disks for their numbers of missing sectors.
func disksOf(missing ...int) []Disk {
	disks := make([]Disk, len(missing))
	for i, m := range missing {
		disks[i] = Disk{Name: fmt.Sprintf("seed bank %03d", i+1), Missing: m}
	}
	return disks
}

// case24 draws the disks of a case.
func case24(missing func(int, *rand.Rand) int, n int) []Disk {
	r, m := rand.New(rand.NewPCG(24, 4)), make([]int, n)
	for i := range m {
		m[i] = missing(i, r)
	}
	return disksOf(m...)
}

func BenchmarkDeal(b *testing.B) {
	for _, c := range benchCases {
		for _, k := range []int{2, 3, 4} {
			b.Run(fmt.Sprintf("%s/24 in %d", c.name, k), func(b *testing.B) {
				disks, nodes := case24(c.missing, 24), 0
				for b.Loop() {
					d, err := Deal(disks, Numbered(k), 1, DefaultNodes)
					if err != nil || !d.Optimal || !d.Uniform {
						b.Fatalf("%v: %+v", err, d)
					}
					nodes = d.Nodes
				}
				b.ReportMetric(float64(nodes), "nodes/op")
			})
		}
	}
}
