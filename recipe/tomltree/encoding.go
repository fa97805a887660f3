package tomltree

import (
	"bytes"
	"fmt"
	"sort"
	"unicode/utf8"
)

// MaxSize is the largest file that is read, in bytes. A recipe has a few kilobytes; anything near this is not one.
const MaxSize = 1 << 20

var utf8Mark = []byte{0xEF, 0xBB, 0xBF}

// decode checks that data is text of a sensible size and returns it without the byte order mark that some editors put
// in front. ok is false when p says why it is not.
func decode(file string, data []byte) (text []byte, p Problem, ok bool) {
	refuse := func(line, column int, said, hint string) ([]byte, Problem, bool) {
		return nil, Problem{Place: Place{file, line, column}, Said: said, Hint: hint}, false
	}
	if len(data) > MaxSize {
		return refuse(1, 1, fmt.Sprintf("the file has %d bytes, more than the %d that are read", len(data), MaxSize),
			"check that this is the file you meant")
	}
	if looksUTF16(data) {
		return refuse(1, 1, "the file is UTF-16", "save it as UTF-8")
	}
	text = bytes.TrimPrefix(data, utf8Mark)
	lines := newLineIndex(file, text)
	if at := bytes.IndexByte(text, 0); at >= 0 {
		p := lines.place(at)
		return refuse(p.Line, p.Column, "there is a zero byte here: this is not a text file", "save it as UTF-8 text")
	}
	if at := bytes.Index(text, utf8Mark); at >= 0 {
		p := lines.place(at)
		return refuse(p.Line, p.Column, "there is a byte order mark in the middle of the file",
			"remove the invisible character; files were perhaps joined here")
	}
	if at := invalidAt(text); at >= 0 {
		p := lines.place(at)
		return refuse(p.Line, p.Column, fmt.Sprintf("the byte 0x%02X here is not UTF-8", text[at]), "save the file as UTF-8")
	}
	return text, Problem{}, true
}

// looksUTF16 knows UTF-16 by its mark, or without one by a zero byte beside the first character: a TOML file begins
// with an ASCII character in practice (a letter, a bracket, a # or a line end).
func looksUTF16(data []byte) bool {
	if len(data) < 2 {
		return false
	}
	marked := data[0] == 0xFF && data[1] == 0xFE || data[0] == 0xFE && data[1] == 0xFF
	return marked || (data[0] == 0) != (data[1] == 0)
}

// invalidAt returns the offset of the first byte that is not part of a UTF-8 character, or -1.
func invalidAt(text []byte) int {
	for at := 0; at < len(text); {
		r, size := utf8.DecodeRune(text[at:])
		if r == utf8.RuneError && size == 1 {
			return at
		}
		at += size
	}
	return -1
}

// lineIndex turns byte offsets into places. It remembers the last place it told, because places are asked for in
// nearly the order of the file: counting each from the start of its line would take hours on one line of a megabyte.
type lineIndex struct {
	file   string
	text   []byte
	starts []int // offset at which each line begins
	last   struct{ offset, line, column int }
}

func newLineIndex(file string, text []byte) *lineIndex {
	starts := []int{0}
	for i, c := range text {
		if c == '\n' {
			starts = append(starts, i+1)
		}
	}
	x := &lineIndex{file: file, text: text, starts: starts}
	x.last.column = 1
	return x
}

// place returns the place of a byte offset.
func (x *lineIndex) place(offset int) Place {
	offset = max(0, min(offset, len(x.text)))
	line := sort.Search(len(x.starts), func(i int) bool { return x.starts[i] > offset }) - 1
	from, column := x.starts[line], 1
	if x.last.line == line && x.last.offset <= offset {
		from, column = x.last.offset, x.last.column
	}
	column += utf8.RuneCount(x.text[from:offset])
	x.last.offset, x.last.line, x.last.column = offset, line, column
	return Place{x.file, line + 1, column}
}

// offset returns the byte offset of a line and a column counted in bytes, both from 1, as the TOML library counts.
func (x *lineIndex) offset(line, column int) int {
	if line < 1 || line > len(x.starts) {
		return len(x.text)
	}
	return max(0, min(x.starts[line-1]+column-1, len(x.text)))
}
