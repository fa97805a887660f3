package draw

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// The page of mirrored bars, laid out once for marks and for dots. It is as wide as the page of a curve, with the same
// left and right.

// class is the look of a shape.
type class int

const (
	classPage class = iota
	classGrid
	classAxis
	classStill
	classLost     // hatched
	classRegained // hollow
	classUntried
	classHead // of words, as the two below
	classWords
	classQuiet
	numClasses
)

var partClasses = [numParts + 1]class{classStill, classLost, classRegained, classUntried}

// shape is a filled, hatched or hollow rectangle, or a line of words with its baseline at y.
type shape struct {
	class      class
	x, y, w, h float64
	words      string // none: a rectangle
	anchor     string // of words: start, middle or end
}

// The page in pixels.
const (
	mirrorHigh     = 160.0 // of the bars of one head
	mirrorStrip    = 8.0   // beside the axis, for the marks of what was not tried
	mirrorGlyphs   = 92    // characters that fit beside each other
	mirrorTitle    = 72    // likewise of the title
	mirrorBarLeast = 4.0   // a bar is never narrower, so that a hollow one stays hollow
	mirrorSwatch   = 14.0
	mirrorLegend   = 28.0 // from the entry's left to its words
)

// page is a layout being made.
type page struct {
	shapes []shape
	high   float64
}

func (p *page) rect(c class, x, y, w, h float64) {
	p.shapes = append(p.shapes, shape{class: c, x: x, y: y, w: w, h: h})
}

// say adds a line of words. What cannot be seen is left out: a title is somebody's text.
func (p *page) say(c class, x, y float64, anchor, words string) {
	words = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, words)
	if words == "" {
		return
	}
	p.shapes = append(p.shapes, shape{class: c, x: x, y: y, words: words, anchor: anchor})
}

// lines says texts, folded, one below another, and returns where the next would stand.
func (p *page) lines(c class, y float64, texts ...string) float64 {
	for _, text := range texts {
		for _, line := range fold(text, mirrorGlyphs) {
			p.say(c, plotLeft, y, "start", cut(line, mirrorGlyphs))
			y += lineHigh
		}
	}
	return y
}

// cut shortens a text that has no blank to fold it at.
func cut(text string, most int) string {
	if utf8.RuneCountInString(text) <= most {
		return text
	}
	return string([]rune(text)[:most-1]) + "…"
}

// perBar is how many cylinders share a bar.
func (m Mirror) perBar() int {
	per := 1
	for (plotRight-plotLeft)/float64((m.cylinders()+per-1)/per) < mirrorBarLeast {
		per++
	}
	return per
}

// page lays the picture out.
func (m Mirror) page() *page {
	p := &page{}
	p.rect(classPage, 0, 0, pageWidth, 0) // its height is set at the end
	p.say(classHead, plotLeft, 30, "start", cut(m.Title, mirrorTitle))
	y := p.lines(classQuiet, 54, m.Subtitle)
	if m.cylinders() > 0 {
		y = m.panels(p, y+12)
	}
	y = m.legendOn(p, y+14)
	y = p.lines(classQuiet, y+6, m.Notes...)
	p.high = y + 2
	p.shapes[0].h = p.high
	return p
}

// panels draws both heads and the axis of cylinders, from y down, and returns where they end.
func (m Mirror) panels(p *page, y float64) float64 {
	per := m.perBar()
	said := "sectors not read"
	if words := sayColumn(per); words != "" {
		said += "; " + words
	}
	p.say(classQuiet, plotLeft, y, "start", "head 0, "+said)
	// The strip is there only when it is needed, so that the bars usually stand on the axis itself.
	strip := 0.0
	if m.hasUntried() {
		strip = mirrorStrip
	}
	middle := y + 10 + mirrorHigh + strip
	m.panel(p, 0, per, middle-strip, -1)
	p.rect(classAxis, plotLeft, middle-0.5, plotRight-plotLeft, 1)
	bottom := middle
	if m.heads() == 2 {
		m.panel(p, 1, per, middle+strip, 1)
		bottom += strip + mirrorHigh
		p.say(classQuiet, plotLeft, bottom+44, "start", "head 1")
	}
	// A mark stands in the middle of the bar that its cylinder is in.
	across := axis{from: 0, to: float64(m.cylinders()), low: plotLeft, high: plotRight, marks: 9}
	for c := 0; c < m.cylinders(); c += every((m.cylinders() + 8) / 9) {
		x := across.at(float64(c) + float64(per)/2)
		p.rect(classAxis, x-0.5, middle-4, 1, 8)
		p.say(classWords, x, bottom+22, "middle", round3(float64(c)))
	}
	p.say(classWords, (plotLeft+plotRight)/2, bottom+44, "middle", "cylinder")
	return bottom + 54
}

// panel draws one head: its scale and its bars, from its floor upwards (way −1) or downwards (way 1).
func (m Mirror) panel(p *page, head, per int, floor, way float64) {
	scale := axis{from: 0, to: float64(m.top(per)), low: floor, high: floor + way*mirrorHigh, marks: 5}
	for _, v := range scale.ticks() {
		if v != float64(int(v)) { // there are no parts of sectors
			continue
		}
		if v > 0 {
			p.rect(classGrid, plotLeft, scale.at(v)-0.5, plotRight-plotLeft, 1)
		}
		p.say(classWords, plotLeft-10, scale.at(v)+4.5, "end", round3(v))
	}
	bars, _ := m.bars(head, per)
	step := (plotRight - plotLeft) / float64(len(bars))
	// Where bars are broad enough a gap tells them apart; two hollow ones side by side tell themselves apart.
	gap := min(step*0.15, 3)
	for i, b := range bars {
		x, from := plotLeft+step*float64(i)+gap/2, 0
		for part, n := range b.parts {
			if n == 0 {
				continue
			}
			// Downwards the second lies below the first.
			y1, y2 := scale.at(float64(from)), scale.at(float64(from+n))
			p.rect(partClasses[part], x, min(y1, y2), step-gap, max(y1, y2)-min(y1, y2))
			from += n
		}
		if b.untried {
			p.rect(classUntried, x, floor-way*mirrorStrip/2-1.5, step-gap, 3)
		}
	}
}

// legendOn draws a swatch with its words for each part, and returns where the next line would stand.
func (m Mirror) legendOn(p *page, y float64) float64 {
	x := float64(plotLeft)
	for _, n := range m.legend() {
		if n.part == numParts {
			p.rect(classUntried, x, y-6, 20, 3)
		} else {
			p.rect(partClasses[n.part], x, y-11, mirrorSwatch, mirrorSwatch)
		}
		p.say(classWords, x+mirrorLegend, y, "start", n.words)
		x += mirrorLegend + wide(n.words) + 16
	}
	return y + lineHigh
}
