package compare

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// anyRows draws disks of a few methods in a few blocks.
func anyRows(t *rapid.T, methods ...string) (rows []Row) {
	blocks := rapid.IntRange(1, 3).Draw(t, "blocks")
	for i := range rapid.IntRange(2, 24).Draw(t, "disks") {
		rows = append(rows, Row{
			Disk:   fmt.Sprint("disk ", i),
			Block:  fmt.Sprint(rapid.IntRange(1, blocks).Draw(t, "block")),
			Method: rapid.SampledFrom(methods).Draw(t, "method"),
			Before: rapid.IntRange(0, 400).Draw(t, "before"),
			After:  rapid.IntRange(0, 400).Draw(t, "after"),
		})
	}
	return rows
}

func mustCompare(t *rapid.T, rows []Row) Result {
	t.Helper()
	r, err := Compare(rows, Options{Seed: 7})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := anyRows(t, "water", "alcohol", "by hand")
		want := mustCompare(t, rows)
		given := slices.Clone(rows)
		got := mustCompare(t, rapid.Permutation(rows).Draw(t, "order"))
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatal(diff)
		}
		if again := mustCompare(t, given); cmp.Diff(want, again) != "" {
			t.Fatal("the same rows give another result")
		}
	})
}

// Exchanging the names of two methods turns the difference around and changes nothing else.
func TestExchangedLabelsTurnTheSign(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := anyRows(t, "a", "b")
		other := map[string]string{"a": "b", "b": "a"}
		exchanged := slices.Clone(rows)
		for i := range exchanged {
			exchanged[i].Method = other[exchanged[i].Method]
		}
		one, two := mustCompare(t, rows), mustCompare(t, exchanged)
		if len(one.Pairs) == 0 {
			return
		}
		p, q := one.Pairs[0], two.Pairs[0]
		if (p.Difference == nil) != (q.Difference == nil) || (p.Interval == nil) != (q.Interval == nil) {
			t.Fatalf("%+v\n%+v", p, q)
		}
		if p.Difference == nil {
			return
		}
		const within = 1e-6
		if math.Abs(*p.Difference+*q.Difference) > within || math.Abs(p.P-q.P) > 1e-9 || math.Abs(p.StartP-q.StartP) > 1e-9 {
			t.Fatalf("difference %v and %v, p %v and %v", *p.Difference, *q.Difference, p.P, q.P)
		}
		if p.Interval != nil && (math.Abs(p.Interval[0]+q.Interval[1]) > within || math.Abs(p.Interval[1]+q.Interval[0]) > within) {
			t.Fatalf("interval %v and %v", *p.Interval, *q.Interval)
		}
		if p.Better != other[q.Better] {
			t.Fatalf("better %q and %q", p.Better, q.Better)
		}
	})
}

func TestResultHoldsTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := mustCompare(t, anyRows(t, "a", "b", "c", "d"))
		text, err := json.Marshal(r) // fails for anything that is no number
		if err != nil || strings.Contains(string(text), "NaN") {
			t.Fatalf("%s: %v", text, err)
		}
		for _, m := range r.Methods {
			if !(m.P > 0 && m.P <= 1) || m.P < m.SmallestP {
				t.Fatalf("%s: p %v, smallest %v", m.Name, m.P, m.SmallestP)
			}
			if m.Interval != nil && (m.Interval[0] > m.Shift || m.Interval[1] < m.Shift) {
				t.Fatalf("%s: %v outside of %v", m.Name, m.Shift, *m.Interval)
			}
		}
		for _, p := range r.Pairs {
			if !(p.P > 0 && p.P <= 1) || p.P < p.SmallestP*(1-1e-9) || p.Adjusted < p.P || p.Adjusted > 1 {
				t.Fatalf("p %v, smallest %v, adjusted %v", p.P, p.SmallestP, p.Adjusted)
			}
			if p.Better != "" && p.Adjusted > alpha || p.SmallestP > alpha && p.Detectable != nil {
				t.Fatalf("%+v", p)
			}
		}
		if len(r.Words) == 0 || slices.ContainsFunc(r.Words, func(s string) bool { return strings.Contains(s, "%!") }) {
			t.Fatalf("%q", r.Words)
		}
	})
}

// A common shift of all starts and ends, which no method made, changes nothing between methods.
func TestCommonStartDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := anyRows(t, "a", "b")
		more := slices.Clone(rows)
		for i := range more {
			more[i].Before += 64
			more[i].After += 64
		}
		one, two := mustCompare(t, rows), mustCompare(t, more)
		for i := range one.Pairs {
			if math.Abs(one.Pairs[i].P-two.Pairs[i].P) > 1e-9 {
				t.Fatalf("p %v and %v", one.Pairs[i].P, two.Pairs[i].P)
			}
		}
	})
}

// A worse start alone makes no winner: every disk loses the same share of what it had missing, and one method got nearly
// all the bad disks.
func TestWorseStartMakesNoWinner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.IntRange(0, 9).Draw(t, "tenths that stay")
		var rows []Row
		for i := range rapid.IntRange(4, 30).Draw(t, "disks") {
			method, before := "kind", 10*rapid.IntRange(0, 30).Draw(t, "few")
			if i%2 == 0 {
				method, before = "harsh", 10*rapid.IntRange(15, 90).Draw(t, "many")
			}
			rows = append(rows, Row{Disk: fmt.Sprint(i), Method: method, Before: before, After: before * share / 10})
		}
		r := mustCompare(t, rows)
		if p := r.Pairs[0]; p.Better != "" {
			t.Fatalf("better: %q, p %v, slope %v", p.Better, p.P, p.Slope)
		}
	})
}

// trial makes disks, deals them by chance or by their state, and says which method comes out better.
type trial struct {
	methods, blocks, each int     // disks of each method in each block
	gain                  float64 // share of the missing that comes back
	effect                float64 // sectors that the first method leaves fewer
	byState               bool    // the worse half to the first method
	scatter               float64
	steady                bool // every disk starts with the same number missing
}

func (w trial) rows(random *rand.Rand) (rows []Row) {
	for b := range w.blocks {
		var before []int
		for range w.methods * w.each {
			n := 60 + int(60*random.ExpFloat64())
			if w.steady {
				n = 400
			}
			before = append(before, n)
		}
		if w.byState {
			slices.Sort(before)
			slices.Reverse(before)
		}
		for i, n := range before {
			method := i / w.each
			after := float64(n)*(1-w.gain) + w.scatter*random.NormFloat64()
			if !w.byState && random.IntN(8) == 0 { // now and then one goes badly wrong
				after += 2 * w.scatter * random.ExpFloat64()
			}
			if method == 0 {
				after -= w.effect
			}
			rows = append(rows, Row{Disk: fmt.Sprint(b, " ", i), Block: fmt.Sprint("b", b), Method: fmt.Sprint("m", method),
				Before: n, After: max(0, int(math.Round(after)))})
		}
	}
	return rows
}

// wins counts in how many of so many trials any pair has a better method, and in how many some p is at most 5 %.
func (w trial) wins(t *testing.T, trials int) (winners, significant int) {
	t.Helper()
	random := rand.New(rand.NewPCG(1, 11))
	for range trials {
		r := compared(t, w.rows(random))
		winner, small := false, false
		for _, p := range r.Pairs {
			winner = winner || p.Better != ""
			small = small || p.Adjusted <= alpha
		}
		winners += int(is(winner))
		significant += int(is(small))
	}
	return winners, significant
}

// trials is how many trials a simulation makes; fewer in a short run.
func trials(t *testing.T, most int) int {
	t.Helper()
	if testing.Short() {
		return most / 10
	}
	return most
}

// No more than 5 % of trials in which the methods do the same call one better, but for what chance does to the count: three
// standard errors. The permutation is exact, so that this holds for every shape of scatter.
func TestFalsePositives(t *testing.T) {
	n := trials(t, 1000)
	limit := 0.05*float64(n) + 3*math.Sqrt(0.05*0.95*float64(n))
	for name, w := range map[string]trial{
		"one deal of 12":             {methods: 2, blocks: 1, each: 6, gain: 0.4, scatter: 20},
		"ten blocks of two":          {methods: 2, blocks: 10, each: 1, gain: 0.4, scatter: 20},
		"three blocks of six":        {methods: 2, blocks: 3, each: 3, gain: 0.4, scatter: 20},
		"three methods":              {methods: 3, blocks: 2, each: 4, gain: 0.4, scatter: 20},
		"the worse half to one":      {methods: 2, blocks: 1, each: 10, gain: 0.4, scatter: 20, byState: true},
		"within blocks, worse first": {methods: 2, blocks: 8, each: 1, gain: 0.4, scatter: 20, byState: true},
	} {
		winners, significant := w.wins(t, n)
		t.Logf("%s: of %d trials %d have a better method, %d a p at most 5 %%", name, n, winners, significant)
		if float64(winners) > limit || float64(significant) > limit {
			t.Errorf("%s: %d winners and %d small p in %d trials, at most %.0f are due", name, winners, significant, n, limit)
		}
	}
}

// What is called detectable is shown in about four of five trials.
func TestDetectableIsShown(t *testing.T) {
	n := trials(t, 1000)
	for name, w := range map[string]trial{
		"six and six":       {methods: 2, blocks: 1, each: 6, scatter: 20, steady: true},
		"twelve and twelve": {methods: 2, blocks: 1, each: 12, scatter: 20, steady: true},
		"ten blocks of two": {methods: 2, blocks: 10, each: 1, scatter: 20, steady: true},
	} {
		disks := w.methods * w.blocks * w.each
		weight := float64(w.blocks) * float64(w.each) / 2
		d := line{scatter: 20, spare: float64(disks - w.blocks - 1), weight: weight}.detectable(0.001, 1)
		w.effect = *d
		random := rand.New(rand.NewPCG(3, 5))
		shown := 0
		for range n {
			rows := w.rows(random)
			for i := range rows { // scatter by the normal distribution only, as the textbook's tables have it
				rows[i].After = 400 + int(math.Round(20*random.NormFloat64()))
				if rows[i].Method == "m0" {
					rows[i].After -= int(math.Round(w.effect))
				}
			}
			shown += int(is(compared(t, rows).Pairs[0].P <= alpha))
		}
		share := float64(shown) / float64(n)
		t.Logf("%s: %.1f sectors shown in %.1f %% of trials", name, *d, 100*share)
		if share < 0.74 || share > 0.86 {
			t.Errorf("%s: a detectable difference is shown in %.1f %% of trials", name, 100*share)
		}
	}
}

// The 95 % interval holds the true difference in no fewer trials, starts that differ between methods included.
func TestIntervalsHoldTheTruth(t *testing.T) {
	n := trials(t, 1000)
	for name, w := range map[string]trial{
		"eight and eight":     {methods: 2, blocks: 1, each: 8, gain: 0.3, scatter: 15, effect: 25},
		"eight blocks of two": {methods: 2, blocks: 8, each: 1, gain: 0.3, scatter: 15, effect: 25},
		"unlike starts":       {methods: 2, blocks: 1, each: 10, gain: 0.3, scatter: 10, effect: 10, byState: true},
	} {
		random := rand.New(rand.NewPCG(2, 9))
		held, open := 0, 0
		for range n {
			p := compared(t, w.rows(random)).Pairs[0]
			open += int(is(p.Interval == nil)) // every difference is held possible
			held += int(is(p.Interval == nil || p.Interval[0] <= -w.effect && p.Interval[1] >= -w.effect))
		}
		t.Logf("%s: %.1f %% of %d intervals hold the truth; %d have no end", name, 100*float64(held)/float64(n), n, open)
		if share := float64(held) / float64(n); share < 0.92 {
			t.Errorf("%s: only %.1f %% of the intervals hold the truth", name, 100*share)
		}
	}
}
