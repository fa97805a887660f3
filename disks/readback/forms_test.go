package readback

import (
	"encoding/csv"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fullery/recipe/tomltree"

	"pgregory.net/rapid"
)

// writing is a hand that writes tables as people and spreadsheets do: any order, any marks, any blank lines.
type writing struct {
	*rapid.T
	separator, end string
	columns        []column
	lines          []string
}

func newWriting(t *rapid.T, byTrack bool) *writing {
	w := &writing{T: t, columns: []column{colCylinder, colHead, colSector, colState}}
	if byTrack {
		w.columns = []column{colCylinder, colHead, colMissing}
	}
	w.columns = rapid.Permutation(w.columns).Draw(t, "columns")
	w.separator = rapid.SampledFrom([]string{",", ";", "\t"}).Draw(t, "separator")
	w.end = rapid.SampledFrom([]string{"\n", "\r\n", "\r"}).Draw(t, "line end")
	return w
}

// row writes one row from the values of its columns, now and then with something between that means nothing.
func (w *writing) row(values map[column]string) {
	cells := make([]string, len(w.columns))
	for i, c := range w.columns {
		cells[i] = w.cell(values[c])
	}
	switch rapid.IntRange(0, 9).Draw(w.T, "between") {
	case 0:
		w.lines = append(w.lines, "")
	case 1:
		w.lines = append(w.lines, " # remark; \"with\tmarks, ")
	case 2:
		w.lines = append(w.lines, strings.Repeat(w.separator, len(cells)))
	case 3:
		cells = append(cells, "", "")
	}
	w.lines = append(w.lines, strings.Join(cells, w.separator))
}

func (w *writing) cell(text string) string {
	switch rapid.IntRange(0, 7).Draw(w.T, "cell") {
	case 0:
		return `"` + text + `"`
	case 1:
		return "  " + text + " "
	case 2:
		return ` " ` + text + ` "  `
	case 3:
		return strings.ToUpper(text)
	case 4:
		if _, err := strconv.Atoi(text); err == nil {
			return "0" + text
		}
	}
	return text
}

func (w *writing) header() {
	values := map[column]string{}
	for c, name := range columnNames {
		values[column(c)] = name
	}
	w.row(values)
}

func (w *writing) text() string {
	text := strings.Join(w.lines, w.end)
	if rapid.Bool().Draw(w.T, "a last line end") {
		text += w.end
	}
	if rapid.Bool().Draw(w.T, "a mark of UTF-8") {
		text = "\ufeff" + text
	}
	return text
}

// rowsOf returns the table as values of columns, in an order that is drawn. What is untried is now and then left out.
func rowsOf(t *rapid.T, table *Table) []map[column]string {
	f := table.Format()
	var rows []map[column]string
	if table.ByTrack() {
		for i, n := range table.missing {
			missing := strconv.Itoa(n)
			if n < 0 {
				missing = "untried"
			}
			rows = append(rows, map[column]string{colCylinder: strconv.Itoa(i / f.Heads), colHead: strconv.Itoa(i % f.Heads), colMissing: missing})
		}
	} else {
		for lba, s := range table.states {
			a, _ := f.At(lba)
			rows = append(rows, map[column]string{colCylinder: strconv.Itoa(a.Cylinder), colHead: strconv.Itoa(a.Head),
				colSector: strconv.Itoa(a.Sector), colState: s.String()})
		}
	}
	leave := rapid.Bool().Draw(t, "leave the untried out")
	rows = slices.DeleteFunc(rows, func(r map[column]string) bool {
		return leave && (r[colState] == "untried" || r[colMissing] == "untried")
	})
	return rapid.Permutation(rows).Draw(t, "rows")
}

func drawTinyTable(t *rapid.T) *Table {
	f := Format{Cylinders: rapid.IntRange(1, 3).Draw(t, "cylinders"), Heads: rapid.IntRange(1, 2).Draw(t, "heads"),
		Sectors: rapid.IntRange(1, 4).Draw(t, "sectors"), Bytes: 128, Shift: rapid.IntRange(-1, 0).Draw(t, "shift")}
	return drawTable(t, f, "table")
}

// However a table is written down, it is read as the same table.
func TestAnyFormIsRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawTinyTable(t)
		rows := rowsOf(t, want)
		if len(rows) == 0 {
			t.Skip("a file without rows is refused")
		}
		w := newWriting(t, want.ByTrack())
		w.header()
		for _, r := range rows {
			w.row(r)
		}
		got, err := Read("x.csv", strings.NewReader(w.text()), want.Format())
		if err != nil || !got.Equal(want) {
			t.Fatalf("%v\n%s", err, strings.Join(w.lines, "\n"))
		}
	})
}

// One row that is wrong, anywhere in a file that is otherwise right, is told with its line, and there is no table.
func TestAnyWrongRowIsTold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := drawTinyTable(t)
		rows := rowsOf(t, table)
		if len(rows) == 0 {
			t.Skip("nothing to spoil")
		}
		w := newWriting(t, table.ByTrack())
		w.header()
		wrong, line := rapid.IntRange(0, len(rows)-1).Draw(t, "wrong row"), 0
		for i, r := range rows {
			if w.row(r); i == wrong {
				line = spoil(t, w, r, table.Format())
			}
		}
		got, err := Read("x.csv", strings.NewReader(w.text()), table.Format())
		var problems tomltree.Problems
		if got != nil || !errors.As(err, &problems) || len(problems) != 1 || problems[0].Place.Line != line || problems[0].Said == "" {
			t.Fatalf("%v, want one problem in line %d\n%s", err, line, strings.Join(w.lines, "\n"))
		}
	})
}

// spoil writes another row, or makes the one just written wrong, and returns its line.
func spoil(t *rapid.T, w *writing, r map[column]string, f Format) int {
	last := len(w.lines) - 1
	with := func(c column, text string) int {
		changed := map[column]string{}
		for k, v := range r {
			changed[k] = v
		}
		changed[c] = text
		w.lines = w.lines[:last]
		w.row(changed)
		return len(w.lines)
	}
	what := colState
	if slices.Contains(w.columns, colMissing) {
		what = colMissing
	}
	switch rapid.IntRange(0, 6).Draw(t, "what is wrong") {
	case 0: // there twice
		w.row(r)
		return len(w.lines)
	case 1: // torn
		w.lines[last] = strings.TrimRight(w.lines[last], w.separator+" ")
		w.lines[last] = w.lines[last][:strings.LastIndex(w.lines[last], w.separator)]
		return last + 1
	case 2:
		return with(colCylinder, strconv.Itoa(f.Cylinders))
	case 3:
		return with(colHead, strconv.Itoa(f.Heads))
	case 4:
		return with(what, rapid.SampledFrom([]string{"", "ok", "-1", "1.0", "41", "bda"}).Draw(t, "word"))
	case 5:
		return with(colCylinder, rapid.SampledFrom([]string{"", "x", "-1", "1.0", "1e0", "0x1", "1-2"}).Draw(t, "number"))
	}
	w.lines[last] += w.separator + "good"
	return last + 1
}

// Rows of cells without quotation marks inside, and properly quoted ones, are split as the standard library splits them
// (RFC 4180), but for the blanks around a cell, which we take away.
func TestSplitAsTheStandardLibrary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		separator := rapid.SampledFrom([]byte(",;\t")).Draw(t, "separator")
		var cells []string
		for _, c := range rapid.SliceOfN(rapid.StringMatching(`[a-z0-9 ,;µ]{0,6}`), 1, 6).Draw(t, "cells") {
			if rapid.Bool().Draw(t, "quoted") {
				c = `"` + c + `"`
			} else {
				c = strings.ReplaceAll(c, string(separator), "")
			}
			cells = append(cells, c)
		}
		line := strings.Join(cells, string(separator))
		std := csv.NewReader(strings.NewReader(line + "\n"))
		std.Comma = rune(separator)
		want, err := std.Read()
		if err != nil {
			t.Skip("an empty line")
		}
		r := row{line: []byte(line)}
		if at, ok := r.split(separator); !ok {
			t.Fatalf("%q: marks do not match at %d", line, at)
		}
		var got []string
		for _, c := range r.cells {
			got = append(got, string(c.text))
		}
		for i, w := range want {
			want[i] = strings.Trim(w, " \t")
		}
		if fmt.Sprintf("%q", got) != fmt.Sprintf("%q", want) {
			t.Fatalf("%q is split into %q, want %q", line, got, want)
		}
	})
}
