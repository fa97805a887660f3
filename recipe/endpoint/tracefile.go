package endpoint

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"fullery/recipe"
)

// columnNames are the columns as a file names them: quantity and unit, so that nobody has to guess degrees or per cent. A
// name that is only nearly right is refused and not read: a temperature in another unit would look like a drying too.
var columnNames = [numColumns]string{"t_s", "in_c", "in_rh", "out_c", "out_rh", "surface_c", "weight_g", "hub_coast_s"}

const (
	// required is the last of the columns that must be there; their cells may be empty. Whoever leaves one out has
	// rarely noticed.
	required = colOutRH
	// mostBytes is the largest file: a week, once a second, is half of it.
	mostBytes = 64 << 20
	zeroC     = 273.15
)

// cellRange is what a column may hold, in the unit of the file, and how it becomes SI: value·scale + add.
type cellRange struct {
	least, most float64
	above       bool // the least itself is not allowed
	scale, add  float64
	allowed     string
	hint        string
}

// The ranges: the coldest liner and the warmest air that the model knows, and what a scale or a hub can show at all.
var cellRanges = [numColumns]cellRange{
	colTime: {-30 * 24 * 3600, 30 * 24 * 3600, false, 1, 0, "seconds, at most 30 days from 0",
		"0 is when the drying began, and rows of the dry disk are before it"},
	colInC:     {-20, 70, false, 1, zeroC, "-20 to 70 °C", ""},
	colInRH:    {0, 100, false, 1, 0, "0 to 100 %", ""},
	colOutC:    {-20, 70, false, 1, zeroC, "-20 to 70 °C", ""},
	colOutRH:   {0, 100, false, 1, 0, "0 to 100 %", ""},
	colSurface: {-20, 70, false, 1, zeroC, "-20 to 70 °C", ""},
	colWeight: {0, 10e3, true, 1e-3, 0, "more than 0 g, to 10 kg",
		"it is the weight of cartridge and holder, so do not set the scale to zero with them on it"},
	colCoast: {0, 600, true, 1, 0, "more than 0 s, to 600 s", ""},
}

// ReadTrace reads a recorded drying: CSV with a header, separated by commas, semicolons or tabs, in any order of columns.
// Lines that begin with # are left out. An empty cell is a reading that is missing. With semicolons or tabs the decimal
// mark may be a comma, throughout. Humidities are per cent, unless no one in the file is above 1 or has a % behind it:
// then all are shares of one.
//
// file is the name that messages show. The error is one sentence that begins with the place, FILE:line:column, columns
// counted in bytes as an editor's "go to" takes them.
func ReadTrace(file string, from io.Reader) (*Trace, error) {
	data, err := io.ReadAll(io.LimitReader(from, mostBytes+1))
	if err != nil {
		return nil, fmt.Errorf("cannot read %s: %w", file, err)
	}
	if len(data) > mostBytes {
		return nil, fmt.Errorf("%s is larger than 64 MiB, more than a week of readings once a second; cut it to one drying", file)
	}
	r := &traceReader{file: file}
	if data, err = r.text(data); err != nil {
		return nil, err
	}
	if err := r.read(data); err != nil {
		return nil, err
	}
	return r.finish()
}

// traceReader is a file being read. It stops at the first thing that is wrong: a drying with a hole where a row was torn
// would still look like a drying.
type traceReader struct {
	file      string
	csv       *csv.Reader
	separator rune
	header    []column
	rows      []traceRow

	// The decimal mark is one for the whole file, because "1,234" alone could be either.
	mark        byte    // the decimal mark of the file, '.' or ','; 0 before the first
	markAt      int     // its line
	dampest     float64 // the largest humidity as it stands, from which the unit of all is told
	percentSign bool
}

// wrong is one sentence about a place in the file, as for every other file that is read.
func (r *traceReader) wrong(line, column int, said, hint string) error {
	return recipe.Problem{Place: recipe.Place{File: r.file, Line: line, Column: column}, Said: said, Hint: hint}
}

// text makes the line ends alike and takes the mark of UTF-8 away: the CSV reader would keep that mark in the name of the
// first column, and take a file with bare carriage returns for one line.
func (r *traceReader) text(data []byte) ([]byte, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	if utf8.Valid(data) && bytes.IndexByte(data, 0) < 0 {
		return data, nil
	}
	line, column := 1, 1
	for len(data) > 0 {
		c, size := utf8.DecodeRune(data)
		if c == utf8.RuneError && size == 1 || c == 0 {
			break
		}
		if column += size; c == '\n' {
			line, column = line+1, 1
		}
		data = data[size:]
	}
	return nil, r.wrong(line, column, "this is not text in UTF-8", "save the file as CSV in UTF-8")
}

// read goes through the rows. How many cells a row has is checked in row, which can say what is probably the matter.
func (r *traceReader) read(data []byte) error {
	r.separator = separatorOf(data)
	r.csv = csv.NewReader(bytes.NewReader(data))
	r.csv.Comma, r.csv.Comment, r.csv.FieldsPerRecord, r.csv.ReuseRecord = r.separator, '#', -1, true
	for {
		cells, err := r.csv.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if p := (*csv.ParseError)(nil); errors.As(err, &p) {
			return r.wrong(p.Line, p.Column, "the quotation marks do not match", "numbers need none")
		} else if err != nil {
			return fmt.Errorf("cannot read %s: %w", r.file, err)
		}
		blank := strings.TrimSpace(strings.Join(cells, "")) == "" // what a spreadsheet leaves below a table
		switch {
		case blank:
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

// separatorOf looks at the first line that says something. A line without any has one column, which head refuses.
func separatorOf(data []byte) rune {
	for line := range bytes.Lines(data) {
		if text := strings.TrimSpace(string(line)); text == "" || text[0] == '#' {
			continue
		}
		best, most := ',', 0
		for _, s := range ",;\t" {
			if n := bytes.Count(line, []byte(string(s))); n > most {
				best, most = s, n
			}
		}
		return best
	}
	return ','
}

// head reads the header. A header is required: a table without names says nothing of its units.
func (r *traceReader) head(cells []string) error {
	for i, cell := range cells {
		line, at := r.csv.FieldPos(i)
		name := strings.TrimSpace(cell)
		c := column(max(slices.Index(columnNames[:], name), 0))
		switch {
		case columnNames[c] != name && len(cells) == 1:
			return r.wrong(line, at, fmt.Sprintf("the header is %s", quoted(name)),
				"name the columns, "+strings.Join(columnNames[:], ", ")+", with a comma, a semicolon or a tab between them")
		case columnNames[c] != name:
			return r.wrong(line, at, fmt.Sprintf("the column %s is not known", quoted(name)), "give "+strings.Join(columnNames[:], ", "))
		case slices.Contains(r.header, c):
			return r.wrong(line, at, fmt.Sprintf("the column %s is there twice", name), "leave one out")
		}
		r.header = append(r.header, c)
	}
	line, _ := r.csv.FieldPos(0)
	for c := range required + 1 {
		if !slices.Contains(r.header, c) {
			return r.wrong(line, 1, fmt.Sprintf("there is no column %s among %q", columnNames[c], cells),
				"add it, with empty cells if it was not read")
		}
	}
	return nil
}

// row reads one row. A cell that is empty stays NaN, never zero: every comparison with it is false, and it proves
// nothing.
func (r *traceReader) row(cells []string) error {
	line, _ := r.csv.FieldPos(0)
	if len(cells) != len(r.header) {
		hint := "is the row torn, or is a decimal comma in it? Separate the columns by semicolons then"
		_, at := r.csv.FieldPos(min(len(cells)-1, len(r.header)))
		if len(cells) < len(r.header) {
			hint = "the row is torn: complete it or take it out"
		}
		return r.wrong(line, at, fmt.Sprintf("this row has %d cells and the header %d", len(cells), len(r.header)), hint)
	}
	row := traceRow{line: line, fresh: setOf(colTime)}
	for i := range row.v {
		row.v[i] = math.NaN()
	}
	for i, c := range r.header {
		line, at := r.csv.FieldPos(i)
		text := strings.TrimSpace(cells[i])
		if text == "" {
			continue
		}
		value, err := r.cell(text, c, line, at)
		if err != nil {
			return err
		}
		row.v[c], row.fresh = value, row.fresh|setOf(c)
	}
	if err := r.later(&row); err != nil {
		return err
	}
	r.rows = append(r.rows, row)
	return nil
}

// later checks that a row has a time, and that it is after the row before.
func (r *traceReader) later(row *traceRow) error {
	line, at := r.csv.FieldPos(slices.Index(r.header, colTime))
	now := row.v[colTime]
	if math.IsNaN(now) {
		return r.wrong(line, at, "this row has no t_s", "give the seconds since the drying began")
	}
	if len(r.rows) == 0 {
		return nil
	}
	before := r.rows[len(r.rows)-1]
	switch {
	case now == before.v[colTime]:
		return r.wrong(line, at, fmt.Sprintf("t_s %s is there twice, in line %d as well", seconds(now), before.line), "take one row out")
	case now < before.v[colTime]:
		return r.wrong(line, at, fmt.Sprintf("t_s goes backwards, from %s in line %d to %s", seconds(before.v[colTime]), before.line,
			seconds(now)), "put the rows in the order of time")
	}
	return nil
}

// finish looks at the file as a whole. Both humidities have one unit, because one logger wrote both: decided column by
// column, very dry air coming in beside damp air going out would be read wrong by a factor of a hundred.
func (r *traceReader) finish() (*Trace, error) {
	switch last := len(r.rows) - 1; {
	case r.header == nil:
		return nil, r.wrong(1, 1, "the file is empty", "it wants a header, "+strings.Join(columnNames[:required+1], ", ")+", and rows below it")
	case last < 0:
		return nil, r.wrong(1, 1, "there is no row below the header", "")
	case r.rows[last].v[colTime] < 0:
		return nil, r.wrong(r.rows[last].line, 1, "all rows are before t_s 0, so that nothing of the drying is in the file",
			"0 is when the drying began")
	}
	t := &Trace{rows: r.rows, asShares: r.dampest > 0 && r.dampest <= 1 && !r.percentSign}
	for i := range t.rows {
		for _, c := range []column{colInRH, colOutRH} {
			if !t.asShares {
				t.rows[i].v[c] /= 100
			}
		}
	}
	t.settle()
	return t, nil
}

// seconds writes a time as a file would.
func seconds(x float64) string { return strconv.FormatFloat(x, 'g', 12, 64) }

// quoted shows a person's text in a message, cut when it is long.
func quoted(text string) string {
	if r := []rune(text); len(r) > 40 {
		text = string(r[:40]) + "…"
	}
	return strconv.Quote(text)
}

// cell reads one number, with a % behind it where it is a humidity, and returns it in SI; humidities as they stand.
func (r *traceReader) cell(text string, c column, line, at int) (float64, error) {
	name := columnNames[c]
	number := text
	if c == colInRH || c == colOutRH {
		if cut, ok := strings.CutSuffix(number, "%"); ok {
			number, r.percentSign = strings.TrimRight(cut, " \u00a0\u202f"), true
		}
	}
	mark, ok := decimal(number)
	if !ok {
		return 0, r.wrong(line, at, fmt.Sprintf("%s %s is not a number", name, quoted(text)),
			"write it like 21.5, and leave the cell empty where nothing was read")
	}
	if err := r.marked(number, mark, line, at); err != nil {
		return 0, err
	}
	value, err := strconv.ParseFloat(strings.Replace(number, ",", ".", 1), 64)
	if err != nil { // beyond what a float64 holds
		return 0, r.wrong(line, at, fmt.Sprintf("%s %s is too large a number", name, quoted(text)), "")
	}
	rule := &cellRanges[c]
	if !(value >= rule.least && value <= rule.most) || rule.above && value == rule.least {
		hint := "give " + rule.allowed
		if rule.hint != "" {
			hint += ": " + rule.hint
		}
		return 0, r.wrong(line, at, fmt.Sprintf("%s %s cannot be", name, text), hint)
	}
	if c == colInRH || c == colOutRH {
		r.dampest = max(r.dampest, value)
	}
	return value*rule.scale + rule.add, nil
}

// marked holds a decimal mark against those before. Between commas a decimal comma can only stand in quotation marks, and
// is refused there too: without them the same number would have been torn in two.
func (r *traceReader) marked(number string, mark byte, line, at int) error {
	switch {
	case mark == 0:
	case mark == ',' && r.separator == ',':
		return r.wrong(line, at, fmt.Sprintf("%q has a decimal comma, and commas separate the columns", number),
			fmt.Sprintf("write %s, or separate the columns by semicolons", strings.Replace(number, ",", ".", 1)))
	case r.mark == 0:
		r.mark, r.markAt = mark, line
	case r.mark != mark:
		return r.wrong(line, at, fmt.Sprintf("%q has a decimal %s, and line %d has a decimal %s", number, markNames[mark], r.markAt,
			markNames[r.mark]), "use one of them throughout")
	}
	return nil
}

// markNames are the words for the decimal marks.
var markNames = map[byte]string{'.': "point", ',': "comma"}

// decimal tells whether a text is a plain decimal number: a sign, digits with at most one mark among them, and perhaps
// an exponent, which loggers write. What a parser for programs takes besides (Inf, NaN, 0x15, 1_000) is no reading. It
// returns the mark, 0 when there is none.
func decimal(text string) (mark byte, ok bool) {
	mantissa, exponent, has := strings.Cut(strings.ToLower(text), "e")
	if has && (!digits(unsigned(exponent)) || len(exponent) > 4) {
		return 0, false
	}
	mantissa = unsigned(mantissa)
	at := strings.IndexAny(mantissa, ".,")
	if at < 0 {
		return 0, digits(mantissa)
	}
	before, after := mantissa[:at], mantissa[at+1:]
	return mantissa[at], (digits(before) || before == "") && (digits(after) || after == "") && before+after != ""
}

// unsigned takes one sign away.
func unsigned(text string) string {
	if text != "" && (text[0] == '-' || text[0] == '+') {
		return text[1:]
	}
	return text
}

// digits tells whether a text is one or more of 0 to 9.
func digits(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }
