package draw

import (
	"cmp"
	"math"
	"slices"
)

// The names of the disks, right of the ends of their slopes. Where there is room for all, all have one, moved apart as far
// as they must with a line to the end that is meant. Where there are too many, as many have one as fit beside the very
// ends: first those that got worse, then those that changed most.

// slopeLabel is a name and where it stands.
type slopeLabel struct {
	disk    string
	end     float64 // of the slope
	y       float64 // middle of the name
	changed int     // of sectors, more or fewer
	rank    int     // 0 for what got worse
}

// labels writes the names.
func (m SlopesMethod) labels(s *sheet, up counts, after, right float64) {
	most := int((right - after - 20) / labelGlyph)
	if most < 3 {
		return
	}
	for _, l := range m.placed(up) {
		s.add(`<path class="to" d="M%s %sL%s %sh4"/>`, num(after+6), num(l.end), num(after+14), num(l.y))
		s.text(after+20, l.y+4, "disk", "start", cut(l.disk, most))
	}
}

// placed chooses the names and their places, from above downwards. None touches another, and all lie beside the panel.
func (m SlopesMethod) placed(up counts) []slopeLabel {
	room := int((up.low-up.high)/labelHigh) + 1
	var all []slopeLabel
	for _, d := range m.Disks {
		y := up.at(float64(d.After))
		l := slopeLabel{disk: d.Disk, end: y, y: y, changed: max(d.change(), -d.change())}
		if d.outcome() != worseAfter {
			l.rank = 1
		}
		all = append(all, l)
	}
	if len(all) > room {
		all = fitting(all)
	}
	slices.SortStableFunc(all, func(a, b slopeLabel) int {
		return cmp.Or(cmp.Compare(a.end, b.end), cmp.Compare(a.disk, b.disk))
	})
	spreadOut(all, up.high, up.low)
	return all
}

// fitting keeps what has room at its own place, in the order of how much it matters.
func fitting(all []slopeLabel) (kept []slopeLabel) {
	slices.SortStableFunc(all, func(a, b slopeLabel) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(b.changed, a.changed), cmp.Compare(a.disk, b.disk))
	})
	for _, l := range all {
		if !slices.ContainsFunc(kept, func(o slopeLabel) bool { return math.Abs(o.end-l.end) < labelHigh }) {
			kept = append(kept, l)
		}
	}
	return kept
}

// spreadOut moves names, sorted from above downwards, as little as it takes: names that would touch become a run around
// the middle of where they belong, and runs that touch become one.
func spreadOut(labels []slopeLabel, top, bottom float64) {
	type run struct {
		first, n int
		sum      float64 // of where each would have the run's first stand
	}
	start := func(r run) float64 {
		high := labelHigh * float64(r.n-1)
		return max(min(r.sum/float64(r.n), bottom-high), top)
	}
	var runs []run
	for i, l := range labels {
		runs = append(runs, run{i, 1, l.end})
		for len(runs) > 1 {
			a, b := runs[len(runs)-2], runs[len(runs)-1]
			if start(a)+labelHigh*float64(a.n) <= start(b) {
				break
			}
			runs = append(runs[:len(runs)-2], run{a.first, a.n + b.n, a.sum + b.sum - labelHigh*float64(a.n*b.n)})
		}
	}
	for _, r := range runs {
		for k := range r.n {
			labels[r.first+k].y = start(r) + labelHigh*float64(k)
		}
	}
}
