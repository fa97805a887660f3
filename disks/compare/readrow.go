package compare

import (
	"fmt"
	"strconv"
	"strings"
)

// readRows reads the disks. What two of them contradict each other in is an error too.
func (h header) readRows(lines []numbered) (rows []Row, err error) {
	disks, methods, blocks := spellings{}, spellings{}, spellings{}
	for _, l := range lines {
		row, err := h.readRow(l)
		if err != nil {
			return nil, err
		}
		if first, ok := disks[strings.ToLower(row.Disk)]; ok {
			return nil, on(l.line, "disk %q is on line %d already: a disk counts once, so keep the row of one round", row.Disk, first.line)
		}
		disks[strings.ToLower(row.Disk)] = spelling{row.Disk, l.line}
		if err := methods.alike("method", row.Method, l.line); err != nil {
			return nil, err
		}
		if err := blocks.alike("block", row.Block, l.line); err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("there is no disk in it, only the names of the columns")
	}
	return rows, check(rows)
}

// spellings are the names seen so far, by what is left of them without case.
type spellings map[string]spelling

type spelling struct {
	name string
	line int
}

// alike refuses a name that differs from one before it in nothing but case: it would count as another.
func (s spellings) alike(what, name string, line int) error {
	first, ok := s[strings.ToLower(name)]
	if ok && first.name != name {
		return on(line, "%s %q and %q on line %d differ only in case: write them alike", what, name, first.name, first.line)
	}
	if !ok {
		s[strings.ToLower(name)] = spelling{name, line}
	}
	return nil
}

func (h header) readRow(l numbered) (Row, error) {
	cells, err := cellsOf(l, h.separator)
	if err != nil {
		return Row{}, err
	}
	for len(cells) > h.width && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	if len(cells) > h.width {
		return Row{}, on(l.line, "it has %d cells, but there are %d columns", len(cells), h.width)
	}
	for len(cells) < h.width {
		cells = append(cells, "")
	}
	for i, cell := range cells {
		if cell != "" && !h.named(i) {
			return Row{}, on(l.line, "%q stands in a column without a name", cell)
		}
	}
	row := Row{Disk: h.cell(cells, "disk"), Method: h.cell(cells, "method"), Block: h.cell(cells, "block")}
	if err := h.readNumbers(&row, cells); err != nil {
		return Row{}, lineError{l.line, err}
	}
	if err := row.check(); err != nil {
		return Row{}, on(l.line, "disk %q: %w", row.Disk, err)
	}
	return row, nil
}

func (h header) named(column int) bool {
	for _, i := range h.place {
		if i == column {
			return true
		}
	}
	return false
}

// cell returns what stands in the named column, nothing where there is none.
func (h header) cell(cells []string, name string) string {
	if i, ok := h.place[name]; ok {
		return cells[i]
	}
	return ""
}

// readNumbers reads the counts. An empty cell is never a zero.
func (h header) readNumbers(row *Row, cells []string) error {
	known := map[string]bool{}
	for _, c := range []struct {
		name string
		into *int
	}{{"before", &row.Before}, {"after", &row.After}, {"regained", &row.Regained}, {"newly_lost", &row.NewlyLost}, {"sectors", &row.Sectors}} {
		text := h.cell(cells, c.name)
		if text == "" {
			if c.name == "before" || c.name == "after" {
				return fmt.Errorf("%s is empty: a disk that was not read has no place here, and 0 means that nothing is missing", c.name)
			}
			continue
		}
		n, err := whole(text)
		if err != nil {
			return fmt.Errorf("%s: %w", c.name, err)
		}
		*c.into, known[c.name] = n, true
	}
	switch row.Split = known["regained"] || known["newly_lost"]; {
	case row.Split && !known["regained"]:
		row.Regained = row.NewlyLost - row.change()
	case row.Split && !known["newly_lost"]:
		row.NewlyLost = row.Regained + row.change()
	}
	return nil
}

// whole reads a count of sectors.
func whole(text string) (int, error) {
	for _, r := range text {
		if r < '0' || r > '9' {
			return 0, fmt.Errorf("%q is no whole number of sectors: write digits only, as in 120", text)
		}
	}
	n, err := strconv.Atoi(text)
	if err != nil || n > mostSectors {
		return 0, fmt.Errorf("%s sectors are more than any disk has (%d here at most)", text, mostSectors)
	}
	return n, nil
}
