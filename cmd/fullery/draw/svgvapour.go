package draw

import (
	"math"
	"strings"
	"unicode/utf8"
)

// VapourPlot is a computed vapour as a picture for a file: in the duct above, with the stages of the cycle as a ribbon
// below it, in the air of the room below that. The two have their own axes of time: the room is followed for longer.
type VapourPlot struct {
	Title, Subtitle string
	Duct, Room      VapourPanel
	Stages          []VapourStage
	Cycle           float64 // min, how long the stages last together
}

// VapourPanel is one curve with the figures that it is held against.
type VapourPanel struct {
	Head    string    // what it shows and what came of it, in words
	Unit    string    // the name of the upward axis
	Across  string    // the name of the axis of time
	Minutes []float64 // rising; two may be equal, where the curve leaps
	Values  []float64
	Levels  []Level // rising; above the first of them the curve is drawn in the colour of attention
	Least   float64 // how far up the axis reaches at least
}

// Level is a figure that is drawn as a line. One beyond the axis is told in words.
type Level struct {
	Value float64
	Words string
}

// VapourStage is one stage of the cycle.
type VapourStage struct {
	Name    string
	Minutes float64
}

// More of the page, in pixels.
const (
	ductHigh, roomHigh = 190.0, 180.0
	ribbonHigh         = 20.0
	lineHigh           = 18.0
	glyph              = 7.3 // width of a character, about
	lineWide           = 88  // characters that fit beside each other
)

const vapourLook = `<style>
.calm{stroke:#1f6fb2;stroke-width:3;fill:none;stroke-linejoin:round}
.over{stroke:#d9730d;stroke-width:4.5;fill:none;stroke-linejoin:round}
.top{stroke:#1f6fb2;stroke-width:2;fill:#f7f7f5}
.level{stroke:#5c646b;stroke-width:1.5;stroke-dasharray:7 5}
.ends{stroke:#5c646b;stroke-width:1.5;stroke-dasharray:2 4}
.stage{fill:#dfe3e6;stroke:#8a9299}
.other{fill:#f7f7f5;stroke:#8a9299}
@media (prefers-color-scheme: dark){
.calm,.top{stroke:#6db1ea}.top{fill:#1d2023}.over{stroke:#f29a45}.level,.ends{stroke:#a5adb4}
.stage{fill:#3a4046}.other{fill:#1d2023}}
</style>
`

// SVG draws the plot as a file of its own, without scripts, fonts or anything from elsewhere. Figures that are not
// numbers are left out; the same plot always gives the same bytes.
func (p VapourPlot) SVG() []byte {
	about, named, beyond := fold(p.Subtitle, lineWide), p.legend(), fold(p.Room.beyond(), lineWide)
	duct, room := fold(p.Duct.Head, lineWide), fold(p.Room.Head, lineWide)
	top := 56 + lineHigh*float64(len(about)+len(duct))
	second := top + ductHigh + ribbonHigh + 76 + lineHigh*float64(len(named)+len(room))
	high := second + roomHigh + 66 + lineHigh*float64(len(beyond))

	s := &sheet{}
	s.begin(high, p.Title, p.Subtitle)
	s.b.WriteString(vapourLook)
	s.lines(52, "quiet", about)
	s.lines(top-10-lineHigh*float64(len(duct)-1), "", duct)
	s.lines(second-10-lineHigh*float64(len(room)-1), "", room)
	time := axis{from: 0, to: positive(p.Cycle), low: plotLeft, high: plotRight, marks: 9}
	s.vapour("duct", p.Duct, time, top, top+ductHigh, 0)
	below := top + ductHigh + 6
	p.ribbon(s, time, below)
	s.across(time, below+ribbonHigh, p.Duct.Across)
	s.lines(below+ribbonHigh+68, "quiet", named)

	time.to = positive(last(p.Room.Minutes))
	s.vapour("room", p.Room, time, second, second+roomHigh, p.Cycle)
	s.across(time, second+roomHigh, p.Room.Across)
	s.lines(second+roomHigh+66, "quiet", beyond)
	s.add("</svg>")
	return []byte(s.b.String())
}

// lines writes text, one line below another.
func (s *sheet) lines(y float64, class string, lines []string) {
	for i, line := range lines {
		s.text(plotLeft, y+lineHigh*float64(i), class, "start", strings.ReplaceAll(line, "\u00a0", " "))
	}
}

// ribbon draws the stages side by side, numbered where a number fits.
func (p VapourPlot) ribbon(s *sheet, time axis, top float64) {
	from := 0.0
	for i, stage := range p.Stages {
		if !(stage.Minutes > 0) || !finite(stage.Minutes) {
			continue
		}
		left, right := time.clamp(from), time.clamp(from+stage.Minutes)
		from += stage.Minutes
		class := "stage"
		if i%2 > 0 {
			class = "other"
		}
		s.add(`<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, num(left), num(top), num(right-left),
			num(ribbonHigh))
		words := stage.Name
		if wide(words) > right-left-6 {
			words = round3(float64(i + 1))
		}
		if wide(words) <= right-left {
			s.text((left+right)/2, top+ribbonHigh/2+4.5, "", "middle", words)
		}
	}
}

// legend names the stages by their numbers, folded into lines.
func (p VapourPlot) legend() []string {
	var names []string
	for i, stage := range p.Stages {
		names = append(names, round3(float64(i+1))+"\u00a0"+strings.ReplaceAll(stage.Name, " ", "\u00a0"))
	}
	if len(names) == 0 {
		return nil
	}
	return fold("Stages: "+strings.Join(names, "; "), lineWide)
}

// top is the end of the upward axis: above the curve, and as far as is asked.
func (v VapourPanel) top() float64 {
	most := v.Least
	for _, x := range v.Values {
		if finite(x) {
			most = max(most, x)
		}
	}
	return above(most)
}

// beyond names the levels that lie above the axis.
func (v VapourPanel) beyond() string {
	var words []string
	for _, level := range v.Levels {
		if level.Value > v.top() && finite(level.Value) {
			words = append(words, level.Words)
		}
	}
	if len(words) == 0 {
		return ""
	}
	return "Above the picture: " + strings.Join(words, "; ")
}

// vapour draws one panel; ends, if above 0, is when the cycle does.
func (s *sheet) vapour(id string, v VapourPanel, time axis, top, bottom, ends float64) {
	up := axis{from: 0, to: v.top(), low: bottom, high: top, marks: 6}
	s.panel(time, up, top, bottom, v.Unit)
	free := placer{time: time, up: up, xs: v.Minutes, ys: v.Values}
	for _, level := range v.Levels {
		if !(level.Value > 0 && level.Value <= up.to) {
			continue
		}
		y := up.at(level.Value)
		s.add(`<line class="level" x1="%d" y1="%s" x2="%d" y2="%s"/>`, plotLeft, num(y), plotRight, num(y))
		s.place(&free, level.Words, []spot{{plotRight - 8, y - 6, "end"}, {plotLeft + 8, y - 6, "start"},
			{plotRight - 8, y + 15, "end"}, {plotLeft + 8, y + 15, "start"}})
	}
	if ends > 0 && ends < time.to {
		x := time.at(ends)
		s.add(`<line class="ends" x1="%s" y1="%s" x2="%s" y2="%s"/>`, num(x), num(top), num(x), num(bottom))
		var spots []spot
		for y := top + 16; y < bottom-4; y += lineHigh {
			spots = append(spots, spot{x + 6, y, "start"}, spot{x - 6, y, "end"})
		}
		s.place(&free, "the cycle ends", spots)
	}
	s.attention(id, v, time, up)
	if high, x := highest(v.Minutes, v.Values); finite(high) && high > 0 {
		s.add(`<circle class="top" cx="%s" cy="%s" r="4.5"/>`, num(time.clamp(x)), num(up.clamp(high)))
	}
}

// attention draws the curve, and what of it lies above the first level once more, thicker and in the other colour.
func (s *sheet) attention(id string, v VapourPanel, time, up axis) {
	s.curve("calm", v.Minutes, v.Values, time, up)
	high, _ := highest(v.Minutes, v.Values)
	if len(v.Levels) == 0 || !finite(v.Levels[0].Value) || !(high > v.Levels[0].Value) {
		return
	}
	y := up.clamp(v.Levels[0].Value)
	s.add(`<clipPath id="%s-over"><rect x="%d" y="%s" width="%d" height="%s"/></clipPath>`, id, plotLeft, num(up.high),
		plotRight-plotLeft, num(y-up.high))
	s.add(`<g clip-path="url(#%s-over)">`, id)
	s.curve("over", v.Minutes, v.Values, time, up)
	s.add("</g>")
}

// spot is where a text may stand.
type spot struct {
	x, y   float64
	anchor string
}

// box is the room that a text takes.
type box struct{ left, top, right, bottom float64 }

func (p spot) box(words string) box {
	b := box{p.x, p.y - 12, p.x + wide(words), p.y + 4}
	if p.anchor == "end" {
		b.left, b.right = p.x-wide(words), p.x
	}
	return b
}

func (b box) meets(o box) bool {
	return b.left < o.right && o.left < b.right && b.top < o.bottom && o.top < b.bottom
}

// placer knows what is taken in a panel: by texts, and by the curve.
type placer struct {
	time, up axis
	xs, ys   []float64
	taken    []box
}

// crossed tells whether the curve goes through a box; it is looked at every few pixels.
func (f *placer) crossed(b box) bool {
	for i := 1; i < min(len(f.xs), len(f.ys)); i++ {
		x0, y0, x1, y1 := f.time.clamp(f.xs[i-1]), f.up.clamp(f.ys[i-1]), f.time.clamp(f.xs[i]), f.up.clamp(f.ys[i])
		if !finite(x0+y0+x1+y1) || max(x0, x1) < b.left || min(x0, x1) > b.right {
			continue
		}
		steps := math.Ceil(math.Hypot(x1-x0, y1-y0)/3) + 1
		for k := 0.0; k <= steps; k++ {
			x, y := x0+(x1-x0)*k/steps, y0+(y1-y0)*k/steps
			if x > b.left && x < b.right && y > b.top-2 && y < b.bottom+2 {
				return true
			}
		}
	}
	return false
}

// place writes a text where it meets neither another text nor the curve, or at least no other text.
func (s *sheet) place(free *placer, words string, spots []spot) {
	for _, strict := range []bool{true, false} {
		for _, p := range spots {
			b := p.box(words)
			meets := b.top < free.up.high || b.bottom > free.up.low || b.left < plotLeft || b.right > plotRight
			for _, o := range free.taken {
				meets = meets || b.meets(o)
			}
			if meets || strict && free.crossed(b) {
				continue
			}
			free.taken = append(free.taken, b)
			s.text(p.x, p.y, "", p.anchor, words)
			return
		}
	}
}

// wide is about how many pixels a text takes.
func wide(words string) float64 { return glyph * float64(utf8.RuneCountInString(words)) }

// fold breaks a text into lines of at most so many characters, at blanks that may break.
func fold(text string, most int) (lines []string) {
	for _, word := range strings.Split(text, " ") {
		if n := len(lines); n > 0 && utf8.RuneCountInString(lines[n-1])+1+utf8.RuneCountInString(word) <= most {
			lines[n-1] += " " + word
		} else if word != "" {
			lines = append(lines, word)
		}
	}
	return lines
}

func highest(xs, ys []float64) (high, x float64) {
	high = math.Inf(-1)
	for i := range min(len(xs), len(ys)) {
		if finite(xs[i]) && finite(ys[i]) && ys[i] > high {
			high, x = ys[i], xs[i]
		}
	}
	return high, x
}

func last(xs []float64) float64 {
	for i := len(xs) - 1; i >= 0; i-- {
		if finite(xs[i]) {
			return xs[i]
		}
	}
	return 0
}

// positive is the length of an axis, never nothing.
func positive(x float64) float64 {
	if finite(x) && x > 0 {
		return x
	}
	return 1
}
