package main

import (
	"cmp"
	"fmt"
	"html"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"fullery/controller/sweep"
)

// The choices of a sweep as a picture: time to the right, vapour upwards, or what else the choices differ by where
// nothing burns. What nothing beats is a filled blue disc with its number, the recipe as it is an orange diamond, the
// rest small and grey: told apart by shape and size as well as by colour.

const (
	plotWide, plotHigh = 760, 540
	plotEast, plotWest = 716, 84 // ends of the axes
	plotNorth          = 96
	plotSouth          = 440
)

const plotLook = `<style>
text{font-family:sans-serif;font-size:13px;fill:#33383d}
.head{font-size:16px;font-weight:bold}
.quiet{fill:#5c646b}
.page{fill:#f7f7f5}
.frame{fill:none;stroke:#8a9299}
.grid{stroke:#d9dbdd}
.to{stroke:#8a9299;stroke-width:0.8}
.rest{fill:none;stroke:#8a9299;stroke-width:1.2}
.front{fill:#1f6fb2;stroke:#f7f7f5;stroke-width:1.2}
.own{fill:#d9730d;stroke:#f7f7f5;stroke-width:1.2}
@media (prefers-color-scheme: dark){
text{fill:#dfe2e5}.quiet{fill:#a5adb4}.page{fill:#1d2023}.grid{stroke:#34393e}
.front{fill:#6db1ea;stroke:#1d2023}.own{fill:#f29a45;stroke:#1d2023}}
</style>
`

// plotted is one choice in the picture, in pixels.
type plotted struct {
	number int
	x, y   float64
	front  bool
}

// picture draws the finished choices as a file of its own. The same choices give the same bytes.
func (s *sweeping) picture() []byte {
	f := s.found()
	name, up := s.upwards(f)
	var minutes, heights []float64
	var drawn []int
	for _, i := range f.all {
		if m := s.results[i].Figures.Minutes.Median; !math.IsInf(m, 0) && !slices.Contains(f.undone, i) {
			drawn, minutes, heights = append(drawn, i), append(minutes, m), append(heights, up(s.results[i].Figures))
		}
	}
	across, along := rangeOf(minutes), rangeOf(heights)
	var points []plotted
	for k, i := range drawn {
		points = append(points, plotted{i, across.at(minutes[k], plotWest, plotEast), along.at(heights[k], plotSouth, plotNorth),
			slices.Contains(f.front, i)})
	}
	p := &strings.Builder{}
	s.page(p, f)
	across.marks(p, true)
	along.marks(p, false)
	fmt.Fprintf(p, `<rect class="frame" x="%d" y="%d" width="%d" height="%d"/>`+"\n", plotWest, plotNorth, plotEast-plotWest, plotSouth-plotNorth)
	label(p, "", (plotWest+plotEast)/2, plotSouth+44, "middle", "time of the cycle / min, median")
	fmt.Fprintf(p, `<text x="28" y="%d" text-anchor="middle" transform="rotate(-90 28 %[1]d)">%s</text>`+"\n", (plotNorth+plotSouth)/2,
		html.EscapeString(name))
	dots(p, points)
	legend(p)
	p.WriteString("</svg>\n")
	return []byte(p.String())
}

// upwards is what the picture shows beside the time.
func (s *sweeping) upwards(f found) (name string, of func(sweep.Figures) float64) {
	switch {
	case f.burns:
		return "most vapour in the duct / % of the lower flammable limit", func(x sweep.Figures) float64 { return x.Peak * 100 }
	case f.warmed:
		return "warmest air at the cartridge / °C", func(x sweep.Figures) float64 { return celsiusOf(x.Warmest) }
	default:
		return "rubbing / m that a pad slides", func(x sweep.Figures) float64 { return x.Slide }
	}
}

// page begins the file: its look, its title and what it is of.
func (s *sweeping) page(p *strings.Builder, f found) {
	title := printable(fmt.Sprintf("%s on bench %s", s.recipe.Title, s.bench.Name))
	fmt.Fprintf(p, `<svg xmlns="http://www.w3.org/2000/svg" width="%[1]d" height="%[2]d" viewBox="0 0 %[1]d %[2]d" role="img">`+"\n", plotWide, plotHigh)
	fmt.Fprintf(p, "<title>%s</title>\n%s", html.EscapeString(title), plotLook)
	fmt.Fprintf(p, `<rect class="page" width="%d" height="%d"/>`+"\n", plotWide, plotHigh)
	label(p, "head", plotWest, 34, "start", title)
	what := fmt.Sprintf("%s, %s each: nothing here was measured", choicesWord(len(f.all)), benchesWord(s.flags.draws))
	if s.finished < len(s.candidates) {
		what = fmt.Sprintf("interrupted: %d of %s, %s each", len(f.all), choicesWord(len(s.candidates)), benchesWord(s.flags.draws))
	}
	label(p, "quiet", plotWest, 58, "start", what)
}

// printable leaves out what a file of marks must not hold.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == utf8.RuneError || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, text)
}

// label writes a text whose baseline is at y.
func label(p *strings.Builder, class string, x, y float64, anchor, text string) {
	fmt.Fprintf(p, `<text class="%s" x="%.1f" y="%.1f" text-anchor="%s">%s</text>`+"\n", class, x, y, anchor, html.EscapeString(text))
}

// span1 is the range of an axis, with its marks at whole steps.
type span1 struct{ from, to, step float64 }

// rangeOf is a round range around values.
func rangeOf(values []float64) span1 {
	if len(values) == 0 {
		return span1{0, 1, 0.2}
	}
	low, high := slices.Min(values), slices.Max(values)
	wide := max(high-low, math.Abs(high)*0.05, 0.5)
	step := math.Pow(10, math.Floor(math.Log10(wide/6)))
	for _, k := range []float64{1, 2, 5, 10} {
		if wide/(k*step) <= 6 {
			step *= k
			break
		}
	}
	return span1{math.Floor((low-0.3*step)/step) * step, math.Ceil((high+0.3*step)/step) * step, step}
}

// at is where a value lies between two pixels.
func (a span1) at(v, low, high float64) float64 { return low + (v-a.from)/(a.to-a.from)*(high-low) }

// marks draws the grid with its figures.
func (a span1) marks(p *strings.Builder, across bool) {
	for k := range int(math.Round((a.to-a.from)/a.step)) + 1 {
		v := a.from + float64(k)*a.step
		text := fmt.Sprintf("%.*f", max(0, -int(math.Floor(math.Log10(a.step)+1e-9))), v+0)
		if across {
			x := a.at(v, plotWest, plotEast)
			fmt.Fprintf(p, `<line class="grid" x1="%[1]f" y1="%[2]d" x2="%[1]f" y2="%[3]d"/>`+"\n", x, plotNorth, plotSouth)
			label(p, "", x, plotSouth+20, "middle", text)
			continue
		}
		y := a.at(v, plotSouth, plotNorth)
		fmt.Fprintf(p, `<line class="grid" x1="%[1]d" y1="%[2]f" x2="%[3]d" y2="%[2]f"/>`+"\n", plotWest, y, plotEast)
		label(p, "", plotWest-10, y+4.5, "end", text)
	}
}

// dots draws the numbers with their lines, and over them the points, what is beaten first.
func dots(p *strings.Builder, points []plotted) {
	numbers(p, points)
	for _, at := range points {
		if !at.front && at.number != 0 {
			fmt.Fprintf(p, `<circle class="rest" cx="%.1f" cy="%.1f" r="3"/>`+"\n", at.x, at.y)
		}
	}
	for _, at := range points {
		if at.front && at.number != 0 {
			fmt.Fprintf(p, `<circle class="front" cx="%.1f" cy="%.1f" r="6"/>`+"\n", at.x, at.y)
		}
	}
	for _, at := range points {
		if at.number == 0 {
			diamond(p, at.x, at.y)
		}
	}
}

// diamond is the mark of the recipe as it is.
func diamond(p *strings.Builder, x, y float64) {
	fmt.Fprintf(p, `<path class="own" d="M%.1f %.1fl8 8l-8 8l-8 -8z"/>`+"\n", x, y-8)
}

// box is where a text stands.
type box struct{ x, y, wide, high float64 }

func (a box) meets(b box) bool {
	return a.x < b.x+b.wide && b.x < a.x+a.wide && a.y < b.y+b.high && b.y < a.y+a.high
}

// numbers writes the number of every marked point above or below it, where nothing stands yet, with a line to it.
func numbers(p *strings.Builder, points []plotted) {
	var taken []box
	var marked []plotted
	for _, at := range points {
		taken = append(taken, box{at.x - 4, at.y - 4, 8, 8})
		if at.front || at.number == 0 {
			taken, marked = append(taken, box{at.x - 8, at.y - 8, 16, 16}), append(marked, at)
		}
	}
	slices.SortFunc(marked, func(a, b plotted) int { return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.number, b.number)) })
	for _, at := range marked {
		text := fmt.Sprint(at.number)
		b := freeSpot(at, 8*float64(len(text)), taken)
		taken = append(taken, b)
		end := b.y + b.high
		if b.y > at.y {
			end = b.y
		}
		fmt.Fprintf(p, `<line class="to" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`+"\n", at.x, at.y, b.x+b.wide/2, end)
		label(p, "", b.x+b.wide/2, b.y+12, "middle", text)
	}
}

// freeSpot is the nearest place for a text, above first; right above where there is none.
func freeSpot(at plotted, wide float64, taken []box) box {
	const high, gap, levels = 15, 9, 8
	for level := range levels {
		off := float64(gap + level*(high+1))
		for _, y := range []float64{at.y - off - high, at.y + off} {
			b := box{at.x - wide/2, y, wide, high}
			if y > plotNorth && y+high < plotSouth && !slices.ContainsFunc(taken, b.meets) {
				return b
			}
		}
	}
	return box{at.x - wide/2, at.y - gap - high, wide, high}
}

// legend says what the marks mean.
func legend(p *strings.Builder) {
	const y = plotSouth + 76
	fmt.Fprintf(p, `<circle class="front" cx="%d" cy="%d" r="6"/>`+"\n", plotWest+8, y-4)
	label(p, "", plotWest+22, y, "start", "no other beats it (number as in the table)")
	diamond(p, plotWest+330, y-4)
	label(p, "", plotWest+344, y, "start", "the recipe as it is")
	fmt.Fprintf(p, `<circle class="rest" cx="%d" cy="%d" r="3"/>`+"\n", plotWest+492, y-4)
	label(p, "", plotWest+502, y, "start", "beaten")
}
