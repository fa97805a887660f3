package readback

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"

	"fullery/recipe/tomltree"
)

const (
	// mostFile is the largest table that is read, in bytes: twice what the largest format could fill.
	mostFile = 32 << 20
	// mostProblems is how many problems are told one by one: enough to see a pattern, few enough to read.
	mostProblems = 5
)

// column is a column of a table.
type column int

const (
	colCylinder column = iota
	colHead
	colSector
	colState
	colMissing
	numColumns
)

var columnNames = [numColumns]string{"cylinder", "head", "sector", "state", "missing"}

// otherNames are what people call the columns; they are not read, but the right name is told.
var otherNames = map[string]column{"track": colCylinder, "cyl": colCylinder, "c": colCylinder, "side": colHead,
	"h": colHead, "s": colSector, "status": colState, "result": colState, "bad": colMissing, "unread": colMissing}

// Read reads a table of a disk of the given format: CSV with a header, either cylinder, head, sector, state or, where
// only counts are at hand, cylinder, head, missing. Columns and rows may be in any order, separated by commas,
// semicolons or tabs, and lines may end in any way. Blank lines and those that begin with # are left out. A row that is
// not there is untried.
//
// name is what messages call the file. The error is a tomltree.Problems, at most a handful and a last one that counts the
// rest, each with file:line:column and what would be right; or the reader's own error. With an error there is no table.
func Read(name string, from io.Reader, f Format) (*Table, error) {
	if err := f.Validate(); err != nil {
		return nil, err
	}
	// One byte more than is taken tells a file of exactly the limit from one that goes on.
	data, err := io.ReadAll(io.LimitReader(from, mostFile+1))
	if err != nil {
		return nil, fmt.Errorf("cannot read %s: %w", name, err)
	}
	r := &reader{name: name, format: f}
	data, ok := r.decode(data)
	if ok {
		r.rows(data)
	}
	if len(r.problems) > 0 {
		return nil, r.told()
	}
	return r.table, nil
}

// reader is a file being read.
type reader struct {
	name      string
	format    Format
	row       row
	separator byte
	columns   [numColumns]int // the cell of each column, or -1
	width     int             // cells of the header; 0 before it
	table     *Table
	line      []int32 // the line that set each sector or track, for duplicates; 0: none

	problems tomltree.Problems
	more     tomltree.Place // the first problem that is not told
	untold   int
	outside  int     // the told problem, from 1, of the first address that is not on the disk
	most     Address // the largest cylinder, head and sector that were seen
}

// wrong notes a problem in the row at hand.
func (r *reader) wrong(at int, said, hint string) {
	r.wrongAt(tomltree.Place{File: r.name, Line: r.row.number, Column: r.row.column(at)}, said, hint)
}

func (r *reader) wrongAt(p tomltree.Place, said, hint string) {
	// The rest is only counted: a file of the wrong format has a problem in each of its thousands of rows.
	if len(r.problems) < mostProblems {
		r.problems = append(r.problems, tomltree.Problem{Place: p, Said: said, Hint: hint})
		return
	}
	if r.untold == 0 {
		r.more = p
	}
	r.untold++
}

// told returns the problems, with what can only be known at the end.
func (r *reader) told() tomltree.Problems {
	if r.outside > 0 {
		r.problems[r.outside-1].Hint = r.fits()
	}
	// The last line stands where the first untold problem is, so that mending goes on there.
	if r.untold > 0 {
		r.problems = append(r.problems, tomltree.Problem{Place: r.more,
			Said: fmt.Sprintf("here and below are %d problems more", r.untold), Hint: "mend the ones above first"})
	}
	return r.problems
}

// fits names the smallest format that has a place for every row, because a wrong format is the commonest cause of
// addresses that cannot be.
func (r *reader) fits() string {
	// Where every row has a place by number, the address that cannot be is on a track of another density, or below the
	// first sector, and no other format would help.
	best, found := Named{}, false
	f := r.format
	if r.most.Cylinder < f.Cylinders && r.most.Head < f.Heads && r.most.Sector < f.First()+f.Sectors {
		return ""
	}
	// Sectors of a first track of another density are not looked at: they are never more than the others in practice.
	for _, n := range formats {
		right := r.most.Cylinder < n.Cylinders && r.most.Head < n.Heads && r.most.Sector < f.First()+n.Sectors
		if right && (f.Media == 0 || n.Media == f.Media) && (!found || n.Total() < best.Total()) {
			best, found = n, true
		}
	}
	if !found {
		return ""
	}
	return "is the format right? The smallest named one with a place for every row is " + best.Name()
}

// decode refuses what is not text, and takes the mark of UTF-8 away.
func (r *reader) decode(data []byte) ([]byte, bool) {
	r.row.number = 1
	switch {
	case len(data) > mostFile:
		r.wrong(0, fmt.Sprintf("the file is larger than %d bytes, more than any table", mostFile), "check that it is the file you meant")
		return nil, false
	case looksUTF16(data):
		r.wrong(0, "the file is UTF-16", "save it as CSV in UTF-8")
		return nil, false
	}
	// The mark would otherwise stay in the name of the first column.
	data = oneLineEnd(bytes.TrimPrefix(data, []byte("\ufeff")))
	if at := bytes.IndexByte(data, 0); at >= 0 {
		start := bytes.LastIndexByte(data[:at], '\n') + 1
		r.row.number, r.row.line = 1+bytes.Count(data[:at], []byte("\n")), data[start:at]
		r.wrong(at-start, "there is a zero byte here: this is not a table", "save it as CSV in UTF-8")
		return nil, false
	}
	return data, true
}

// looksUTF16 knows UTF-16 by its mark, or without one by a zero byte beside the first letter.
func looksUTF16(data []byte) bool {
	if len(data) < 2 {
		return false
	}
	marked := data[0] == 0xFF && data[1] == 0xFE || data[0] == 0xFE && data[1] == 0xFF
	return marked || (data[0] == 0) != (data[1] == 0)
}

// rows goes through the lines. It stops at a header that is wrong: nothing below could be understood.
func (r *reader) rows(data []byte) {
	given := 0
	for number := 1; len(data) > 0; number++ {
		r.row.number = number
		r.row.line, data, _ = bytes.Cut(data, []byte("\n"))
		if isComment(r.row.line) {
			continue
		}
		if r.width == 0 {
			if s, ok := separatorSaid(r.row.line); ok && r.separator == 0 {
				r.separator = s
				continue
			}
		}
		// Until the header is found every line may turn out to be it, and its own separators count.
		separator := r.separator
		if separator == 0 {
			separator = separatorOf(r.row.line)
		}
		// Marks that do not match are told and the reading goes on with the next line, since no cell may span two.
		if at, ok := r.row.split(separator); !ok {
			r.wrong(at, "the quotation marks do not match on this line", "cells of a table need none")
			if r.width == 0 {
				return
			}
			continue
		}
		switch r.row.dropEmptyTail(r.width); {
		case r.row.blank():
		// The first line that says something is the header; there is no second one.
		case r.width == 0:
			if r.separator = separator; !r.head() {
				return
			}
		default:
			given++
			r.entry()
		}
	}
	if given == 0 && len(r.problems) == 0 {
		r.row.number, r.row.line = max(r.row.number, 1), nil
		r.wrong(0, "there is no row of a table in the file", "it wants a header, cylinder,head,sector,state or cylinder,head,missing, and rows below it")
	}
}

// head reads the header, which tells the two kinds of tables apart. A file without one is refused: four numbers in a
// row can be in any order.
func (r *reader) head() bool {
	for c := range r.columns {
		r.columns[c] = -1
	}
	for i, cell := range r.row.cells {
		name := strings.ToLower(string(cell.text))
		c := slices.Index(columnNames[:], name)
		if c < 0 {
			r.wrong(cell.at, fmt.Sprintf("the column %q is not known", short(cell.text)), headerHint(name))
			return false
		}
		if r.columns[c] >= 0 {
			r.wrong(cell.at, fmt.Sprintf("the column %s is there twice", name), "leave one out")
			return false
		}
		r.columns[c] = i
	}
	// The column of counts tells the two kinds apart, and everything else must then be of the same kind.
	wanted := []column{colCylinder, colHead, colSector, colState}
	if r.columns[colMissing] >= 0 {
		wanted = []column{colCylinder, colHead, colMissing}
	}
	for c, i := range r.columns {
		if is := slices.Contains(wanted, column(c)); is != (i >= 0) {
			r.wrong(0, fmt.Sprintf("the columns are %s", r.row), "give cylinder,head,sector,state, or cylinder,head,missing for counts by track")
			return false
		}
	}
	r.width = len(r.row.cells)
	r.begin()
	return true
}

// headerHint says what a column that is not known should be called.
func headerHint(name string) string {
	const all = "cylinder,head,sector,state, or cylinder,head,missing for counts by track"
	if _, isNumber := number(name); isNumber {
		return "put the names of the columns into the first line: " + all
	}
	if c, ok := otherNames[name]; ok {
		return "call it " + columnNames[c]
	}
	if near := tomltree.Nearest(name, columnNames[:]); near != "" {
		return "did you mean " + near + "?"
	}
	return "the columns are " + all
}

// String shows the cells of a header in a message.
func (r row) String() string {
	var names []string
	for _, c := range r.cells {
		names = append(names, short(c.text))
	}
	return fmt.Sprintf("%q", names)
}

// short cuts what a message quotes: a cell may be as long as a file.
func short(text []byte) string {
	const most = 40
	if len(text) <= most {
		return string(text)
	}
	return string(text[:most]) + "…"
}
