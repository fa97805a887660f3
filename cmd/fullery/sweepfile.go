package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"fullery/controller/sweep"
)

// A sweep's file: a first line that says what the sweep is of, then CSV, one row for every finished candidate in the
// order in which they are run. A row is durable before the next one is begun, and nothing is ever changed.

// sweepHead is the first line. Two sweeps with equal heads have equal rows.
type sweepHead struct {
	Program string `json:"program"`
	Recipe  string `json:"recipe"`
	Bench   string `json:"bench"`
	Belief  string `json:"belief"`
	Choices string `json:"choices"`
	Draws   int    `json:"draws"`
	Seed    uint64 `json:"seed"`
}

const headMark = "# fullery sweep "

// head is the first line for what was asked. The bench's texts count, not its name: a file may be edited.
func (s *sweeping) head() sweepHead {
	belief, err := json.Marshal(s.draws.Belief)
	if err != nil {
		belief = []byte(err.Error()) // a figure that is no number: it is like no other belief
	}
	return sweepHead{Program: version(), Recipe: s.recipe.Name + " " + digest(s.recipe.Text),
		Bench: s.bench.Name + " " + digest(s.bench.Text, s.bench.PadsAndBathHeld), Belief: digest(string(belief)),
		Choices: fmt.Sprintf("%d %s", len(s.candidates), digest(fmt.Sprint(s.choices))), Draws: s.flags.draws, Seed: s.flags.seed}
}

// digest is a short SHA-256 of texts.
func digest(texts ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(texts, "\x00")))
	return hex.EncodeToString(sum[:8])
}

// differs says in what a file's sweep is another one; "" when it is the same.
func (h sweepHead) differs(asked sweepHead) string {
	for _, x := range []struct {
		same bool
		what string
	}{
		{h.Recipe == asked.Recipe, "another recipe"}, {h.Bench == asked.Bench, "another bench, or with other liquids on its pads"},
		{h.Belief == asked.Belief, "another fit of the bench"}, {h.Choices == asked.Choices, "other choices"},
		{h.Draws == asked.Draws, fmt.Sprintf("--draws %d", h.Draws)}, {h.Seed == asked.Seed, fmt.Sprintf("--seed %d", h.Seed)},
		{h.Program == asked.Program, "another version of the program"},
	} {
		if !x.same {
			return x.what
		}
	}
	return ""
}

// sweepFile is the file being written; nil writes nothing.
type sweepFile struct{ file *os.File }

// openOut makes the file that --out names, or goes on with it.
func (s *sweeping) openOut() (*sweepFile, error) {
	if s.flags.out == "" {
		return nil, nil
	}
	var f *sweepFile
	var err error
	if s.flags.resume {
		f, err = s.resumeOut()
	} else {
		f, err = s.newOut()
	}
	if err != nil && f != nil {
		err = errors.Join(err, f.Close())
	}
	return f, err
}

// newOut makes the file with its first two lines. Opening it exclusively is what keeps another one from being replaced.
func (s *sweeping) newOut() (*sweepFile, error) {
	path := s.flags.out
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("%s is there already: name another file, or add --resume to go on with it", path)
	}
	if err != nil {
		return nil, fmt.Errorf("cannot write %s: %w", path, plain(err))
	}
	f := &sweepFile{file}
	if err := f.own(); err != nil {
		return f, err
	}
	head, err := json.Marshal(s.head())
	if err != nil {
		return f, err
	}
	var text bytes.Buffer
	text.WriteString(headMark + string(head) + "\n")
	text.Write(csvLine(rowNames))
	if err := f.write(text.Bytes()); err != nil {
		return f, err
	}
	return f, syncFolder(filepath.Dir(path))
}

// own keeps two programs from writing one file.
func (f *sweepFile) own() error {
	if err := syscall.Flock(int(f.file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return fmt.Errorf("another sweep is writing %s", f.file.Name())
	}
	return nil
}

// resumeOut reads what the file has, and cuts off a last row that was not written to its end.
func (s *sweeping) resumeOut() (*sweepFile, error) {
	path := s.flags.out
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no file %s to go on with; leave --resume out to begin it", path)
	}
	if err != nil {
		return nil, fmt.Errorf("cannot go on with %s: %w", path, plain(err))
	}
	f := &sweepFile{file}
	if err := f.own(); err != nil {
		return f, err
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return f, fmt.Errorf("cannot read %s: %w", path, plain(err))
	}
	// What follows the last line's end was being written when the program died: it is run again.
	whole := data[:bytes.LastIndexByte(data, '\n')+1]
	if err := s.readRows(string(whole)); err != nil {
		return f, err
	}
	err = errors.Join(file.Truncate(int64(len(whole))), file.Sync())
	if _, seeking := file.Seek(int64(len(whole)), 0); err != nil || seeking != nil {
		return f, fmt.Errorf("cannot go on with %s: %w", path, plain(errors.Join(err, seeking)))
	}
	return f, nil
}

// readRows takes the rows of a file of this sweep.
func (s *sweeping) readRows(text string) error {
	path := s.flags.out
	first, rest, _ := strings.Cut(text, "\n")
	line, marked := strings.CutPrefix(first, headMark)
	var head sweepHead
	if !marked || json.Unmarshal([]byte(line), &head) != nil {
		return fmt.Errorf("%s is not the file of a sweep: name another", path)
	}
	if other := head.differs(s.head()); other != "" {
		return fmt.Errorf("%s was begun with %s: give the same again, or another --out", path, other)
	}
	names, rest, _ := strings.Cut(rest, "\n")
	if names+"\n" != string(csvLine(rowNames)) {
		return fmt.Errorf("%s:2: the names of the columns are not those of a sweep: name another file", path)
	}
	rows := csv.NewReader(strings.NewReader(rest))
	rows.FieldsPerRecord = len(rowNames)
	all, err := rows.ReadAll()
	if err == nil && len(all) > len(s.order) {
		err = fmt.Errorf("there are %d rows for %d choices", len(all), len(s.order))
	}
	if err != nil {
		return fmt.Errorf("%s was changed since it was written (%v): name another file", path, err)
	}
	for i, row := range all {
		at := s.order[i]
		if want := encodeRow(at, s.candidates[at].Choice, sweep.Figures{}); !slices.Equal(row[:choiceColumns], want[:choiceColumns]) {
			return fmt.Errorf("%s:%d: this row is not of choice %d: the file was changed since it was written; name another", path, i+3, at)
		}
		if err := s.take(at, row); err != nil {
			return fmt.Errorf("%s:%d: %w; the file was changed since it was written: name another", path, i+3, err)
		}
		s.resumed++
		s.ran += s.flags.draws
	}
	return nil
}

// put writes one row, durably.
func (f *sweepFile) put(row []string) error {
	if f == nil {
		return nil
	}
	return f.write(csvLine(row))
}

// write returns when the bytes are on the disk.
func (f *sweepFile) write(data []byte) error {
	_, err := f.file.Write(data)
	if err = errors.Join(err, f.file.Sync()); err != nil {
		return fmt.Errorf("cannot write %s: %w", f.file.Name(), err)
	}
	return nil
}

// Close closes the file, where there is one.
func (f *sweepFile) Close() error {
	if f == nil {
		return nil
	}
	return f.file.Close()
}

// csvLine is one line of CSV. Writing into memory cannot fail.
func csvLine(fields []string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write(fields)
	w.Flush()
	return b.Bytes()
}
