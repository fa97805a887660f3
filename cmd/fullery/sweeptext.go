package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"fullery/controller/sweep"
)

// The sweep as a person reads it: the table first, what it means below.

// found is what the finished results say together.
type found struct {
	all     []int // candidates that are finished, by number
	beaten  map[int]int
	front   []int // not beaten, in the order in which they are shown
	undone  []int // no draw of them completed
	swept   []sweep.Axis
	burns   bool // vapour counts
	warmed  bool // some of them warm the air
	cut     bool // a draw of a choice that is shown was cut short
	timed   bool // there the clock ended a drying
	nothing bool // of liquid is given
	rubs    bool
	cleans  bool // there is a scrub or a strength, which bear on how clean a disk gets
}

// found compares what is finished, and nothing else: of an interrupted sweep it is the front of what there is.
func (s *sweeping) found() found {
	f := found{beaten: map[int]int{}, burns: s.burns(), nothing: s.recipe.Dose() == 0,
		cleans: sweep.Scrub.Has(s.recipe) == nil || sweep.Strength.Has(s.recipe) == nil}
	var results []sweep.Result
	for i := range s.candidates {
		if s.done[i] {
			f.all, results = append(f.all, i), append(results, s.results[i])
		}
	}
	for k, by := range sweep.Front(results) {
		i := f.all[k]
		switch by {
		case sweep.NotBeaten:
			f.front = append(f.front, i)
		case sweep.NeverDone:
			f.undone = append(f.undone, i)
		default:
			f.beaten[i] = f.all[by]
		}
		f.warmed = f.warmed || results[k].Choice[sweep.Warm] > 0
		f.rubs = f.rubs || results[k].Figures.Slide > 0
		if x := results[k].Figures; i == 0 || by == sweep.NotBeaten {
			f.cut, f.timed = f.cut || x.CutShort > 0, f.timed || x.Unproven > 0
		}
	}
	f.swept = s.swept()
	// By what is the user's to choose, and within that by what most people look at first.
	slices.SortStableFunc(f.front, func(i, j int) int {
		a, b := s.results[i], s.results[j]
		return cmp.Or(cmp.Compare(a.Choice[sweep.Strength], b.Choice[sweep.Strength]), cmp.Compare(a.Choice[sweep.Scrub], b.Choice[sweep.Scrub]),
			cmp.Compare(a.Figures.Minutes.Median, b.Figures.Minutes.Median))
	})
	return f
}

// swept are the axes on which the candidates differ.
func (s *sweeping) swept() (list []sweep.Axis) {
	for a := range sweep.NumAxes {
		for _, c := range s.candidates {
			if c.Choice[a] != s.candidates[0].Choice[a] {
				list = append(list, a)
				break
			}
		}
	}
	return list
}

// burns tells whether anything that any candidate uses can burn.
func (s *sweeping) burns() bool {
	return slices.ContainsFunc(s.candidates, func(c sweep.Candidate) bool { return sweep.Burns(c.Recipe) })
}

// print is the answer for a person.
func (s *sweeping) print(w io.Writer) {
	f := s.found()
	fmt.Fprintf(w, "%s (%s) on bench %q\n", s.recipe.Title, s.recipe.Name, s.bench.Name)
	fmt.Fprintln(w, wrap(s.basis(), planWidth, "")+"\n")
	if s.finished < len(s.candidates) {
		fmt.Fprintf(w, "Interrupted: %d of %d choices are finished, and only they are compared.\n\n", s.finished, len(s.candidates))
	}
	if len(f.all) == 0 {
		return
	}
	s.printTable(w, f)
	fmt.Fprintln(w)
	for _, note := range s.notes(f) {
		fmt.Fprintln(w, wrap(note, planWidth, ""))
	}
	if s.drawn != "" {
		fmt.Fprintf(w, "The choices are drawn in %s.\n", s.drawn)
	}
}

// column is one column of the table.
type column struct {
	head string
	of   func(i int) string
}

// columns leaves out what would say the same in every row because it cannot be otherwise: warmth where nothing is warmed,
// vapour where nothing burns.
func (s *sweeping) columns(f found) []column {
	list := []column{{"no.", func(i int) string { return fmt.Sprint(i) }}}
	for _, a := range f.swept {
		list = append(list, column{a.String(), func(i int) string { return a.Say(s.results[i].Choice[a]) }})
	}
	shown := func(i int) sweep.Goals { return s.results[i].Figures.Shown() }
	list = append(list, column{"minutes", func(i int) string { return minutesCell(s.results[i].Figures) }})
	add := func(when bool, head string, of func(i int) string) {
		if when {
			list = append(list, column{head, of})
		}
	}
	add(!f.nothing, "mL", func(i int) string { return fmt.Sprintf("%.1f", shown(i).Liquid) })
	add(f.burns, "duct, %", func(i int) string { return fmt.Sprintf("%.0f", shown(i).Peak) })
	add(f.warmed, "warmest", func(i int) string { return fmt.Sprintf("%.0f °C", shown(i).Warmest) })
	add(f.rubs, "rubbing, m", func(i int) string { return short(shown(i).Slide) })
	of := fmt.Sprintf(" of %d", s.flags.draws)
	add(true, "damp", func(i int) string { return fmt.Sprint(s.results[i].Figures.Damp, of) })
	add(f.cut, "cut short", func(i int) string { return fmt.Sprint(s.results[i].Figures.CutShort, of) })
	return list
}

// short writes a figure as it is compared: whole, tenths below ten.
func short(x float64) string {
	switch {
	case math.IsInf(x, 0):
		return never
	case x < 9.95:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.0f", x)
}

// minutesCell is the median with its interval. A draw that was cut short counts as longer than any.
func minutesCell(f sweep.Figures) string {
	return fmt.Sprintf("%s (%s to %s)", short(f.Minutes.Median), short(f.Minutes.Low), short(f.Minutes.High))
}

// printTable prints the recipe as it is, for comparison whatever became of it, and then what nothing beats.
func (s *sweeping) printTable(w io.Writer, f found) {
	rows := f.front
	if s.done[0] {
		rows = append([]int{0}, slices.DeleteFunc(slices.Clone(f.front), func(i int) bool { return i == 0 })...)
	}
	columns := s.columns(f)
	lines := make([]string, len(rows)+1)
	for _, c := range columns {
		cells, wide := []string{c.head}, 0
		for _, i := range rows {
			cells = append(cells, c.of(i))
		}
		for _, text := range cells {
			wide = max(wide, utf8.RuneCountInString(text))
		}
		for k, text := range cells {
			lines[k] += strings.Repeat(" ", 2+wide-utf8.RuneCountInString(text)) + text
		}
	}
	for k := range rows {
		if rows[k] == 0 {
			lines[k+1] += "  the recipe as it is" + beatenWord(f, 0)
		}
	}
	fmt.Fprintln(w, strings.Join(lines, "\n"))
}

// beatenWord names what beats a choice that is shown all the same.
func beatenWord(f found, i int) string {
	if by, ok := f.beaten[i]; ok {
		return fmt.Sprintf("; %d beats it", by)
	}
	return ""
}
