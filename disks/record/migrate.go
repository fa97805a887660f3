package record

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
)

//go:embed migrations/*.sql
var embedded embed.FS

// migration is one numbered step of the layout.
type migration struct {
	number int
	script string
}

// migrations reads NNNN_name.sql files, which must count up from 1 without a gap: a missing one would leave every
// record of that age without a way forward.
func migrations(files fs.FS) ([]migration, error) {
	names, err := fs.Glob(files, "migrations/*.sql")
	if err != nil {
		return nil, err
	}
	var all []migration
	for i, name := range names {
		digits, _, _ := strings.Cut(strings.TrimPrefix(name, "migrations/"), "_")
		n, err := strconv.Atoi(digits)
		if err != nil || n != i+1 {
			return nil, fmt.Errorf("migration %s: want number %04d", name, i+1)
		}
		script, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		all = append(all, migration{n, string(script)})
	}
	return all, nil
}

// checkLayout refuses a file of a newer layout than the last of all, and one with a number that was never given.
func checkLayout(path string, have int, all []migration) error {
	switch {
	case have < 0:
		return fault(path, ErrDamaged, "its layout reads %d", have)
	case have > len(all):
		return fault(path, ErrNewer, "its layout is %d, this version knows up to %d", have, len(all))
	}
	return nil
}

// migrate brings the record at path up to date in one transaction: it is of the old layout or of the new one, never
// between. The layout is read again inside, because another process may have been quicker.
func migrate(ctx context.Context, path string, db *sql.DB, all []migration) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return explain(path, err)
	}
	defer tx.Rollback()
	have, err := layout(ctx, tx)
	if err != nil {
		return explain(path, err)
	}
	if err := checkLayout(path, have, all); err != nil || have == len(all) {
		return err
	}
	for _, m := range all[have:] {
		if _, err := tx.ExecContext(ctx, m.script); err != nil {
			return explain(path, fmt.Errorf("bringing the record to layout %d: %w", m.number, err))
		}
	}
	if err := setLayout(ctx, tx, len(all)); err != nil {
		return explain(path, err)
	}
	return explain(path, tx.Commit())
}
