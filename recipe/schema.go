package recipe

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"fullery/recipe/quantity"
	"fullery/recipe/tomltree"
)

// reader collects the problems and places of one file while its tables are read.
type reader struct {
	file     string
	problems Problems
	places   places
}

func (r *reader) add(at Place, warning bool, said, hint string) {
	if len(r.problems) >= tomltree.MaxProblems && (warning || len(r.problems.Errors()) > 0) {
		return
	}
	r.problems = append(r.problems, Problem{Place: at, Said: said, Hint: hint, Warning: warning})
}

// section is one table being read. It remembers which keys were asked for: those are the keys it knows, and what else
// is in the table is reported by done. A section without a node is a table that the file leaves out.
type section struct {
	*reader
	node   *tomltree.Node
	path   string // dotted; "" for the file itself
	known  []string
	judged []string // keys that are known not to belong here and were reported as such
}

func newReader(file string, root *tomltree.Node) (*reader, *section) {
	r := &reader{file: file, places: places{"": Place{File: file, Line: 1, Column: 1}}}
	return r, &section{reader: r, node: root}
}

// there tells whether the file has the table at all.
func (s *section) there() bool { return s.node != nil }

// called is how messages name the section.
func (s *section) called() string {
	if s.path == "" {
		return "the file"
	}
	if i := strings.LastIndexByte(s.path, '.'); strings.HasPrefix(s.path, "stage.") && i == len("stage") {
		return "this stage"
	}
	return "[" + s.path + "]"
}

// place is where a message about the section as a whole belongs.
func (s *section) place() Place { return s.at(s.path) }

func (s *section) at(path string) Place { return s.places.at(s.file, path) }

func (s *section) join(key string) string {
	if s.path == "" {
		return key
	}
	return s.path + "." + key
}

// wrong reports an error at a key's value, or at its table if the key is not there.
func (s *section) wrong(key, said, hint string) { s.add(s.at(s.join(key)), false, said, hint) }

// warn reports a warning at a key's value.
func (s *section) warn(key, said, hint string) { s.add(s.at(s.join(key)), true, said, hint) }

// get is the one way to a key: it keeps the list of known keys, and the places, complete without a second table that
// would have to be kept in step.
//
// It returns a key's value and marks the key as known.
func (s *section) get(key string) *tomltree.Node {
	if !slices.Contains(s.known, key) {
		s.known = append(s.known, key)
	}
	n := s.node.Get(key)
	if n != nil {
		s.places[s.join(key)] = n.Place
	}
	return n
}

// has tells whether the key is in the file, without reading it.
func (s *section) has(key string) bool { return s.get(key) != nil }

// missing reports that a key has to be there. It stands at the table, since the key has no place of its own.
func (s *section) missing(key, example string) {
	s.add(s.place(), false, fmt.Sprintf("%s has no %s", s.called(), key), fmt.Sprintf("add %s = %s", key, example))
}

// missingTable reports that a table has to be there.
func (s *section) missingTable(key, with string) {
	s.add(s.place(), false, fmt.Sprintf("%s has no [%s]", s.called(), key), fmt.Sprintf("add [%s] with %s", key, with))
}

// mistyped reports a value of the wrong kind.
func (s *section) mistyped(key string, n *tomltree.Node, want, example string) {
	is := n.Kind.String()
	if n.Kind == tomltree.Float {
		is = n.Text
	}
	s.add(n.Place, false, fmt.Sprintf("%s is %s, not %s", key, is, want),
		fmt.Sprintf("write %s = %s", key, example))
}

// topKeys are keys that people write below a table by mistake: in TOML a key belongs to the table above it.
var topKeys = []string{"title", "kind", "media", "liquid", "rinse", "repeat"}

// done reports the keys that nobody asked for, each with the known key that is most like it.
func (s *section) done() {
	if s.node == nil {
		return
	}
	for _, name := range s.node.Names {
		if slices.Contains(s.known, name) || slices.Contains(s.judged, name) {
			continue
		}
		hint := "known here: " + strings.Join(s.known, ", ")
		if near := tomltree.Nearest(name, s.known); near != "" {
			hint = "did you mean " + near + "?"
		} else if slices.Contains(topKeys, name) && s.path != "" {
			hint = name + " belongs at the top, before the first table"
		}
		s.add(s.node.Get(name).Key, false, fmt.Sprintf("%s has no key %s", s.called(), show(name)), hint)
	}
}

// show quotes a key that would not be plain in a sentence.
func show(name string) string {
	if name != "" && len(name) <= 40 && !strings.ContainsFunc(name, func(r rune) bool { return r <= ' ' || r > '~' }) {
		return name
	}
	return cut(name)
}

// cut quotes a text and shortens it if it is long.
func cut(text string) string {
	if r := []rune(text); len(r) > 40 {
		return strconv.Quote(string(r[:40]) + "…")
	}
	return strconv.Quote(text)
}

// refuse reports each of the keys that is there, as known but out of place.
func (s *section) refuse(keys []string, why, hint string) {
	for _, key := range keys {
		s.judged = append(s.judged, key)
		if n := s.node.Get(key); n != nil {
			s.add(n.Key, false, key+" "+why, hint)
		}
	}
}

// table opens a table within this one.
func (s *section) table(key string) *section {
	n := s.get(key)
	sub := &section{reader: s.reader, path: s.join(key)}
	switch {
	case n == nil:
	case n.Kind == tomltree.Table:
		sub.node = n
	default:
		s.add(n.Place, false, fmt.Sprintf("%s is %s, not a table", key, n.Kind), "write its keys below ["+s.join(key)+"]")
	}
	return sub
}

// text reads a text. ok is false when there is none to be used; a wrong one is reported.
func (s *section) text(key, example string) (value string, ok bool) {
	n := s.get(key)
	if n == nil {
		return "", false
	}
	if n.Kind != tomltree.Text {
		s.mistyped(key, n, "a text", strconv.Quote(example))
		return "", false
	}
	return n.Text, true
}

// oneOf reads a text that must be one of the choices.
func (s *section) oneOf(key string, choices ...string) (value string, ok bool) {
	value, ok = s.text(key, choices[0])
	if !ok || slices.Contains(choices, value) {
		return value, ok
	}
	hint := "write " + orList(choices)
	if near := tomltree.Nearest(value, choices); near != "" {
		hint = fmt.Sprintf("did you mean %q?", near)
	}
	s.wrong(key, fmt.Sprintf("%s cannot be %s", key, cut(value)), hint)
	return "", false
}

// orList writes choices as "a", "b" or "c".
func orList(choices []string) string {
	quoted := make([]string, len(choices))
	for i, c := range choices {
		quoted[i] = strconv.Quote(c)
	}
	if last := len(quoted) - 1; last > 0 {
		return strings.Join(quoted[:last], ", ") + " or " + quoted[last]
	}
	return strings.Join(quoted, "")
}

// flag reads true or false.
func (s *section) flag(key string, otherwise bool) bool {
	n := s.get(key)
	if n == nil {
		return otherwise
	}
	if n.Kind != tomltree.Boolean {
		s.mistyped(key, n, "true or false", "true")
		return otherwise
	}
	return n.Text == "true"
}

// whole reads a whole number without unit: a count or an offset.
func (s *section) whole(key string, least, most int64) (value int64, ok bool) {
	n := s.get(key)
	if n == nil {
		return 0, false
	}
	value, err := strconv.ParseInt(strings.ReplaceAll(n.Text, "_", ""), 0, 64)
	if n.Kind != tomltree.Integer || err != nil {
		s.mistyped(key, n, "a whole number", strconv.FormatInt(max(least, 1), 10))
		return 0, false
	}
	if value < least || value > most {
		s.add(n.Place, false, fmt.Sprintf("%s = %d is out of range", key, value), fmt.Sprintf("allowed is %d to %d", least, most))
		return 0, false
	}
	return value, true
}

// quantity reads a quantity and checks its range. ok is false when there is none to be used.
func (s *section) quantity(key string, r span) (value float64, ok bool) {
	n := s.get(key)
	if n == nil {
		return 0, false
	}
	return s.measure(key, n, r)
}

// measure reads one value as a quantity. A bare number is told apart from other wrong kinds, because it is the
// commonest slip and the answer to it is short.
func (s *section) measure(key string, n *tomltree.Node, r span) (value float64, ok bool) {
	switch n.Kind {
	case tomltree.Text:
	case tomltree.Integer, tomltree.Float:
		s.add(n.Place, false, fmt.Sprintf("%s = %s has no unit", key, n.Text),
			fmt.Sprintf("a unit is needed: write %q", n.Text+" "+r.dim.Usual()))
		return 0, false
	default:
		s.mistyped(key, n, r.dim.String(), strconv.Quote(r.example()))
		return 0, false
	}
	value, err := r.dim.Parse(n.Text)
	if f, bad := err.(quantity.Fault); bad {
		s.add(n.Place, false, f.Said, f.Hint)
		return 0, false
	}
	if value < r.least || value > r.most {
		s.add(n.Place, false, fmt.Sprintf("%s = %q is out of range", key, n.Text), "allowed is "+r.String())
		return 0, false
	}
	return value, true
}

// must reads a quantity that has to be there.
func (s *section) must(key string, r span) (value float64, ok bool) {
	if s.there() && !s.has(key) {
		s.missing(key, strconv.Quote(r.example()))
		return 0, false
	}
	return s.quantity(key, r)
}

// time reads a duration, rounded to a nanosecond.
func (s *section) time(key string, r span) (value time.Duration, ok bool) {
	seconds, ok := s.quantity(key, r)
	return toDuration(seconds), ok
}

// toDuration turns seconds into a Duration; what would not fit becomes the longest.
func toDuration(seconds float64) time.Duration {
	ns := math.Round(seconds * 1e9)
	if ns >= math.MaxInt64 {
		return math.MaxInt64
	}
	return time.Duration(ns)
}
