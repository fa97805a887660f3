package main

import (
	"fmt"
	"io"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/disks/batch"
)

// The run sheet as it is printed: one line a disk, boxes behind it, and a place for the figure that is found. A label is
// never cut, because the sheet says which disk to take; a name of a method that has no room gets a letter.

// The sheet, in characters.
const (
	sheetColumns = 80
	sheetFixed   = 4 + 2 + 7 + 2 + 2 + 5*4 + 6 // number, missing, mark, boxes, the place for a figure, and blanks
	sheetNames   = sheetColumns - sheetFixed   // what is left for disk and method
	labelLeast   = 4
	labelMost    = 24
	sheetGroup   = 5 // lines without a gap
)

// runSheet is the sheet being laid out.
type runSheet struct {
	lines         []batch.Line
	methods       []string // in the order in which letters are given
	label, method int      // widths
	letters       bool
}

// printSheet prints the run sheet of a deal.
func printSheet(w io.Writer, name string, d batch.Dealt) {
	s := layOut(d)
	fmt.Fprintln(w, wrap(fmt.Sprintf("Run sheet: %s, %s, seed %d (%s)", howMany(len(s.lines), "disk"), howMany(len(d.Groups), "method"),
		d.Seed, name), sheetColumns, ""))
	fmt.Fprintln(w)
	s.legend(w)
	s.row(w, "No", "Disk", "Missing", "Method", "  ", boxHeads(), " after")
	for i, l := range s.lines {
		if i > 0 && i%sheetGroup == 0 {
			fmt.Fprintln(w)
		}
		mark := "  "
		if l.Changeover {
			mark = " *"
		}
		s.row(w, fmt.Sprint(l.No), l.Disk, fmt.Sprint(l.Missing), s.called(l.Method), mark, strings.Repeat(" [ ]", len(batch.Ticks())), " _____")
	}
}

// layOut finds the widths.
func layOut(d batch.Dealt) runSheet {
	s := runSheet{lines: d.Sheet(), label: labelLeast, method: len("Method")}
	for _, g := range d.Groups {
		s.methods = append(s.methods, g.Name)
		s.method = max(s.method, draw.Say(draw.Usual, g.Name).Width())
	}
	for _, l := range s.lines {
		s.label = max(s.label, draw.Say(draw.Usual, l.Disk).Width())
	}
	s.label = min(s.label, labelMost)
	if s.label+s.method > sheetNames {
		s.letters, s.method = true, len("Method")
	}
	return s
}

// called is the method's name, or its letter.
func (s runSheet) called(method string) string {
	if !s.letters {
		return method
	}
	for i, name := range s.methods {
		if name == method {
			return letterOf(i)
		}
	}
	return method
}

// letterOf is A to Z, then AA and so on.
func letterOf(i int) string {
	if i < 26 {
		return string(rune('A' + i))
	}
	return letterOf(i/26-1) + letterOf(i%26)
}

// legend says what boxes, marks and letters mean.
func (s runSheet) legend(w io.Writer) {
	var boxes []string
	for i, what := range batch.Ticks() {
		boxes = append(boxes, fmt.Sprintf("%d %s", i+1, what))
	}
	fmt.Fprintln(w, wrap("Tick from left to right: "+strings.Join(boxes, ", ")+"; then write the missing sectors down.", sheetColumns, ""))
	fmt.Fprintln(w, wrap("Clean the drive's heads before every reading, or one disk's dirt becomes the next one's fault.", sheetColumns, ""))
	fmt.Fprintln(w, wrap("* another method than on the line before: change liquid and pads first.", sheetColumns, ""))
	if s.letters {
		for i, name := range s.methods {
			fmt.Fprintln(w, strings.TrimLeft(wrap(draw.Clean(letterOf(i)+" = "+name), sheetColumns, "    "), " "))
		}
	}
	fmt.Fprintln(w)
}

// boxHeads numbers the boxes.
func boxHeads() (heads string) {
	for i := range batch.Ticks() {
		heads += fmt.Sprintf("  %d ", i+1)
	}
	return heads
}

// row prints one line. What of a label has no room goes on lines of its own below.
func (s runSheet) row(w io.Writer, no, disk, missing, method, mark, boxes, after string) {
	parts := draw.Wrap(draw.Usual, disk, s.label, 0)
	if len(parts) == 0 {
		parts = []draw.Line{nil}
	}
	line := fmt.Sprintf("%4s  %s  %s  %7s%s%s%s", no, filled(parts[0], s.label), filled(draw.Say(draw.Usual, method), s.method), missing, mark,
		boxes, after)
	fmt.Fprintln(w, strings.TrimRight(line, " "))
	for _, part := range parts[1:] {
		fmt.Fprintln(w, strings.Repeat(" ", 6)+part.String())
	}
}

// filled is a text with blanks up to a width.
func filled(l draw.Line, width int) string {
	return l.String() + strings.Repeat(" ", max(width-l.Width(), 0))
}
