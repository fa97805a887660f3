package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/disks/compare"
)

// A comparison as a person reads it: first what can and what cannot be said, then the figures, then all of it in words.

// mostTold is how many pairs the answer goes through one by one; more would bury it.
const mostTold = 3

// mostUseful is the number of disks a method beyond which a number says no more than that it is hopeless.
const mostUseful = 1000

// nameWide is the room for a name in a table; a longer one is cut there, and whole in the words.
const nameWide = 24

// print is the answer for a person.
func (k *compared) print(w io.Writer) {
	fmt.Fprintf(w, "%s: %s, %s\n\n", k.name, howMany(len(k.rows), "disk"), howMany(len(k.result.Methods), "method"))
	for _, sentence := range k.answer() {
		fmt.Fprintln(w, wrap(draw.Clean(sentence), planWidth, ""))
	}
	fmt.Fprint(w, "\nMissing sectors a disk, by method; a change below zero is better:\n\n")
	printFigures(w, 1, k.methodRows())
	if len(k.result.Pairs) > 0 {
		fmt.Fprint(w, "\nBetween methods, at equal start; a difference below zero: the first left fewer missing:\n\n")
		printFigures(w, 2, k.pairRows())
	}
	fmt.Fprint(w, "\nIn words:\n\n")
	for _, sentence := range k.result.Words {
		fmt.Fprintln(w, asPoint(draw.Clean(sentence)))
	}
	if k.drawn != "" {
		fmt.Fprintf(w, "\nThe slopes are drawn in %s.\n", draw.Clean(k.drawn))
	}
}

// asPoint is a sentence as one point of a list.
func asPoint(text string) string {
	return "- " + strings.TrimPrefix(wrap(text, planWidth, "  "), "  ")
}

// howMany says how many of something there are.
func howMany(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// answer says what a person wants to know first: whether one may choose by these disks, and how many disks could tell.
func (k *compared) answer() (sentences []string) {
	if len(k.result.Pairs) == 0 {
		return []string{k.changed(k.result.Methods[0])}
	}
	var open []compare.Pair
	for _, p := range k.result.Pairs {
		if p.Better == "" {
			open = append(open, p)
			continue
		}
		worse := p.A
		if p.Better == p.A {
			worse = p.B
		}
		sentences = append(sentences, fmt.Sprintf("Shown: %s left fewer sectors missing than %s, by about %s a disk at equal start.%s",
			p.Better, worse, sectorsWord(math.Abs(*p.Difference)), k.price(p.Better, worse)))
	}
	switch {
	case len(sentences) > 0:
		sentences = append(sentences, "That holds if chance dealt the disks, and for disks like these.")
	case len(open) > 1:
		sentences = append(sentences, "No method is shown to be better than another.")
	}
	for i, p := range open {
		if i == mostTold {
			return append(sentences, fmt.Sprintf("Nor is anything shown between %s more; the table has them.",
				howMany(len(open)-i, "pair")))
		}
		sentences = append(sentences, k.undecided(p))
	}
	return sentences
}

// price says where the better method newly lost more than the other: what is gone may matter more than what came back.
func (k *compared) price(better, worse string) string {
	lost := func(name string) (perDisk float64, known bool) {
		for _, m := range k.result.Methods {
			if m.Name == name && m.Counted > 0 {
				return float64(*m.NewlyLost) / float64(m.Counted), true
			}
		}
		return 0, false
	}
	a, known := lost(better)
	b, alsoKnown := lost(worse)
	if !known || !alsoKnown || a <= b {
		return ""
	}
	return fmt.Sprintf(" Of what could be read before it lost more on these disks: %s sectors a disk, %s %s.", sectorsWord(a), worse, sectorsWord(b))
}

// changed is the answer for one method alone.
func (k *compared) changed(m compare.Method) string {
	s := fmt.Sprintf("%s: no change is shown.", m.Name)
	switch {
	case m.SmallestP > 1-compare.Level:
		s = fmt.Sprintf("%s: %s cannot show a change, whatever the cleaning did; it takes six at least.", m.Name, howMany(m.N, "disk"))
	case m.P <= 1-compare.Level && m.Net > 0:
		s = fmt.Sprintf("Shown: after %s fewer sectors are missing, by about %s a disk.", m.Name, sectorsWord(-m.Shift))
	case m.P <= 1-compare.Level && m.Net < 0:
		s = fmt.Sprintf("Shown: after %s more sectors are missing, by about %s a disk.", m.Name, sectorsWord(m.Shift))
	}
	if n := k.result.NeededPerGroup; n != nil && m.P > 1-compare.Level && *n > m.N && *n <= mostUseful {
		s += fmt.Sprintf(" About %s could show one %s.", howMany(*n, "disk"), k.wanted())
	}
	return s + " There is no other method to compare it with."
}

// wanted is the difference that the number of disks is about.
func (k *compared) wanted() string {
	if k.asked > 0 {
		return fmt.Sprintf("of %s sectors a disk", sectorsWord(k.asked))
	}
	return "as large as was seen, if it is true"
}

// undecided says why a pair cannot be chosen between, and what could decide.
func (k *compared) undecided(p compare.Pair) string {
	names, alpha := p.A+" and "+p.B, 1-compare.Level
	if p.Difference == nil {
		return fmt.Sprintf("Nothing can be said between %s: no disks were dealt between them (no block holds both).", names)
	}
	s := fmt.Sprintf("These %d disks cannot choose between %s", p.Disks[0]+p.Disks[1], names)
	switch {
	case p.SmallestP > alpha:
		s += ": they are too few to show anything, whatever came out."
	case p.StartP <= alpha:
		s += ": they did not start alike, and what the start did cannot be told from what the method did."
	default:
		s += fmt.Sprintf(": no difference is shown (p %s), which does not show that they are equal.", probabilityWord(p.Adjusted))
	}
	return s + k.needed(p)
}

// needed says how many disks could decide a pair.
func (k *compared) needed(p compare.Pair) string {
	switch fewer := min(p.Disks[0], p.Disks[1]); {
	case p.Needed == nil && p.Detectable == nil:
		return " How many disks could, they do not tell."
	case p.Needed == nil:
		return ""
	case *p.Needed > mostUseful:
		return fmt.Sprintf(" Not even %d disks a method could show a difference %s.", mostUseful, k.wanted())
	case *p.Needed > fewer:
		return fmt.Sprintf(" About %s a method could show a difference %s.", howMany(*p.Needed, "disk"), k.wanted())
	case p.SmallestP > 1-compare.Level:
		return fmt.Sprintf(" About %s a method could show a difference %s, dealt in larger blocks.", howMany(*p.Needed, "disk"), k.wanted())
	}
	return fmt.Sprintf(" As many would show a difference %s in four of five such trials.", k.wanted())
}

// methodRows are the figures of the methods, with their heads.
func (k *compared) methodRows() [][]string {
	rows := [][]string{{"method", "disks", "before", "after", "change (95 %)", "p", "better", "worse", "regained", "newly lost"}}
	for _, m := range k.result.Methods {
		rows = append(rows, []string{m.Name, fmt.Sprint(m.N), sectorsWord(m.Before), sectorsWord(m.After), withInterval(&m.Shift, m.Interval),
			drawnWord(m.P, m.Exact), fmt.Sprint(m.Better), fmt.Sprint(m.Worse), knownWord(m.Regained), knownWord(m.NewlyLost)})
	}
	return rows
}

// pairRows are the figures of the pairs, with their heads. What a p becomes for all pairs is told where there are several.
func (k *compared) pairRows() [][]string {
	rows := [][]string{{"first", "second", "disks", "difference (95 %)", "p", "p, all pairs", "shows from", "disks to show it"}}
	if k.asked > 0 {
		rows[0][7] = fmt.Sprintf("disks to show %s", sectorsWord(k.asked))
	}
	for _, p := range k.result.Pairs {
		if p.Difference == nil {
			rows = append(rows, []string{p.A, p.B, "0 + 0", "–", "–", "–", "–", "–"})
			continue
		}
		from := "–"
		if p.Detectable != nil {
			from = sectorsWord(*p.Detectable)
		}
		rows = append(rows, []string{p.A, p.B, fmt.Sprintf("%d + %d", p.Disks[0], p.Disks[1]), withInterval(p.Difference, p.Interval),
			drawnWord(p.P, p.Exact), probabilityWord(p.Adjusted), from, knownWord(p.Needed)})
	}
	if len(k.result.Pairs) == 1 {
		for i, row := range rows {
			rows[i] = slices.Delete(row, 5, 6)
		}
	}
	return rows
}

// withInterval writes an estimate and its interval, if it has one.
func withInterval(x *float64, interval *[2]float64) string {
	s := sectorsWord(*x)
	if interval != nil {
		s += fmt.Sprintf(" (%s to %s)", sectorsWord(interval[0]), sectorsWord(interval[1]))
	}
	return s
}

// knownWord writes a number that may not be known.
func knownWord(n *int) string {
	if n == nil {
		return "–"
	}
	return strconv.Itoa(*n)
}

// sectorsWord writes a number of sectors, with a tenth where there is one.
func sectorsWord(x float64) string { return strconv.FormatFloat(roundTo(x, 0.1), 'f', -1, 64) }

// probabilityWord writes a p, cut where smaller ones mean nothing.
func probabilityWord(p float64) string {
	if p < 0.0001 {
		return "< 0.0001"
	}
	return strconv.FormatFloat(p, 'g', 3, 64)
}

// drawnWord marks a p that was drawn and not counted.
func drawnWord(p float64, exact bool) string {
	if exact {
		return probabilityWord(p)
	}
	return "about " + probabilityWord(p)
}

// printFigures prints rows under their heads, two blanks between columns; so many columns stand to the left, and hold names.
func printFigures(w io.Writer, names int, rows [][]string) {
	lines := make([]strings.Builder, len(rows))
	for column := range rows[0] {
		cells, wide := make([]draw.Line, len(rows)), 0
		for i, row := range rows {
			cells[i] = draw.Say(draw.Usual, row[column])
			if column < names {
				cells[i] = cells[i].Clip(nameWide)
			}
			wide = max(wide, cells[i].Width())
		}
		for i, cell := range cells {
			blanks := strings.Repeat(" ", wide-cell.Width())
			if column < names {
				lines[i].WriteString("  " + cell.String() + blanks)
			} else {
				lines[i].WriteString("  " + blanks + cell.String())
			}
		}
	}
	for i := range lines {
		fmt.Fprintln(w, strings.TrimRight(lines[i].String(), " "))
	}
}
