package draw

import (
	"fmt"
	"strings"
)

// One panel of slopes: the disks of one method.

// outcome is what became of a disk.
type outcome int

const (
	sameAfter outcome = iota // drawn first, so that the others lie over it
	betterAfter
	worseAfter
	numOutcomes
)

var outcomeNames = [numOutcomes]string{"same", "better", "worse"}

func (d Slope) outcome() outcome {
	switch c := d.change(); {
	case c < 0:
		return betterAfter
	case c > 0:
		return worseAfter
	}
	return sameAfter
}

// change is after less before.
func (d Slope) change() int { return max(d.After, 0) - max(d.Before, 0) }

// panel draws the disks of one method between two posts, before and after.
func (m SlopesMethod) panel(s *sheet, up counts, left, right float64) {
	names := m.names(right - left)
	for i, line := range names {
		s.text(left, up.high-10-lineHigh*float64(len(names)-1-i), "group", "start", line)
	}
	before, after := left+10, right-m.gutter(right-left)
	for _, x := range []float64{before, after} {
		s.add(`<line class="post" x1="%s" y1="%s" x2="%s" y2="%s"/>`, num(x), num(up.low), num(x), num(up.high))
	}
	s.text(before-10, up.low+18, "quiet", "start", "before")
	s.text(after, up.low+18, "quiet", "middle", "after")
	s.wideLines(up.low+18+lineHigh, left, "", m.figures(right-left))

	weight := "few"
	if len(m.Disks) > manyDisks {
		weight = "many"
	}
	s.add(`<g class="%s">`, weight)
	m.slopes(s, up, before, after)
	s.add("</g>")
	m.labels(s, up, after, right)
}

// names are the lines of the method's name, two at most.
func (m SlopesMethod) names(wide float64) []string {
	most := int(wide / slopesBold)
	names := fold(m.Name, most)
	if len(names) > 2 {
		names = []string{names[0], names[1] + " …"}
	}
	for i := range names {
		names[i] = cut(names[i], most)
	}
	return names
}

// lines is how many lines the longest name takes, and the longest figures, in panels of that width.
func (p SlopesPlot) lines(wide float64) (names, figures int) {
	for _, m := range p.Methods {
		names, figures = max(names, len(m.names(wide))), max(figures, len(m.figures(wide)))
	}
	return names, figures
}

// gutter is the room for the disks' names, right of a panel.
func (m SlopesMethod) gutter(wide float64) float64 {
	longest := 0
	for _, d := range m.Disks {
		longest = max(longest, len([]rune(d.Disk)))
	}
	return min(labelGlyph*float64(longest)+26, wide*0.45)
}

// figures are the lines below a panel.
func (m SlopesMethod) figures(wide float64) []string {
	var of [numOutcomes]int
	for _, d := range m.Disks {
		of[d.outcome()]++
	}
	lines := fold(fmt.Sprintf("%d better, %d worse, %d the same", of[betterAfter], of[worseAfter], of[sameAfter]), int(wide/glyph))
	if x, y, ok := m.means(); ok {
		lines = append(lines, fmt.Sprintf("mean %s, then %s", tenth(x), tenth(y)))
	}
	return lines
}

// means are the mean missing sectors before and after; of one disk they would say nothing.
func (m SlopesMethod) means() (before, after float64, ok bool) {
	for _, d := range m.Disks {
		before += float64(max(d.Before, 0)) / float64(len(m.Disks))
		after += float64(max(d.After, 0)) / float64(len(m.Disks))
	}
	return before, after, len(m.Disks) > 1
}

// slopes draws the strokes, the mean over them, and over all the marks at the ends. All strokes of one outcome are one
// path and all marks another, because there may be thousands.
func (m SlopesMethod) slopes(s *sheet, up counts, before, after float64) {
	size := 3.6
	if len(m.Disks) > manyDisks {
		size = 2.4
	}
	var strokes, marks [numOutcomes]strings.Builder
	for _, d := range m.Disks {
		o, from, to := d.outcome(), up.at(float64(d.Before)), up.at(float64(d.After))
		fmt.Fprintf(&strokes[o], "M%s %sL%s %s", num(before), num(from), num(after), num(to))
		marks[o].WriteString(endMark(o, after, to, size))
	}
	for o := range numOutcomes {
		s.path(outcomeNames[o]+" slope", strokes[o].String())
	}
	if x, y, ok := m.means(); ok {
		for _, class := range []string{"halo", "mean"} {
			s.path(class, fmt.Sprintf("M%s %sL%s %s", num(before), num(up.at(x)), num(after), num(up.at(y))))
		}
	}
	for o := range numOutcomes {
		s.path(outcomeNames[o]+" mark", marks[o].String())
	}
}

// path draws a path, if it goes anywhere.
func (s *sheet) path(class, way string) {
	if way != "" {
		s.add(`<path class="%s" d="%s"/>`, class, way)
	}
}

// endMark is the path of a mark: a triangle that points upwards for more, a circle for the others.
func endMark(o outcome, x, y, size float64) string {
	if o == worseAfter {
		return fmt.Sprintf("M%s %sl%s %sh%sz", num(x), num(y-1.2*size), num(1.2*size), num(2*size), num(-2.4*size))
	}
	return fmt.Sprintf("M%s %sa%s %s 0 1 0 %s 0a%s %s 0 1 0 %s 0z", num(x-size), num(y), num(size), num(size), num(2*size), num(size),
		num(size), num(-2*size))
}
