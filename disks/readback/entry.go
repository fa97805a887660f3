package readback

import (
	"fmt"
	"unicode/utf8"
)

// begin makes the table that the header asks for. The format was checked before.
func (r *reader) begin() {
	if r.columns[colMissing] >= 0 {
		r.table, _ = NewTrackTable(r.format)
		r.line = make([]int32, r.format.Tracks())
	} else {
		r.table, _ = NewTable(r.format)
		r.line = make([]int32, r.format.Total())
	}
}

// entry reads one row below the header. What is wrong with it is noted, and nothing of it is taken.
func (r *reader) entry() {
	cells := r.row.cells
	if len(cells) != r.width {
		said := fmt.Sprintf("this row has %d cells and the header %d", len(cells), r.width)
		r.wrong(cells[len(cells)-1].at, said, "the row is torn: complete it, or take it out")
		return
	}
	// All three numbers are looked at before any is refused, so that one row tells all that is wrong with its address.
	var a Address
	var ok [3]bool
	a.Cylinder, ok[0] = r.number(colCylinder)
	a.Head, ok[1] = r.number(colHead)
	byTrack := r.table.ByTrack()
	if byTrack {
		a.Sector, ok[2] = r.format.First(), true // any sector of the track
	} else {
		a.Sector, ok[2] = r.number(colSector)
	}
	if !ok[0] || !ok[1] || !ok[2] {
		return
	}
	if byTrack {
		r.trackEntry(a)
	} else {
		r.sectorEntry(a)
	}
}

// number reads the cell of a column as a whole number.
func (r *reader) number(c column) (int, bool) {
	cell := r.row.cells[r.columns[c]]
	// By hand, because there are three of these for every sector of a disk, and because strconv would take a sign.
	// Six digits are enough to show an address that cannot be, and cannot overflow.
	n := 0
	for _, d := range cell.text {
		if d < '0' || d > '9' || n > 99999 {
			n = -1
			break
		}
		n = n*10 + int(d-'0')
	}
	if n < 0 || len(cell.text) == 0 {
		r.notNumber(c, cell)
		return 0, false
	}
	return n, true
}

// notNumber says why a cell is not a number, as far as its look tells: nothing there, another encoding, or what a
// spreadsheet made of it ("1-2" becomes a date, "1" becomes "1,0").
func (r *reader) notNumber(c column, cell cell) {
	name := columnNames[c]
	switch {
	case len(cell.text) == 0 && c == colMissing:
		r.wrong(cell.at, "the count of missing sectors is empty", "write 0 if all were read, or untried")
	case len(cell.text) == 0:
		r.wrong(cell.at, "the "+name+" is empty", "write its number, or take the row out if it was not tried")
	case !utf8.Valid(cell.text):
		r.wrong(cell.at, fmt.Sprintf("%s %q is not a number", name, short(cell.text)), "save the file as CSV in UTF-8")
	default:
		r.wrong(cell.at, fmt.Sprintf("%s %q is not a whole number from 0", name, short(cell.text)),
			"write it in digits, like 12; a spreadsheet may have made a date or a decimal of it")
	}
}

// sectorEntry takes a row of a table by sector.
func (r *reader) sectorEntry(a Address) {
	// The address comes before the state: a state for a place that does not exist means nothing.
	lba, ok := r.onDisk(a)
	if !ok {
		return
	}
	cell := r.row.cells[r.columns[colState]]
	var state State
	switch string(cell.text) { // no allocation on the usual words
	case "good":
		state = Good
	case "bad":
		state = Bad
	case "missing":
		state = Missing
	case "untried":
	default:
		var err error
		if state, err = ParseState(short(cell.text)); err != nil {
			r.wrong(cell.at, err.Error(), "")
			return
		}
	}
	if r.firstTime(lba, a) {
		r.table.states[lba] = state
	}
}

// trackEntry takes a row of a table by track.
func (r *reader) trackEntry(a Address) {
	if _, ok := r.onDisk(a); !ok {
		return
	}
	cell := r.row.cells[r.columns[colMissing]]
	// -1 stands for a track that was not tried, as in the table itself.
	n := -1
	if s, err := ParseState(short(cell.text)); err != nil || s != Untried {
		var ok bool
		if n, ok = r.number(colMissing); !ok {
			return
		}
	}
	if sectors, _ := r.format.TrackAt(a.Cylinder, a.Head); n > sectors {
		r.wrong(cell.at, fmt.Sprintf("%d missing cannot be: %s has %d sectors on track %d/%d", n, r.format, sectors, a.Cylinder, a.Head),
			"count the sectors that were not read")
		return
	}
	track := r.format.track(a.Cylinder, a.Head)
	if r.firstTime(track, a) {
		r.table.missing[track] = n
	}
}

// onDisk returns the place of a sector in an image, or notes why it cannot be on the disk.
func (r *reader) onDisk(a Address) (int, bool) {
	r.most = Address{max(r.most.Cylinder, a.Cylinder), max(r.most.Head, a.Head), max(r.most.Sector, a.Sector)}
	lba, err := r.format.LBA(a)
	if err == nil {
		return lba, true
	}
	// Of several things that are wrong with an address the outermost is told, because it is the one that LBA names.
	c, hint := colSector, ""
	switch {
	case a.Cylinder >= r.format.Cylinders:
		c = colCylinder
	case a.Head >= r.format.Heads:
		c = colHead
	case a.Sector == r.format.First()-1:
		from := r.format
		from.Shift--
		hint = fmt.Sprintf("if this disk's sectors are numbered from %d, give its format as %q", a.Sector, from)
	}
	r.wrong(r.row.cells[r.columns[c]].at, err.Error(), hint)
	// The hint at another format goes with the first address that has no better explanation, and can only be given at
	// the end, when the largest address is known.
	if r.outside == 0 && r.untold == 0 && hint == "" {
		r.outside = len(r.problems)
	}
	return 0, false
}

// firstTime notes the line of a row, and refuses a second row for the same place: even two that agree may be two
// readings in one file.
func (r *reader) firstTime(i int, a Address) bool {
	if before := r.line[i]; before != 0 {
		what := a.String()
		if r.table.ByTrack() {
			what = fmt.Sprintf("cylinder %d, head %d", a.Cylinder, a.Head)
		}
		r.wrong(0, fmt.Sprintf("%s is there twice, in line %d as well", what, before), "take one of the rows out")
		return false
	}
	r.line[i] = int32(r.row.number)
	return true
}
