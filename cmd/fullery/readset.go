package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Several files that belong together, written all or none. The last one is the one that people use, and it is there only
// while the others that belong to it are: it comes last, and where old ones are replaced it goes first. A kill in between
// may leave files that nobody asked for, but never a new file beside an old one, and never an old one lost.

// outFile is a file to be written.
type outFile struct {
	path string
	data []byte
}

// fileSteps are the steps that change files, so that tests can end after each.
type fileSteps struct {
	// write makes a file of a passing name and waits until its bytes are on the disk.
	write  func(dir, base string, data []byte) (temp string, err error)
	put    func(temp, path string) error // never replaces
	rename func(from, to string) error
	remove func(path string) error
	// sync waits until the names in a folder are on the disk.
	sync func(dir string) error
}

// realSteps changes real files.
func realSteps() fileSteps {
	return fileSteps{write: writeTemp, put: func(temp, path string) error { return put(temp, path, false) }, rename: os.Rename,
		remove: os.Remove, sync: syncFolder}
}

// writeTemp writes a file under a passing name, and waits until it is on the disk.
func writeTemp(dir, base string, data []byte) (string, error) {
	temp, err := os.CreateTemp(dir, "."+base+".new-*")
	if err != nil {
		return "", err
	}
	_, err = temp.Write(data)
	return temp.Name(), errors.Join(err, temp.Chmod(0o644), temp.Sync(), temp.Close())
}

// mayWrite refuses early what writeSet would refuse, before anything is read or computed.
func mayWrite(paths []string, force bool) error {
	for _, path := range paths {
		info, err := os.Lstat(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return fmt.Errorf("cannot write %s: %w", onScreen(path), plain(err))
		case !force:
			return fmt.Errorf("%s is there already: name another file, or add --force to replace it", onScreen(path))
		// A link is replaced itself, and what it leads to stays; a folder or a pipe nobody meant.
		case !info.Mode().IsRegular() && info.Mode()&fs.ModeSymlink == 0:
			return fmt.Errorf("%s is there already and is no plain file: name another file", onScreen(path))
		}
	}
	return nil
}

// set is the writing of files that belong together.
type set struct {
	fileSteps
	files []outFile
	temps []string // of each file, "" before it is written
	aside []string // where the file of that name was put that was there before, "" when there was none
	done  []bool   // it has its name
}

// writeSet writes files into one folder, the one that people use last. Files of those names are replaced only with force.
// After an error everything is as it was.
func writeSet(files []outFile, force bool, steps fileSteps) error {
	var paths []string
	for _, f := range files {
		paths = append(paths, f.path)
	}
	if err := mayWrite(paths, force); err != nil {
		return err
	}
	n := len(files)
	s := &set{steps, files, make([]string, n), make([]string, n), make([]bool, n)}
	err := s.run(force)
	if err != nil {
		err = errors.Join(err, s.back())
	}
	for _, temp := range s.temps {
		if temp != "" {
			_ = s.remove(temp) // most have gone to their names
		}
	}
	return err
}

// run writes, moves the old ones away and gives the new ones their names.
func (s *set) run(force bool) error {
	dir := filepath.Dir(s.files[0].path)
	for i, f := range s.files {
		var err error
		if s.temps[i], err = s.write(dir, filepath.Base(f.path), f.data); err != nil {
			return notWritten(f.path, err)
		}
	}
	// All bytes are on the disk; from here on only names change, the old last file first.
	for i := len(s.files) - 1; i >= 0 && force; i-- {
		if err := s.moveAside(i, dir); err != nil {
			return err
		}
	}
	for i, f := range s.files {
		if i == len(s.files)-1 { // everything that belongs to it is on the disk before it
			if err := s.sync(dir); err != nil {
				return notWritten(f.path, err)
			}
		}
		if err := s.put(s.temps[i], f.path); err != nil {
			return notWritten(f.path, err)
		}
		s.done[i] = true
	}
	if err := s.sync(dir); err != nil {
		return notWritten(s.files[len(s.files)-1].path, err)
	}
	// Done. What was there before is let go only now; one that stays behind harms nothing.
	for _, old := range s.aside {
		if old != "" {
			_ = s.remove(old)
		}
	}
	return nil
}

// moveAside moves a file that is to be replaced to a name beside it. The folder is synchronised after the first, so that
// no old image can outlive its table.
func (s *set) moveAside(i int, dir string) error {
	path := s.files[i].path
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	// The random part of the passing name serves again.
	_, random, _ := strings.Cut(filepath.Base(s.temps[i]), filepath.Base(path)+".new-")
	aside := path + ".old-" + random
	if _, err := os.Lstat(aside); err == nil {
		return notWritten(path, fs.ErrExist)
	}
	if err := s.rename(path, aside); err != nil {
		return notWritten(path, err)
	}
	s.aside[i] = aside
	if err := s.sync(dir); err != nil {
		return notWritten(path, err)
	}
	return nil
}

// back undoes what was done, the last file first and back last. What cannot be undone is told.
func (s *set) back() (err error) {
	for i := len(s.files) - 1; i >= 0; i-- {
		if s.done[i] {
			if e := s.remove(s.files[i].path); e != nil {
				err = errors.Join(err, fmt.Errorf("%s was left behind: %w", onScreen(s.files[i].path), plain(e)))
			}
		}
	}
	if err != nil { // the old ones would stand beside a new one
		return errors.Join(err, s.leftAside())
	}
	for i, old := range s.aside {
		if old == "" {
			continue
		}
		// The names were freed above, so that this replaces nothing.
		if e := s.rename(old, s.files[i].path); e != nil {
			return errors.Join(fmt.Errorf("what was there before could not be put back: %w", plain(e)), s.leftAside())
		}
		s.aside[i] = ""
	}
	return nil
}

// leftAside tells where old files are now.
func (s *set) leftAside() (err error) {
	for i, old := range s.aside {
		if old != "" {
			err = errors.Join(err, fmt.Errorf("the old %s is now %s", onScreen(s.files[i].path), onScreen(old)))
		}
	}
	return err
}

// notWritten says which file cannot be written, and what to do where one of its name is there.
func notWritten(path string, err error) error {
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%s is there already: name another file, or add --force to replace it", onScreen(path))
	}
	return fmt.Errorf("cannot write %s: %w", onScreen(path), plain(err))
}
