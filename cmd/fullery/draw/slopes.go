package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// SlopesPlot is a batch before and after its cleaning as a picture for a file: a panel a method, and in it a slope a disk.
// All panels have one axis, so that what is as steep changed as much.
type SlopesPlot struct {
	Title, Subtitle string
	Methods         []SlopesMethod
	Notes           []string // told below the picture
}

// SlopesMethod is what becomes one panel.
type SlopesMethod struct {
	Name  string
	Disks []Slope
}

// Slope is one disk: its missing sectors before and after. What is below zero counts as none.
type Slope struct {
	Disk          string
	Before, After int
}

// The sheet of slopes, in pixels. It is as wide as that of a wiring.
const (
	slopesLeft    = sheetEdge + 64 // the axis and its figures stand left of it
	slopesHigh    = 320.0          // of a panel
	slopesAbreast = 4              // panels beside each other, at most
	slopesColumn  = 400.0          // width of a panel, at most
	slopesHead    = 12.0           // above a panel, with its name
	slopesFoot    = lineHigh + 22  // below it, with a few figures: what the ends are
	slopesGap     = 18.0           // between panels
	labelHigh     = 14.0
	labelGlyph    = 6.7
	slopesBold    = 8.2 // width of a character of a method's name, about
	manyDisks     = 40  // in a panel: from here on strokes and marks are thinner
)

// A disk is better with fewer sectors missing after, worse with more. In a grey print they differ by their dashes and the
// marks at their ends: dot, triangle, ring.
const slopesLook = `<style>
.slope{fill:none;stroke-width:1.8}
.mark{stroke-width:1.8}
.many .slope,.many .mark{stroke-width:1.1}
.many .better.slope{stroke-opacity:0.6}
.better{stroke:#1f6fb2}.better.mark{fill:#1f6fb2}
.worse{stroke:#d9730d}.worse.mark{fill:#d9730d}.worse.slope{stroke-dasharray:7 4}
.same{stroke:#6b737a}.same.mark{fill:#f7f7f5}.same.slope{stroke-dasharray:2 4}
.post{stroke:#8a9299;stroke-width:1}
.to{stroke:#8a9299;stroke-width:0.8;fill:none}
.halo{stroke:#f7f7f5;stroke-width:8;fill:none}
.mean{stroke:#33383d;stroke-width:4;fill:none}
text.disk{font-size:12px}
text.group{font-weight:bold}
@media (prefers-color-scheme: dark){
.better{stroke:#6db1ea}.better.mark{fill:#6db1ea}.worse{stroke:#f29a45}.worse.mark{fill:#f29a45}
.same{stroke:#a5adb4}.same.mark{fill:#1d2023}.halo{stroke:#1d2023}.mean{stroke:#dfe2e5}}
</style>
`

// SVG draws the slopes as a file of its own, without scripts, fonts or anything from elsewhere. The same plot always gives
// the same bytes.
func (p SlopesPlot) SVG() []byte {
	about, notes := fold(p.Subtitle, sheetGlyphs), foldAll(p.Notes, sheetGlyphs)
	columns, rows := p.grid()
	top := 54 + lineHigh*float64(len(about))
	wide := min((sheetWide-sheetEdge-slopesLeft)/float64(columns), slopesColumn)
	names, figures := p.lines(wide - slopesGap)
	head := slopesHead + lineHigh*float64(names)
	pitch := head + slopesHigh + slopesFoot + lineHigh*float64(figures)
	below := top + pitch*float64(rows)
	high := below + 34 + lineHigh*float64(len(notes)) + 12

	s := &sheet{}
	WiringPlot{Title: p.Title, Subtitle: p.Subtitle}.begin(s, high, about)
	s.b.WriteString(slopesLook)
	up := p.scale()
	for i, m := range p.Methods {
		left := slopesLeft + wide*float64(i%columns)
		from := top + pitch*float64(i/columns) + head
		up.low, up.high = from+slopesHigh, from
		if i%columns == 0 {
			s.upwards(up, slopesLeft+wide*float64(min(columns, len(p.Methods)-i)))
		}
		m.panel(s, up, left, left+wide-slopesGap)
	}
	slopesKey(s, below+20)
	s.wideLines(below+20+lineHigh+10, sheetEdge, "quiet", notes)
	s.add("</svg>")
	return []byte(s.b.String())
}

// foldAll folds texts one below another.
func foldAll(texts []string, most int) (lines []string) {
	for _, text := range texts {
		lines = append(lines, fold(text, most)...)
	}
	return lines
}

// grid is how many panels stand beside and below each other, with as few empty places as there can be.
func (p SlopesPlot) grid() (columns, rows int) {
	n := max(len(p.Methods), 1)
	rows = (n + slopesAbreast - 1) / slopesAbreast
	return (n + rows - 1) / rows, rows
}

// counts is an upward axis for numbers of sectors from none. Where a few disks miss many times what the others do, its
// marks draw together upwards as their square roots, or all the others would lie on one line.
type counts struct {
	most, low, high float64
	root            bool
}

// scale fits the axis to all disks.
func (p SlopesPlot) scale() counts {
	var all []int
	for _, m := range p.Methods {
		for _, d := range m.Disks {
			all = append(all, max(d.Before, 0), max(d.After, 0))
		}
	}
	if len(all) == 0 {
		return counts{most: 1}
	}
	slices.Sort(all)
	most, middle := float64(all[len(all)-1]), float64(all[len(all)/2])
	return counts{most: above(most), root: most >= 50 && most > 8*max(middle, 1)}
}

// at is where a number of sectors lies.
func (c counts) at(sectors float64) float64 {
	share := min(max(sectors/c.most, 0), 1)
	if c.root {
		share = math.Sqrt(share)
	}
	return c.low + share*(c.high-c.low)
}

// ticks are the marks of the axis, never between two whole sectors and never so near that their figures touch.
func (c counts) ticks() (out []float64) {
	if !c.root {
		step := max(tick(c.most, massMarks), 1)
		for v := 0.0; v <= c.most+1e-9*step; v += step {
			out = append(out, v)
		}
		return out
	}
	out = append(out, 0)
	for unit := 1.0; unit <= c.most; unit *= 10 {
		for _, f := range []float64{1, 2, 5} {
			if v := f * unit; v <= c.most && c.at(out[len(out)-1])-c.at(v) >= 22 {
				out = append(out, v)
			}
		}
	}
	return out
}

// upwards draws the axis of a row of panels, whose grid ends at right.
func (s *sheet) upwards(up counts, right float64) {
	for _, v := range up.ticks() {
		y := up.at(v)
		s.add(`<line class="grid" x1="%s" y1="%s" x2="%s" y2="%s"/>`, num(slopesLeft), num(y), num(right-slopesGap), num(y))
		s.text(slopesLeft-10, y+4.5, "", "end", tenth(v))
	}
	name := "missing sectors of a disk"
	if up.root {
		name += ", drawn as square roots"
	}
	middle := num((up.low + up.high) / 2)
	s.add(`<text x="%s" y="%s" text-anchor="middle" transform="rotate(-90 %s %s)">%s</text>`, num(sheetEdge+8), middle,
		num(sheetEdge+8), middle, name)
}

// tenth writes a number of sectors, with a tenth where there is one.
func tenth(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

// slopesKey tells what the strokes and marks mean.
func slopesKey(s *sheet, y float64) {
	const stroke = 28.0
	x := sheetEdge
	for o, words := range [numOutcomes]string{betterAfter: "blue, dot: fewer missing", worseAfter: "orange, dashed, triangle: more",
		sameAfter: "grey, dotted, ring: as many"} {
		s.add(`<path class="%s slope" d="M%s %sh%s"/>`, outcomeNames[o], num(x), num(y), num(stroke))
		s.add(`<path class="%s mark" d="%s"/>`, outcomeNames[o], endMark(outcome(o), x+stroke, y, 3.6))
		s.text(x+stroke+11, y+4.5, "", "start", words)
		x += stroke + 28 + wide(words)
	}
	s.add(`<path class="mean" d="M%s %sh%s"/>`, num(x), num(y), num(stroke))
	s.text(x+stroke+11, y+4.5, "", "start", "thick: mean")
}
