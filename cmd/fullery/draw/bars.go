package draw

import (
	"fmt"
	"math"
)

// Pads is what the two pads press with, against the window that each must keep. All in Pa; NaN where nothing is
// known.
type Pads struct {
	Front, Back float64
	Least, Most float64 // the window; zeros when there is none
	Balance     float64 // fraction of their mean by which they may differ; zero when that does not matter
}

// The strokes of the bars.
const (
	pressing = '■'
	nothing  = '·'
	middle   = '│'
	offScale = '»'
)

const (
	padsMargin   = len("front 00.00 kPa light ") // cells for the words at each side
	leastHalfBar = 6                             // cells of one bar; with less the pressures are told in words
	scaleOfMost  = 1.4                           // the bars' end, as a multiple of the window's end
)

// Draw draws the two pressures as bars that grow from a middle line, the front pad's to the left and the back pad's
// to the right, with the window in brackets and its figures below. Equal pads make an even picture. Where there is no
// room for that, words say the same.
func (p Pads) Draw(width int) []Line {
	front, back := p.label("front", p.Front), p.label("back", p.Back)
	half := (width - 2*padsMargin - 1) / 2
	if half < leastHalfBar || !p.windowed() {
		return Flow([]Line{front, back, Say(Quiet, p.window()), p.difference()}, width)
	}
	top := scaleOfMost * p.Most
	bars := append(mirrored(p.side(p.Front, top, half)), cell{middle, Quiet})
	bars = append(bars, p.side(p.Back, top, half)...)
	line := front.And(Usual, pad("", padsMargin-front.Width()))
	line = append(append(line, row(bars)...).And(Usual, " "), back...)
	figures := Say(Quiet, pad("", padsMargin)+p.figures(top, half))
	lines := []Line{line.Clip(width), figures.Clip(width)}
	if d := p.difference(); len(d) > 0 {
		lines = append(lines, d.Clip(width))
	}
	return lines
}

// windowed tells whether there is a window to draw against.
func (p Pads) windowed() bool { return p.Most > 0 && !math.IsInf(p.Most, 0) }

// verdict says where a pressure is against the window: "light", "heavy", or nothing when it is inside or unknown.
func (p Pads) verdict(x float64) string {
	switch {
	case x < p.Least:
		return "light"
	case x > p.Most && p.Most > 0:
		return "heavy"
	default:
		return ""
	}
}

// label is a pad's name and pressure, with a word when it is outside the window.
func (p Pads) label(name string, x float64) Line {
	if !known(x) {
		return Say(Attention, name+" not known")
	}
	l := Say(Usual, fmt.Sprintf("%s %s kPa", name, number(x/1000)))
	if v := p.verdict(x); v != "" {
		return l.And(Attention, " "+v)
	}
	return l
}

// window is the window in words, where it cannot be drawn.
func (p Pads) window() string {
	if !p.windowed() {
		return ""
	}
	return fmt.Sprintf("each %s to %s kPa", number(p.Least/1000), number(p.Most/1000))
}

// difference says by how much the pads differ, and how much that may be.
func (p Pads) difference() Line {
	mean := (p.Front + p.Back) / 2
	if !known(mean) || !(mean > 0) || !(p.Balance > 0) {
		return nil
	}
	share := math.Abs(p.Front-p.Back) / mean
	said := fmt.Sprintf("by %.0f %%; %.0f %% is allowed", share*100, p.Balance*100)
	if share > p.Balance {
		return Say(Attention, "uneven "+said)
	}
	return Say(Quiet, "they differ "+said)
}

// side draws one bar outwards from the middle.
func (p Pads) side(x, top float64, half int) []cell {
	cells := blank(half)
	fill(cells, 0, half, nothing, Quiet)
	if x > 0 {
		tone := OnTrack
		if p.verdict(x) != "" {
			tone = Attention
		}
		fill(cells, 0, max(place(x, top, half), 1), pressing, tone)
		if x > top {
			cells[half-1] = cell{offScale, tone}
		}
	}
	if at := place(p.Least, top, half); at > 0 && at < half {
		cells[at].r = '['
	}
	cells[min(place(p.Most, top, half), half-1)].r = ']'
	return cells
}

// mirrored turns a side round, brackets and arrows included.
func mirrored(cells []cell) []cell {
	turned := map[rune]rune{'[': ']', ']': '[', offScale: '«'}
	out := make([]cell, len(cells))
	for i, c := range cells {
		if r, ok := turned[c.r]; ok {
			c.r = r
		}
		out[len(out)-1-i] = c
	}
	return out
}

// figures writes the window's pressures under its brackets on both sides of the middle, or in words where the
// brackets are too close for that.
func (p Pads) figures(top float64, half int) string {
	least, most := number(p.Least/1000), number(p.Most/1000)
	l, m := place(p.Least, top, half), min(place(p.Most, top, half), half-1)
	if m-l <= len(least)+1 || l <= len(least)+1 {
		said := p.window()
		return pad("", half-len(said)/2) + said
	}
	marks := []mark{
		{half - 1 - m, most}, {half - 1 - l, least}, {half, "0"}, {half + 1 + l, least}, {half + 1 + m, most + " kPa"},
	}
	return labels(marks, half+1+m+len(most)+len(" kPa"))
}

// place is the cell of a pressure, counted from the middle.
func place(x, top float64, half int) int {
	part := x / top
	if !(part > 0) { // below nothing, or not a number
		return 0
	}
	return int(math.Min(part, 1)*float64(half) + 0.5)
}

// known tells whether a number is one.
func known(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// number writes a number for a person in at most five characters, as far as its size allows.
func number(x float64) string {
	switch a := math.Abs(x); {
	case !known(x):
		return "?"
	case a >= 1e5:
		return fmt.Sprintf("%.0e", x)
	case a >= 100:
		return fmt.Sprintf("%.0f", x)
	case a >= 10:
		return fmt.Sprintf("%.1f", x)
	default:
		return fmt.Sprintf("%.2f", x)
	}
}
