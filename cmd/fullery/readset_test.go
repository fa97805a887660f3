package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var errStep = errors.New("the step failed")

// failAtStep makes the nth step fail, from 1; dead makes all after it fail too, as if the process were killed there.
func failAtStep(n int, dead bool) (fileSteps, *int) {
	real, done := realSteps(), new(int)
	fails := func() bool {
		*done++
		return *done == n || dead && *done > n
	}
	return fileSteps{
		write: func(dir, base string, data []byte) (string, error) {
			if fails() {
				return "", errStep
			}
			return real.write(dir, base, data)
		},
		put: func(temp, path string) error {
			if fails() {
				return errStep
			}
			return real.put(temp, path)
		},
		rename: func(from, to string) error {
			if fails() {
				return errStep
			}
			return real.rename(from, to)
		},
		remove: func(path string) error {
			if fails() {
				return errStep
			}
			return real.remove(path)
		},
		sync: func(dir string) error {
			if fails() {
				return errStep
			}
			return real.sync(dir)
		},
	}, done
}

// setIn is a set of four in a folder, each holding a word and its own name.
func setIn(dir, word string) (files []outFile) {
	for _, name := range []string{"d.from.csv", "d.csv", "d.sha256", "d.img"} {
		files = append(files, outFile{filepath.Join(dir, name), []byte(word + " " + name)})
	}
	return files
}

// holding tells which word a file holds; "" when it is not there.
func holding(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return ""
	}
	if err != nil {
		t.Fatal(err)
	}
	word, _, _ := strings.Cut(string(data), " ")
	return word
}

// wordsIn are those of the four files.
func wordsIn(t *testing.T, dir string) (list []string) {
	for _, f := range setIn(dir, "") {
		list = append(list, holding(t, f.path))
	}
	return list
}

func namesIn(t *testing.T, dir string) (list []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		list = append(list, e.Name())
	}
	return list
}

func TestWriteSet(t *testing.T) {
	dir := t.TempDir()
	if err := writeSet(setIn(dir, "old"), false, realSteps()); err != nil {
		t.Fatal(err)
	}
	if err := writeSet(setIn(dir, "new"), false, realSteps()); err == nil || !strings.Contains(err.Error(), "is there already") {
		t.Errorf("a set was replaced without force: %v", err)
	}
	if got := wordsIn(t, dir); !slices.Equal(got, []string{"old", "old", "old", "old"}) {
		t.Errorf("after a refusal: %q", got)
	}
	if err := writeSet(setIn(dir, "new"), true, realSteps()); err != nil {
		t.Fatal(err)
	}
	if got := wordsIn(t, dir); !slices.Equal(got, []string{"new", "new", "new", "new"}) {
		t.Errorf("after force: %q", got)
	}
	if got := namesIn(t, dir); len(got) != 4 {
		t.Errorf("something was left behind: %q", got)
	}
	// A single one of the four is in the way as well.
	if err := os.Remove(filepath.Join(dir, "d.img")); err != nil {
		t.Fatal(err)
	}
	if err := writeSet(setIn(dir, "late"), false, realSteps()); err == nil || len(namesIn(t, dir)) != 3 {
		t.Errorf("a part of a set was replaced: %v, %q", err, namesIn(t, dir))
	}
}

// TestSetAllOrNone fails at every step in turn: after an error there are all of the old files, or none where there were
// none, and nothing else.
func TestSetAllOrNone(t *testing.T) {
	for _, replacing := range []bool{false, true} {
		for n := 1; ; n++ {
			dir := t.TempDir()
			want := []string{"", "", "", ""}
			if replacing {
				want = []string{"old", "old", "old", "old"}
				if err := writeSet(setIn(dir, "old"), false, realSteps()); err != nil {
					t.Fatal(err)
				}
			}
			steps, done := failAtStep(n, false)
			err := writeSet(setIn(dir, "new"), replacing, steps)
			if *done < n { // there is no such step
				if n < 8 {
					t.Fatalf("only %d steps", *done)
				}
				break
			}
			if err == nil { // only the letting go of what is over may fail unheard
				want = []string{"new", "new", "new", "new"}
			}
			if got := wordsIn(t, dir); !slices.Equal(got, want) {
				t.Errorf("replacing %t, step %d failed (%v): %q, want %q", replacing, n, err, got, want)
			}
			if err != nil {
				for _, name := range namesIn(t, dir) {
					if strings.Contains(name, ".old-") || strings.Contains(name, ".new-") {
						t.Errorf("replacing %t, step %d failed (%v): %s is left", replacing, n, err, name)
					}
				}
			}
		}
	}
}

// TestSetKilled ends at every step in turn: the image is there only together with everything that belongs to it, and
// nothing old is lost.
func TestSetKilled(t *testing.T) {
	for _, replacing := range []bool{false, true} {
		for n := 1; ; n++ {
			dir := t.TempDir()
			if replacing {
				if err := writeSet(setIn(dir, "old"), false, realSteps()); err != nil {
					t.Fatal(err)
				}
			}
			steps, done := failAtStep(n, true)
			err := writeSet(setIn(dir, "new"), replacing, steps)
			if *done < n {
				break
			}
			got := wordsIn(t, dir)
			if image := got[3]; image != "" && !slices.Equal(got, slices.Repeat([]string{image}, 4)) {
				t.Errorf("replacing %t, killed at step %d: %q", replacing, n, got)
			}
			if replacing && err != nil {
				olds := 0
				for _, name := range namesIn(t, dir) {
					if holding(t, filepath.Join(dir, name)) == "old" {
						olds++
					}
				}
				if olds != 4 {
					t.Errorf("killed at step %d: %d of the four old files are left: %q", n, olds, namesIn(t, dir))
				}
			}
		}
	}
}

// TestSetOrder: when the last file gets its name, those of the others are on the disk, and at the end its own is.
func TestSetOrder(t *testing.T) {
	dir := t.TempDir()
	steps, did := realSteps(), []string(nil)
	put, sync := steps.put, steps.sync
	steps.put = func(temp, path string) error {
		did = append(did, filepath.Base(path))
		return put(temp, path)
	}
	steps.sync = func(dir string) error {
		did = append(did, "sync")
		return sync(dir)
	}
	if err := writeSet(setIn(dir, "new"), false, steps); err != nil {
		t.Fatal(err)
	}
	if want := []string{"d.from.csv", "d.csv", "d.sha256", "sync", "d.img", "sync"}; !slices.Equal(did, want) {
		t.Errorf("%q, want %q", did, want)
	}
}

// TestSetRaced: a file that appears after the first look is not replaced, and nothing else is written.
func TestSetRaced(t *testing.T) {
	dir := t.TempDir()
	steps := realSteps()
	steps.write = func(folder, base string, data []byte) (string, error) {
		if base == "d.img" {
			if err := os.WriteFile(filepath.Join(dir, "d.csv"), []byte("theirs x"), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		return writeTemp(folder, base, data)
	}
	if err := writeSet(setIn(dir, "new"), false, steps); err == nil {
		t.Error("a file of somebody else was replaced")
	}
	if got := wordsIn(t, dir); !slices.Equal(got, []string{"", "theirs", "", ""}) {
		t.Errorf("%q", got)
	}
}

// TestMayWriteRefusesFolders: with force a folder is still no file.
func TestMayWriteRefusesFolders(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "d.csv"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := writeSet(setIn(dir, "new"), true, realSteps()); err == nil || !strings.Contains(err.Error(), "no plain file") {
		t.Errorf("%v", err)
	}
	if got := namesIn(t, dir); !slices.Equal(got, []string{"d.csv"}) {
		t.Errorf("%q", got)
	}
}
