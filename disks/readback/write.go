package readback

import (
	"fmt"
	"io"
	"strconv"
	"strings"
)

// The headers of the tables.
const (
	sectorHeader     = "cylinder,head,sector,state\n"
	trackHeader      = "cylinder,head,missing\n"
	provenanceHeader = "cylinder,head,sector,round\n"
)

// Write writes the table as CSV that Read reads again to an equal table: a row for every sector in the order of an image,
// untried ones too, or, for a table by track, a row for every track. The error is that of w.
func (t *Table) Write(w io.Writer) error {
	if t.ByTrack() {
		return t.writeTracks(w)
	}
	// The longest usual row, "79,1,18,untried" and its end, has 16 bytes. One Write, so that w decides once.
	rows := make([]byte, 0, len(sectorHeader)+len(t.states)*16)
	rows = append(rows, sectorHeader...)
	t.format.eachSector(func(lba int, a Address) {
		rows = append(appendAddress(rows, a), t.states[lba].String()...)
		rows = append(rows, '\n')
	})
	return writeAll(w, rows)
}

// writeTracks writes the counts. A track that was not tried has a row too, with that word: a table in which nothing was
// tried would otherwise be a file without rows, which Read refuses.
func (t *Table) writeTracks(w io.Writer) error {
	rows := []byte(trackHeader)
	for i, n := range t.missing {
		missing := Untried.String()
		if n >= 0 {
			missing = strconv.Itoa(n)
		}
		rows = fmt.Appendf(rows, "%d,%d,%s\n", i/t.format.Heads, i%t.format.Heads, missing)
	}
	return writeAll(w, rows)
}

// WriteProvenance writes, as CSV, from which round each sector of the joined image came. A sector without a row came
// from none: it was never read, or is disputed. The error is that of w.
func (j *Joined) WriteProvenance(w io.Writer) error {
	// A name is the caller's own text, often a file's name, and may hold a comma.
	names := make([]string, len(j.Rounds))
	for i, s := range j.Rounds {
		names[i] = quoteCell(s.String())
	}
	rows := make([]byte, 0, len(provenanceHeader)+len(j.From)*12)
	rows = append(rows, provenanceHeader...)
	j.Table.format.eachSector(func(lba int, a Address) {
		if j.From[lba] >= 0 {
			rows = append(appendAddress(rows, a), names[j.From[lba]]...)
			rows = append(rows, '\n')
		}
	})
	return writeAll(w, rows)
}

// eachSector goes through the disk in the order of an image.
func (f Format) eachSector(visit func(lba int, a Address)) {
	lba := 0
	for track := range f.Tracks() {
		c, h := track/f.Heads, track%f.Heads
		sectors, _ := f.TrackAt(c, h)
		for i := range sectors {
			visit(lba, Address{c, h, f.First() + i})
			lba++
		}
	}
}

// appendAddress appends the three cells of an address, each with the comma behind it.
func appendAddress(to []byte, a Address) []byte {
	for _, n := range [3]int{a.Cylinder, a.Head, a.Sector} {
		to = append(strconv.AppendInt(to, int64(n), 10), ',')
	}
	return to
}

// quoteCell puts a cell into quotation marks when it could be taken for something else.
func quoteCell(cell string) string {
	if strings.ContainsAny(cell, ",;\t\"\r\n#") || strings.TrimSpace(cell) != cell {
		return `"` + strings.ReplaceAll(cell, `"`, `""`) + `"`
	}
	return cell
}

// writeAll is w.Write that does not take a short write for a success.
func writeAll(w io.Writer, b []byte) error {
	n, err := w.Write(b)
	if err == nil && n < len(b) {
		err = io.ErrShortWrite
	}
	return err
}
