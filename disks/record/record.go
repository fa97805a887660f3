// Package record keeps what was done to every disk: one SQLite file with the disks, the cycles and their stages,
// events, samples and drying times.
//
// A cycle is begun in one durable transaction and then written behind a bounded queue by one goroutine, so that the
// loop that drives the bench never waits for the disk. What has been acknowledged (Cycle.Acked) survives the death of
// the process and of the power. A process that dies leaves its cycle without an end; CutShort finds it and Resolve
// closes it with what a person chose.
//
// Cycles are ordered by their number, never by wall time, which may jump or start in 1970. The package reads no
// clock: wall times are arguments, and durations are monotonic.
package record

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// settings are what tests make smaller.
type settings struct {
	busy  time.Duration // wait for another writer
	queue int           // entries that a cycle keeps in memory
}

// defaults: five seconds outlast any short transaction on a slow card; 4096 entries are an hour of samples.
var defaults = settings{busy: 5 * time.Second, queue: 4096}

// Record is an open record file. Its methods may be called from several goroutines.
type Record struct {
	path string
	db   *sql.DB
	set  settings

	mu     sync.Mutex
	live   map[*Cycle]struct{} // cycles whose goroutine runs
	closed bool
}

// Path returns the absolute path of the file.
func (r *Record) Path() string { return r.path }

// Open opens the record at path for writing, makes its folder and the file if they are not there, and brings an older
// layout up to date. Every page of an existing file is looked at first; a file that is damaged, newer or not a
// record is left as it was. Errors are *Error.
func Open(ctx context.Context, path string) (*Record, error) { return open(ctx, path, defaults) }

func open(ctx context.Context, path string, set settings) (*Record, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, fileFault(path, err)
	}
	all, err := migrations(embedded)
	if err != nil {
		return nil, err
	}
	// First make it, then look at it without writing, and only then open it for writing.
	if err := ensure(ctx, path, all, set); err != nil {
		return nil, err
	}
	if err := inspect(ctx, path, all, set); err != nil {
		return nil, err
	}
	db, err := connect(path, "rw", set.busy)
	if err != nil {
		return nil, err
	}
	// An immediate transaction, even an empty one, asks for the write lock: a read-only folder shows itself here.
	if err := migrate(ctx, path, db, all); err != nil {
		return nil, errors.Join(err, explain(path, db.Close()))
	}
	return &Record{path: path, db: db, set: set, live: map[*Cycle]struct{}{}}, nil
}

// OpenReadOnly opens an existing record for reading, also while another process writes it, and also in a folder that
// cannot be written. It does not look at every page; damage shows itself as ErrDamaged when it is read.
func OpenReadOnly(ctx context.Context, path string) (*Record, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return nil, fileFault(path, err)
	}
	all, err := migrations(embedded)
	if err != nil {
		return nil, err
	}
	if err := checkHeader(path); err != nil {
		return nil, err
	}
	db, have, err := connectReader(ctx, path, defaults.busy)
	if err != nil {
		return nil, err
	}
	if err = checkLayout(path, have, all); err == nil && have < len(all) {
		err = fault(path, ErrOlder, "its layout is %d, this version reads %d", have, len(all))
	}
	if err != nil {
		return nil, errors.Join(err, explain(path, db.Close()))
	}
	return &Record{path: path, db: db, set: defaults, live: map[*Cycle]struct{}{}}, nil
}

// connectReader opens path for reading only and returns the layout it found. Where the folder cannot be written,
// SQLite cannot make the small files that readers share; when there is no log beside the record, nobody is writing it
// and it can be read as it lies.
func connectReader(ctx context.Context, path string, busy time.Duration) (*sql.DB, int, error) {
	var first error
	for _, mode := range []string{"ro", "immutable"} {
		db, err := connect(path, mode, busy)
		if err != nil {
			return nil, 0, err
		}
		have, err := layout(ctx, db)
		if err == nil {
			return db, have, nil
		}
		first = errors.Join(first, explain(path, err), explain(path, db.Close()))
		if info, e := os.Stat(path + "-wal"); !errors.Is(first, ErrReadOnly) || e == nil && info.Size() > 0 {
			break
		}
	}
	return nil, 0, first
}

// inspect reads the file at path without changing it and reports what makes it unfit for writing.
func inspect(ctx context.Context, path string, all []migration, set settings) error {
	if err := checkHeader(path); err != nil {
		return err
	}
	db, have, err := connectReader(ctx, path, set.busy)
	if err != nil {
		return err
	}
	if err = checkLayout(path, have, all); err == nil {
		err = checkPages(ctx, path, db)
	}
	if err == nil && have == 0 { // every record has a layout from its first moment, see ensure
		err = fault(path, ErrDamaged, "it holds no tables")
	}
	return errors.Join(err, explain(path, db.Close()))
}

// ensure makes the folder and an empty record where there is none. The record is made under another name and
// then linked into place, so that it is either not there or whole, and an existing file is never replaced.
func ensure(ctx context.Context, path string, all []migration, set settings) error {
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		return fileFault(path, err)
	}
	for _, left := range sidecars {
		if _, err := os.Lstat(path + left); err == nil {
			return fault(path, ErrDamaged, "the file is gone but %s is still there", filepath.Base(path)+left)
		}
	}
	if err := makeFolder(filepath.Dir(path)); err != nil {
		return writeFault(path, err)
	}
	temp, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".new-*")
	if err != nil {
		return writeFault(path, err)
	}
	name := temp.Name()
	defer removeAll(name)
	// As any other file of a person: readable by all, unlike a temporary one.
	if err := errors.Join(temp.Chmod(0o644), temp.Close()); err != nil {
		return writeFault(path, err)
	}
	if err := fill(ctx, name, path, all, set); err != nil {
		return err
	}
	return writeFault(path, place(name, path))
}

// fill makes an empty record in the file name, which is to become path. Closing would take the log over into the file as
// well, but SQLite does not say when that fails: the file would be placed without its tables, and the log thrown away.
func fill(ctx context.Context, name, path string, all []migration, set settings) error {
	db, err := connect(name, "rw", set.busy)
	if err != nil {
		return err
	}
	if err = migrate(ctx, path, db, all); err == nil {
		err = explain(path, takeOver(ctx, db))
	}
	return errors.Join(err, explain(path, db.Close()))
}

// Close ends the goroutines of cycles that have not been finished (they stay without an end, as if cut short) after
// one last attempt to write what they hold, and closes the file.
func (r *Record) Close() error {
	r.mu.Lock()
	r.closed = true
	live := make([]*Cycle, 0, len(r.live))
	for c := range r.live {
		live = append(live, c)
	}
	r.mu.Unlock()
	for _, c := range live {
		c.Close()
	}
	return explain(r.path, r.db.Close())
}

// update runs f in one transaction: all of it becomes durable, or nothing.
func (r *Record) update(ctx context.Context, f func(tx *sql.Tx) error) error {
	tx, err := r.db.BeginTx(ctx, nil)
	if err != nil {
		return explain(r.path, err)
	}
	defer tx.Rollback()
	if err := f(tx); err != nil {
		return explain(r.path, err)
	}
	return explain(r.path, tx.Commit())
}
