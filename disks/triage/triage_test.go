package triage

import (
	"slices"
	"strings"
	"testing"
)

// next steps through all looks like a counter; false after the last.
func next(l *Look, least Level) bool {
	for f := range l {
		if l[f] < Finding(f).Worst() {
			l[f]++
			return true
		}
		l[f] = least
	}
	return false
}

// every is every look there is, from the least level on.
func every(least Level, visit func(Look)) (count int) {
	var l Look
	for f := range l {
		l[f] = least
	}
	for more := true; more; more = next(&l, least) {
		visit(l)
		count++
	}
	return count
}

// rank orders levels by how bad they are: what nobody looked at is not known to be bad.
func rank(l Level) Level { return max(l, None) }

// A finding that is one level worse never gives a milder verdict, over all looks; and every look has a verdict. From one
// level to the next is enough: worse by more is a chain of these.
func TestWorseIsNeverMilder(t *testing.T) {
	least := Unseen
	if testing.Short() {
		least = None
	}
	count := every(least, func(l Look) {
		v := l.Verdict()
		if v < ReadFirst || v > DoNotSpin {
			t.Fatalf("%v has the verdict %v", l, v)
		}
		for f := range l {
			worse := l
			if worse[f]++; worse[f] > Finding(f).Worst() {
				continue
			}
			if w := worse.Verdict(); w < v || rank(l[f]) == rank(worse[f]) && w != v {
				t.Fatalf("%v is %v, but %v is %v", l, v, worse, w)
			}
		}
	})
	want := 3 * 3 * 3 * 3 * 3 * 4 * 4 * 4 * 4 * 4 * 4 // five findings of two levels, six of three, each perhaps not looked at
	if testing.Short() {
		want = 2 * 2 * 2 * 2 * 2 * 3 * 3 * 3 * 3 * 3 * 3
	}
	if count != want {
		t.Errorf("%d looks were judged, not %d", count, want)
	}
	t.Logf("%d looks, each with each finding a level worse", count)
}

// The verdict is that of the most serious rule that applies, found by looking at all of them, and Judge tells the same.
func TestJudgeIsTheWorstRule(t *testing.T) {
	every(None, func(l Look) {
		worst := NoVerdict
		applying := 0
		for _, r := range Rules() {
			if r.Applies(l) {
				worst = max(worst, r.Verdict)
				applying++
			}
		}
		j := Judge(l)
		if j.Verdict != worst || l.Verdict() != worst || len(j.Rules) == 0 || !j.Final() {
			t.Fatalf("%v: %+v, want %v", l, j, worst)
		}
		for _, r := range j.Rules {
			if r.Verdict != worst || !r.Applies(l) {
				t.Fatalf("%v: reason %+v", l, r)
			}
		}
		// The last row goes for every disk; told as a reason it would say that nothing speaks against reading.
		if lost := applying - len(j.Rules) - len(j.Others); lost != 0 && (lost != 1 || worst == ReadFirst) {
			t.Fatalf("%v: %d rules apply, %d and %d are told", l, applying, len(j.Rules), len(j.Others))
		}
	})
}

func TestRulesAreInOrder(t *testing.T) {
	all := Rules()
	if !slices.IsSortedFunc(all, func(a, b Rule) int { return int(b.Verdict) - int(a.Verdict) }) {
		t.Error("a milder rule stands before a more serious one")
	}
	last := all[len(all)-1]
	if len(last.When) != 0 || last.Verdict != ReadFirst {
		t.Errorf("the last row is %+v; it must apply to every disk", last)
	}
	for i, r := range all {
		if r.Reason == "" || strings.HasSuffix(r.Reason, ".") || i < len(all)-1 && len(r.When) == 0 {
			t.Errorf("row %d: %+v", i, r)
		}
		// A disk with nothing but this rule's findings gets this rule's verdict: no row is dead.
		look := Look{}
		for _, s := range r.When {
			if s.Level < Some || s.Level > s.Finding.Worst() {
				t.Errorf("row %d asks for level %d of %v", i, s.Level, s.Finding)
			}
			look[s.Finding] = s.Level
		}
		if v := look.Verdict(); v != r.Verdict {
			t.Errorf("%v alone is %v, and the row says %v", look, v, r.Verdict)
		}
	}
	all[0].Verdict = ReadFirst
	if Rules()[0].Verdict != DoNotSpin {
		t.Error("who changes the rules that were handed out changes the table")
	}
}

func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		look string
		want Verdict
		says string // in a reason or a caution
	}{
		{"rest=none", ReadFirst, "nothing speaks against"},
		{"dust=some, scratches=some, rest=none", ReadFirst, "nothing speaks against"},
		{"dust=much, rest=none", CleanFirst, "dust"},
		{"mould=some, rest=none", CleanFirst, "respirator"},
		{"mould=some, rest=none", CleanFirst, "Local rules"},
		{"mould=much, rest=none", ByHandOnly, "qualified people"},
		{"wet, rest=none", ByHandOnly, "72 hours"},
		{"shutter=damaged", ByHandOnly, "shutter"},
		{"pinholes=some", ByHandOnly, "scrubbing"},
		{"pinholes=some", ByHandOnly, "leave it to qualified people"},
		{"pinholes=much", DoNotSpin, "coating"},
		{"hub=loose, mould=some", DoNotSpin, "respirator"},
		{"noise", DoNotSpin, "scrapes"},
		{"shedding=some", ByHandOnly, "scrape"},
		{"shedding=some, scratches=some", DoNotSpin, "along its scratches"},
		{"warped, rest=none", DoNotSpin, "heat"},
		{"", ReadFirst, "heads"},
	} {
		l, err := Parse(c.look)
		if err != nil {
			t.Fatal(err)
		}
		j := Judge(l)
		said := strings.Join(j.Cautions, "\n")
		for _, r := range j.Rules {
			said += "\n" + r.Reason
		}
		if j.Verdict != c.want || !strings.Contains(said, c.says) {
			t.Errorf("%q: %v, want %v; it says\n%s\nwithout %q", c.look, j.Verdict, c.want, said, c.says)
		}
	}
}

// Mould always brings its cautions, whatever else was found, and a disk without it never does.
func TestMouldIsAlwaysWarnedOf(t *testing.T) {
	every(None, func(l Look) {
		warned := strings.Contains(strings.Join(Judge(l).Cautions, " "), "respirator")
		if warned != (l[Mould] >= Some) {
			t.Fatalf("%v: warned %v", l, warned)
		}
	})
}

func TestOpen(t *testing.T) {
	l, _ := Parse("mould=some, dust=none")
	j := Judge(l)
	if j.Final() || len(j.Open) != int(NumFindings)-2 || slices.Contains(j.Open, Mould) || slices.Contains(j.Open, Dust) {
		t.Errorf("open are %v", j.Open)
	}
	if j := Judge(Look{}); j.Final() || len(j.Open) != int(NumFindings) {
		t.Errorf("nobody looked, and open are %v", j.Open)
	}
}

// What is beside the ranges is answered too: looks may come from an old record.
func TestImpossible(t *testing.T) {
	l := Look{Mould: 200, Hub: 9}
	if v := Judge(l).Verdict; v != DoNotSpin {
		t.Errorf("%v", v)
	}
	if got, want := l.String(), "mould=much, hub=loose"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if Finding(99).String() != "something unknown" || Finding(99).Question() != "" || Finding(99).Words() != nil ||
		Finding(99).Word(Some) != "not looked at" || Verdict(99).String() != "something unknown" {
		t.Error("what does not exist has a name")
	}
}
