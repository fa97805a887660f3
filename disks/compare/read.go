package compare

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// mostBytes is the size of table that is read: some thousand disks with long names.
const mostBytes = 2 << 20

// columns are those that a table may have; the first four it must have.
var columns = []string{"disk", "method", "before", "after", "block", "regained", "newly_lost", "sectors"}

const needful = 4

// Read reads a table of disks as a spreadsheet saves it: a line of column names, in any order and case, then a line a
// disk. The columns are disk, method, before and after, and if wanted block, regained, newly_lost and sectors (of the
// whole disk). Cells are parted by commas, semicolons or tabs. Numbers are whole missing sectors. Blank lines and lines
// that begin with # are passed over, and so are a byte order mark and carriage returns. Where one of regained and newly
// lost is given, the other follows.
//
// Anything else is an error that begins with the name and the line, and nothing is returned.
func Read(name string, r io.Reader) ([]Row, error) {
	data, err := io.ReadAll(io.LimitReader(r, mostBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: cannot read: %w", name, err)
	}
	rows, err := readTable(data)
	if err == nil {
		return rows, nil
	}
	if at := (lineError{}); errors.As(err, &at) {
		return nil, fmt.Errorf("%s:%d: %w", name, at.line, at.err)
	}
	return nil, fmt.Errorf("%s: %w", name, err)
}

// lineError is an error and the line it is in.
type lineError struct {
	line int
	err  error
}

// Error says the line first.
func (e lineError) Error() string { return fmt.Sprintf("line %d: %v", e.line, e.err) }

func on(line int, format string, args ...any) error {
	return lineError{line, fmt.Errorf(format, args...)}
}

func readTable(data []byte) ([]Row, error) {
	lines, err := linesOf(data)
	if err != nil {
		return nil, err
	}
	separator := ""
	if len(lines) > 0 {
		if s, ok := strings.CutPrefix(strings.ToLower(lines[0].text), "sep="); ok && len(s) == 1 { // some spreadsheets say it
			separator, lines = s, lines[1:]
		}
	}
	if len(lines) == 0 {
		return nil, fmt.Errorf("there is nothing in it: the first line names the columns (disk,method,before,after)")
	}
	h, err := readHeader(lines[0], separator)
	if err != nil {
		return nil, err
	}
	return h.readRows(lines[1:])
}

// numbered is a line that is neither blank nor a comment.
type numbered struct {
	text string
	line int
}

// linesOf returns the lines with something in them.
func linesOf(data []byte) (lines []numbered, err error) {
	switch {
	case len(data) > mostBytes:
		return nil, fmt.Errorf("it is larger than the %d MB that are read of a table: is it the right file?", mostBytes>>20)
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}), bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		return nil, fmt.Errorf("it is UTF-16: save it as \"CSV UTF-8\"")
	}
	text := string(bytes.TrimPrefix(data, []byte("\ufeff")))
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(text)
	for i, s := range strings.Split(text, "\n") {
		switch {
		case !utf8.ValidString(s) || strings.ContainsAny(s, "\x00\ufeff"):
			return nil, on(i+1, "there are characters that are no text in UTF-8: save the table as \"CSV UTF-8\"")
		case strings.HasPrefix(strings.TrimSpace(s), "#") || strings.Trim(s, " \t,;\"") == "":
		default:
			lines = append(lines, numbered{s, i + 1})
		}
	}
	return lines, nil
}

// header is where each column is, -1 where it is not there.
type header struct {
	separator string
	place     map[string]int
	width     int
}

// readHeader finds the separator under which the needful columns are there.
func readHeader(l numbered, separator string) (header, error) {
	tries := []string{",", ";", "\t"}
	if separator != "" {
		tries = []string{separator}
	}
	var seen []string
	for _, s := range tries {
		cells, err := cellsOf(l, s)
		if err != nil {
			return header{}, err
		}
		for i := range cells {
			cells[i] = strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(cells[i]))
		}
		if len(cells) > len(seen) {
			seen = cells
		}
		if !slices.ContainsFunc(columns[:needful], func(name string) bool { return !slices.Contains(cells, name) }) {
			return place(l, s, cells)
		}
	}
	return header{}, on(l.line, "the columns disk, method, before and after must be there; seen are %q", seen)
}

// place notes where the columns are. What has a name must be known: a misspelt column would silently be left out.
func place(l numbered, separator string, cells []string) (header, error) {
	h := header{separator, map[string]int{}, len(cells)}
	for i, name := range cells {
		_, twice := h.place[name]
		switch {
		case name == "":
		case twice:
			return h, on(l.line, "the column %q is there twice: keep one", name)
		case !slices.Contains(columns, name):
			return h, on(l.line, "the column %q is not known: leave it out, or name it one of %s", name, strings.Join(columns, ", "))
		default:
			h.place[name] = i
		}
	}
	return h, nil
}

// cellsOf splits a line. A cell that begins with a quotation mark ends with one; two stand for one.
func cellsOf(l numbered, separator string) (cells []string, err error) {
	rest := l.text
	for {
		cell, after, more := strings.Cut(rest, separator)
		if lead := strings.TrimLeft(rest, " "); strings.HasPrefix(lead, `"`) {
			if cell, after, more, err = quoted(lead[1:], separator, l.line); err != nil {
				return nil, err
			}
		}
		cells = append(cells, strings.TrimSpace(cell))
		if !more {
			return cells, nil
		}
		rest = after
	}
}

// quoted reads a cell whose opening quotation mark was read.
func quoted(rest, separator string, line int) (cell, after string, more bool, err error) {
	for {
		inside, behind, closed := strings.Cut(rest, `"`)
		cell += inside
		if !closed {
			return "", "", false, on(line, "a quotation mark is not closed on its line")
		}
		if doubled, ok := strings.CutPrefix(behind, `"`); ok {
			cell, rest = cell+`"`, doubled
			continue
		}
		gap, after, more := strings.Cut(behind, separator)
		if strings.TrimSpace(gap) != "" {
			return "", "", false, on(line, "%q stands between a closing quotation mark and the next separator", gap)
		}
		return cell, after, more, nil
	}
}
