package sweep

import "math"

// Result is a choice with its figures.
type Result struct {
	Choice  Choice
	Figures Figures
}

// What Front says of a result besides the index of one that beats it.
const (
	NotBeaten = -1
	NeverDone = -2 // no draw completed: its figures say nothing
)

// Front returns, for each result, the index of one that beats it, NotBeaten, or NeverDone. What beats a result is itself
// not beaten.
//
// Only results of the same scrub time and the same strength are compared. One beats another where it is nowhere more, as
// shown, and somewhere less. Of several that are equal as shown the first stands for all: finer differences than are
// shown are none.
func Front(all []Result) []int {
	by := make([]int, len(all))
	for i := range all {
		if by[i] = NotBeaten; all[i].neverDone() {
			by[i] = NeverDone
			continue
		}
		for j := range all {
			if beats(all, j, i) && (by[i] < 0 || beats(all, j, by[i])) {
				by[i] = j
			}
		}
	}
	return by
}

// neverDone tells of figures that stand for nothing: a cycle cut short rubs less, and is no better for it.
func (r Result) neverDone() bool { return r.Figures.CutShort >= r.Figures.Draws }

// beats is transitive and goes round in no circle, so that whatever is beaten is beaten by one that is not.
func beats(all []Result, j, i int) bool {
	a, b := all[j], all[i]
	if a.neverDone() || a.Choice[Scrub] != b.Choice[Scrub] || a.Choice[Strength] != b.Choice[Strength] {
		return false
	}
	switch order(a.Figures.Shown().list(), b.Figures.Shown().list()) {
	case less:
		return true
	case equal:
		return j < i
	default:
		return false
	}
}

// list is the figures in the order of the struct.
func (g Goals) list() [6]float64 {
	return [...]float64{g.Minutes, g.Liquid, g.Peak, g.Warmest, g.Slide, g.Failed}
}

// The three ways in which two lists of figures may stand to each other, as far as it matters here.
const (
	equal = iota
	less  // nowhere more, somewhere less
	apart
)

// order compares figure by figure. What is no number is less than nothing.
func order(a, b [6]float64) int {
	how := equal
	for i := range a {
		switch {
		case a[i] > b[i] || math.IsNaN(a[i]):
			return apart
		case a[i] < b[i]:
			how = less
		}
	}
	return how
}
