package record

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Everything that only SQLite knows is in this file: how a connection is set up, the header of the file, the layout
// number, the check for damage, and what its result codes mean.

// appID marks a SQLite file as a record ("FULL" in ASCII), so that another program's database is never touched.
const appID = 0x46554c4c

// walLimit is the size to which the write-ahead log is cut back once it has been taken over into the file.
const walLimit = 8 << 20 // bytes

// connect opens a pool on path. Every pragma is in the name, so that each connection of the pool gets it when it is
// made; a pragma sent as a statement would reach one connection only. Transactions begin immediate: one that reads
// first and then writes could not wait for its turn. busy is how long a connection waits for another writer before it
// gives up with ErrLocked.
func connect(path, mode string, busy time.Duration) (*sql.DB, error) {
	v := url.Values{"mode": {mode}, "_txlock": {"immediate"}, "_defensive": {"1"}, "_dqs": {"0"}, "_error_rc": {"1"}}
	v.Add("_pragma", fmt.Sprintf("busy_timeout(%d)", busy.Milliseconds()))
	v.Add("_pragma", "foreign_keys(1)")
	v.Add("_pragma", "synchronous(FULL)") // each commit reaches the disk before it is acknowledged
	// A file may come from anywhere: it runs no functions of its own and its cells are checked when read.
	v.Add("_pragma", "trusted_schema(0)")
	v.Add("_pragma", "cell_size_check(1)")
	switch mode {
	case "rwc", "rw":
		v.Add("_pragma", "journal_mode(WAL)")
		v.Add("_pragma", fmt.Sprintf("journal_size_limit(%d)", walLimit))
	case "immutable": // nobody writes it: no locks, no log
		v.Set("mode", "ro")
		v.Set("immutable", "1")
	}
	name := "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + v.Encode()
	db, err := sql.Open("sqlite", name)
	if err != nil {
		return nil, explain(path, err)
	}
	db.SetMaxOpenConns(8)
	db.SetMaxIdleConns(2)
	return db, nil
}

// querier is a pool, a connection or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
}

// layout returns the number of the last migration that was applied; 0 for a new file.
func layout(ctx context.Context, q querier) (int, error) {
	var n int
	return n, q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&n)
}

// setLayout marks the file as a record of layout n, within the caller's transaction.
func setLayout(ctx context.Context, q querier, n int) error {
	_, err := q.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d", appID, n))
	return err
}

// takeOver brings all of the log into the file, durably. Nobody else may have the file open.
func takeOver(ctx context.Context, q querier) error {
	var busy, pages, moved int
	err := q.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &pages, &moved)
	if err == nil && busy != 0 {
		err = errors.New("somebody else has a new record open")
	}
	return err
}

// checkHeader reads the first 100 bytes of the file (layout: https://www.sqlite.org/fileformat2.html, section 1.3)
// without SQLite, because merely opening another program's database can change it.
func checkHeader(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return fileFault(path, err)
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && !info.Mode().IsRegular() {
		return fault(path, ErrNotRecord, "it is not a file")
	}
	var head [100]byte
	n, err := io.ReadFull(f, head[:])
	magic := []byte("SQLite format 3\x00")
	switch {
	case n == 0 && errors.Is(err, io.EOF):
		return fault(path, ErrDamaged, "it is empty")
	case !bytes.HasPrefix(magic, head[:min(n, 16)]):
		return fault(path, ErrNotRecord, "it does not begin like one")
	case errors.Is(err, io.ErrUnexpectedEOF):
		return fault(path, ErrDamaged, "only its first %d bytes are there", n)
	case err != nil:
		return fileFault(path, err)
	case binary.BigEndian.Uint32(head[68:]) != appID:
		return fault(path, ErrNotRecord, "it is a database of another program")
	}
	return nil
}

// checkPages has SQLite look at every page. It reports the first thing found as ErrDamaged.
func checkPages(ctx context.Context, path string, q querier) error {
	var said string
	if err := q.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&said); err != nil {
		return explain(path, err)
	}
	if said != "ok" {
		return fault(path, ErrDamaged, "%s", strings.Join(strings.Fields(said), " "))
	}
	return nil
}

// explain turns a result code into a sentence (codes: https://www.sqlite.org/rescode.html). A cancelled context and
// errors that are already explained pass unchanged.
func explain(path string, err error) error {
	var ours *Error
	var code *sqlite.Error
	switch {
	case err == nil, errors.As(err, &ours), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case !errors.As(err, &code):
		return fileFault(path, err)
	}
	kind, detail := ErrFailing, code.Error()
	switch code.Code() & 0xff { // the primary code
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		kind, detail = ErrLocked, "it did not let go in time"
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN:
		kind, detail = ErrReadOnly, ""
	case sqlite3.SQLITE_FULL:
		kind, detail = ErrFull, ""
	case sqlite3.SQLITE_CORRUPT:
		kind = ErrDamaged
	case sqlite3.SQLITE_NOTADB:
		kind = ErrNotRecord
	case sqlite3.SQLITE_IOERR:
		// The index beside the log cannot be enlarged on a full disk, and SQLite calls that an input/output error.
		if free, e := FreeBytes(path); e == nil && free < 1<<16 {
			kind, detail = ErrFull, ""
		}
	}
	return &Error{Path: path, Kind: kind, Detail: detail, Err: err}
}

// refused tells whether a statement failed because of what was to be written: it broke a rule of the tables.
func refused(err error) bool {
	var code *sqlite.Error
	if !errors.As(err, &code) {
		return false
	}
	switch code.Code() & 0xff {
	case sqlite3.SQLITE_CONSTRAINT, sqlite3.SQLITE_MISMATCH, sqlite3.SQLITE_TOOBIG:
		return true
	}
	return false
}
