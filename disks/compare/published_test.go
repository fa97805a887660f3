package compare

import (
	"fmt"
	"math"
	"testing"
)

// singles makes disks of one method, each its own comparison, from changes.
func singles(changes ...int) (rows []Row) {
	for i, change := range changes {
		rows = append(rows, Row{Disk: fmt.Sprintf("%03d", i), Method: "m", Before: 5000, After: 5000 + change})
	}
	return rows
}

// twoGroups makes disks of methods a and b in one block, all with the same start, from changes.
func twoGroups(a, b []int) []Row {
	rows := singles(append(append([]int{}, a...), b...)...)
	for i := range rows {
		rows[i].Method = "b"
		if i < len(a) {
			rows[i].Method = "a"
		}
	}
	return rows
}

func compared(t *testing.T, rows []Row) Result {
	t.Helper()
	r, err := Compare(rows, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > within {
		t.Errorf("%s is %.9g, want %.9g within %g", what, got, want, within)
	}
}

// Darwin's fifteen pairs of maize, crossed less self-fertilised, in eighths of an inch: R. A. Fisher, The Design of
// Experiments (1935), section 21, who counted all 32 768 choices of signs: 863 in each tail, 5.267 %.
var darwin = []int{49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48}

func TestDarwin(t *testing.T) {
	m := compared(t, singles(darwin...)).Methods[0]
	if m.P != 1726.0/32768 || !m.Exact {
		t.Errorf("p %v (exact %v), want 1726/32768", m.P, m.Exact)
	}
	if m.Net != -314 || m.Better != 2 || m.Worse != 13 {
		t.Errorf("net %d, %d better, %d worse; want -314, 2, 13", m.Net, m.Better, m.Worse)
	}

	// The same as fifteen blocks with one plant of each kind: permuting labels within blocks is changing signs.
	var rows []Row
	for i, d := range darwin {
		block := fmt.Sprint("pot ", i)
		rows = append(rows, Row{Disk: fmt.Sprint("c", i), Block: block, Method: "crossed", Before: 100, After: 100 + d},
			Row{Disk: fmt.Sprint("s", i), Block: block, Method: "selfed", Before: 100, After: 100})
	}
	p := compared(t, rows).Pairs[0]
	if p.P != 1726.0/32768 || p.Adjusted != p.P || p.Better != "" {
		t.Errorf("within pots: p %v, adjusted %v, better %q", p.P, p.Adjusted, p.Better)
	}
}

// Hamilton depression scale factor IV of nine patients, after less before, in thousandths: M. Hollander and D. A. Wolfe,
// Nonparametric Statistical Methods, chapter 3. The data as the R package asbio gives them; estimate -0.46 and interval
// (-0.786, -0.010) of the book, whose level for nine is 96.1 %, from memory.
func TestHollanderWolfeDepression(t *testing.T) {
	m := compared(t, singles(-952, 147, -1022, -430, -620, -590, -490, 80, -10)).Methods[0]
	near(t, "estimate", m.Shift, -460, 0.5)
	near(t, "low end", m.Interval[0], -786, 0)
	near(t, "high end", m.Interval[1], -10, 0)
	near(t, "median", m.MedianChange, -490, 0)
}

// Permeability of human chorioamnion, in hundredths, at term and at 12 to 26 weeks: Hollander and Wolfe, chapter 4; the
// data are those of R's example of its rank-sum test. Estimate 0.305 and interval (-0.15, 0.76), level 96 %, from memory.
func TestHollanderWolfePermeability(t *testing.T) {
	p := compared(t, twoGroups([]int{80, 83, 189, 104, 145, 138, 191, 164, 73, 146}, []int{115, 88, 90, 74, 121})).Pairs[0]
	near(t, "estimate", *p.Difference, 30.5, 0)
	near(t, "low end", p.Interval[0], -15, 0)
	near(t, "high end", p.Interval[1], 76, 0)
}

// R's sleep data: ten patients, tenths of an hour gained with each of two drugs ("Student", Biometrika 6 (1908) 1; data
// as the notebook of BYU Idaho prints them). No pair speaks for the first drug and one is a tie, so that 2 of 2^9 choices
// of signs are as far out. R gives the nine that are not ties a shift of 1.400 with 1.050 to 2.950, normal approximation,
// from memory.
func TestSleep(t *testing.T) {
	first := []int{7, -16, -2, -12, -1, 34, 37, 8, 0, 20}
	second := []int{19, 8, 11, 1, -1, 44, 55, 16, 46, 34}
	var rows []Row
	for i := range first {
		block := fmt.Sprint("patient ", i)
		rows = append(rows, Row{Disk: fmt.Sprint("a", i), Block: block, Method: "first", Before: 100, After: 100 + first[i]},
			Row{Disk: fmt.Sprint("b", i), Block: block, Method: "second", Before: 100, After: 100 + second[i]})
	}
	p := compared(t, rows).Pairs[0]
	if p.P != 2.0/512 || p.Better != "first" { // more is worse here
		t.Errorf("p %v, better %q; want 2/512 and first", p.P, p.Better)
	}
	without := append(rows[:8:8], rows[10:]...)
	p = compared(t, without).Pairs[0]
	near(t, "shift", *p.Difference, -14, 0.01)
	near(t, "low end", p.Interval[0], -29.5, 0.01)
	near(t, "high end", p.Interval[1], -10.5, 0.01)
}

// The smallest p that a design can give: 2 over the number of deals, as textbooks of permutation tests have it.
func TestSmallestP(t *testing.T) {
	for _, c := range []struct {
		a, b []int
		want float64
	}{
		{[]int{1, 2, 3}, []int{7, 8, 9}, 2.0 / 20},
		{[]int{1, 2}, []int{7, 8, 9, 10, 11}, 2.0 / 21},
		{[]int{1, 2, 3, 4}, []int{7, 8, 9, 10}, 2.0 / 70},
		{[]int{4, 4, 4}, []int{4, 4, 4}, 1},
	} {
		near(t, fmt.Sprint("p of ", c.a, c.b), compared(t, twoGroups(c.a, c.b)).Pairs[0].P, c.want, 1e-15)
	}
}

// Critical values of the signed-rank statistic, two-sided 5 %: D. Harvey, Chemometrics Using R, appendix 12.6
// (LibreTexts). The interval's ends are the means next to them.
func TestWilcoxonTable(t *testing.T) {
	critical := map[int]int64{6: 0, 7: 2, 8: 3, 9: 5, 10: 8, 11: 10, 12: 13, 13: 17, 14: 21, 15: 25, 16: 29, 17: 34, 18: 40, 19: 46, 20: 52}
	for n, want := range critical {
		if got := signedRankDepth(n) - 1; got != want {
			t.Errorf("n %d: critical value %d, want %d", n, got, want)
		}
	}
	if got := signedRankDepth(5); got != 0 {
		t.Errorf("five have an interval of depth %d, want none", got)
	}
	// Beyond the work allowed the normal distribution takes over without a step.
	if exact, normal := signedRankDepth(380), normalDepth(380*381/4, 380.0*381*761/24); exact-normal > 2 || normal-exact > 2 {
		t.Errorf("at 380 the depth is %d, but %d by the normal distribution", exact, normal)
	}
}

// Critical values of the rank-sum statistic, two-sided 5 %, from memory of the usual table; SciPy confirms them.
func TestMannWhitneyTable(t *testing.T) {
	for _, c := range []struct {
		m, n int
		want int64
	}{{3, 5, 0}, {4, 4, 0}, {5, 5, 2}, {5, 8, 6}, {6, 9, 10}, {8, 8, 13}, {10, 10, 23}, {12, 15, 49}, {20, 20, 127}} {
		blocks := []shared{{make([]disk, c.m+c.n), c.m}}
		if got := rankSumDepth(blocks) - 1; got != c.want {
			t.Errorf("%d and %d: critical value %d, want %d", c.m, c.n, got, c.want)
		}
	}
}

// Disks a group for 80 % power at two-sided 5 %, by the difference in standard deviations: J. Cohen, Statistical Power
// Analysis (1988), as the statistics wiki of MRC CBU Cambridge lists them. Its figures for 0.2 and 0.3 are rounded down.
func TestPowerTable(t *testing.T) {
	table := map[float64]int{0.2: 393, 0.3: 175, 0.4: 100, 0.5: 64, 0.6: 45, 0.7: 34, 0.8: 26, 1.0: 17, 1.1: 15, 1.3: 11}
	for d, want := range table {
		got, ok := NeededPerGroup(10, 10*d, 1)
		if d <= 0.3 {
			want++
		}
		if !ok || got != want {
			t.Errorf("difference %.1f: %d disks, want %d", d, got, want)
		}
	}
	if _, ok := NeededPerGroup(10, 0, 1); ok {
		t.Error("a difference of nothing needs a number of disks")
	}
	if n, ok := NeededPerGroup(1, 1e6, 1); !ok || n != 4 {
		t.Errorf("the largest difference takes %d disks, want 4: three and three have too few deals", n)
	}
}

// Quantiles of Student's t from the table of NIST/SEMATECH e-Handbook 1.3.6.7.2, from memory.
func TestStudentTable(t *testing.T) {
	for _, c := range []struct{ p, freedom, want float64 }{
		{0.975, 1, 12.706}, {0.975, 2, 4.303}, {0.975, 5, 2.571}, {0.975, 10, 2.228}, {0.975, 30, 2.042}, {0.975, 100, 1.984},
		{0.95, 4, 2.132}, {0.99, 7, 2.998}, {0.995, 20, 2.845}, {0.975, 1e7, 1.960}, {0.975, 1e5, 1.960},
	} {
		near(t, fmt.Sprintf("t(%g, %g)", c.p, c.freedom), studentQuantile(c.p, c.freedom), c.want, 0.0006)
	}
	near(t, "Cauchy's median", studentQuantile(0.5, 1), 0, 1e-9)
}

// Four p-values by hand: the smallest times 4, the next times 3, and so on, and none below one before it.
func TestHolm(t *testing.T) {
	var pairs []Pair
	for _, p := range []float64{0.03, 0.001, 0.04, 0.011} {
		pairs = append(pairs, Pair{P: p, Difference: new(float64), Adjusted: 1})
	}
	pairs = append(pairs, Pair{P: 1, Adjusted: 1}) // never met: not one of them
	holm(pairs)
	for i, want := range []float64{0.06, 0.004, 0.06, 0.033, 1} {
		near(t, fmt.Sprint("adjusted ", i), pairs[i].Adjusted, want, 1e-12)
	}
}
