// Package draw makes pictures of a cycle out of text: lines of pieces, each with a tone. It is pure: the same values
// give the same lines. The tones become colour only in a layer on top (ANSI here), so that the same drawing serves a
// terminal, a log and a page.
package draw

import (
	"strings"
	"unicode"

	"github.com/charmbracelet/x/ansi"
)

// Tone is what a piece of a drawing means. No tone carries anything that the text does not.
type Tone uint8

// The tones. On a screen OnTrack is blue and Attention orange, a pair that colour-blind people tell apart.
const (
	Usual     Tone = iota
	OnTrack        // as planned; cool
	Attention      // a person should look; warm
	Quiet          // axes, labels, what is still to come
	Strong         // what matters most now
)

// Span is a piece of a line in one tone.
type Span struct {
	Text string
	Tone Tone
}

// Line is one line of a drawing.
type Line []Span

// Say returns a line of one piece. Text from a file or a person is cleaned of everything that would move a cursor.
func Say(tone Tone, text string) Line { return Line{{Text: Clean(text), Tone: tone}} }

// And returns the line with one more piece.
func (l Line) And(tone Tone, text string) Line { return append(l, Span{Text: Clean(text), Tone: tone}) }

// String returns the line without its tones.
func (l Line) String() string {
	var b strings.Builder
	for _, s := range l {
		b.WriteString(s.Text)
	}
	return b.String()
}

// Width returns how many cells the line takes.
func (l Line) Width() int {
	n := 0
	for _, s := range l {
		n += cells(s.Text)
	}
	return n
}

// Clip returns the line cut to a width, with an ellipsis where something was cut off. A width below one gives an
// empty line.
func (l Line) Clip(width int) Line {
	if l.Width() <= width {
		return l
	}
	if width < 1 {
		return nil
	}
	var out Line
	left := width - 1
	for _, s := range l {
		n := cells(s.Text)
		if n > left {
			cut := ansi.Truncate(s.Text, left, "")
			return append(out, Span{Text: cut + "…", Tone: s.Tone})
		}
		out, left = append(out, s), left-n
	}
	return out
}

// Text joins lines without their tones. Spaces at the ends of lines are left out.
func Text(lines []Line) string {
	var b strings.Builder
	for _, l := range lines {
		b.WriteString(strings.TrimRight(l.String(), " "))
		b.WriteByte('\n')
	}
	return b.String()
}

// Clean replaces what would move a cursor, ring, turn the writing round or take no cell: a title is somebody's text
// and must not paint the screen.
func Clean(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r':
			return ' '
		case unicode.IsControl(r), unicode.In(r, unicode.Cf, unicode.Co, unicode.Zl, unicode.Zp):
			return -1
		default:
			return r
		}
	}, strings.ToValidUTF8(text, "�"))
}

// Wrap breaks a sentence at its spaces into lines of at most width cells; all but the first start with indent
// spaces. A word longer than a line is cut. A width below one gives nothing.
func Wrap(tone Tone, text string, width, indent int) []Line {
	if width < 1 {
		return nil
	}
	indent = max(min(indent, width/2), 0)
	var lines []Line
	row, used := "", 0
	flush := func() {
		lines = append(lines, Line{{Text: row, Tone: tone}})
		row, used = strings.Repeat(" ", indent), indent
	}
	for _, word := range strings.Fields(Clean(text)) {
		// Each turn sets the word, or ends a line before it, or cuts off what fits.
		for n := cells(word); ; n = cells(word) {
			gap := 0
			if strings.TrimSpace(row) != "" {
				gap = 1
			}
			if used+gap+n <= width {
				row, used = row+strings.Repeat(" ", gap)+word, used+gap+n
				break
			}
			if gap > 0 {
				flush()
				continue
			}
			head := ansi.Truncate(word, width-used, "")
			if head == "" { // one cell, and a character that takes two
				break
			}
			row += head
			word = word[len(head):]
			flush()
		}
	}
	if strings.TrimSpace(row) != "" {
		flush()
	}
	return lines
}

// cells returns how many cells a text takes on a screen.
func cells(text string) int { return ansi.StringWidth(text) }

// Phrases sets short phrases beside each other, two spaces apart and never broken, on as few lines as they need.
func Phrases(tone Tone, phrases []string, width int) []Line {
	lines := make([]Line, len(phrases))
	for i, p := range phrases {
		lines[i] = Say(tone, p)
	}
	return Flow(lines, width)
}

// Flow is Phrases for phrases with tones of their own. One that is wider than the width is clipped.
func Flow(phrases []Line, width int) (lines []Line) {
	if width < 1 {
		return nil
	}
	used := 0
	for _, p := range phrases {
		n := p.Width()
		if n == 0 {
			continue
		}
		if len(lines) > 0 && used+2+n <= width {
			last := len(lines) - 1
			lines[last] = append(append(lines[last], Span{Text: "  "}), p...)
			used += 2 + n
			continue
		}
		lines = append(lines, append(Line(nil), p.Clip(width)...))
		used = n
	}
	return lines
}
