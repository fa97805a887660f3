package main

import (
	"fmt"
	"html"
	"math"
	"strings"
	"unicode"

	"fullery/recipe/endpoint"
)

// A trace as a picture: a panel for each kind of evidence in the file, what it showed less the zero of the dry disk, and
// below them the minutes that were thought to be left. Blue for what was measured, orange for what was estimated, grey
// for the rest; in a grey print they differ by their places, their dashes and their names.

// The page, in pixels.
const (
	tracePage            = 760
	traceWest, traceEast = 84.0, 728.0
	traceTop             = 100.0
	signalHigh, leftHigh = 120.0, 170.0
	traceGap             = 34.0
	traceBelow           = 96.0 // below the last panel: marks, the name of the axis, the legend
	mostPlotted          = 1200 // points of a curve; more would only make the file large
	beforeShown          = 0.12 // of the whole length, at most, for the dry disk
	traceCharacter       = 7.2
)

// traceLook has lighter strokes for viewers that know a dark scheme, as all pictures here.
const traceLook = `<style>
text{font-family:sans-serif;font-size:13px;fill:#33383d}
.head{font-size:16px;font-weight:bold}
.quiet{fill:#5c646b}
.page{fill:#f7f7f5}
.frame{fill:none;stroke:#8a9299}
.grid{stroke:#d9dbdd}
.band{fill:#c9ccd0;fill-opacity:0.55}
.dry{stroke:#33383d;stroke-width:1.5}
.zero{stroke:#5c646b;stroke-width:1.5;stroke-dasharray:7 5}
.seen{stroke:#1f6fb2;stroke-width:2;fill:none;stroke-linejoin:round}
.guess{stroke:#d9730d;stroke-width:3;fill:none;stroke-linejoin:round}
.was{stroke:#5c646b;stroke-width:2;fill:none;stroke-dasharray:2 4}
@media (prefers-color-scheme: dark){
text{fill:#dfe2e5}.quiet{fill:#a5adb4}.page{fill:#1d2023}.grid{stroke:#34393e}.band{fill:#565d64}
.dry{stroke:#dfe2e5}.zero,.was{stroke:#a5adb4}.seen{stroke:#6db1ea}.guess{stroke:#f29a45}}
</style>
`

// traceSheet is the picture being written.
type traceSheet struct{ strings.Builder }

// add writes a line of marks.
func (s *traceSheet) add(format string, args ...any) { fmt.Fprintf(s, format+"\n", args...) }

func (s *traceSheet) words(class string, x, y float64, anchor, text string) {
	s.add(`<text class="%s" x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, class, x, y, anchor, html.EscapeString(text))
}

func (s *traceSheet) line(class string, x1, y1, x2, y2 float64) {
	s.add(`<line class="%s" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`, class, x1, y1, x2, y2)
}

// ruler maps a quantity to pixels; from lies at low.
type ruler struct{ from, to, low, high float64 }

func (r ruler) at(v float64) float64 {
	x := r.low + (v-r.from)/(r.to-r.from)*(r.high-r.low)
	return min(max(x, min(r.low, r.high)), max(r.low, r.high))
}

// step is the distance of at most so many marks: 1, 2 or 5 times a power of ten.
func (r ruler) step(most float64) float64 {
	unit := math.Pow(10, math.Floor(math.Log10(max(r.to-r.from, 1e-9)/most)))
	for _, f := range []float64{1, 2, 5} {
		if (r.to-r.from)/(f*unit) <= most {
			return f * unit
		}
	}
	return 10 * unit
}

// marks calls for every mark, with its figure.
func (r ruler) marks(most float64, draw func(v float64, text string)) {
	step := r.step(most)
	digits := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	for k := math.Ceil(r.from/step - 1e-9); k*step <= r.to+1e-9*step; k++ {
		draw(k*step, strings.Replace(fmt.Sprintf("%.*f", digits, k*step+0), "-", "−", 1))
	}
}

// picture draws the trace as a file of its own, without anything from elsewhere. The same trace gives the same bytes.
func (t *traced) picture() []byte {
	signals := t.plan.Signals(t.trace)
	high := traceTop + float64(len(signals))*(signalHigh+traceGap) + leftHigh + traceBelow
	s := &traceSheet{}
	s.add(`<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%.0f" viewBox="0 0 %d %.0f" role="img">`, tracePage, high,
		tracePage, high)
	title := visibleOnly(t.name + ": " + t.of.Liquid.Title)
	s.add("<title>%s</title>\n%s", html.EscapeString(title), strings.TrimSuffix(traceLook, "\n"))
	s.add(`<rect class="page" width="%d" height="%.0f"/>`, tracePage, high)
	s.words("head", traceWest, 34, "start", title)
	s.words("quiet", traceWest, 58, "start", t.verdict())
	time := t.times()
	top := traceTop
	for i := range signals {
		t.signal(s, &signals[i], time, top)
		top += signalHigh + traceGap
	}
	t.left(s, time, top)
	legendOfTrace(s, top+leftHigh+76, t.out.By != endpoint.NoEvidence)
	s.add("</svg>")
	return []byte(s.String())
}

// visibleOnly leaves out what a file of marks must not hold.
func visibleOnly(text string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, text)
}

// verdict is the answer, short.
func (t *traced) verdict() string {
	if t.out.By == endpoint.NoEvidence {
		return "never called dry"
	}
	by := "by " + t.out.By.String()
	if t.out.By == endpoint.ByClock {
		by = "timed"
	}
	return fmt.Sprintf("upright line: called dry after %.1f min, %s", t.out.Seconds/60, by)
}

// times is the axis of all panels, min: the trace, with some of the dry disk before it.
func (t *traced) times() ruler {
	end := max(t.trace.Seconds(), 1) / 60
	dry := 0.0
	if n, _ := t.trace.Rows(); n > 0 {
		dry = min(beforeShown*end, -t.trace.Begins()/60)
	}
	return ruler{-dry, end, traceWest, traceEast}
}

// signalNames say what a kind shows: the name of the axis, and beside it.
var signalNames = map[endpoint.Evidence][2]string{
	endpoint.ByWeight:  {"heavier / g", "weighed: heavier than the dry disk"},
	endpoint.BySurface: {"colder / K", "surface: the jacket is colder than the air"},
	endpoint.ByAir:     {"colder / K", "air: it leaves colder than it comes"},
	endpoint.ByDrag:    {"braked / (1/s)", "drag: the hub stops sooner than with the dry disk"},
}

// signal draws what one kind of evidence showed.
func (t *traced) signal(s *traceSheet, of *endpoint.Signal, time ruler, top float64) {
	scale, name := 1.0, signalNames[of.Evidence]
	if of.Evidence == endpoint.ByWeight {
		scale = 1e3
	}
	if of.Damp {
		name = [2]string{"colder, moister / K", "air: it leaves colder and moister, as kelvins"}
	}
	var xs, ys []float64
	for i := 0; i < len(of.Values); i += len(of.Values)/mostPlotted + 1 {
		if at := of.Seconds[i] / 60; at >= time.from {
			xs, ys = append(xs, at), append(ys, of.Values[i]*scale)
		}
	}
	up := upright(ys, of.Zeroed, top, signalHigh)
	s.panel(time, up, 5, name[0], false)
	s.curve("seen", xs, ys, time, up)
	if of.Zeroed {
		s.line("zero", traceWest, up.at(0), traceEast, up.at(0))
	}
	s.words("quiet", traceWest, top-8, "start", name[1]+"; "+t.sightWords(of))
	t.upright(s, time, up)
}

// sightWords says in a few words what an evidence was good for.
func (t *traced) sightWords(of *endpoint.Signal) string {
	sight := t.plan.Sights[of.Evidence-1]
	switch {
	case !of.Zeroed:
		return "as measured, for the dry disk was not read"
	case of.Evidence == t.out.By:
		return "dry by this"
	case !sight.Visible:
		return "cannot tell the last 2 %"
	}
	return "sees the last 2 %, not needed"
}

// upright draws when it was called dry.
func (t *traced) upright(s *traceSheet, time, up ruler) {
	if t.out.By != endpoint.NoEvidence {
		x := time.at(t.out.Seconds / 60)
		s.line("dry", x, up.high, x, up.low)
	}
}

// upright is the axis of values, with some room.
func upright(values []float64, zero bool, top, high float64) ruler {
	least, most := math.Inf(1), math.Inf(-1)
	if zero {
		least, most = 0, 0
	}
	for _, v := range values {
		if !math.IsNaN(v) {
			least, most = min(least, v), max(most, v)
		}
	}
	if !(most > least) {
		least, most = min(least, most)-0.5, max(least, most)+0.5
	}
	if math.IsInf(least, 0) || math.IsInf(most, 0) {
		least, most = 0, 1
	}
	room := 0.08 * (most - least)
	return ruler{least - room, most + room, top + high, top}
}

// panel draws frame, grid, marks and the name of the upright axis.
func (s *traceSheet) panel(time, up ruler, most float64, name string, last bool) {
	up.marks(most, func(v float64, text string) {
		s.line("grid", traceWest, up.at(v), traceEast, up.at(v))
		s.words("", traceWest-10, up.at(v)+4.5, "end", text)
	})
	time.marks(9, func(v float64, text string) {
		s.line("grid", time.at(v), up.high, time.at(v), up.low)
		if last {
			s.words("", time.at(v), up.low+20, "middle", text)
		}
	})
	s.add(`<rect class="frame" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, traceWest, up.high, traceEast-traceWest, up.low-up.high)
	middle := (up.high + up.low) / 2
	s.add(`<text x="28" y="%.1f" text-anchor="middle" transform="rotate(-90 28 %.1f)">%s</text>`, middle, middle, html.EscapeString(name))
	if last {
		s.words("", (traceWest+traceEast)/2, up.low+42, "middle", "time of drying / min")
	}
}

// curve joins points; a gap in them is a gap in the curve, because nothing was measured there.
func (s *traceSheet) curve(class string, xs, ys []float64, across, up ruler) {
	if len(xs) > 0 {
		s.add(`<path class="%s" d="%s"/>`, class, path(xs, ys, across, up))
	}
}

// path is the way of a pen through points, lifted where a value is not a number.
func path(xs, ys []float64, across, up ruler) string {
	var d strings.Builder
	pen := "M"
	for i := range xs {
		if math.IsNaN(ys[i]) {
			pen = "M"
			continue
		}
		fmt.Fprintf(&d, "%s%.1f %.1f", pen, across.at(xs[i]), up.at(ys[i]))
		pen = "L"
	}
	return d.String()
}

// left draws the minutes that were thought to be left, and what they turned out to be.
func (t *traced) left(s *traceSheet, time ruler, top float64) {
	var xs, middle, low, high []float64
	for _, m := range thinned(t.out.Moments, mostPlotted/2) {
		if !m.Left.Never {
			xs, middle = append(xs, m.Seconds/60), append(middle, m.Left.Median)
			low, high = append(low, m.Left.Low), append(high, m.Left.High)
		}
	}
	up := upright(high, true, top, leftHigh)
	up.from = 0
	if len(xs) > 0 {
		back := strings.Builder{}
		for i := len(xs) - 1; i >= 0; i-- {
			fmt.Fprintf(&back, "L%.1f %.1f", time.at(xs[i]), up.at(low[i]))
		}
		s.add(`<path class="band" d="%s%sZ"/>`, path(xs, high, time, up), back.String())
	}
	s.panel(time, up, 6, "minutes left", true)
	if t.out.By != endpoint.NoEvidence {
		end := t.out.Seconds / 60
		s.line("was", time.at(0), up.at(end), time.at(end), up.at(0))
	}
	s.curve("guess", xs, middle, time, up)
	t.upright(s, time, up)
}

// legendOfTrace says what the lines mean.
func legendOfTrace(s *traceSheet, y float64, dry bool) {
	x := traceWest
	entry := func(draw func(x float64), text string) {
		draw(x)
		s.words("", x+34, y, "start", text)
		x += 34 + traceCharacter*float64(len([]rune(text))) + 14
	}
	stroke := func(class string) func(float64) {
		return func(x float64) { s.line(class, x, y-4.5, x+28, y-4.5) }
	}
	entry(stroke("seen"), "measured")
	entry(stroke("zero"), "dry disk")
	entry(stroke("guess"), "estimate")
	entry(func(x float64) { s.add(`<rect class="band" x="%.1f" y="%.1f" width="28" height="12"/>`, x, y-11) }, "in 8 of 10 cases")
	if dry {
		entry(stroke("was"), "until called dry")
	}
}
