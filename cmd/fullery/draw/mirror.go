package draw

import "fmt"

// Mirror is a disk as mirrored bars: cylinders from left to right, head 0 upwards and head 1 downwards, and the height is
// how many sectors were not read. One drawing serves the terminal (Draw), a file of marks (SVG) and a file of dots (PNG).
type Mirror struct {
	Title, Subtitle string
	// Compared: before against after, so that what was not read is split into still missing, newly lost and regained.
	// Otherwise all of it is in Still.
	Compared bool
	Heads    int           // 1 or 2
	Tracks   []MirrorTrack // cylinder by cylinder, head 0 first
	Notes    []string      // told below the picture
}

// MirrorTrack is how many sectors of one track are in which part of its bar. Below zero counts as zero.
type MirrorTrack struct {
	Sectors  int // that the format has on the track
	Still    int // not read, and not read before
	Lost     int // not read, but read before
	Regained int // read, but not read before
	Untried  int // of which nothing is known; they add nothing to the height
}

// The parts of a bar, from the middle outwards: what is not read stands together, what came back is hollow at the end.
const (
	partStill = iota
	partLost
	partRegained
	numParts
)

var partTones = [numParts]Tone{partStill: Quiet, partLost: Attention, partRegained: OnTrack}

// leastTop is the least sectors that the scale ends at: one sector should not look like a lost track.
const leastTop = 4

// bar is what is drawn for one or several cylinders under one head.
type bar struct {
	parts   [numParts]int
	untried bool // some of it was not tried
}

func (b bar) total() int { return b.parts[partStill] + b.parts[partLost] + b.parts[partRegained] }

// heads keeps what a caller says to what can be drawn.
func (m Mirror) heads() int { return min(max(m.Heads, 1), 2) }

// cylinders is how many there are; a last one that lacks a head counts.
func (m Mirror) cylinders() int { return (len(m.Tracks) + m.heads() - 1) / m.heads() }

// bars are the bars of one head, per cylinders in each, and the sectors that the fullest of them could have.
func (m Mirror) bars(head, per int) (list []bar, most int) {
	list = make([]bar, (m.cylinders()+per-1)/per)
	sectors := make([]int, len(list))
	for i, t := range m.Tracks {
		if i%m.heads() != head {
			continue
		}
		at := i / m.heads() / per
		b := &list[at]
		for part, n := range [numParts]int{t.Still, t.Lost, t.Regained} {
			b.parts[part] += max(n, 0)
		}
		b.untried = b.untried || t.Untried > 0
		sectors[at] += max(t.Sectors, 0) // tracks may differ, and the last bar may hold fewer cylinders
		most = max(most, sectors[at], b.total())
	}
	return list, most
}

// top is where the scale ends, in sectors: a whole track when a bar fills half of one or more, otherwise at the highest
// bar, so that single sectors are seen.
func (m Mirror) top(per int) int {
	whole, highest := 1, 0
	for head := range m.heads() {
		bars, most := m.bars(head, per)
		whole = max(whole, most)
		for _, b := range bars {
			highest = max(highest, b.total())
		}
	}
	// With one scale for both heads a bar upwards can be held against one downwards.
	if 2*highest >= whole {
		return whole
	}
	return min(max(highest, leastTop), whole)
}

// totals adds the whole disk, and tells how many sectors were not tried.
func (m Mirror) totals() (parts [numParts]int, untried int) {
	for _, t := range m.Tracks {
		parts[partStill] += max(t.Still, 0)
		parts[partLost] += max(t.Lost, 0)
		parts[partRegained] += max(t.Regained, 0)
		untried += max(t.Untried, 0)
	}
	return parts, untried
}

// named is one entry of the legend.
type named struct {
	part  int // or numParts: not tried
	words string
}

// legend names what is in the picture, with its sum over the disk. Of a comparison all three parts are named, so that a
// zero is said.
func (m Mirror) legend() []named {
	parts, untried := m.totals()
	list := []named{{partStill, fmt.Sprintf("not read %d", parts[partStill])}}
	if m.Compared {
		list = []named{{partStill, fmt.Sprintf("still missing %d", parts[partStill])},
			{partLost, fmt.Sprintf("newly lost %d", parts[partLost])},
			{partRegained, fmt.Sprintf("regained %d", parts[partRegained])}}
	}
	if untried > 0 {
		list = append(list, named{numParts, fmt.Sprintf("not tried %d", untried)})
	}
	return list
}

// hasUntried tells whether there must be room for the marks of what was not tried.
func (m Mirror) hasUntried() bool {
	_, untried := m.totals()
	return untried > 0
}

// sayColumn says how many cylinders one bar stands for, where that is not one.
func sayColumn(per int) string {
	if per == 1 {
		return ""
	}
	return fmt.Sprintf("each bar is the sum of %d cylinders", per)
}

// every is a distance of marks on the axis of cylinders, at least so many cylinders apart: 1, 2 or 5 times a power of ten.
func every(least int) int {
	for unit := 1; ; unit *= 10 {
		for _, f := range []int{1, 2, 5} {
			if f*unit >= least {
				return f * unit
			}
		}
	}
}
