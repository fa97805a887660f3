package tomltree

import (
	"bytes"
	"regexp"
)

// The library also takes what TOML 1.1 added. A file that uses it would be refused by other readers of TOML 1.0, so it
// is refused here, with the older form as the hint.

// minuteOnly is a time without seconds, alone or at the end of a date.
var minuteOnly = regexp.MustCompile(`^([0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ])?[0-9]{2}:[0-9]{2}([Zz]|[-+][0-9]{2}:[0-9]{2})?$`)

// refuseNewer looks for TOML 1.1 in text that is known to be right TOML 1.1.
func (b *builder) refuseNewer(text []byte) {
	b.refuseMinutes(b.root)
	s := scanner{text: text}
	for s.at < len(text) {
		if said := s.next(); said != "" {
			b.add(s.at, "this is TOML 1.1: "+said, "these files are TOML 1.0")
			return
		}
	}
}

func (b *builder) refuseMinutes(n *Node) {
	if n.Kind == Date && minuteOnly.MatchString(n.Text) {
		b.problems = append(b.problems, Problem{Place: n.Place, Said: "this is TOML 1.1: a time without seconds",
			Hint: "these files are TOML 1.0"})
	}
	for _, name := range n.Names {
		b.refuseMinutes(n.values[name])
	}
	for _, item := range n.Items {
		b.refuseMinutes(item)
	}
}

// scanner goes through a document looking only at strings, comments and brackets.
type scanner struct {
	text  []byte
	at    int
	open  []byte // the brackets that are open
	comma bool   // the last thing read was a comma
}

// Because the text is known to be right, brackets are known to close and strings to end; the checks of bounds below are
// for the day when that is wrong.

// next reads one thing and says what is too new about it; then at is left standing there.
func (s *scanner) next() (said string) {
	c := s.text[s.at]
	inline := len(s.open) > 0 && s.open[len(s.open)-1] == '{'
	switch {
	case c == '"' || c == '\'':
		s.comma = false
		return s.skipString()
	case inline && (c == '\n' || c == '#'):
		return "an inline table over several lines"
	case inline && c == '}' && s.comma:
		return "a comma after the last key of an inline table"
	case c == '#':
		s.skipTo('\n')
		return ""
	case c == '{' || c == '[':
		s.open = append(s.open, c)
	case (c == '}' || c == ']') && len(s.open) > 0:
		s.open = s.open[:len(s.open)-1]
	}
	if c != ' ' && c != '\t' {
		s.comma = c == ','
	}
	s.at++
	return ""
}

func (s *scanner) skipTo(c byte) {
	if n := bytes.IndexByte(s.text[s.at:], c); n >= 0 {
		s.at += n
		return
	}
	s.at = len(s.text)
}

// skipString passes one string of any of the four forms, and looks at the escapes of the basic ones.
func (s *scanner) skipString() (said string) {
	quote := s.text[s.at : s.at+1]
	if three := bytes.Repeat(quote, 3); bytes.HasPrefix(s.text[s.at:], three) {
		quote = three
	}
	s.at += len(quote)
	for s.at < len(s.text) && !bytes.HasPrefix(s.text[s.at:], quote) {
		if quote[0] == '"' && s.text[s.at] == '\\' && s.at+1 < len(s.text) {
			if e := s.text[s.at+1]; e == 'e' || e == 'x' {
				return `the escape \` + string(e)
			}
			s.at++
		}
		s.at++
	}
	// Up to two quotes may stand right before the three that close.
	s.at = min(s.at+len(quote), len(s.text))
	for len(quote) == 3 && s.at < len(s.text) && s.text[s.at] == quote[0] {
		s.at++
	}
	return ""
}
