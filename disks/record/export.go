package record

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

// The whole record can be written out as one JSON document or as CSV files, one a table, and read again into an empty
// record: table by table, column by column, so that nothing is left out and nothing is reworded.

// exported lists every table after those that it refers to, and how many of its first columns are its key.
var exported = []struct {
	table string
	keys  int
}{
	{"disk", 1}, {"attention", 1}, {"file", 1}, {"cycle", 1}, {"stage", 2}, {"event", 2}, {"sample", 2}, {"drying", 2},
	{"changeover", 1}, {"drying_by_hand", 1}, {"belief", 1}, {"belief_figure", 2}, {"belief_covariance", 3},
	{"cell_calibration", 1}, {"cell_point", 2}, {"tare", 1}, {"pump_calibration", 1}, {"pump_point", 2}, {"bench_test", 1},
	{"bench_test_step", 2}, {"pads_change", 1}, {"journal", 1}, {"register_change", 1}, {"look", 1}, {"head_cleaning", 1},
	{"deal", 1}, {"deal_method", 2}, {"deal_disk", 2}, {"round", 1}, {"readback_table", 1}, {"readback", 1}, {"joined", 1},
	{"joined_input", 2},
}

// sink takes a record table by table. Values are nil, int64, float64, string or []byte.
type sink interface {
	begin(layout int, table string, columns []column) error
	row(values []any) error
	end() error
}

// column is a column of a table and what it holds.
type column struct {
	name string
	kind kind
}

// kind is what a column holds.
type kind int

const (
	integers kind = iota
	reals
	texts
	blobs
)

// kinds by the types that the tables are declared with.
var kinds = map[string]kind{"INTEGER": integers, "DOUBLE PRECISION": reals, "TEXT": texts, "BLOB": blobs}

// dump reads every table in one transaction, so that all of it is of one moment, and gives it to the sink.
func (r *Record) dump(ctx context.Context, to sink) error {
	tx, err := r.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return explain(r.path, err)
	}
	defer tx.Rollback()
	have, err := layout(ctx, tx)
	if err != nil {
		return explain(r.path, err)
	}
	for _, t := range exported {
		if err := r.dumpTable(ctx, tx, have, t.table, t.keys, to); err != nil {
			return err
		}
	}
	return nil
}

func (r *Record) dumpTable(ctx context.Context, tx *sql.Tx, have int, table string, keys int, to sink) (err error) {
	order := "1"
	for n := 2; n <= keys; n++ {
		order += fmt.Sprintf(", %d", n)
	}
	rows, err := tx.QueryContext(ctx, `select * from `+table+` order by `+order)
	if err != nil {
		return explain(r.path, err)
	}
	defer func() { err = errors.Join(err, explain(r.path, rows.Close())) }()
	columns, err := columnsOf(rows)
	if err != nil {
		return explain(r.path, err)
	}
	if err := to.begin(have, table, columns); err != nil {
		return err
	}
	values, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return explain(r.path, err)
		}
		if err := to.row(values); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return explain(r.path, err)
	}
	return to.end()
}

// columnsOf tells what the columns of a query of whole tables hold.
func columnsOf(rows *sql.Rows) ([]column, error) {
	declared, err := rows.ColumnTypes()
	if err != nil {
		return nil, err
	}
	columns := make([]column, len(declared))
	for i, d := range declared {
		k, known := kinds[d.DatabaseTypeName()]
		if !known {
			return nil, fmt.Errorf("column %s is declared as %q", d.Name(), d.DatabaseTypeName())
		}
		columns[i] = column{d.Name(), k}
	}
	return columns, nil
}
