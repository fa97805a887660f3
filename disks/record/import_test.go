package record

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// TestImportRefuses documents that were changed, each with what is wrong and where; the record stays empty.
func TestImportRefuses(t *testing.T) {
	ctx := within(t)
	full := testRecord(t, defaults)
	fillBench(t, full)
	fillDisks(t, full)
	good := string(exportOf(t, full))
	r := testRecord(t, defaults)
	empty := exportOf(t, r)
	tests := []struct {
		name, from, to string
		kind           error
		says           string
	}{
		{"another document", exportName, "another", ErrNotExport, "instead of"},
		{"newer", `"layout": 5`, `"layout": 99`, ErrNewer, "layout 99"},
		{"layout 0", `"layout": 5`, `"layout": 0`, ErrNotExport, "layout reads 0"},
		{"no layout", `"layout": 5`, `"layout": "x"`, ErrNotExport, "string"},
		{"cut off", "\n]}\n", "", ErrNotExport, "too early"},
		{"goes on", "\n]}\n", "\n]}\n{}", ErrNotExport, "goes on"},
		{"unknown table", `{"table": "look"`, `{"table": "Look; drop table disk"`, ErrNotExport, `"Look; drop table disk"`},
		{"unknown column", `"findings"`, `"id"`, ErrNotExport, `table look: the column "id"`},
		{"column twice", `"findings"`, `"verdict"`, ErrNotExport, "twice"},
		{"column missing", `, "reason"], "rows"`, `], "rows"`, ErrNotExport, "missing"},
		{"value for a column", `"mould=some", `, ``, ErrNotExport, "table look, row 1: it has 4 values for 5 columns"},
		{"text for a number", `[1, "cellar", `, `["one", "cellar", `, ErrNotExport, "changeover, row 1: column id"},
		{"number for text", `"mould=some"`, `7`, ErrNotExport, "column findings"},
		{"point in a whole number", `12:00:00.000Z", 1, 90, `, `12:00:00.000Z", 1, 90.5, `, ErrNotExport, "column media_mm"},
		{"large number", `12:00:00.000Z", 1, 90, `, `12:00:00.000Z", 1, 99999999999999999999, `, ErrNotExport, "whole number"},
		{"large real", `1e-300`, `1e400`, ErrNotExport, "is no number"},
		{"truth", `"mould=some"`, `true`, ErrNotExport, `"true"`},
		{"list", `"mould=some"`, `[]`, ErrNotExport, "no value"},
		{"object", `"mould=some"`, `{"text": "x"}`, ErrNotExport, `"text"`},
		{"bad base64", `{"text64": "/w=="}`, `{"text64": "/x=="}`, ErrNotExport, "changeover, row 1"},
		{"null where none may be", `"mould=some"`, `null`, ErrNotExport, "table look, row 1: it does not fit"},
		{"wall time", `2026-05-04T12:01:00.000Z`, `4 May 2026`, ErrNotExport, "wall"},
		{"text changed", `title = \"Cellar bench\"`, `title = \"Attic bench\"`, ErrNotExport, "table file, row"},
		{"disk that is not there", `"SB-1", "mould=some"`, `"SB-7", "mould=some"`, ErrNotExport, "does not fit"},
		{"row twice", "[\"SB-2\",", "[\"SB-1\",", ErrNotExport, "table disk, row"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			bad := strings.Replace(good, tt.from, tt.to, 1)
			if bad == good {
				t.Fatalf("%q is not in the document", tt.from)
			}
			err := r.Import(ctx, strings.NewReader(bad))
			wantFault(t, err, tt.kind, r.Path())
			if err != nil && !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%q does not say %q", err, tt.says)
			}
			if !bytes.Equal(exportOf(t, r), empty) {
				t.Fatal("something stayed in the record")
			}
		})
	}
	bad := regexp.MustCompile(`\{"blob64": "H4sI[^"]*"`).ReplaceAllString(good, `{"blob64": "H4sIAAAAAAAA/wEAAP//AAAAAAAAAAA="`)
	wantFault(t, r.Import(ctx, strings.NewReader(bad)), ErrNotExport, r.Path())
	if err := r.Import(ctx, strings.NewReader(good)); err != nil {
		t.Fatal(err)
	}
	wantFault(t, r.Import(ctx, strings.NewReader(good)), ErrNotEmpty, r.Path())
	wantFault(t, full.ImportCSV(ctx, csvOf(t, r).open), ErrNotEmpty, full.Path())
}

func TestImportOfTornTables(t *testing.T) {
	ctx := within(t)
	full := testRecord(t, defaults)
	fillDisks(t, full)
	r := testRecord(t, defaults)
	empty := exportOf(t, r)
	tests := []struct {
		name, table, from, to, says string
		kind                        error
	}{
		{"no layout", "layout", "5", "five", `"five"`, ErrNotExport},
		{"no number", "layout", "\n5", "", "too early", ErrNotExport},
		{"newer", "layout", "5", "6", "layout 6", ErrNewer},
		{"names", "look", "findings", "Findings", `"Findings"`, ErrNotExport},
		{"torn row", "look", "read first,", "", "table look, row 1: record on line 2", ErrNotExport},
		{"torn quotes", "look", "read first", `read"first`, "quote", ErrNotExport},
		{"word for a number", "look", "\n4,", "\nfour,", "column number", ErrNotExport},
		{"base64", "readback_table", csvCode, csvCode + "!", "column body_gzip", ErrNotExport},
		{"empty file", "look", full.text(t, "look"), "", "table look: it ends too early", ErrNotExport},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			f := csvOf(t, full)
			bad := strings.Replace(f[tt.table].String(), tt.from, tt.to, 1)
			if bad == f[tt.table].String() {
				t.Fatalf("%q is not in %s", tt.from, bad)
			}
			f[tt.table] = bytes.NewBufferString(bad)
			err := r.ImportCSV(ctx, f.open)
			wantFault(t, err, tt.kind, r.Path())
			if err != nil && !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%q does not say %q", err, tt.says)
			}
			if !bytes.Equal(exportOf(t, r), empty) {
				t.Fatal("something stayed in the record")
			}
		})
	}
	f := csvOf(t, full)
	delete(f, "round")
	wantFault(t, r.ImportCSV(ctx, f.open), ErrNotExport, r.Path())
	f = csvOf(t, full)
	f["look"] = bytes.NewBufferString("\ufeff" + f["look"].String()) // as a spreadsheet saves it
	if err := r.ImportCSV(ctx, f.open); err != nil {
		t.Error(err)
	}
}

// text is a table as CSV.
func (r *Record) text(t testing.TB, table string) string { return csvOf(t, r)[table].String() }

// FuzzImport imports arbitrary documents: what is taken can be exported, and comes back the same; what is not leaves the
// record empty and says so in a sentence. Never a panic.
func FuzzImport(f *testing.F) {
	full := testRecord(f, defaults)
	fillBench(f, full)
	fillDisks(f, full)
	good := exportOf(f, full)
	f.Add(good)
	f.Add(good[:len(good)/2])
	f.Add(exportOf(f, testRecord(f, defaults)))
	f.Add([]byte(`{"what": "fullery record", "layout": 1, "tables": []}`))
	f.Add([]byte(`{"what": "fullery record", "layout": 4, "tables": [{"table": "disk", "columns": ["id"], "rows": [["a"], [null]]}]}`))
	r := testRecord(f, defaults)
	empty := exportOf(f, r)
	f.Fuzz(func(t *testing.T, data []byte) {
		ctx := context.Background()
		err := r.Import(ctx, bytes.NewReader(data))
		if err != nil {
			var fault *Error
			if !errors.As(err, &fault) || fault.Path != r.Path() {
				t.Fatalf("error without a sentence: %v", err)
			}
			if got := exportOf(t, r); !bytes.Equal(got, empty) {
				t.Fatalf("%v, and the record has\n%s", err, got)
			}
			return
		}
		first := exportOf(t, r)
		wipe(t, r)
		if err := r.Import(ctx, bytes.NewReader(first)); err != nil {
			t.Fatalf("its own export: %v", err)
		}
		if again := exportOf(t, r); !bytes.Equal(first, again) {
			t.Fatalf("exported\n%s\nand then\n%s", first, again)
		}
		wipe(t, r)
	})
}

// wipe empties every table; only a test may.
func wipe(t interface{ Fatal(...any) }, r *Record) {
	err := r.update(context.Background(), func(tx *sql.Tx) error {
		for _, e := range slices.Backward(exported) {
			if _, err := tx.Exec(`delete from ` + e.table); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}
