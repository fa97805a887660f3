package draw

import (
	"slices"
	"strings"
	"time"
	"unicode"
)

// Stage is one stage of a ribbon as it was planned.
type Stage struct {
	Name    string
	Planned time.Duration
}

// Stretch is a length of time that really went by: the work of a stage, or the bench held in it.
type Stretch struct {
	Stage  int
	Length time.Duration
	Held   bool
}

// Ribbon is a cycle as lengths of time: what was planned above, what became of it below, on one time axis.
type Ribbon struct {
	Stages  []Stage
	Actual  []Stretch
	Running int // the stage that is under way; -1 when none is
}

// The strokes of a ribbon. Each says by its form what its tone says by its colour.
const (
	planned = '─'
	done    = '━'
	longer  = '╍'
	held    = '░'
	head    = '▸'
)

// cell is one cell of a row.
type cell struct {
	r rune
	t Tone
}

// Draw draws the ribbon: planned, actual, axis, and a legend for what the rows abbreviate. No line is wider than
// width.
func (r Ribbon) Draw(width int) []Line {
	if len(r.Stages) == 0 || width < 4 {
		return nil
	}
	top, low, gap := "planned  ", "actual   ", 9
	if width < 30 { // the words in front would take more than they tell
		top, low, gap = "", "", 0
	}
	room := width - gap
	sc, shared := r.scale(room)
	short := initials(r.Stages)
	plan := r.planRow(shared, room, short)
	actual, marks := r.actualRow(sc, room, short)
	unit, axis := sc.axis(room)
	if gap == 0 {
		unit = ""
	}
	lines := []Line{
		append(Say(Quiet, top), row(plan)...),
		append(Say(Quiet, low), row(actual)...),
		Say(Quiet, pad(unit, gap)+labels(axis, room)),
	}
	return append(lines, legend(r.Stages, shared, short, marks, width)...)
}

// scale lays the plan over the cells. When the cycle takes longer than planned, what is longer goes to its end.
func (r Ribbon) scale(room int) (scale, []int) {
	lengths := make([]time.Duration, 0, len(r.Stages)+1)
	var plan time.Duration
	for _, s := range r.Stages {
		lengths = append(lengths, s.Planned)
		plan = add(plan, s.Planned)
	}
	if end := r.expected(); end > plan {
		lengths = append(lengths, end-plan)
	}
	shared := share(lengths, room)
	return newScale(lengths, shared), shared[:len(r.Stages)]
}

// expected is when the cycle ends if all that is left goes as planned.
func (r Ribbon) expected() (end time.Duration) {
	spent := make(map[int]time.Duration)
	for _, a := range r.Actual {
		end = add(end, a.Length)
		if !a.Held {
			spent[a.Stage] = add(spent[a.Stage], a.Length)
		}
	}
	if r.Running < 0 {
		return end
	}
	for i := r.Running; i < len(r.Stages); i++ {
		end = add(end, max(r.Stages[i].Planned-spent[i], 0))
	}
	return end
}

// planRow draws the plan; the running stage is strong, what is behind it on track.
func (r Ribbon) planRow(shared []int, room int, short map[string]rune) []cell {
	cells := blank(room)
	at := 0
	for i, s := range r.Stages {
		tone := Quiet
		if i == r.Running {
			tone = Strong
		}
		fill(cells, at, at+shared[i], planned, tone)
		name(cells, at, at+shared[i], s.Name, short)
		at += shared[i]
	}
	return cells
}

// actualRow draws what became of the plan. Every stretch has a cell at least; what is longer than planned and what
// was held has a stroke of its own, and marks tells which of those there are.
func (r Ribbon) actualRow(sc scale, room int, short map[string]rune) (cells []cell, marks map[rune]bool) {
	cells, marks = blank(room), make(map[rune]bool)
	spent := make(map[int]time.Duration)
	var t time.Duration
	at, last := 0, -1
	for _, a := range r.Actual {
		if a.Stage < 0 || a.Stage >= len(r.Stages) {
			continue
		}
		// A stretch shorter than a cell pushes those behind it; the next one with cells to spare takes that up again.
		to := min(max(int(sc.column(add(t, a.Length))+0.5), at+1), room)
		if a.Held {
			fill(cells, at, to, held, Attention)
			marks[held] = true
		} else {
			fill(cells, at, to, done, OnTrack)
			// A few seconds of coming to speed are no overrun, whatever part of a short stage they are.
			if over := add(spent[a.Stage], a.Length) - r.Stages[a.Stage].Planned; over > r.Stages[a.Stage].Planned/10 && over > 5*time.Second {
				from := max(int(sc.column(add(t, a.Length-min(over, a.Length)))+0.5), at)
				fill(cells, from, to, longer, Attention)
				marks[longer] = marks[longer] || from < to
			}
			spent[a.Stage] = add(spent[a.Stage], a.Length)
		}
		if a.Stage != last {
			name(cells, at, to, r.Stages[a.Stage].Name, short)
		}
		t, at, last = add(t, a.Length), to, a.Stage
	}
	if r.Running >= 0 && room > 0 {
		cells[min(at, room-1)] = cell{head, Strong}
	}
	return cells, marks
}

// name writes a stage's name where its cells hold it, and its initial where not.
func name(row []cell, from, to int, text string, short map[string]rune) {
	if from >= to || from >= len(row) {
		return
	}
	letters := []rune(Clean(text))
	wide := slices.ContainsFunc(letters, func(r rune) bool { return cells(string(r)) != 1 })
	if len(letters) == 0 || wide || to-from <= len(letters) {
		letters = []rune{short[text]}
	}
	letters[0] = unicode.ToUpper(letters[0])
	for i, r := range letters {
		if from+i < len(row) {
			row[from+i].r = r
		}
	}
}

// initials gives every name a letter of its own: the first of its letters that no earlier name has taken.
func initials(stages []Stage) map[string]rune {
	out, taken := make(map[string]rune), make(map[rune]bool)
	for _, s := range stages {
		if _, known := out[s.Name]; known {
			continue
		}
		out[s.Name] = '?'
		for _, r := range strings.ToUpper(s.Name) + "ABCDEFGHIJKLMNOPQRSTUVWXYZ" {
			if r >= 'A' && r <= 'Z' && !taken[r] {
				out[s.Name], taken[r] = r, true
				break
			}
		}
	}
	return out
}

// legend explains the initials that stand in the plan, and the strokes that stand below it.
func legend(stages []Stage, shared []int, short map[string]rune, strokes map[rune]bool, width int) []Line {
	var words []string
	seen := make(map[string]bool)
	hidden := 0
	for i, s := range stages {
		if shared[i] == 0 {
			hidden++
		}
		if !seen[s.Name] && shared[i] <= len([]rune(s.Name)) {
			seen[s.Name] = true
			words = append(words, string(short[s.Name])+" "+strings.ToLower(s.Name))
		}
	}
	for _, stroke := range []struct {
		r    rune
		said string
	}{{longer, "longer than planned"}, {held, "held"}} {
		if strokes[stroke.r] {
			words = append(words, string(stroke.r)+" "+stroke.said)
		}
	}
	if hidden > 0 {
		words = append(words, "too narrow to show every stage")
	}
	return Phrases(Quiet, words, width)
}

// pad fills an ASCII text up with spaces.
func pad(text string, width int) string {
	return text + strings.Repeat(" ", max(width-len(text), 0))
}

// blank is n empty cells.
func blank(n int) []cell {
	cells := make([]cell, max(n, 0))
	for i := range cells {
		cells[i].r = ' '
	}
	return cells
}

// fill draws a stroke over the cells from one up to another, as far as there are such cells.
func fill(cells []cell, from, to int, r rune, t Tone) {
	for i := max(from, 0); i < min(to, len(cells)); i++ {
		cells[i] = cell{r, t}
	}
}

// row joins cells of the same tone into pieces.
func row(cells []cell) (line Line) {
	for _, c := range cells {
		if n := len(line); n > 0 && line[n-1].Tone == c.t {
			line[n-1].Text += string(c.r)
		} else {
			line = append(line, Span{Text: string(c.r), Tone: c.t})
		}
	}
	return line
}
