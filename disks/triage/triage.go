// Package triage judges what a person found when they looked at a disk: whether it may be read first, must be cleaned first,
// is for hands only, or must not be spun at all. One table, Rules, holds all of it.
//
// The most serious rule that applies gives the verdict, and worse findings meet all the rules that milder ones meet. So
// a worse finding never gives a milder verdict. What was not looked at meets no rule: it is listed as open, and the
// verdict is then not final, because it can only become more serious.
//
// The rules are common practice, no source, but where a source stands beside them. They are about the disk. For the person at
// the bench the data sheets of the liquids, local rules and qualified people come first.
package triage

import "slices"

// Finding is one thing to look for.
type Finding uint8

// The findings, in the order in which one looks: from outside to inside, the disk turned by hand last.
const (
	Wet Finding = iota
	Mould
	Dust
	Shutter
	Warped
	Foreign
	Hub
	Scratches
	Pinholes
	Shedding
	Noise
	NumFindings
)

// Level is how much of a finding there is. The zero value is that nobody has looked.
type Level uint8

// The levels. A finding that is there or not has None and Some.
const (
	Unseen Level = iota
	None
	Some
	Much
)

// Look is what was found. Its zero value is a disk that nobody has looked at. Looks may be compared with ==.
type Look [NumFindings]Level

// Verdict is what may be done with a disk. Greater is more serious; the zero value says nothing.
type Verdict uint8

// The verdicts.
const (
	NoVerdict  Verdict = iota
	ReadFirst          // read it once before anything else, with clean heads; then decide
	CleanFirst         // clean it before it goes into a drive
	ByHandOnly         // neither bench nor drive as it is; what it needs is done by hand, then look again
	DoNotSpin          // do not turn it by any motor, and by hand no more than needed
)

// Rule is a row of the table: with all of the findings at least that bad, the verdict is at least that serious.
type Rule struct {
	When    []Seen
	Verdict Verdict
	Reason  string // one sentence, without a full stop
}

// Seen is a finding with its level.
type Seen struct {
	Finding Finding
	Level   Level
}

// Applies tells whether the rule is met by a look.
func (r Rule) Applies(l Look) bool {
	for _, s := range r.When {
		if l[s.Finding] < s.Level {
			return false
		}
	}
	return true
}

// Result is what a look leads to.
type Result struct {
	Verdict  Verdict   // of the most serious rule that applies
	Rules    []Rule    // all that apply with that verdict, in the order of the table
	Others   []Rule    // the milder ones that apply as well: they come up when the worse is mended
	Cautions []string  // what to mind; sentences
	Open     []Finding // what was not looked at
}

// Final tells whether everything was looked at.
func (r Result) Final() bool { return len(r.Open) == 0 }

// Judge judges a look. It answers for every look.
func Judge(l Look) Result {
	r := Result{Verdict: l.Verdict()}
	for _, rule := range rules {
		switch {
		case !rule.Applies(l) || len(rule.When) == 0 && r.Verdict > rule.Verdict:
		case rule.Verdict == r.Verdict:
			r.Rules = append(r.Rules, rule)
		default:
			r.Others = append(r.Others, rule)
		}
	}
	for _, c := range cautions {
		if (Rule{When: c.when}).Applies(l) && c.least <= r.Verdict {
			r.Cautions = append(r.Cautions, c.text)
		}
	}
	for f, level := range l {
		if level == Unseen {
			r.Open = append(r.Open, Finding(f))
		}
	}
	return r
}

// Verdict is the verdict alone.
func (l Look) Verdict() Verdict {
	for _, rule := range rules { // most serious first; the last applies to any look
		if rule.Applies(l) {
			return rule.Verdict
		}
	}
	return DoNotSpin // only if the table had lost its last row
}

// Rules is the table, most serious verdicts first. The last row has no findings: it applies to every disk.
func Rules() []Rule { return slices.Clone(rules) }
