package record

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Limits that a person is warned about.
const (
	LowSpace = 100_000_000 // bytes free below which no cycle should be started
	LargeLog = 64 << 20    // bytes of write-ahead log above which some reader is holding on too long
)

// sidecars are the files that SQLite keeps beside a record. The log may hold entries that are not in the file yet,
// so they move together, the log first.
var sidecars = []string{"-wal", "-shm", "-journal"}

// CheckSpace refuses with ErrLowSpace when the disk that holds path has less than LowSpace left. Call it before a
// cycle is started.
func CheckSpace(path string) error {
	free, err := FreeBytes(path)
	if err != nil {
		return fileFault(path, err)
	}
	return checkSpace(path, free)
}

func checkSpace(path string, free int64) error {
	if free >= LowSpace {
		return nil
	}
	return fault(path, ErrLowSpace, "%.1f MB are free, a cycle is started with at least %d MB",
		float64(free)/1e6, int64(LowSpace)/1_000_000)
}

// LogBytes returns the size of the write-ahead log beside the record at path, in bytes; 0 when there is none.
func LogBytes(path string) int64 {
	info, err := os.Stat(path + "-wal")
	if err != nil {
		return 0
	}
	return info.Size()
}

// SetAside renames the record at path, with its log, to a name that carries the date, and returns that name. Nothing
// is deleted and no existing file is replaced. No process may have the record open.
func SetAside(path string, when time.Time) (string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return "", fileFault(path, err)
	}
	// A log alone is worth setting aside: it may hold what was written last.
	if _, err := os.Lstat(path); err != nil && LogBytes(path) == 0 {
		return "", fileFault(path, err)
	}
	aside, err := reserve(path, when)
	if err != nil {
		return "", writeFault(path, err)
	}
	// The log goes first: were it left alone with a fresh record, SQLite would take its pages for that record's.
	for _, part := range append(append([]string{}, sidecars...), "") {
		if err := os.Rename(path+part, aside+part); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", writeFault(path, err)
		}
	}
	return aside, writeFault(path, syncFolder(filepath.Dir(path)))
}

// reserve makes an empty file under the first free dated name, so that the rename over it replaces nobody's file.
func reserve(path string, when time.Time) (string, error) {
	ext := filepath.Ext(path)
	base := strings.TrimSuffix(path, ext) + ".set-aside-" + when.UTC().Format("20060102T150405Z")
	for n := 1; ; n++ {
		name := base + ext
		if n > 1 {
			name = fmt.Sprintf("%s-%d%s", base, n, ext)
		}
		f, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return "", err
		}
		return name, f.Close()
	}
}

// OpenFresh sets the record at path aside, opens a new one in its place and raises an attention in it: no cycle
// begins before somebody has acknowledged that the old one is missing. It returns where the old one lies now.
func OpenFresh(ctx context.Context, path string, when time.Time) (*Record, string, error) {
	aside, err := SetAside(path, when)
	if err != nil {
		return nil, "", err
	}
	r, err := Open(ctx, path)
	if err != nil {
		return nil, aside, err
	}
	said := fmt.Sprintf("The record before this one could not be used and was set aside as %s. What it knew is missing "+
		"here: cycles that were cut short, and what pads and bath held last.", filepath.Base(aside))
	if err := r.Raise(ctx, said, when); err != nil {
		return nil, aside, errors.Join(err, r.Close())
	}
	return r, aside, nil
}

// writeFault is fileFault for making or renaming path, where a missing folder cannot be the cause.
func writeFault(path string, err error) error {
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return fileFault(path, err)
	}
	return &Error{Path: path, Kind: ErrFailing, Detail: err.Error(), Err: err}
}

// makeFolder makes dir and what is missing above it, and makes every new name durable.
func makeFolder(dir string) error {
	if info, err := os.Stat(dir); err == nil && info.IsDir() {
		return nil
	}
	if parent := filepath.Dir(dir); parent != dir {
		if err := makeFolder(parent); err != nil {
			return err
		}
	}
	if err := os.Mkdir(dir, 0o755); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return syncFolder(filepath.Dir(dir))
}

// place gives the file temp the name path unless that name is taken; then the file that has it stays. Where the file
// system knows no links, as on FAT, a rename must do.
func place(temp, path string) error {
	err := os.Link(temp, path)
	switch {
	case errors.Is(err, fs.ErrExist):
		return nil
	case err != nil:
		if _, e := os.Lstat(path); e == nil {
			return nil
		}
		if err := os.Rename(temp, path); err != nil {
			return err
		}
	}
	return syncFolder(filepath.Dir(path))
}

// syncFolder makes the names in dir durable.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// removeAll removes a file of our own making and what SQLite left beside it.
func removeAll(name string) {
	for _, part := range append([]string{""}, sidecars...) {
		os.Remove(name + part)
	}
}
