package record

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
)

// source gives a record table by table, in the order of exported.
type source interface {
	// layout is asked first.
	layout() (int, error)
	// table returns the next table and its columns' names; "" after the last one.
	table() (name string, columns []string, err error)
	// row returns the next row of the table, to be read as the columns say; nil after the last one.
	row(columns []column) ([]any, error)
}

// importing is one import on its way.
type importing struct {
	r    *Record
	tx   *sql.Tx
	from source
	old  bool // of an older layout: tables and columns that came later may be missing
}

// wrong makes an error of a document that is no export.
func (r *Record) wrong(format string, args ...any) error {
	return fault(r.path, ErrNotExport, format, args...)
}

// load reads everything into the record in one transaction: all of it is there afterwards, or nothing.
func (r *Record) load(ctx context.Context, from source) error {
	made, err := from.layout()
	if err != nil {
		return r.blame(err, "")
	}
	return r.update(ctx, func(tx *sql.Tx) error {
		have, err := layout(ctx, tx)
		if err != nil {
			return err
		}
		if made > have {
			return fault(r.path, ErrNewer, "what is to be imported has layout %d, this version knows up to %d", made, have)
		}
		if err := r.mustBeEmpty(ctx, tx); err != nil {
			return err
		}
		im := importing{r: r, tx: tx, from: from, old: made < have}
		return im.tables(ctx)
	})
}

func (r *Record) mustBeEmpty(ctx context.Context, tx *sql.Tx) error {
	for _, t := range exported {
		var n int
		if err := tx.QueryRowContext(ctx, `select count(*) from `+t.table).Scan(&n); err != nil {
			return err
		}
		if n > 0 {
			return fault(r.path, ErrNotEmpty, "its table %s has %d rows", t.table, n)
		}
	}
	return nil
}

// tables takes the tables over, each in its place.
func (im *importing) tables(ctx context.Context) error {
	at := 0
	for {
		name, names, err := im.from.table()
		if err != nil {
			return im.r.blame(err, "")
		}
		for at < len(exported) && exported[at].table != name && (im.old || name == "") {
			if !im.old {
				return im.r.wrong("the table %s is missing", exported[at].table)
			}
			at++
		}
		if name == "" {
			return nil
		}
		if at == len(exported) || exported[at].table != name {
			return im.r.wrong("the table %q is not known, or not in its place", name)
		}
		at++
		if err := im.rows(ctx, name, names); err != nil {
			return err
		}
	}
}

// rows takes the rows of one table over.
func (im *importing) rows(ctx context.Context, table string, names []string) error {
	columns, err := im.columns(ctx, table, names)
	if err != nil {
		return err
	}
	st, err := im.tx.PrepareContext(ctx, fmt.Sprintf(`insert into %s (%s) values (?%s)`, table, strings.Join(names, ", "),
		strings.Repeat(", ?", len(names)-1)))
	if err != nil {
		return err
	}
	defer st.Close()
	for n := 1; ; n++ {
		values, err := im.from.row(columns)
		where := fmt.Sprintf("table %s, row %d: ", table, n)
		if err != nil {
			return im.r.blame(err, where)
		}
		if values == nil {
			return nil
		}
		if err := checkRow(table, columns, values); err != nil {
			return im.r.blame(err, where)
		}
		if _, err := st.ExecContext(ctx, values...); refused(err) {
			return im.r.wrong("%sit does not fit the rows before it: %v", where, err)
		} else if err != nil {
			return err
		}
	}
}

// columns looks the columns up in the record's own table.
func (im *importing) columns(ctx context.Context, table string, names []string) ([]column, error) {
	rows, err := im.tx.QueryContext(ctx, `select * from `+table+` where 1 = 0`)
	if err != nil {
		return nil, err
	}
	own, err := columnsOf(rows)
	if err = errors.Join(err, rows.Close()); err != nil {
		return nil, err
	}
	byName := map[string]column{}
	for _, c := range own {
		byName[c.name] = c
	}
	columns := make([]column, 0, len(names))
	for _, name := range names {
		c, known := byName[name]
		if !known {
			return nil, im.r.wrong("table %s: the column %q is not known, or there twice", table, name)
		}
		delete(byName, name)
		columns = append(columns, c)
	}
	if len(byName) > 0 && !im.old || len(columns) == 0 {
		return nil, im.r.wrong("table %s: %d of its columns are missing", table, len(byName))
	}
	return columns, nil
}

// blame turns what a source found wrong into a sentence; its reader's own errors pass inside it.
func (r *Record) blame(err error, where string) error {
	var ours *Error
	if errors.As(err, &ours) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return &Error{Path: r.path, Kind: ErrNotExport, Detail: where + err.Error(), Err: err}
}
