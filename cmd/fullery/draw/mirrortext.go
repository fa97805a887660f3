package draw

import (
	"fmt"
	"slices"
	"strings"
)

// Strokes are the characters that a picture may use.
type Strokes uint8

// The kinds of strokes.
const (
	Blocks Strokes = iota // block elements and lines of Unicode
	ASCII                 // nothing outside of ASCII
)

// strokes are the characters of mirrored bars. The parts differ by them, so that no colour is needed: full, hatched and
// hollow.
type strokes struct {
	parts              [numParts]rune
	untried            rune
	wall, tick, corner rune // of the scale at the left
	floor, mark        rune // of the axis of cylinders
}

var mirrorStrokes = [...]strokes{
	Blocks: {parts: [numParts]rune{'█', '▒', '□'}, untried: '?', wall: '│', tick: '┤', corner: '┼', floor: '─', mark: '┴'},
	ASCII:  {parts: [numParts]rune{'#', 'x', 'o'}, untried: '?', wall: '|', tick: '+', corner: '+', floor: '-', mark: '+'},
}

// The least that bars are drawn in; with less, words must do.
const (
	leastMirrorWidth = 24
	leastMirrorRows  = numParts // of one head: each part of a bar must have a cell
	mostMirrorRows   = 12       // more rows than this make a picture that no screen holds
	labelsApart      = 10       // cells between two figures of the axis of cylinders
)

// Draw draws the bars in cells, at most so many wide; the picture is about so many lines high, never fewer than it
// needs. Each row is a whole number of sectors, rounded up, and whatever is there has at least one cell. Where cylinders
// do not fit beside each other, several share a bar. Where there is no room at all, words say the sums.
func (m Mirror) Draw(width, height int, s Strokes) []Line {
	if width < 1 {
		return nil
	}
	g := m.grid(width, height, s)
	lines := append(Wrap(Strong, g.plain(m.Title), width, 2), Wrap(Quiet, g.plain(m.Subtitle), width, 2)...)
	if width >= leastMirrorWidth && m.cylinders() > 0 {
		lines = append(lines, g.draw(width)...)
	}
	lines = append(lines, g.legend(width)...)
	for _, note := range m.Notes {
		lines = append(lines, Wrap(Quiet, g.plain(note), width, 2)...)
	}
	if g.ascii { // where something was cut off
		for _, l := range lines {
			for i := range l {
				l[i].Text = strings.ReplaceAll(l[i].Text, "…", ".")
			}
		}
	}
	return lines
}

// mirrorGrid is a mirror laid out in cells.
type mirrorGrid struct {
	Mirror
	strokes
	ascii  bool
	margin int // cells of the scale; 0 where the bars need the whole width
	per    int // cylinders in a bar
	wide   int // cells of a bar
	unit   int // sectors in a row
	rows   int // of one head
}

// grid lays the picture out. The scale at the left is given up before cylinders have to share a bar.
func (m Mirror) grid(width, height int, s Strokes) mirrorGrid {
	s = min(s, ASCII)
	g := mirrorGrid{Mirror: m, strokes: mirrorStrokes[s], ascii: s == ASCII, per: 1, wide: 1}
	cylinders := max(m.cylinders(), 1) // nothing is drawn of none, but nothing is divided by it either
	g.margin = len(fmt.Sprint(m.top(1))) + 2
	switch {
	case cylinders <= width-g.margin:
		g.wide = min((width-g.margin)/cylinders, 2)
	case cylinders <= width:
		g.margin = 0
	default:
		for ; g.per < cylinders && (cylinders+g.per-1)/g.per > width-g.margin; g.per++ {
			g.margin = len(fmt.Sprint(m.top(g.per+1))) + 2
		}
	}
	// Title and subtitle, the two names of the heads, the axis with its figures, and the legend.
	around := 8
	if m.hasUntried() {
		around += m.heads()
	}
	most := min(max((height-around)/m.heads(), leastMirrorRows), mostMirrorRows)
	// Rows of a whole number of sectors: a row of 2.3 would round every bar another way.
	top := m.top(g.per)
	g.unit = (top + most - 1) / most
	g.rows = max((top+g.unit-1)/g.unit, leastMirrorRows)
	return g
}

// plain is a text in characters that the picture may use.
func (g mirrorGrid) plain(text string) string {
	if !g.ascii {
		return text
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r == '×':
			return 'x'
		case r == '–', r == '−':
			return '-'
		case r > '~':
			return '?'
		}
		return r
	}, text)
}

// draw draws both heads around the axis.
func (g mirrorGrid) draw(width int) []Line {
	up := g.half(0)
	slices.Reverse(up)
	lines := append(Wrap(Quiet, "head 0, sectors not read"+g.scaleWords(), width, 2), up...)
	lines = append(lines, Line{{Text: g.floorLine(), Tone: Quiet}})
	if g.heads() == 2 {
		lines = append(lines, g.half(1)...)
		lines = append(lines, Say(Quiet, "head 1"))
	}
	return append(lines, Line{{Text: g.figures(width), Tone: Quiet}})
}

// scaleWords says what the scale would, where there is no room for it, and what a bar is.
func (g mirrorGrid) scaleWords() string {
	words := ""
	if g.margin == 0 {
		words = fmt.Sprintf("; a row is up to %d", g.unit)
	}
	if said := sayColumn(g.per); said != "" {
		words += "; " + said
	}
	return words
}

// half draws the rows of one head, from the axis outwards.
func (g mirrorGrid) half(head int) []Line {
	// Row 0 is at the axis; the upper half is turned round by the caller.
	bars, _ := g.bars(head, g.per)
	rows := make([][]cell, g.rows)
	for i := range rows {
		rows[i] = blank(len(bars) * g.wide)
	}
	marks := blank(len(bars) * g.wide)
	for at, b := range bars {
		for i, part := range g.stack(b) {
			fill(rows[i], at*g.wide, (at+1)*g.wide, g.parts[part], partTones[part])
		}
		if b.untried {
			fill(marks, at*g.wide, (at+1)*g.wide, g.untried, Usual)
		}
	}
	var lines []Line
	if g.hasUntried() {
		lines = append(lines, append(Line{{Text: g.scale(0), Tone: Quiet}}, row(marks)...))
	}
	for i, cells := range rows {
		lines = append(lines, append(Line{{Text: g.scale(i + 1), Tone: Quiet}}, row(cells)...))
	}
	return lines
}

// scale is the beginning of a row: its figure at the end and half-way.
func (g mirrorGrid) scale(row int) string {
	if g.margin == 0 {
		return ""
	}
	if row == g.rows || row > 0 && row == g.rows/2 && g.rows >= 4 {
		return fmt.Sprintf("%*d%c", g.margin-1, row*g.unit, g.tick)
	}
	return fmt.Sprintf("%*s%c", g.margin-1, "", g.wall)
}

// stack deals the cells of a bar to its parts, from the axis outwards: one to each that is there, the others by the
// largest remainder.
func (g mirrorGrid) stack(b bar) (cells []int) {
	// The bar is as high as its sum asks; one that is there but small may make it a row higher.
	total, there := b.total(), 0
	for _, n := range b.parts {
		there += min(n, 1)
	}
	if total == 0 {
		return nil
	}
	dealt := [numParts]int{}
	high := min(max((total+g.unit-1)/g.unit, there), g.rows)
	for part, n := range b.parts {
		dealt[part] = min(n, 1)
	}
	for range high - there {
		// The next cell goes to the part that is furthest below its due.
		next, due := 0, -1.0
		for part, n := range b.parts {
			if behind := float64(n)*float64(high)/float64(total) - float64(dealt[part]); n > 0 && behind > due {
				next, due = part, behind
			}
		}
		dealt[next]++
	}
	for part, n := range dealt {
		cells = append(cells, slices.Repeat([]int{part}, n)...)
	}
	return cells
}

// apartCylinders is how many cylinders lie between two figures of their axis.
func (g mirrorGrid) apartCylinders() int { return every((labelsApart*g.per + g.wide - 1) / g.wide) }

// floorLine is the axis between the heads, with a mark at every figure.
func (g mirrorGrid) floorLine() string {
	n := (g.cylinders() + g.per - 1) / g.per
	line := slices.Repeat([]rune{g.floor}, n*g.wide)
	for c := 0; c < g.cylinders(); c += g.apartCylinders() {
		line[c/g.per*g.wide] = g.mark
	}
	if g.margin == 0 {
		return string(line)
	}
	return fmt.Sprintf("%*d%c%s", g.margin-1, 0, g.corner, string(line))
}

// figures numbers the cylinders below the picture. The last ones give way to the name of the axis.
func (g mirrorGrid) figures(width int) string {
	const name = " cylinder"
	var marks []mark
	for c := 0; c < g.cylinders(); c += g.apartCylinders() {
		marks = append(marks, mark{g.margin + c/g.per*g.wide, fmt.Sprint(c)})
	}
	for end := marks[len(marks)-1]; ; end = marks[len(marks)-1] {
		if used := end.col + len(end.text); used+len(name) <= width || len(marks) == 1 {
			return labels(marks, used) + name
		}
		marks = marks[:len(marks)-1]
	}
}

// legend shows the strokes with their sums.
func (g mirrorGrid) legend(width int) []Line {
	var entries, wrapped []Line
	for _, n := range g.Mirror.legend() {
		stroke, tone := g.untried, Usual
		if n.part < numParts {
			stroke, tone = g.parts[n.part], partTones[n.part]
		}
		entries = append(entries, Line{{Text: string(stroke), Tone: tone}}.And(Usual, " "+n.words))
		wrapped = append(wrapped, Wrap(tone, string(stroke)+" "+n.words, width, 2)...)
	}
	if width < leastMirrorWidth { // a sum must not be cut off
		return wrapped
	}
	return Flow(entries, width)
}
