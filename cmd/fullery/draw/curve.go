package draw

import (
	"fmt"
	"math"
	"time"
)

// Point is one moment of a drying.
type Point struct {
	After      time.Duration // of drying
	Depression float64       // K, how much colder the jacket is than the air
}

// Curve is how a jacket's coolness fades while its liner dries.
type Curve struct {
	Points   []Point
	DryBelow float64       // K: what counts as dry; zero or NaN when nothing does
	Span     time.Duration // how long the drying was expected to take: the axis is at least so long
}

// dashes is the stroke of the threshold.
const dashes = '╌'

// The least plot that is worth drawing; below it the curve is told in words.
const (
	leastPlotWidth  = 12
	leastPlotHeight = 2
	curveMargin     = 8 // cells for the figures at the left
)

// Draw draws the curve in at most height lines, of which the last two are the time axis. When there is no room for
// a picture it gives one line of words, and nothing below that.
func (c Curve) Draw(width, height int) []Line {
	w, h := width-curveMargin, height-2
	if w < leastPlotWidth || h < leastPlotHeight {
		return c.words(width, height)
	}
	top, end := c.top(), c.end()
	dots := newDots(w, h)
	c.plot(dots, top, end)
	dry := -1
	if c.DryBelow > 0 && c.DryBelow < top {
		dry = min(int((1-c.DryBelow/top)*float64(h)), h-1)
	}
	var lines []Line
	for y := range h {
		cells := dots.row(y)
		if y == dry {
			threshold(cells)
		}
		lines = append(lines, append(Say(Quiet, c.figure(y, h, dry, top)), row(cells)...))
	}
	return append(lines, timeAxis(end, w)...)
}

// words tells the curve where a picture has no room.
func (c Curve) words(width, height int) []Line {
	if width < 1 || height < 1 {
		return nil
	}
	for i := len(c.Points) - 1; i >= 0; i-- {
		if p := c.Points[i]; known(p.Depression) {
			return []Line{Say(OnTrack, fmt.Sprintf("%s K colder after %.0f min", number(p.Depression),
				p.After.Minutes())).Clip(width)}
		}
	}
	return []Line{Say(Quiet, "no curve yet").Clip(width)}
}

// top is the depression at the top of the plot: a round figure above all that is drawn, so that the picture rarely
// jumps.
func (c Curve) top() float64 {
	most := 1.0
	if c.DryBelow > 0 && !math.IsInf(c.DryBelow, 0) {
		most = max(most, 2*c.DryBelow)
	}
	for _, p := range c.Points {
		if known(p.Depression) {
			most = max(most, p.Depression)
		}
	}
	// Whole figures only: a top that creeps with its curve would hide that the curve moves.
	for unit := 1.0; unit < 1e300; unit *= 10 {
		for _, round := range []float64{1, 2, 3, 4, 5, 6, 8} {
			if round*unit >= most {
				return round * unit
			}
		}
	}
	return most
}

// end is the length of the time axis.
func (c Curve) end() time.Duration {
	end := max(c.Span, time.Minute)
	for _, p := range c.Points {
		end = max(end, p.After)
	}
	return end
}

// plot joins the points.
func (c Curve) plot(d *dots, top float64, end time.Duration) {
	joined := false
	var x0, y0 int
	for _, p := range c.Points {
		if !known(p.Depression) {
			joined = false // a gap in what was measured is a gap in the curve
			continue
		}
		// What is colder than the top or warmer than the air is drawn at the edge, not left out.
		x := int(max(float64(p.After)/float64(end), 0) * float64(d.w*2-1))
		y := int((1 - min(max(p.Depression/top, 0), 1)) * float64(d.h*4-1))
		if joined {
			d.line(x0, y0, x, y)
		} else {
			d.set(x, y)
		}
		joined, x0, y0 = true, x, y
	}
}

// threshold draws the line below which the disk counts as dry through what is free of the curve.
func threshold(cells []cell) {
	for i := range cells {
		if cells[i].r == ' ' {
			cells[i] = cell{dashes, Quiet}
		}
	}
	const said = " dry below "
	at := len(cells) - len(said) - 2
	for i := range said {
		if at < 0 || cells[at+i].r != dashes {
			return
		}
	}
	for i, r := range said {
		cells[at+i].r = r
	}
}

// figure is what stands left of a row: the top's and the bottom's depression, and the threshold.
func (c Curve) figure(y, h, dry int, top float64) string {
	switch {
	case y == dry:
		return fmt.Sprintf("%6.6s ┤", number(c.DryBelow)+" K")
	case y == 0:
		return fmt.Sprintf("%6.6s ┤", fmt.Sprintf("%.0f K", top))
	default:
		return "       │"
	}
}

// timeAxis draws a line with marks and their labels below it.
func timeAxis(end time.Duration, w int) []Line {
	sc := newScale([]time.Duration{end}, []int{w - 1})
	unit, marks := sc.axis(w)
	cells := blank(w)
	fill(cells, 0, w, '─', Quiet)
	for _, m := range marks {
		cells[m.col].r = '┴'
	}
	short := map[string]string{"seconds": "s", "minutes": "min", "hours": "h"}[unit]
	return []Line{
		append(Say(Quiet, "   0 K └"), row(cells)...),
		Say(Quiet, fmt.Sprintf("%7s ", short)+labels(marks, w)),
	}
}
