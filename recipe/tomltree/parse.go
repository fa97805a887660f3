package tomltree

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// Parse reads a document. Without problems root is its table; with problems it is nil, since a tree with holes would
// raise complaints about things that are not wrong. Where the syntax ends the reading, that problem comes alone.
func Parse(file string, data []byte) (root *Node, problems Problems) {
	text, p, ok := decode(file, data)
	if !ok {
		return nil, Problems{p}
	}
	b := builder{lines: newLineIndex(file, text), root: &Node{Place: Place{file, 1, 1}, Key: Place{file, 1, 1}}}
	b.read(text)
	if len(b.problems) == 0 {
		b.judge(text)
	}
	if len(b.problems) == 0 {
		b.refuseNewer(text)
	}
	if len(b.problems) > 0 {
		return nil, b.problems.Sorted()
	}
	return b.root, nil
}

// builder makes the tree from the library's syntax tree, which knows the offset of every key and value.
type builder struct {
	lines    *lineIndex
	parser   unstable.Parser
	root     *Node
	problems Problems
}

// MaxProblems is how many problems of one file are told. Whoever has more than these mends them first.
const MaxProblems = 100

func (b *builder) add(offset int, said, hint string) {
	if len(b.problems) >= MaxProblems {
		return
	}
	b.problems = append(b.problems, Problem{Place: b.lines.place(offset), Said: said, Hint: hint})
}

// read walks all expressions of the document.
func (b *builder) read(text []byte) {
	b.parser.Reset(text)
	table := b.root
	for b.parser.NextExpression() {
		e := b.parser.Expression()
		if b.tooDeep(e) {
			return
		}
		switch e.Kind {
		case unstable.Table:
			table = b.header(e, false)
		case unstable.ArrayTable:
			table = b.header(e, true)
		case unstable.KeyValue:
			b.keyValue(table, e)
		}
	}
	b.syntax(text, b.parser.Error())
}

// deepest is how many parts a dotted key may have. Nothing here needs more than three, and a tree of unbounded depth
// could outgrow the memory of a small computer.
const deepest = 64

func (b *builder) tooDeep(e *unstable.Node) bool {
	parts, keys := 0, e.Key()
	for keys.Next() {
		if parts++; parts > deepest {
			b.add(int(keys.Node().Raw.Offset), fmt.Sprintf("this key has more than %d parts", deepest), "")
			return true
		}
	}
	return false
}

// syntax tells an error that stopped the parser.
func (b *builder) syntax(text []byte, err error) {
	if err == nil {
		return
	}
	offset := len(text)
	var stopped *unstable.ParserError
	if errors.As(err, &stopped) && len(stopped.Highlight) > 0 {
		offset = int(b.parser.Range(stopped.Highlight).Offset)
	}
	said := plain(err)
	if r, size := utf8.DecodeRune(text[offset:]); size > 1 {
		said = wrongLetter.ReplaceAllString(said, fmt.Sprintf("%#U", r)) // the library names the first byte only
	}
	b.add(offset, "this is not TOML: "+said, hintAt(text, offset))
}

// header finds or makes the table that a [header] or a [[header]] opens.
func (b *builder) header(e *unstable.Node, array bool) *Node {
	at, keys := b.root, e.Key()
	start := b.lines.place(b.bracket(int(e.Child().Raw.Offset), array))
	for keys.Next() {
		name, key := string(keys.Node().Data), b.lines.place(int(keys.Node().Raw.Offset))
		if array && keys.IsLast() {
			list := at.put(name, &Node{Kind: List, Place: start, Key: key})
			item := &Node{Place: start, Key: key}
			list.Items = append(list.Items, item)
			return item
		}
		at = at.put(name, &Node{Place: start, Key: key})
		if n := len(at.Items); at.Kind == List && n > 0 {
			at = at.Items[n-1] // [stage.x] after [[stage]] belongs to the last stage
		}
	}
	return at
}

// bracket returns the offset at which the header begins whose first key stands at offset.
func (b *builder) bracket(offset int, array bool) int {
	open := []byte("[")
	at := bytes.LastIndex(b.lines.text[:offset], open)
	if array && at > 0 {
		at = bytes.LastIndex(b.lines.text[:at], open)
	}
	return max(at, 0)
}

// Keys are visited before values, so that places are asked for in the order of the file.

// keyValue adds one key = value, whose key may be dotted, to a table.
func (b *builder) keyValue(table *Node, e *unstable.Node) {
	keys := e.Key()
	for keys.Next() {
		key := keys.Node()
		name, offset := string(key.Data), int(key.Raw.Offset)
		place := b.lines.place(offset)
		if !keys.IsLast() {
			table = table.put(name, &Node{Place: place, Key: place})
			continue
		}
		if old := table.Get(name); old != nil {
			b.add(offset, fmt.Sprintf("the key %s is given twice", name), "the first is at "+old.Key.String())
			return
		}
		value := b.value(e.Value(), place)
		value.Key = place
		table.put(name, value)
	}
}

// valueKinds says what the library's kinds are to us.
var valueKinds = map[unstable.Kind]Kind{
	unstable.String: Text, unstable.Integer: Integer, unstable.Float: Float, unstable.Bool: Boolean,
	unstable.LocalDate: Date, unstable.LocalTime: Date, unstable.LocalDateTime: Date, unstable.DateTime: Date,
	unstable.Array: List, unstable.InlineTable: Table,
}

// value makes the node of a value. A list has no place of its own in the syntax tree: its key's serves.
func (b *builder) value(v *unstable.Node, key Place) *Node {
	n := &Node{Kind: valueKinds[v.Kind], Place: key, Key: key}
	if v.Raw.Length > 0 {
		n.Place = b.lines.place(int(v.Raw.Offset))
	}
	switch v.Kind {
	case unstable.Array:
		for items := v.Children(); items.Next(); {
			n.Items = append(n.Items, b.value(items.Node(), n.Place))
		}
	case unstable.InlineTable:
		for items := v.Children(); items.Next(); {
			b.keyValue(n, items.Node())
		}
	default:
		n.Text = string(v.Data)
	}
	return n
}

// judge lets the library's decoder decide what the tree alone does not show: tables opened twice, impossible dates,
// numbers out of range.
func (b *builder) judge(text []byte) {
	var all map[string]any
	err := toml.Unmarshal(text, &all)
	if err == nil {
		return
	}
	offset, hint := 0, ""
	var refused *toml.DecodeError
	if errors.As(err, &refused) {
		offset = b.lines.offset(refused.Position())
		if first := b.find(refused.Key()); first != nil && (strings.Contains(err.Error(), "already") ||
			strings.Contains(err.Error(), "should be a table")) {
			if place := b.lines.place(offset); first.Key != place {
				hint = "the first is at " + first.Key.String()
			}
		}
	}
	b.add(offset, "this is not TOML: "+plain(err), hint)
}

// A path may lead through a list of tables, which find does not enter: the first place is then the list's, near enough.

// find returns the node that a path of keys leads to, as far as there is one.
func (b *builder) find(path []string) *Node {
	at := b.root
	for _, name := range path {
		next := at.Get(name)
		if next == nil {
			break
		}
		at = next
	}
	if at == b.root {
		return nil
	}
	return at
}

// plain takes the library's own prefix off an error.
func plain(err error) string { return strings.TrimPrefix(err.Error(), "toml: ") }

var (
	wrongLetter  = regexp.MustCompile(`U\+00[0-9A-F]{2} '.+'`)
	bareComma    = regexp.MustCompile(`[0-9]$`)
	bareQuantity = regexp.MustCompile(`=\s*([-+]?[0-9][0-9.]*)\s*$`)
)

// hintAt looks at one line only: a person who leaves out quotes or types a comma does it within the line where the
// parser gives up.
//
// It guesses from the line what a person meant who wrote something that is not TOML.
func hintAt(text []byte, offset int) string {
	start := strings.LastIndexByte(string(text[:offset]), '\n') + 1
	before, after := string(text[start:offset]), string(text[offset:])
	if end := strings.IndexAny(after, "\r\n#"); end >= 0 {
		after = after[:end]
	}
	after = strings.TrimSpace(after)
	m := bareQuantity.FindStringSubmatch(before)
	switch {
	case strings.HasPrefix(after, ",") && bareComma.MatchString(before):
		return "a decimal point is meant: write 1.5, not 1,5, and put a quantity with its unit in quotes"
	case m != nil && after != "" && len(after) < 12:
		return fmt.Sprintf("a quantity stands in quotes: write %q", m[1]+" "+strings.Trim(after, `"`))
	case strings.HasSuffix(strings.TrimSpace(before), "=") && after != "":
		return "a text stands in quotes"
	}
	return ""
}
