package live

import (
	"slices"

	"fullery/cmd/fullery/draw"
)

// part is one part of the picture. The parts stand in the order of the screen.
type part struct {
	rank  int
	least int // lines without which it is left out; with more it may be cut
	lines []draw.Line
}

// The ranks, by what a person must see before what is good to know: the highest is left out first.
const (
	rankHead = iota
	rankFoot
	rankAlarm
	rankWork
	rankReadings
	rankRibbon
	rankPads
	rankCurve
	rankEvents
	rankTitle
)

const (
	leastCurve, mostCurve = 5, 14 // lines of the drying curve
	mostEventLines        = 10
)

// picture draws everything for the size of the terminal. It never gives more lines than the height, nor a wider one
// than the width.
func (m *model) picture() []draw.Line {
	if m.width < 1 || m.height < 1 {
		return nil
	}
	return m.compose(m.width, m.height, m.foot(m.width))
}

// last is the picture that stays: as long as it needs to be, and without keys.
func (m *model) last() []draw.Line {
	const tall = 26
	return m.compose(max(m.width, 20), tall, nil)
}

// compose puts the parts together: those of a fixed length by their rank, then the curve and the events in what is
// left.
func (m *model) compose(width, height int, foot []draw.Line) []draw.Line {
	parts := []part{
		{rankHead, 1, m.head(width)},
		{rankTitle, 1, m.title(width)},
		{rankAlarm, 1, m.alarms(width)},
		{rankRibbon, 2, m.ribbon(width)},
		{rankWork, 1, m.work(width)},
		{rankReadings, 1, m.readings(width)},
		{rankPads, 1, m.pads(width)},
		{rankCurve, leastCurve, nil},
		{rankEvents, 1, nil},
		{rankFoot, 1, foot},
	}
	left := fit(parts, height)
	gaps := 0
	for _, p := range parts {
		gaps += min(len(p.lines), 1)
	}
	for i := range parts {
		p := &parts[i]
		switch p.rank {
		case rankCurve:
			p.lines = m.curve(width, min(left, max(left-gaps, leastCurve), mostCurve))
		case rankEvents:
			p.lines = m.events(width, min(left-min(gaps, left/3), mostEventLines))
		default:
			continue
		}
		left -= len(p.lines)
	}
	return stack(parts, left, height)
}

// fit cuts or leaves out what has no room, least important first, and returns how many lines are left over.
func fit(parts []part, height int) (left int) {
	byRank := make([]*part, len(parts))
	for i := range parts {
		byRank[i] = &parts[i]
	}
	slices.SortFunc(byRank, func(a, b *part) int { return a.rank - b.rank })
	left = height
	for _, p := range byRank {
		if len(p.lines) > left {
			p.lines = p.lines[:left]
		}
		if len(p.lines) < p.least {
			p.lines = nil
		}
		left -= len(p.lines)
	}
	return left
}

// stack puts the parts on top of each other, with empty lines between them as far as there are any to spare, and the
// foot at the bottom.
func stack(parts []part, spare, height int) (lines []draw.Line) {
	top, foot := parts[:len(parts)-1], parts[len(parts)-1].lines
	for _, p := range top {
		if len(p.lines) == 0 {
			continue
		}
		belongs := p.rank == rankTitle || p.rank == rankReadings // to what stands above it
		if len(lines) > 0 && spare > 0 && !belongs {
			lines, spare = append(lines, nil), spare-1
		}
		lines = append(lines, p.lines...)
	}
	if len(foot) > 0 {
		for len(lines)+len(foot) < height {
			lines = append(lines, nil)
		}
	}
	return append(lines, foot...)
}
