package readback

import (
	"bytes"
	"unicode/utf8"
)

// mostCells is the most cells of a row that are looked at. A table has four.
const mostCells = 64

// cell is one cell of a row: its text without quotation marks and the spaces around, and where in the line it begins.
type cell struct {
	text []byte
	at   int
}

// row is one line of a file as cells. cells and their texts are valid until the next line is split.
type row struct {
	number int // of the line, from 1
	line   []byte
	cells  []cell
}

// column returns the column of a byte of the line, from 1, in characters.
func (r *row) column(at int) int { return utf8.RuneCount(r.line[:min(at, len(r.line))]) + 1 }

// oneLineEnd makes CRLF and the bare CR of old spreadsheets, even mixed, into LF.
func oneLineEnd(data []byte) []byte {
	if bytes.IndexByte(data, '\r') < 0 {
		return data
	}
	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	return bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
}

// split fills the row's cells from its line. It is false, with the place in the line, where quotation marks do not match.
func (r *row) split(separator byte) (at int, ok bool) {
	r.cells = r.cells[:0]
	for i := 0; len(r.cells) < mostCells; i++ { // i passes the separator
		for i < len(r.line) && isSpace(r.line[i], separator) {
			i++
		}
		from, end := i, i
		// Behind a quoted cell only blanks may stand before the separator: anything else is a mark that was forgotten.
		if i < len(r.line) && r.line[i] == '"' {
			closing := closingQuote(r.line, i+1)
			if closing < 0 {
				return i, false
			}
			end = closing + 1
			for end < len(r.line) && isSpace(r.line[end], separator) {
				end++
			}
			if end < len(r.line) && r.line[end] != separator {
				return closing, false
			}
			r.cells = append(r.cells, cell{bytes.Trim(r.line[i+1:closing], " \t"), from})
		} else {
			for end < len(r.line) && r.line[end] != separator {
				end++
			}
			text := r.line[from:end]
			for len(text) > 0 && isSpace(text[len(text)-1], separator) {
				text = text[:len(text)-1]
			}
			r.cells = append(r.cells, cell{text, from})
		}
		if i = end; i >= len(r.line) {
			break
		}
	}
	return 0, true
}

// closingQuote returns the place of the mark that closes a quoted cell; a doubled mark is part of the text. -1: there is
// none on this line, and no cell of a table needs two lines.
func closingQuote(line []byte, from int) int {
	for i := from; i < len(line); i++ {
		if line[i] != '"' {
			continue
		}
		if i+1 == len(line) || line[i+1] != '"' {
			return i
		}
		i++
	}
	return -1
}

// isSpace tells the blanks around a cell. In a table that is separated by tabs a tab is none of them.
func isSpace(c, separator byte) bool { return (c == ' ' || c == '\t') && c != separator }

// isComment tells whether a line is a remark: it begins with #, which a spreadsheet may have put into quotation marks.
func isComment(line []byte) bool {
	line = bytes.TrimLeft(line, " \t\"")
	return len(line) > 0 && line[0] == '#'
}

// dropEmptyTail takes away the empty cells behind the first keep, which a spreadsheet leaves at the end of a row.
func (r *row) dropEmptyTail(keep int) {
	for n := len(r.cells); n > keep && len(r.cells[n-1].text) == 0; n-- {
		r.cells = r.cells[:n-1]
	}
}

// blank tells whether every cell is empty, as in the lines that spreadsheets leave below a table.
func (r *row) blank() bool {
	for _, c := range r.cells {
		if len(c.text) > 0 {
			return false
		}
	}
	return true
}

// separatorOf returns the separator that is most in a line; a comma when there is none.
func separatorOf(line []byte) byte {
	// The header alone decides: its names hold none of the three, while cells of a torn row may hold anything.
	best, most := byte(','), 0
	for _, s := range []byte(",;\t") {
		if n := bytes.Count(line, []byte{s}); n > most {
			best, most = s, n
		}
	}
	return best
}

// separatorSaid reads a line "sep=;", which some spreadsheets put in front of a table.
func separatorSaid(line []byte) (byte, bool) {
	// The line itself may be quoted, and the separator in it need not be one that we take.
	line = bytes.Trim(line, "\" ")
	if len(line) != 5 || !bytes.EqualFold(line[:4], []byte("sep=")) {
		return 0, false
	}
	return line[4], bytes.IndexByte([]byte(",;\t"), line[4]) >= 0
}
