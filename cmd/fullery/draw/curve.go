package draw

import (
	"fmt"
	"math"
	"time"
)

// Point is one moment of a drying.
type Point struct {
	After  time.Duration // of drying
	Signal float64       // what the evidence shows: how much colder, or heavier, than dry
}

// Curve is how an evidence of wetness fades while a liner dries.
type Curve struct {
	Points   []Point
	Unit     string        // of Signal: "K" for what is colder, "mg" for what is heavier
	DryBelow float64       // what counts as dry; zero or NaN when nothing does
	Span     time.Duration // how long the drying was expected to take: the axis is at least so long
	End      Interval      // when it is expected to be dry, by what is known now
}

// Interval is a time with the span in which it lies in 8 of 10 cases; the zero value is none.
type Interval struct{ Low, Median, High time.Duration }

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
	return append(lines, c.timeAxis(end, w)...)
}

// words tells the curve where a picture has no room.
func (c Curve) words(width, height int) []Line {
	if width < 1 || height < 1 {
		return nil
	}
	for i := len(c.Points) - 1; i >= 0; i-- {
		if p := c.Points[i]; known(p.Signal) {
			return []Line{Say(OnTrack, fmt.Sprintf("%s %s %s after %.0f min", number(p.Signal), c.unit(),
				c.than(), p.After.Minutes())).Clip(width)}
		}
	}
	return []Line{Say(Quiet, "no curve yet").Clip(width)}
}

// top is the signal at the top of the plot: a round figure above all that is drawn, so that the picture rarely
// jumps.
func (c Curve) top() float64 {
	most := 1.0
	if c.DryBelow > 0 && !math.IsInf(c.DryBelow, 0) {
		most = max(most, 2*c.DryBelow)
	}
	for _, p := range c.Points {
		if known(p.Signal) {
			most = max(most, p.Signal)
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
	if c.End.Median > 0 {
		end = max(end, min(c.End.High, 2*end))
	}
	return end
}

func (c Curve) unit() string {
	if c.Unit == "" {
		return "K"
	}
	return c.Unit
}

// than is what more of the signal is.
func (c Curve) than() string {
	if c.unit() == "mg" {
		return "heavier"
	}
	return "colder"
}

// plot joins the points.
func (c Curve) plot(d *dots, top float64, end time.Duration) {
	joined := false
	var x0, y0 int
	for _, p := range c.Points {
		if !known(p.Signal) {
			joined = false // a gap in what was measured is a gap in the curve
			continue
		}
		// What is colder than the top or warmer than the air is drawn at the edge, not left out.
		x := int(max(float64(p.After)/float64(end), 0) * float64(d.w*2-1))
		y := int((1 - min(max(p.Signal/top, 0), 1)) * float64(d.h*4-1))
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

// figure is what stands left of a row: the top's and the bottom's signal, and the threshold.
func (c Curve) figure(y, h, dry int, top float64) string {
	switch {
	case y == dry:
		return margin(number(c.DryBelow)+" "+c.unit()) + "┤"
	case y == 0:
		return margin(fmt.Sprintf("%.0f %s", top, c.unit())) + "┤"
	default:
		return "       │"
	}
}

// margin sets a figure at the left of the plot, with a space after it where there is room for one.
func margin(figure string) string { return fmt.Sprintf("%7.7s", fmt.Sprintf("%6s ", figure)) }

// timeAxis draws a line with marks and their labels below it. Where the end is expected the line is thick.
func (c Curve) timeAxis(end time.Duration, w int) []Line {
	sc := newScale([]time.Duration{end}, []int{w - 1})
	unit, marks := sc.axis(w)
	cells := blank(w)
	fill(cells, 0, w, '─', Quiet)
	for _, m := range marks {
		cells[m.col].r = '┴'
	}
	if c.End.Median > 0 {
		at := func(d time.Duration) int { return min(int(float64(d)/float64(end)*float64(w-1)), w-1) }
		fill(cells, max(at(c.End.Low), 0), at(c.End.High)+1, '━', OnTrack)
		cells[max(at(c.End.Median), 0)] = cell{'╋', OnTrack}
	}
	short := map[string]string{"seconds": "s", "minutes": "min", "hours": "h"}[unit]
	return []Line{
		append(Say(Quiet, margin("0 "+c.unit())+"└"), row(cells)...),
		Say(Quiet, fmt.Sprintf("%7s ", short)+labels(marks, w)),
	}
}
