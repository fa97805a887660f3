package record

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// fillBench writes something of everything that is not about a disk alone.
func fillBench(t testing.TB, r *Record) {
	t.Helper()
	ctx := within(t)
	c := begin(t, r, example())
	c.PutEvent(Event{At: time.Second, Kind: "guard", Stage: -1, Said: "The lid\r\nwas \"opened\", \\N", Value: new(0.1)})
	c.PutSample(Sample{At: 2 * time.Second, AirC: new(21.0), DosedML: new(-1e-300)})
	c.PutDrying(Drying{Liquid: "water", Time: time.Hour, Evidence: "air"})
	if err := c.Finish(ctx, End{State: "complete", Wall: noon}); err != nil {
		t.Fatal(err)
	}
	must[int64](t)(r.PutHandDrying(ctx, byHand()))
	must[int64](t)(r.PutBelief(ctx, Belief{Bench: "cellar", Liquids: []string{"water"}, Mean: []float64{0.1, -13},
		Cov: [][]float64{{1, 1.0 / 3}, {1.0 / 3, 2}}, Jitter: math.Pi}))
	must[int64](t)(r.PutCellCalibration(ctx, CellCalibration{Bench: "cellar", Part: "weight", Accepted: true, GainPerN: 812.5,
		Points: []CellPoint{{MassG: 500, Counts: 3984.25, Readings: 8}}}))
	must[int64](t)(r.PutTare(ctx, Tare{Bench: "cellar", Part: "weight", Counts: 17, Readings: 8}))
	must[int64](t)(r.PutPumpCalibration(ctx, PumpCalibration{Bench: "cellar", Part: "pump", Points: []PumpPoint{{50, 3, time.Minute}}}))
	must[int64](t)(r.PutBenchTest(ctx, BenchTest{Bench: "cellar", BenchText: "title = \"µ\"\r\n", Steps: []BenchStep{{Part: "fan", Result: StepPassed}}}))
	for _, err := range []error{r.PutPadsChange(ctx, PadsChange{Bench: "cellar", What: Cover, Made: noon}),
		r.PutChangeover(ctx, Changeover{Bench: "cellar", Liquid: "water", By: "\xff"}), r.Raise(ctx, "Look at it.", noon),
		r.Acknowledge(ctx, 1, "", noon)} {
		if err != nil {
			t.Fatal(err)
		}
	}
}

// exportOf is the record as a document.
func exportOf(t testing.TB, r *Record) []byte {
	t.Helper()
	var to bytes.Buffer
	if err := r.Export(within(t), &to); err != nil {
		t.Fatal(err)
	}
	return to.Bytes()
}

// files are CSV files in memory.
type files map[string]*bytes.Buffer

type closer struct{ *bytes.Buffer }

func (closer) Close() error { return nil }

func (f files) create(table string) (io.WriteCloser, error) {
	if f[table] != nil {
		return nil, fmt.Errorf("%s is made twice", table)
	}
	f[table] = new(bytes.Buffer)
	return closer{f[table]}, nil
}

func (f files) open(table string) (io.ReadCloser, error) {
	if f[table] == nil {
		return nil, fmt.Errorf("there is no %s", table)
	}
	return closer{bytes.NewBuffer(f[table].Bytes())}, nil
}

func csvOf(t testing.TB, r *Record) files {
	t.Helper()
	f := files{}
	if err := r.ExportCSV(within(t), f.create); err != nil {
		t.Fatal(err)
	}
	return f
}

// TestExportAndImport: a record that has something in every table comes back the same, through JSON and through CSV.
func TestExportAndImport(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	fillBench(t, r)
	fillDisks(t, r)
	for _, e := range exported {
		var n int
		if err := r.db.QueryRow(`select count(*) from ` + e.table).Scan(&n); err != nil || n == 0 {
			t.Errorf("table %s has %d rows, %v: nothing of it is tested", e.table, n, err)
		}
	}
	want, tables := exportOf(t, r), csvOf(t, r)
	byJSON, byCSV := testRecord(t, defaults), testRecord(t, defaults)
	if err := byJSON.Import(ctx, bytes.NewReader(want)); err != nil {
		t.Fatal(err)
	}
	if err := byCSV.ImportCSV(ctx, tables.open); err != nil {
		t.Fatal(err)
	}
	for name, copied := range map[string]*Record{"JSON": byJSON, "CSV": byCSV} {
		if got := exportOf(t, copied); !bytes.Equal(got, want) {
			t.Errorf("through %s it came back as\n%s\nand was\n%s", name, got, want)
		}
		differ(t, name+": CSV", contents(csvOf(t, copied)), contents(tables))
		differ(t, name+": story", outline(must[Story](t)(copied.Story(ctx, "SB-1"))), outline(must[Story](t)(r.Story(ctx, "SB-1"))))
	}
	// Numbers go on where they were: what is written next is the same in both.
	a, b := must[int64](t)(r.PutHeadCleaning(ctx, HeadCleaning{})), must[int64](t)(byJSON.PutHeadCleaning(ctx, HeadCleaning{}))
	if a != b || a < 2 {
		t.Errorf("the next entries are %d and %d", a, b)
	}
}

func contents(f files) map[string]string {
	all := map[string]string{}
	for name, text := range f {
		all[name] = text.String()
	}
	return all
}

// TestExportOfAnything: whatever is in the tables comes back, bit for bit.
func TestExportOfAnything(t *testing.T) {
	text := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"", `\N`, `\base64:`, "null", "a\r\nb\rc\n", "\xff\x00", "\"", ",;\t", "\ufeff", "\ufffd", " ", "-1", `{"text64": ""}`}))
	real := rapid.OneOf(rapid.Float64(), rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1, 1e21, math.MaxFloat64, math.SmallestNonzeroFloat64, math.Inf(1), math.Inf(-1), 0.1}))
	r, c := testRecord(t, defaults), testRecord(t, defaults)
	rapid.Check(t, func(t *rapid.T) {
		ctx := context.Background()
		wipe(t, r)
		err := r.update(ctx, func(tx *sql.Tx) error {
			for i := range rapid.IntRange(0, 5).Draw(t, "rows") {
				wall := wallText(time.UnixMilli(rapid.Int64Range(-1e12, 4e12).Draw(t, "ms")))
				for _, err := range []error{
					second(tx.Exec(`insert into attention (id, raised_wall, said, acked_by) values (?, ?, ?, ?)`, i, wall, text.Draw(t, "said"),
						rapid.SampledFrom([]any{nil, "", "x"}).Draw(t, "by"))),
					second(tx.Exec(`insert into changeover (id, bench, liquid, flammable, after_cycle, by_whom) values (?, ?, ?, ?, ?, ?)`,
						i, text.Draw(t, "bench"), text.Draw(t, "liquid"), 1, rapid.Int64().Draw(t, "after"), text.Draw(t, "whom"))),
					second(tx.Exec(`insert into tare (number, bench, simulated, part, counts, sd_counts, readings, made_by) values (?, '', 0, '', ?, ?, 1, '')`,
						rapid.Int64().Draw(t, "number"), real.Draw(t, "counts"), rapid.SampledFrom([]any{nil, 1.5, 2}).Draw(t, "sd"))),
				} {
					if err != nil && !refused(err) { // a number drawn twice
						return err
					}
				}
			}
			return nil
		})
		var want, got bytes.Buffer
		f := files{}
		if err := errors.Join(err, r.Export(ctx, &want), r.ExportCSV(ctx, f.create)); err != nil {
			t.Fatal(err)
		}
		for _, imported := range []func(*Record) error{
			func(c *Record) error { return c.Import(ctx, bytes.NewReader(want.Bytes())) },
			func(c *Record) error { return c.ImportCSV(ctx, f.open) },
		} {
			wipe(t, c)
			got.Reset()
			if err := errors.Join(imported(c), c.Export(ctx, &got)); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got.Bytes(), want.Bytes()) {
				t.Fatalf("it came back as\n%s\nand was\n%s", got.Bytes(), want.Bytes())
			}
		}
	})
}

// TestExportListsEveryTable: a table that a later layout adds is not forgotten, and its key comes first.
func TestExportListsEveryTable(t *testing.T) {
	r := testRecord(t, defaults)
	type row struct {
		table string
		keys  int
	}
	all, err := list(within(t), r, `select m.name, (select count(*) from pragma_table_info(m.name) where pk > 0)
		from sqlite_master m where type = 'table' and name not like 'sqlite_%' order by 1`, func(x *row) []any { return []any{&x.table, &x.keys} })
	if err != nil {
		t.Fatal(err)
	}
	var own []row
	for _, e := range exported {
		own = append(own, row{e.table, e.keys})
	}
	slices.SortFunc(own, func(a, b row) int { return strings.Compare(a.table, b.table) })
	differ(t, "tables", fmt.Sprint(own), fmt.Sprint(all))
	var late int
	if err := r.db.QueryRow(`select count(*) from sqlite_master m, pragma_table_info(m.name) i where m.type = 'table' and pk > 0 and cid <> pk - 1`).Scan(&late); err != nil || late > 0 {
		t.Errorf("%d keys do not come first, %v", late, err)
	}
}

// TestExportOfReadOnly: a record in a folder that cannot be written is exported as well.
func TestExportOfReadOnly(t *testing.T) {
	r := testRecord(t, defaults)
	fillDisks(t, r)
	want := exportOf(t, r)
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	only, err := OpenReadOnly(within(t), r.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer only.Close()
	if !bytes.Equal(exportOf(t, only), want) {
		t.Error("another document")
	}
}

// small takes some bytes, then no more.
type small struct{ room int }

func (s *small) Write(b []byte) (int, error) {
	if s.room -= len(b); s.room < 0 {
		return 0, io.ErrShortWrite
	}
	return len(b), nil
}

func (s *small) Close() error { return nil }

func TestExportTellsOfAFullDisk(t *testing.T) {
	r := testRecord(t, defaults)
	fillDisks(t, r)
	whole := len(exportOf(t, r))
	for _, room := range []int{0, whole / 2, whole - 1} {
		if err := r.Export(within(t), &small{room}); !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("%d of %d bytes: %v", room, whole, err)
		}
	}
	for _, room := range []int{0, 8} {
		err := r.ExportCSV(within(t), func(string) (io.WriteCloser, error) { return &small{room}, nil })
		if !errors.Is(err, io.ErrShortWrite) {
			t.Errorf("%d bytes a file: %v", room, err)
		}
	}
	if err := r.ExportCSV(within(t), func(string) (io.WriteCloser, error) { return nil, io.ErrClosedPipe }); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("a file that cannot be made: %v", err)
	}
}

// TestRealsLookLikeReals: a number of a double precision column is told from a whole one by its text alone.
func TestRealsLookLikeReals(t *testing.T) {
	for want, v := range map[string]any{"1.0": 1.0, "-0.0": math.Copysign(0, -1), "1e+21": 1e21, "0.1": 0.1, "1": int64(1), "null": nil,
		`{"real": "-Inf"}`: math.Inf(-1), `"<µ>"`: "<µ>", `{"text64": "/w=="}`: "\xff", `{"blob64": "AA=="}`: []byte{0}} {
		if got, err := jsonValue(v); err != nil || string(got) != want {
			t.Errorf("%v is written %s, %v; want %s", v, got, err, want)
		}
	}
	if _, err := jsonValue(true); err == nil {
		t.Error("a truth value was written")
	}
}
