package draw

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
)

// DryingPlot is a computed drying as a picture for a file: what is left in the liner above, its temperature below, over
// the same time.
type DryingPlot struct {
	Title, Subtitle string
	Minutes         []float64 // rising
	Left            []float64 // g, one for each of Minutes
	Water           []float64 // g of that which is water; nil when all is or none is worth showing
	Liner           []float64 // °C
	Air             float64   // °C, of the air that comes to the liner
	// Dry is when the liner is dry, min, with its interval; all zero when it never is.
	Dry, Low, High float64
}

// The page, in pixels. The two panels have the same left and right.
const (
	pageWidth, pageHeight = 760, 560
	plotLeft, plotRight   = 84, 728
	massTop, massBottom   = 84, 294
	heatTop, heatBottom   = 330, 490
	massMarks             = 8
)

// The look: blue for the liquid, orange for warmth, grey for the rest; in a grey print the curves differ by their
// place, their dashes and their labels. Viewers that know a dark scheme get lighter strokes on dark grey.
const look = `<style>
text{font-family:sans-serif;font-size:13px;fill:#33383d}
.head{font-size:16px;font-weight:bold}
.quiet{fill:#5c646b}
.page{fill:#f7f7f5}
.panel{fill:none;stroke:#8a9299;stroke-width:1}
.grid{stroke:#d9dbdd;stroke-width:1}
.band{fill:#c9ccd0;fill-opacity:0.55}
.dry{stroke:#5c646b;stroke-width:1.5;fill:none}
.left{stroke:#1f6fb2;stroke-width:3;fill:none;stroke-linejoin:round}
.water{stroke:#1f6fb2;stroke-width:2;fill:none;stroke-dasharray:2 4}
.heat{stroke:#d9730d;stroke-width:3;fill:none;stroke-linejoin:round}
.air{stroke:#5c646b;stroke-width:1.5;fill:none;stroke-dasharray:7 5}
@media (prefers-color-scheme: dark){
text{fill:#dfe2e5}.quiet{fill:#a5adb4}.page{fill:#1d2023}.grid{stroke:#34393e}.band{fill:#565d64}
.dry,.air{stroke:#a5adb4}.left,.water{stroke:#6db1ea}.heat{stroke:#f29a45}}
</style>
`

// SVG draws the plot as a file of its own, without scripts, fonts or anything from elsewhere. Figures that are not
// numbers are left out; the same plot always gives the same bytes.
func (p DryingPlot) SVG() []byte {
	s := &sheet{}
	s.begin(pageHeight, p.Title, p.Subtitle)
	s.text(plotLeft, 52, "quiet", "start", p.Subtitle)

	time := axis{from: 0, to: p.end(), low: plotLeft, high: plotRight, marks: 9}
	mass := axis{from: 0, to: above(p.most()), low: massBottom, high: massTop, marks: massMarks}
	least, warmest := p.temperatures()
	heat := axis{from: least, to: warmest, low: heatBottom, high: heatTop, marks: 6}
	p.band(s, time)
	s.panel(time, mass, massTop, massBottom, "liquid left / g")
	s.panel(time, heat, heatTop, heatBottom, "temperature / °C")
	s.across(time, heatBottom, "time of drying / min")
	p.curves(s, time, mass, heat)
	p.dryness(s, time)
	s.add("</svg>")
	return []byte(s.b.String())
}

// band shades where four of five dryings end.
func (p DryingPlot) band(s *sheet, time axis) {
	if p.dries() && p.ranges() {
		from, to := time.clamp(p.Low), time.clamp(p.High)
		s.add(`<rect class="band" x="%s" y="%d" width="%s" height="%d"/>`, num(from), massTop, num(to-from),
			heatBottom-massTop)
	}
}

func (p DryingPlot) dries() bool { return p.Dry > 0 && finite(p.Dry) }

func (p DryingPlot) ranges() bool { return p.Low > 0 && p.High >= p.Low && finite(p.High) }

// dryness draws when the liner is dry, and says it; beside it stands what the dotted curve is.
func (p DryingPlot) dryness(s *sheet, time axis) {
	var words []string
	anchor, beside := "end", plotRight-8.0
	if p.dries() {
		x := time.clamp(p.Dry)
		s.add(`<line class="dry" x1="%s" y1="%d" x2="%s" y2="%d"/>`, num(x), massTop, num(x), heatBottom)
		words, beside = append(words, "dry after "+whole(p.Dry)+" min"), x-8
		if p.ranges() {
			words = append(words, "80 %: "+whole(p.Low)+" to "+whole(p.High)+" min")
		}
		if x < (plotLeft+plotRight)/2 {
			anchor, beside = "start", x+8
		}
	}
	if p.Water != nil {
		words = append(words, "dotted: the water in it")
	}
	for i, line := range words {
		s.text(beside, massTop+18+18*float64(i), "", anchor, line)
	}
}

// curves draws the three or four curves, each with its name beside it.
func (p DryingPlot) curves(s *sheet, time, mass, heat axis) {
	s.curve("left", p.Minutes, p.Left, time, mass)
	if p.Water != nil {
		s.curve("water", p.Minutes, p.Water, time, mass)
	}
	if finite(p.Air) {
		y := num(heat.clamp(p.Air))
		s.add(`<line class="air" x1="%d" y1="%s" x2="%d" y2="%s"/>`, plotLeft, y, plotRight, y)
		s.text(plotRight-8, heat.clamp(p.Air)+17, "quiet", "end", "air at the liner "+round3(p.Air)+" °C")
	}
	s.curve("heat", p.Minutes, p.Liner, time, heat)
	if low, x := lowest(p.Minutes, p.Liner); finite(low) {
		at := min(max(time.clamp(x), plotLeft+10), plotRight-190)
		s.text(at, heat.clamp(low)+18, "", "start", "liner, coldest "+round3(low)+" °C")
	}
}

// end is the length of the time axis: the curve, and the interval where it reaches further.
func (p DryingPlot) end() float64 {
	end := 0.0
	for _, m := range append([]float64{p.Dry, p.High}, p.Minutes...) {
		if finite(m) {
			end = max(end, m)
		}
	}
	if end <= 0 {
		return 1
	}
	return end * 1.04
}

func (p DryingPlot) most() (most float64) {
	for _, g := range p.Left {
		if finite(g) {
			most = max(most, g)
		}
	}
	return most
}

// temperatures returns the ends of the axis of temperature, with room for the names of the curves.
func (p DryingPlot) temperatures() (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for _, c := range append([]float64{p.Air}, p.Liner...) {
		if finite(c) {
			least, most = min(least, c), max(most, c)
		}
	}
	if !finite(least) {
		return 0, 1
	}
	room := max(most-least, 1) * 0.22
	return least - room, most + room/2
}

// axis maps a quantity to pixels; low is where from lies. It has at most so many marks.
type axis struct{ from, to, low, high, marks float64 }

func (a axis) at(v float64) float64 { return a.low + (v-a.from)/(a.to-a.from)*(a.high-a.low) }

// clamp is at, kept on the axis.
func (a axis) clamp(v float64) float64 {
	return min(max(a.at(v), min(a.low, a.high)), max(a.low, a.high))
}

// ticks returns the marks of the axis.
func (a axis) ticks() (out []float64) {
	step := tick(a.to-a.from, a.marks)
	for i := range 30 {
		v := (math.Ceil(a.from/step-1e-9) + float64(i)) * step
		if v > a.to+1e-9*step {
			break
		}
		out = append(out, v)
	}
	return out
}

// tick is the distance of at most so many marks: 1, 2 or 5 times a power of ten.
func tick(span, marks float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(max(span, 1e-12)/marks)))
	for _, f := range []float64{1, 2, 5} {
		if span/(f*unit) <= marks {
			return f * unit
		}
	}
	return 10 * unit
}

// above is a round figure at or above the most, so that a curve does not begin at the frame.
func above(most float64) float64 {
	if !(most > 0) {
		return 1
	}
	step := tick(most, massMarks)
	return math.Ceil(most/step+0.05) * step
}

// sheet is the text of a picture being written.
type sheet struct{ b strings.Builder }

func (s *sheet) add(format string, args ...any) { fmt.Fprintf(&s.b, format+"\n", args...) }

// begin opens a page of that height and writes its head.
func (s *sheet) begin(height float64, title, about string) {
	s.add(`<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%s" viewBox="0 0 %d %s" role="img">`,
		pageWidth, num(height), pageWidth, num(height))
	s.add(`<title>%s</title><desc>%s</desc>`, plainText(title), plainText(about))
	s.b.WriteString(look)
	s.add(`<rect class="page" width="%d" height="%s"/>`, pageWidth, num(height))
	s.text(plotLeft, 30, "head", "start", title)
}

func (s *sheet) text(x, y float64, class, anchor, words string) {
	s.add(`<text class="%s" x="%s" y="%s" text-anchor="%s">%s</text>`, class, num(x), num(y), anchor, plainText(words))
}

// panel draws frame, grid, marks and the name of the upward axis.
func (s *sheet) panel(time, up axis, top, bottom float64, name string) {
	for _, v := range up.ticks() {
		y := up.at(v)
		s.add(`<line class="grid" x1="%d" y1="%s" x2="%d" y2="%s"/>`, plotLeft, num(y), plotRight, num(y))
		s.text(plotLeft-10, y+4.5, "", "end", round3(v))
	}
	for _, v := range time.ticks() {
		x := time.at(v)
		s.add(`<line class="grid" x1="%s" y1="%s" x2="%s" y2="%s"/>`, num(x), num(top), num(x), num(bottom))
	}
	s.add(`<rect class="panel" x="%d" y="%s" width="%d" height="%s"/>`, plotLeft, num(top), plotRight-plotLeft, num(bottom-top))
	middle := (top + bottom) / 2
	s.add(`<text x="28" y="%s" text-anchor="middle" transform="rotate(-90 28 %s)">%s</text>`, num(middle), num(middle),
		plainText(name))
}

// across writes the marks of the axis of time and its name below a panel.
func (s *sheet) across(time axis, below float64, name string) {
	for _, v := range time.ticks() {
		s.text(time.at(v), below+20, "", "middle", round3(v))
	}
	s.text((plotLeft+plotRight)/2, below+44, "", "middle", name)
}

// curve joins the points; a gap in the figures is a gap in the curve.
func (s *sheet) curve(class string, xs, ys []float64, across, up axis) {
	var d strings.Builder
	pen := "M"
	for i := range min(len(xs), len(ys)) {
		if !finite(xs[i]) || !finite(ys[i]) {
			pen = "M"
			continue
		}
		fmt.Fprintf(&d, "%s%s %s", pen, num(across.clamp(xs[i])), num(up.clamp(ys[i])))
		pen = "L"
	}
	if d.Len() > 0 {
		s.add(`<path class="%s" d="%s"/>`, class, d.String())
	}
}

func lowest(xs, ys []float64) (low, x float64) {
	low = math.Inf(1)
	for i := range min(len(xs), len(ys)) {
		if finite(xs[i]) && ys[i] < low {
			low, x = ys[i], xs[i]
		}
	}
	return low, x
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// whole writes minutes, with tenths only below ten.
func whole(minutes float64) string {
	if minutes >= 9.95 {
		return strconv.FormatFloat(math.Round(minutes), 'f', 0, 64)
	}
	return strconv.FormatFloat(minutes, 'f', 1, 64)
}

// num writes a coordinate to a tenth of a pixel.
func num(v float64) string {
	if !finite(v) {
		return "0"
	}
	return strconv.FormatFloat(math.Round(v*10)/10+0, 'f', -1, 64) // +0: never a negative zero
}

// round3 writes a figure with three digits and no exponent.
func round3(v float64) string {
	digits := 2 - int(math.Floor(math.Log10(max(math.Abs(v), 1e-9))))
	scale := math.Pow(10, float64(min(max(digits, 0), 9)))
	return strings.Replace(strconv.FormatFloat(math.Round(v*scale)/scale+0, 'f', -1, 64), "-", "−", 1)
}

// plainText makes text fit for a file of marks: what cannot be printed is left out, and what means something there is
// written otherwise.
func plainText(text string) string {
	text = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, text)
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(text)
}
