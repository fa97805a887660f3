package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// WiringPlot is the wiring of a bench as a picture for a file: the pins of the board in two columns, from each that is used
// a wire to the part that it serves, and below them what hangs on the buses.
type WiringPlot struct {
	Title, Subtitle string
	Board           string      // what the pins belong to
	Pins            []WiringPin // pin by pin: left, right, left, right
	Wires           []WiringWire
	Chips           []WiringChip
	Notes           []string // told below the picture
}

// WiringPin is one pin of the board.
type WiringPin struct {
	Number  string // as a person counts it; "" where pins have none
	Carries string // the line or the supply
}

// WiringWire is a wire from a pin to a part.
type WiringWire struct {
	Pin   int    // index into Pins; a wire to no pin is left out
	Group string // wires of one group share a box
	Role  string
	About string // a few words beside the role
	Class string // "load", "read" or "data"
}

// WiringChip is a chip on a bus, with what hangs on it.
type WiringChip struct {
	Name  string // with its address and bus
	Parts string
	Loads bool // it switches loads
}

// The sheet of a wiring, in pixels. It is wider than a curve's: a name stands on either side.
const (
	sheetWide   = 960.0
	sheetEdge   = 24.0
	boxWide     = 276.0
	pinHigh     = 22.0
	pinWide     = 26.0
	partHigh    = 21.0
	partsTop    = 92.0
	sheetGlyphs = 120 // characters that fit beside each other
	sheetMiddle = sheetWide / 2
)

const wiringLook = `<style>
.board{fill:#eceeef;stroke:#8a9299}
.pin{fill:#f7f7f5;stroke:#8a9299}
.used{fill:#33383d;stroke:#33383d}
text.on{fill:#f7f7f5;font-size:12px}
text.off{fill:#5c646b;font-size:12px}
text.group{font-weight:bold}
.box{fill:none;stroke:#8a9299}
.load{stroke:#d9730d;stroke-width:3.5;fill:none}
.read{stroke:#1f6fb2;stroke-width:1.8;fill:none}
.data{stroke:#6b737a;stroke-width:1.8;fill:none;stroke-dasharray:6 4}
.loadend{fill:#d9730d}
.readend{fill:#f7f7f5;stroke:#1f6fb2;stroke-width:1.8}
.dataend{fill:#6b737a}
@media (prefers-color-scheme: dark){
.board{fill:#2a2e32}.pin,.readend{fill:#1d2023}.used{fill:#dfe2e5;stroke:#dfe2e5}text.on{fill:#1d2023}text.off{fill:#a5adb4}
.load{stroke:#f29a45}.loadend{fill:#f29a45}.read,.readend{stroke:#6db1ea}.data{stroke:#a5adb4}.dataend{fill:#a5adb4}}
</style>
`

// SVG draws the wiring as a file of its own, without scripts, fonts or anything from elsewhere. In a grey print the wires
// differ by their thickness, their dashes and the shape of their ends. The same plot always gives the same bytes.
func (p WiringPlot) SVG() []byte {
	about := fold(p.Subtitle, sheetGlyphs)
	top := partsTop + lineHigh*float64(len(about))
	left, right := p.side(0, top), p.side(1, top)
	bottom := max(top+pinHigh*math.Ceil(float64(len(p.Pins))/2), bottomOf(left), bottomOf(right)) + 34
	var notes []string
	for _, note := range p.Notes {
		notes = append(notes, fold(note, sheetGlyphs)...)
	}
	chips := p.chipLines()
	below := bottom + 24 // where the notes begin, or the chips
	if len(chips) > 0 {
		below += lineHigh*float64(len(chips)) + 26
	}
	high := below + lineHigh*float64(len(notes)) + 12

	s := &sheet{}
	p.begin(s, high, about)
	p.pins(s, top)
	for side, boxes := range [][]partBox{left, right} {
		for _, b := range boxes {
			p.box(s, b, side, top)
		}
	}
	key(s, bottom)
	if len(chips) > 0 {
		s.add(`<rect class="box" x="%s" y="%s" width="%s" height="%s" rx="4"/>`, num(sheetEdge), num(bottom+20),
			num(sheetWide-2*sheetEdge), num(lineHigh*float64(len(chips))+12))
		s.wideLines(bottom+39, sheetEdge+12, "", chips)
	}
	s.wideLines(below+14, sheetEdge, "quiet", notes)
	s.add("</svg>")
	return []byte(s.b.String())
}

// begin opens the page and writes its head.
func (p WiringPlot) begin(s *sheet, high float64, about []string) {
	s.add(`<svg xmlns="http://www.w3.org/2000/svg" width="%s" height="%s" viewBox="0 0 %s %s" role="img">`, num(sheetWide), num(high),
		num(sheetWide), num(high))
	s.add(`<title>%s</title><desc>%s</desc>`, plainText(p.Title), plainText(p.Subtitle))
	s.b.WriteString(look + wiringLook)
	s.add(`<rect class="page" width="%s" height="%s"/>`, num(sheetWide), num(high))
	s.text(sheetEdge, 32, "head", "start", p.Title)
	s.wideLines(54, sheetEdge, "quiet", about)
}

// wideLines writes text from a left edge, one line below another.
func (s *sheet) wideLines(y, left float64, class string, lines []string) {
	for i, line := range lines {
		s.text(left, y+lineHigh*float64(i), class, "start", line)
	}
}

// pins draws the board with its pins. A pin that is used is filled.
func (p WiringPlot) pins(s *sheet, top float64) {
	used := map[int]bool{}
	for _, w := range p.Wires {
		used[w.Pin] = true
	}
	rows := math.Ceil(float64(len(p.Pins)) / 2)
	s.text(sheetMiddle, top-20, "group", "middle", p.Board)
	s.add(`<rect class="board" x="%s" y="%s" width="%s" height="%s" rx="4"/>`, num(sheetMiddle-pinWide-72), num(top-8),
		num(2*(pinWide+72)), num(rows*pinHigh+16))
	for i, pin := range p.Pins {
		y, class, words := p.pinY(i, top), "pin", "off"
		if used[i] {
			class, words = "used", "on"
		}
		x, anchor, beside := sheetMiddle-pinWide, "end", sheetMiddle-pinWide-8
		if i%2 == 1 {
			x, anchor, beside = sheetMiddle, "start", sheetMiddle+pinWide+8
		}
		s.add(`<rect class="%s" x="%s" y="%s" width="%s" height="%s" rx="2"/>`, class, num(x+2), num(y-9), num(pinWide-4), num(pinHigh-4))
		s.text(x+pinWide/2, y+4.5, words, "middle", pin.Number)
		label := "off"
		if used[i] {
			label = ""
		}
		s.text(beside, y+4.5, label, anchor, pin.Carries)
	}
}

// pinY is the middle of a pin.
func (p WiringPlot) pinY(i int, top float64) float64 {
	return top + pinHigh*(math.Floor(float64(i)/2)+0.5)
}

// partBox is the box of one group on one side, with its wires from top to bottom.
type partBox struct {
	group string
	wires []WiringWire
	y     float64
}

// high is the height of the box: its name and its parts.
func (b partBox) high() float64 { return partHigh*float64(len(b.wires)+1) + 6 }

// side sorts the wires of one column of pins into boxes, each as near to its pins as the boxes above leave room. That way few
// wires cross.
func (p WiringPlot) side(column int, top float64) []partBox {
	var boxes []partBox
	for _, w := range p.Wires {
		if w.Pin < 0 || w.Pin >= len(p.Pins) || w.Pin%2 != column {
			continue
		}
		i := slices.IndexFunc(boxes, func(b partBox) bool { return b.group == w.Group })
		if i < 0 {
			i, boxes = len(boxes), append(boxes, partBox{group: w.Group})
		}
		boxes[i].wires = append(boxes[i].wires, w)
	}
	for i := range boxes {
		slices.SortStableFunc(boxes[i].wires, func(a, b WiringWire) int { return cmp.Compare(a.Pin, b.Pin) })
		for _, w := range boxes[i].wires {
			boxes[i].y += p.pinY(w.Pin, top) / float64(len(boxes[i].wires))
		}
	}
	slices.SortStableFunc(boxes, func(a, b partBox) int { return cmp.Compare(a.y, b.y) })
	free := top - 8
	for i := range boxes {
		boxes[i].y = max(free, boxes[i].y-boxes[i].high()/2-partHigh/2)
		free = boxes[i].y + boxes[i].high() + 10
	}
	return boxes
}

func bottomOf(boxes []partBox) float64 {
	if len(boxes) == 0 {
		return 0
	}
	last := boxes[len(boxes)-1]
	return last.y + last.high()
}

// box draws a group with its parts, and the wires to them.
func (p WiringPlot) box(s *sheet, b partBox, side int, top float64) {
	x, inner, from, to := sheetEdge, sheetEdge+boxWide, sheetMiddle-pinWide-72, sheetEdge+boxWide
	if side == 1 {
		x, inner = sheetWide-sheetEdge-boxWide, sheetWide-sheetEdge-boxWide
		from, to = sheetMiddle+pinWide+72, inner
	}
	s.add(`<rect class="box" x="%s" y="%s" width="%s" height="%s" rx="4"/>`, num(x), num(b.y), num(boxWide), num(b.high()))
	s.text(x+12, b.y+partHigh-5, "group", "start", b.group)
	for i, w := range b.wires {
		y := b.y + partHigh*(float64(i)+1.5) + 2
		at, bend := p.pinY(w.Pin, top), (to-from)/2
		s.add(`<path class="%s" d="M%s %sC%s %s %s %s %s %s"/>`, className(w.Class), num(from), num(at), num(from+bend), num(at),
			num(to-bend), num(y), num(to), num(y))
		s.end(w.Class, inner, y)
		s.text(x+12, y+4.5, "", "start", w.Role)
		s.text(x+boxWide-12, y+4.5, "quiet", "end", w.About)
	}
}

// className keeps what a wire is called to what the look knows.
func className(class string) string {
	if class == "load" || class == "read" {
		return class
	}
	return "data"
}

// end draws the end of a wire: a square for a load, a ring for what is read, a dot for data.
func (s *sheet) end(class string, x, y float64) {
	switch className(class) {
	case "load":
		s.add(`<rect class="loadend" x="%s" y="%s" width="10" height="10"/>`, num(x-5), num(y-5))
	case "read":
		s.add(`<circle class="readend" cx="%s" cy="%s" r="4.5"/>`, num(x), num(y))
	default:
		s.add(`<circle class="dataend" cx="%s" cy="%s" r="4"/>`, num(x), num(y))
	}
}

// key tells what the wires look like.
func key(s *sheet, y float64) {
	x := sheetEdge
	for _, k := range [][2]string{{"load", "orange, square: switches a load"}, {"read", "blue, ring: is read"},
		{"data", "grey, dot: carries data"}, {"", "R: a resistor of yours"}} {
		if k[0] != "" {
			s.add(`<path class="%s" d="M%s %sH%s"/>`, k[0], num(x), num(y), num(x+40))
			s.end(k[0], x+40, y)
			x += 54
		}
		s.text(x, y+4.5, "", "start", k[1])
		x += wide(k[1]) + 14
	}
}

// chipLines are the chips in words, folded into lines.
func (p WiringPlot) chipLines() (lines []string) {
	for _, c := range p.Chips {
		words := fmt.Sprintf("%s: %s", c.Name, c.Parts)
		if c.Loads {
			words += "; switches loads"
		}
		for i, line := range fold(words, sheetGlyphs-4) {
			lines = append(lines, strings.Repeat("\u00a0", 4*min(i, 1))+line)
		}
	}
	return lines
}
