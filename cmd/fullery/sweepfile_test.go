package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fullery/controller/sweep"
)

// stopAfter is a context that ends when so many candidates are finished, as an interrupt at that moment would end it.
func stopAfter(s *sweeping, n int) (context.Context, *progress) {
	ctx, cancel := context.WithCancel(context.Background())
	return ctx, newProgress(writerFunc(func(p []byte) {
		if s.finished >= n {
			cancel()
		}
	}), s)
}

type writerFunc func([]byte)

func (f writerFunc) Write(p []byte) (int, error) { f(p); return len(p), nil }

// A sweep that is interrupted keeps what was finished, and resumed it comes to the same as one that was not, to the
// last byte: file, table, JSON and picture. So does one whose last row was torn.
func TestSweepResumed(t *testing.T) {
	whole := quickSweep(t, func(f *sweepFlags) { f.out = filepath.Join(t.TempDir(), "out.csv") })
	want := finish(t, context.Background(), whole, 2)
	for _, torn := range []string{"", "7,91", "5,91,4,100,no,5,0.5\n"[:12]} {
		out := filepath.Join(t.TempDir(), "out.csv")
		part := quickSweep(t, func(f *sweepFlags) { f.out = out })
		file, err := part.openOut()
		if err != nil {
			t.Fatal(err)
		}
		ctx, p := stopAfter(part, 4)
		if err := errors.Join(part.run(ctx, 2, file, p), file.Close()); err != nil {
			t.Fatal(err)
		}
		if part.finished < 4 || part.finished == 12 {
			t.Fatalf("%d of 12 are finished", part.finished)
		}
		err = part.incomplete()
		if s := (*statusError)(nil); !errors.As(err, &s) || s.status != statusNo || !strings.Contains(err.Error(),
			fmt.Sprintf("%d of 12 choices are finished. %s has them", part.finished, out)) {
			t.Errorf("interrupted: %v", err)
		}
		if text := answers(t, part); !strings.Contains(text, fmt.Sprintf("Interrupted: %d of 12", part.finished)) ||
			!strings.Contains(text, `"interrupted": true`) || !strings.Contains(text, "interrupted: ") {
			t.Error(text)
		}
		data, err := os.ReadFile(out)
		if err != nil || !bytes.HasPrefix(want, data) || bytes.Count(data, []byte("\n")) != part.finished+2 {
			t.Fatalf("%v: %s", err, data)
		}
		if err := os.WriteFile(out, append(data, torn...), 0o600); err != nil {
			t.Fatal(err)
		}
		again := quickSweep(t, func(f *sweepFlags) { f.out, f.resume = out, true })
		if got := finish(t, context.Background(), again, 2); !bytes.Equal(got, want) || answers(t, again) != answers(t, whole) {
			t.Errorf("resumed after %q:\n%s\nwant\n%s", torn, got, want)
		}
		if again.ran != 36 || again.resumed != part.finished {
			t.Errorf("%d cycles, %d choices resumed", again.ran, again.resumed)
		}
	}
}

// A file that has all its rows, and after them one that was torn, is cut back to them.
func TestSweepTornAtTheEnd(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out.csv")
	want := finish(t, context.Background(), quickSweep(t, func(f *sweepFlags) { f.out = out }), 2)
	if err := os.WriteFile(out, append(slices.Clone(want), "12,91,"...), 0o600); err != nil {
		t.Fatal(err)
	}
	again := quickSweep(t, func(f *sweepFlags) { f.out, f.resume = out, true })
	if got := finish(t, context.Background(), again, 2); !bytes.Equal(got, want) {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

// Whatever changes what the rows would be changes the head, and the same sweep has the same.
func TestSweepHead(t *testing.T) {
	first := quickSweep(t, nil).head()
	if again := quickSweep(t, nil).head(); first.differs(again) != "" {
		t.Errorf("%+v, again %+v: %s", first, again, first.differs(again))
	}
	for what, change := range map[string]func(*sweeping){
		"another recipe":          func(s *sweeping) { s.recipe.Text += "#" },
		"another bench":           func(s *sweeping) { s.bench.Text += "#" },
		"with other liquids":      func(s *sweeping) { s.bench.PadsAndBathHeld = "ethanol-96" },
		"another fit":             func(s *sweeping) { s.draws.Belief.Mean[0] += 1e-9 },
		"other choices":           func(s *sweeping) { s.choices[5][sweep.Fan] = 0.51 },
		"--draws":                 func(s *sweeping) { s.flags.draws++ },
		"--seed":                  func(s *sweeping) { s.flags.seed++ },
		"another fit of the benc": func(s *sweeping) { s.draws.Belief.Jitter = math.NaN() },
	} {
		s := quickSweep(t, nil)
		change(s)
		if says := first.differs(s.head()); !strings.Contains(says, what) {
			t.Errorf("%q, want %q", says, what)
		}
	}
}

// A file is gone on with only by the same sweep, and is left as it is otherwise.
func TestSweepResumeRefuses(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out.csv")
	begun := quickSweep(t, func(f *sweepFlags) { f.out = out })
	data := finish(t, context.Background(), begun, 2)
	lines := bytes.SplitAfter(data, []byte("\n"))
	changed := func(line int, old, with string) []byte {
		all := slices.Clone(lines)
		all[line] = bytes.Replace(all[line], []byte(old), []byte(with), 1)
		return bytes.Join(all, nil)
	}
	for _, x := range []struct {
		name   string
		change func(*sweepFlags)
		file   []byte
		says   string
	}{
		{"draws", func(f *sweepFlags) { f.draws = 4 }, data, "was begun with --draws 3"},
		{"seed", func(f *sweepFlags) { f.seed = 9 }, data, "was begun with --seed 1"},
		{"choices", func(f *sweepFlags) { f.lists[sweep.Fan] = "60 %, 100 %" }, data, "other choices"},
		{"bench", func(f *sweepFlags) { f.bench = "board" }, data, "another bench"},
		{"recipe", nil, bytes.Replace(data, []byte("quick "), []byte("quack "), 1), "another recipe"},
		{"belief", nil, bytes.Replace(data, []byte(`"belief":"`), []byte(`"belief":"0`), 1), "another fit"},
		{"program", nil, bytes.Replace(data, []byte(`"program":"`), []byte(`"program":"0`), 1), "another version"},
		{"empty", nil, nil, "is not the file of a sweep"},
		{"other", nil, []byte("# a file of somebody else\n"), "is not the file of a sweep"},
		{"columns", nil, changed(1, "damp", "wet"), "names of the columns"},
		{"row of another choice", nil, changed(3, ",", ",1"), ":4: this row is not of choice"},
		{"count", nil, changed(2, ",3,0,3,", ",3,4,3,"), ":3: cut_short: 4 is not a number of 3 draws"},
		{"figure", nil, changed(2, ",2,", ",x,"), ":3: liquid_ml:"},
		{"short row", nil, changed(4, ",", ""), "was changed since it was written"},
		{"too many rows", nil, append(slices.Clone(data), lines[5]...), "13 rows for 12 choices"},
	} {
		if bytes.Equal(x.file, data) && x.change == nil {
			t.Fatalf("%s: the file was not changed", x.name)
		}
		if err := os.WriteFile(out, x.file, 0o600); err != nil {
			t.Fatal(err)
		}
		s := quickSweep(t, func(f *sweepFlags) {
			f.out, f.resume = out, true
			if x.change != nil {
				x.change(f)
			}
		})
		file, err := s.openOut()
		if err == nil || !strings.Contains(err.Error(), x.says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want %q", x.name, err, x.says)
		}
		if err == nil {
			file.Close()
		}
		if after, _ := os.ReadFile(out); !bytes.Equal(after, x.file) {
			t.Errorf("%s: the file was changed", x.name)
		}
	}
}

func TestSweepOutIsNeverReplaced(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out.csv")
	s := quickSweep(t, func(f *sweepFlags) { f.out, f.resume = out, true })
	if _, err := s.openOut(); err == nil || !strings.Contains(err.Error(), "leave --resume out") {
		t.Errorf("nothing to go on with: %v", err)
	}
	s.flags.resume = false
	first, err := s.openOut()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.openOut(); err == nil || !strings.Contains(err.Error(), "is there already") {
		t.Errorf("there already: %v", err)
	}
	s.flags.resume = true
	if _, err := s.openOut(); err == nil || !strings.Contains(err.Error(), "another sweep is writing") {
		t.Errorf("two at once: %v", err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := s.openOut()
	if err != nil {
		t.Errorf("begun and nothing finished: %v", err)
	}
	again.Close()
}
