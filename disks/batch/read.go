package batch

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"fullery/recipe/tomltree"
)

// mostBytes is the largest table: a hundred times what MaxDisks need.
const mostBytes = 64 << 20

// columnNames are the columns of a table. The first two must be there.
var columnNames = []string{"disk", "missing", "only"}

const (
	colDisk = iota
	colMissing
	colOnly
)

// Read reads disks from a table: CSV with a header, disk and missing and perhaps only, in any order, in capitals or not,
// separated by commas, semicolons or tabs. Blank lines are left out, and those that begin with #. An empty "only" means any
// method. Nothing is guessed: a cell that is not a whole number of sectors is an error, and nothing is read then.
//
// file is the name that messages show. The error is one sentence that begins with the place. Warnings are about what was
// read, but looks as if a spreadsheet had spoilt it.
func Read(file string, from io.Reader) (disks []Disk, warnings tomltree.Problems, err error) {
	data, err := io.ReadAll(io.LimitReader(from, mostBytes+1))
	if err != nil {
		return nil, nil, fmt.Errorf("cannot read %s: %w", file, err)
	}
	if len(data) > mostBytes {
		return nil, nil, fmt.Errorf("%s is larger than 64 MiB, which is no list of disks; give a table with disk and missing", file)
	}
	r := &reader{file: file, lines: map[string]int{}}
	if data, err = r.text(data); err == nil {
		err = r.read(data)
	}
	if err == nil && len(r.disks) == 0 {
		err = r.wrong(1, 1, "there is no disk in the file", "give a header, disk,missing, and one disk a line below it")
	}
	if err != nil {
		return nil, nil, err
	}
	return r.disks, r.warnings, nil
}

// reader is a table being read. It stops at the first thing that is wrong.
type reader struct {
	file     string
	csv      *csv.Reader
	header   []int          // of each cell, its column
	lines    map[string]int // of each disk, its line
	disks    []Disk
	warnings tomltree.Problems
}

// wrong is one sentence about a place in the file.
func (r *reader) wrong(line, column int, said, hint string) error {
	return tomltree.Problem{Place: tomltree.Place{File: r.file, Line: line, Column: column}, Said: said, Hint: hint}
}

// warn notes a doubt.
func (r *reader) warn(line, column int, said, hint string) {
	r.warnings = append(r.warnings, tomltree.Problem{Place: tomltree.Place{File: r.file, Line: line, Column: column}, Said: said,
		Hint: hint, Warning: true})
}

// text takes the mark of UTF-8 away, makes the line ends alike, and refuses what is no text.
func (r *reader) text(data []byte) ([]byte, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	line := 1
	for rest := data; len(rest) > 0; {
		c, size := utf8.DecodeRune(rest)
		if c == utf8.RuneError && size == 1 || c == 0 {
			return nil, r.wrong(line, 1, "this is not text in UTF-8", "save the table as CSV in UTF-8")
		}
		if rest = rest[size:]; c == '\n' {
			line++
		}
	}
	return data, nil
}

// read goes through the lines.
func (r *reader) read(data []byte) error {
	separator := r.separator(data)
	r.comments(data, separator)
	r.csv = csv.NewReader(bytes.NewReader(data))
	r.csv.Comma, r.csv.Comment, r.csv.FieldsPerRecord = separator, '#', -1
	for first := true; ; first = false {
		cells, err := r.csv.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if p := (*csv.ParseError)(nil); errors.As(err, &p) {
			return r.wrong(p.Line, p.Column, "the quotation marks do not match",
				"put a name with quotation marks in it into such marks, and double the inner ones")
		} else if err != nil {
			return fmt.Errorf("cannot read %s: %w", r.file, err)
		}
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		switch {
		case strings.Join(cells, "") == "": // what a spreadsheet leaves below a table
		case first && strings.HasPrefix(strings.ToLower(cells[0]), "sep="): // a spreadsheet's note to itself
		case r.header == nil:
			err = r.head(cells)
		default:
			err = r.row(cells)
		}
		if err != nil {
			return err
		}
	}
}

// separator looks at the first line that says something.
func (r *reader) separator(data []byte) rune {
	for line := range bytes.Lines(data) {
		text := strings.ToLower(strings.TrimSpace(string(line)))
		if text == "" || text[0] == '#' || strings.HasPrefix(text, "sep=") {
			continue
		}
		best, most := ',', 0
		for _, s := range ",;\t" {
			if n := strings.Count(string(line), string(s)); n > most {
				best, most = s, n
			}
		}
		return best
	}
	return ','
}

// comments warns of lines that may be disks whose label begins with #: they are left out, and nobody would miss them.
func (r *reader) comments(data []byte, separator rune) {
	number := 0
	for line := range bytes.Lines(data) {
		number++
		cells := strings.Split(strings.TrimSpace(string(line)), string(separator))
		if line[0] != '#' || len(cells) < 2 {
			continue
		}
		for _, cell := range cells[1:] {
			if digits(strings.TrimSpace(cell)) {
				r.warn(number, 1, "this line begins with # and is left out, but looks like a disk",
					"put a label that begins with # into quotation marks")
				break
			}
		}
	}
}

// head reads the header. A column that is not known is refused: a constraint in a column whose name is mistyped would be lost.
func (r *reader) head(cells []string) error {
	for i, cell := range cells {
		line, at := r.csv.FieldPos(i)
		name := strings.ToLower(cell)
		column := slices.Index(columnNames, name)
		switch near := tomltree.Nearest(name, columnNames); {
		case column < 0 && len(cells) == 1:
			return r.wrong(line, at, fmt.Sprintf("the header is %s", quoted(cell)),
				"name the columns disk and missing, with a comma, a semicolon or a tab between them")
		case column < 0 && near != "":
			return r.wrong(line, at, fmt.Sprintf("the column %s is not known", quoted(cell)), fmt.Sprintf("did you mean %s?", near))
		case column < 0:
			return r.wrong(line, at, fmt.Sprintf("the column %s is not known", quoted(cell)), "leave it out; the columns are disk, missing and only")
		case slices.Contains(r.header, column):
			return r.wrong(line, at, fmt.Sprintf("the column %s is there twice", name), "leave one out")
		}
		r.header = append(r.header, column)
	}
	for column, name := range columnNames[:colOnly] {
		if line, _ := r.csv.FieldPos(0); !slices.Contains(r.header, column) {
			return r.wrong(line, 1, fmt.Sprintf("there is no column %s among %q", name, cells), "add it")
		}
	}
	return nil
}

// row reads one disk.
func (r *reader) row(cells []string) error {
	line, _ := r.csv.FieldPos(0)
	if len(cells) != len(r.header) {
		return r.wrong(line, 1, fmt.Sprintf("this line has %d cells and the header %d", len(cells), len(r.header)),
			"complete it, or put a label with a separator in it into quotation marks")
	}
	var d Disk
	for i, column := range r.header {
		cell := cells[i]
		_, at := r.csv.FieldPos(i)
		var err error
		switch column {
		case colDisk:
			d.Name, err = cell, r.name(cell, line, at)
		case colMissing:
			d.Missing, err = r.missing(cell, line, at)
		case colOnly:
			d.Only = cell
		}
		if err != nil {
			return err
		}
	}
	r.disks = append(r.disks, d)
	return nil
}

// name checks a label.
func (r *reader) name(name string, line, at int) error {
	switch before := r.lines[name]; {
	case name == "":
		return r.wrong(line, at, "this disk has no name", "give its label")
	case before > 0:
		return r.wrong(line, at, fmt.Sprintf("the disk %s is there twice, in line %d as well", quoted(name), before), "take one line out")
	case strings.ContainsFunc(name, unicode.IsControl):
		return r.wrong(line, at, fmt.Sprintf("the name %s goes over a line's end", quoted(name)), "is a quotation mark missing?")
	case spoilt(name):
		r.warn(line, at, fmt.Sprintf("the name %s looks like a date or a number that a spreadsheet made of a label", quoted(name)),
			"compare it with the label")
	}
	r.lines[name] = line
	return nil
}

// missing reads a number of sectors. An empty cell is not 0: nobody has read that disk.
func (r *reader) missing(cell string, line, at int) (int, error) {
	n, err := strconv.Atoi(cell)
	switch {
	case cell == "":
		return 0, r.wrong(line, at, "nothing is said of the missing sectors", "give their number; a disk that was never read cannot be dealt")
	case !digits(cell):
		return 0, r.wrong(line, at, fmt.Sprintf("missing %s is not a whole number of sectors", quoted(cell)), "write it like 120")
	case err != nil || n > MaxMissing:
		return 0, r.wrong(line, at, fmt.Sprintf("missing %s cannot be", quoted(cell)), fmt.Sprintf("give 0 to %d", MaxMissing))
	}
	return n, nil
}

// digits tells whether a text is one or more of 0 to 9.
func digits(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }

// spoilt tells whether a name looks like what spreadsheets make of 3-4 or 73928e05: a date, or a number with a power of ten.
func spoilt(name string) bool {
	lower := strings.ToLower(name)
	if mantissa, power, ok := strings.Cut(lower, "e+"); ok && digits(power) {
		return digits(strings.NewReplacer(".", "", ",", "").Replace(mantissa))
	}
	day, month, ok := strings.Cut(lower, "-")
	months := []string{"jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"}
	return ok && (digits(day) && slices.Contains(months, month) || digits(month) && slices.Contains(months, day))
}
