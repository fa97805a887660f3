package record

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// schemaPage tells every table and column.
var schemaPage = filepath.Join("..", "..", "docs", "record.md")

// docColumn is a column as the page tells it.
type docColumn struct{ Name, Type, Unit string }

// TestPageTellsTheTables holds docs/record.md against the tables that a fresh record has: each of them, in the order in which
// it is exported, with its columns, their types, keys, references and units.
func TestPageTellsTheTables(t *testing.T) {
	text, err := os.ReadFile(schemaPage)
	if err != nil {
		t.Fatal(err)
	}
	all, err := migrations(embedded)
	if err != nil {
		t.Fatal(err)
	}
	if want := fmt.Sprintf("column of layout %d;", len(all)); !strings.Contains(string(text), want) {
		t.Errorf("the page does not say %q", want)
	}
	told, order := readPage(t, string(text))
	var tables []string
	for _, e := range exported {
		tables = append(tables, e.table)
	}
	differ(t, "tables, in the order of the export", order, tables)
	r := testRecord(t, defaults)
	for _, table := range tables {
		differ(t, "table "+table, told[table], realColumns(t, r, table))
	}
}

// readPage reads the tables of the page. Each must be introduced, and each column must have a meaning.
func readPage(t *testing.T, text string) (map[string][]docColumn, []string) {
	t.Helper()
	told := map[string][]docColumn{}
	var order []string
	_, text, _ = strings.Cut(text, "\n## Tables\n")
	for section := range strings.SplitSeq(text, "\n### ") {
		name, rest, found := strings.Cut(section, "\n\n")
		if !found {
			continue
		}
		order = append(order, name)
		if intro, _, _ := strings.Cut(rest, "\n\n"); !strings.HasSuffix(intro, ".") {
			t.Errorf("table %s is not introduced: %q", name, intro)
		}
		for line := range strings.Lines(rest) {
			cells := strings.Split(strings.TrimSpace(line), " | ")
			if !strings.HasPrefix(line, "| ") || strings.HasPrefix(line, "| column |") || strings.HasPrefix(line, "| --- |") {
				continue
			}
			if len(cells) != 4 || len(strings.Trim(cells[3], " |")) < 2 {
				t.Fatalf("table %s: %q is not a column with type, unit and meaning", name, line)
			}
			told[name] = append(told[name], docColumn{strings.TrimPrefix(cells[0], "| "), cells[1], cells[2]})
		}
	}
	return told, order
}

// realColumns asks the record itself.
func realColumns(t *testing.T, r *Record, table string) []docColumn {
	t.Helper()
	type info struct {
		name, kind, ref string
		must            bool
		key             int
	}
	all, err := list(within(t), r, `select name, lower(type), "notnull", pk, coalesce((select "table" || '.' || "to"
		from pragma_foreign_key_list(?) f where f."from" = i.name), '') from pragma_table_info(?) i order by cid`,
		func(c *info) []any { return []any{&c.name, &c.kind, &c.must, &c.key, &c.ref} }, table, table)
	if err != nil {
		t.Fatal(err)
	}
	var columns []docColumn
	for _, c := range all {
		kind := c.kind
		if !c.must && c.key == 0 {
			kind += " or null"
		}
		if c.ref != "" {
			kind += " → " + c.ref
		}
		if c.key > 0 {
			kind = "key: " + kind
		}
		columns = append(columns, docColumn{c.name, kind, unitOf(c.name)})
	}
	return columns
}

// units are what the endings of columns mean, longer ones first.
var units = [][2]string{{"_ml_min", "mL/min"}, {"_per_n", "counts/N"}, {"_counts", "counts"}, {"_bytes", "bytes"}, {"_wall", "UTC"},
	{"_min", "min"}, {"_pct", "%"}, {"_kpa", "kPa"}, {"_rpm", "1/min"}, {"_mm", "mm"}, {"_ml", "mL"}, {"_c", "°C"}, {"_n", "N"},
	{"_g", "g"}, {"_s", "s"}}

// counted are columns that count sectors.
var counted = []string{"imbalance", "bound", "mean", "spread", "missing", "good", "bad", "unread", "disputed", "regained",
	"newly_lost", "untried"}

func unitOf(column string) string {
	for _, u := range units {
		if strings.HasSuffix("_"+column, u[0]) {
			return u[1]
		}
	}
	if slices.Contains(counted, column) {
		return "sectors"
	}
	return "–"
}

// TestQueriesOfThePageRun: the queries that the page begins with are not refused.
func TestQueriesOfThePageRun(t *testing.T) {
	text, err := os.ReadFile(schemaPage)
	if err != nil {
		t.Fatal(err)
	}
	r := testRecord(t, defaults)
	fillDisks(t, r)
	n := 0
	for query := range strings.SplitSeq(string(text), ";\n") {
		if at := strings.LastIndex(query, "\n    select "); at >= 0 {
			rows, err := r.db.Query(strings.ReplaceAll(query[at:], "SB-0147", "SB-1"))
			if err != nil {
				t.Fatalf("%s: %v", query[at:], err)
			}
			if !rows.Next() {
				t.Errorf("nothing comes of %s", query[at:])
			}
			rows.Close()
			n++
		}
	}
	if n != 2 {
		t.Errorf("%d queries, want 2", n)
	}
}
