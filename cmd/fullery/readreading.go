package main

import (
	"os"
	"path/filepath"
	"strings"

	"fullery/disks/readback"
)

// reading is one reading of a disk, from its files.
type reading struct {
	readback.Round
	table, image fileSum // image is empty when there is none
}

// readReadings reads what a command line names, each as table.csv=image.img or as a table alone. They are numbered in
// that order. Each may be given only once, and none may be a joined image or what is about to be written.
func readReadings(args []string, f readback.Format, outs joinedFiles) ([]reading, error) {
	list := make([]reading, len(args))
	for i, arg := range args {
		table, image, err := splitReading(arg)
		if err != nil {
			return nil, err
		}
		for _, path := range []string{table, image} {
			if err := mayJoin(path, outs); err != nil {
				return nil, err
			}
		}
		list[i].table.path, list[i].image.path = table, image
	}
	// Only names were looked at so far; now megabytes are read.
	for i := range list {
		var err error
		if list[i], err = readReading(i, list[i].table.path, list[i].image.path, f); err != nil {
			return nil, err
		}
	}
	return list, readOnce(list)
}

// readReading reads the files of one reading.
func readReading(number int, table, image string, f readback.Format) (r reading, err error) {
	// The table names the reading in the provenance, with / on every system, so that the file means the same everywhere.
	r.Source = readback.Source{Number: number, Name: filepath.ToSlash(table)}
	if r.Table, r.table, err = readTable(table, f); err != nil || image == "" {
		return r, err
	}
	r.Image, r.image, err = readImage(image, f)
	return r, err
}

// splitReading splits table.csv=image.img. Names may hold a = themselves: the one counts that has a file on both sides.
func splitReading(arg string) (table, image string, err error) {
	ways := 0
	if isThere(arg) {
		table, ways = arg, 1
	}
	for i, r := range arg {
		if r == '=' && isThere(arg[:i]) && isThere(arg[i+1:]) {
			table, image, ways = arg[:i], arg[i+1:], ways+1
		}
	}
	switch {
	case ways == 1:
		return table, image, nil
	case ways > 1:
		return "", "", said(statusUsage, "%s can be read in more than one way, because names hold a = too: rename the files", onScreen(arg))
	}
	// Nothing fits: the plain meaning says which file is missing, or that something is.
	table, image, two := strings.Cut(arg, "=")
	if two && (table == "" || image == "") {
		return "", "", said(statusUsage, "%s: give a reading as table.csv=image.img", onScreen(arg))
	}
	return table, image, nil
}

// isThere tells whether a name leads to something.
func isThere(path string) bool {
	_, err := os.Stat(path)
	return path != "" && err == nil
}

// mayJoin refuses a file that is no reading of its own, and one that would be written over while it is read.
func mayJoin(path string, outs joinedFiles) error {
	if path == "" {
		return nil
	}
	for _, out := range outs.all() {
		if sameFile(path, out) {
			return said(statusUsage, "%s is to be joined and to be written: name another file with --out", onScreen(path))
		}
	}
	if from := provenanceBeside(path); from != "" {
		return said(statusUsage, "%s was joined from other readings, as %s beside it says: give those readings themselves, or their "+
			"sectors would count twice", onScreen(path), onScreen(from))
	}
	return nil
}

// sameFile tells whether two names lead to one file.
func sameFile(a, b string) bool {
	one, err1 := os.Stat(a)
	two, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(one, two)
}

// readOnce refuses a reading that is there twice: a copy is no second witness. An image is known by its bytes. Tables may
// well be equal, those of two readings without an error are; only the same file is refused.
func readOnce(list []reading) error {
	for i, r := range list {
		for _, before := range list[:i] {
			switch {
			case r.Image != nil && r.image.sha256 == before.image.sha256:
				return said(statusUsage, "%s and %s hold the same bytes: a copy is no second witness; leave one of the two readings out",
					onScreen(before.image.path), onScreen(r.image.path))
			case sameFile(r.table.path, before.table.path):
				return said(statusUsage, "%s is given for two readings: each has a table of its own", onScreen(r.table.path))
			}
		}
	}
	return nil
}
