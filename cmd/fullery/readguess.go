package main

import (
	"fmt"
	"slices"
	"strings"

	"fullery/disks/readback"
)

// guess is what a table, and an image if there is one, say of the disk's format.
type guess struct {
	table *readback.Table   // read as what was guessed; nil when nothing or several fit
	fit   []readback.Format // that have a place for every row, and the image's size
	whole bool              // those have a row for every sector; of the others some are untried
	tried readback.Format   // when none fits: what the mistakes were found as
	wrong error             // these mistakes
	from  string            // what the guess rests on, in words
}

// guessFormat reads a table as every named format, of those that have the image's size if that is known (0: it is not).
// One that leaves no sector untried fits better than one that does.
func guessFormat(path string, data []byte, imageSize int64) (g guess, err error) {
	named := readback.Formats()
	g.from = "of the named formats, from the rows of the table"
	if imageSize > 0 {
		g.from = "of the named formats, from the size of the image"
		if named = readback.Fitting(imageSize); len(named) == 0 {
			return g, said(statusNo, "no named format has an image of %d bytes: give the disk's own with --format", imageSize)
		}
	}
	// There are some thirty formats, and most refuse within a few rows of a wrong one.
	var tables []*readback.Table
	for _, f := range geometries(named) {
		t, err := parseTable(path, data, f)
		switch {
		case err == nil:
			tables = append(tables, t)
		case g.wrong == nil || f.Total() > g.tried.Total(): // the largest has the fewest rows without a place
			g.tried, g.wrong = f, err
		}
	}
	// Without a whole one the others are all that is known, and they stay.
	partly := func(t *readback.Table) bool { return t.Total().Untried > 0 }
	if !slices.ContainsFunc(tables, func(t *readback.Table) bool { return !partly(t) }) {
		partly = func(*readback.Table) bool { return false }
	} else {
		g.whole = true
	}
	tables = slices.DeleteFunc(tables, partly)
	for _, t := range tables {
		g.fit = append(g.fit, t.Format())
	}
	if len(tables) == 1 {
		g.table = tables[0]
	}
	return g, nil
}

// geometries joins formats that differ only by the size of the cartridge: no file tells them apart, and it is left unsaid.
func geometries(named []readback.Named) (list []readback.Format) {
	for _, n := range named {
		i := slices.IndexFunc(list, n.SameGeometry)
		if i < 0 {
			list = append(list, n.Format)
		} else {
			list[i].Media = 0 // 90 mm and 130 mm have some geometries in common
		}
	}
	return list
}

// ambiguous says which formats fit, when it is not one.
func (g guess) ambiguous(path string) error {
	var names []string
	for _, f := range g.fit {
		names = append(names, fmt.Sprintf("%q", f.String()))
	}
	but := ""
	if !g.whole {
		but = ", with sectors left untried"
	}
	return said(statusUsage, "%s: several formats fit%s; say which with --format: %s", onScreen(path), but, strings.Join(names, ", "))
}
