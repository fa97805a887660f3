package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/disks/readback"
	"fullery/recipe"
)

// Tables and images as files. What is hashed is what is used: a file is read once.

// mostTable is the most of a table that is read, in bytes. It is what a table may have, and one more, so that a larger one
// is refused by the room that knows the limit.
const mostTable = 32<<20 + 1

// fileSum is a file that was read, with the SHA-256 of its bytes in hexadecimal.
type fileSum struct{ path, sha256 string }

// sumOf hashes what was read or is to be written, never the file again: it may have changed meanwhile.
func sumOf(path string, data []byte) fileSum {
	sum := sha256.Sum256(data)
	return fileSum{path, hex.EncodeToString(sum[:])}
}

// onScreen is a file's name on a screen: nothing in it moves a cursor.
func onScreen(path string) string { return draw.Clean(path) }

// readWhole reads a file, but no more than so many bytes of it.
func readWhole(path string, most int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, notRead(path, err)
	}
	defer f.Close()
	// The system would call it an error of input and output.
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, said(statusUsage, "%s is a folder; name a file in it", onScreen(path))
	}
	data, err := io.ReadAll(io.LimitReader(f, most))
	if err != nil {
		return nil, notRead(path, err)
	}
	return data, nil
}

// notRead says why a file cannot be read, in the words of whoever named it.
func notRead(path string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return said(statusUsage, "there is no file %s", onScreen(path))
	}
	return said(statusUsage, "cannot read %s: %v", onScreen(path), plain(err))
}

// readTable reads a table of that format. One that has mistakes is refused with all of them.
func readTable(path string, f readback.Format) (*readback.Table, fileSum, error) {
	data, err := readWhole(path, mostTable)
	if err != nil {
		return nil, fileSum{}, err
	}
	t, err := parseTable(path, data, f)
	return t, sumOf(path, data), err
}

// parseTable is readTable for bytes that were read already.
func parseTable(path string, data []byte, f readback.Format) (*readback.Table, error) {
	t, err := readback.Read(onScreen(path), bytes.NewReader(data), f)
	if err != nil {
		return nil, withStatus(statusNo, err)
	}
	return t, nil
}

// problemsIn returns the mistakes that an error tells one by one.
func problemsIn(err error) recipe.Problems {
	var p recipe.Problems
	errors.As(err, &p)
	return p
}

// readImage reads a flat image of that format. The size is asked first, so that a wrong file is not read for nothing.
func readImage(path string, f readback.Format) ([]byte, fileSum, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fileSum{}, notRead(path, err)
	}
	// A pipe has no size before it is read.
	if info.Mode().IsRegular() {
		if err := fits(path, f, info.Size()); err != nil {
			return nil, fileSum{}, err
		}
	}
	// One byte more than fits tells a file that is too long.
	data, err := readWhole(path, int64(f.Size())+1)
	if err == nil {
		err = fits(path, f, int64(len(data))) // it may have grown meanwhile
	}
	return data, sumOf(path, data), err
}

// fits says why an image of that many bytes is not one of the format.
func fits(path string, f readback.Format, size int64) error {
	if err := readback.CheckImage(f, size); err != nil {
		return said(statusNo, "%s: %v", onScreen(path), err)
	}
	return nil
}

// The names of what a join writes, beside its image.
const (
	// The provenance is what a joined image is known by, so that its ending must be unlike any that a reading has.
	tableEnd      = ".csv"
	provenanceEnd = ".from.csv"
	sumsEnd       = ".sha256"
)

// stem is a file's name without its ending.
func stem(path string) string { return strings.TrimSuffix(path, filepath.Ext(path)) }

// provenanceBeside returns the provenance beside a file, by which a joined image or its table is known; "" when there is
// none. Where the name is a link, what it leads to counts as well.
func provenanceBeside(path string) string {
	names := []string{path}
	if target, err := filepath.EvalSymlinks(path); err == nil && target != path {
		names = append(names, target)
	}
	for _, name := range names {
		from := stem(name) + provenanceEnd
		if _, err := os.Lstat(from); err == nil {
			return from
		}
	}
	return ""
}
