package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"

	"fullery/controller/sweep"

	"go.uber.org/goleak"
)

// The answer does not depend on how many workers found it.
func TestSweepWorkersAgree(t *testing.T) {
	defer goleak.VerifyNone(t)
	var want string
	var rows []byte
	for _, workers := range []int{1, 2, 7} {
		s := quickSweep(t, func(f *sweepFlags) { f.out = filepath.Join(t.TempDir(), "out.csv") })
		data := finish(t, context.Background(), s, workers)
		if want == "" {
			want, rows = answers(t, s), data
		}
		if got := answers(t, s); got != want || !bytes.Equal(data, rows) {
			t.Errorf("%d workers: %s\none: %s", workers, got, want)
		}
		if s.finished != 12 || s.ran != 36 || s.incomplete() != nil {
			t.Errorf("%d finished, %d ran", s.finished, s.ran)
		}
	}
}

// More draws begin with the same benches, so that the worst of them can only get worse; another seed draws others.
func TestSweepMoreDrawsNest(t *testing.T) {
	few := quickSweep(t, nil)
	many := quickSweep(t, func(f *sweepFlags) { f.draws = 8 })
	other := quickSweep(t, func(f *sweepFlags) { f.seed = 2 })
	for _, s := range []*sweeping{few, many, other} {
		finish(t, context.Background(), s, 2)
	}
	moved := 0
	for i := range few.candidates {
		a, b := few.results[i].Figures, many.results[i].Figures
		if b.Peak < a.Peak || b.Slide < a.Slide || b.Damp < a.Damp {
			t.Errorf("choice %d: %+v, with more draws %+v", i, a, b)
		}
		if a != other.results[i].Figures {
			moved++
		}
	}
	if moved == 0 {
		t.Error("another seed draws the same benches")
	}
}

// A row that cannot be written ends the sweep with the reason, after what was finished before it.
func TestSweepStopsWhenItCannotWrite(t *testing.T) {
	defer goleak.VerifyNone(t)
	s := quickSweep(t, func(f *sweepFlags) { f.out = filepath.Join(t.TempDir(), "out.csv") })
	file, err := s.openOut()
	if err != nil {
		t.Fatal(err)
	}
	file.Close()
	err = s.run(context.Background(), 3, file, newProgress(io.Discard, s))
	if err == nil || !strings.Contains(err.Error(), "cannot write") || s.finished != 0 {
		t.Errorf("%v, %d finished", err, s.finished)
	}
}

// The pool gives every cycle once, hands candidates over along the order, whole, and stops at an error.
func TestPool(t *testing.T) {
	defer goleak.VerifyNone(t)
	broken := errors.New("broken")
	for _, workers := range []int{0, 1, 4} {
		for _, fails := range []int{-1, 5} {
			var cycles atomic.Int64
			var finished []int
			ran := 0
			p := pool{workers: workers, draws: 4, order: []int{3, 0, 2, 1}, cycle: func(candidate, draw int) (sweep.Outcome, error) {
				if n := cycles.Add(1); int(n) == fails {
					return sweep.Outcome{}, broken
				}
				return sweep.Outcome{Seconds: float64(10*candidate + draw)}, nil
			}}
			err := p.run(context.Background(), func() { ran++ }, func(candidate int, all []sweep.Outcome) error {
				finished = append(finished, candidate)
				for draw, o := range all {
					if o.Seconds != float64(10*candidate+draw) {
						t.Errorf("candidate %d: %v", candidate, all)
					}
				}
				return nil
			})
			if fails < 0 && (err != nil || !slices.Equal(finished, p.order) || ran != 16 || cycles.Load() != 16) {
				t.Errorf("%d workers: %v, %v, %d ran, %d cycles", workers, err, finished, ran, cycles.Load())
			}
			if fails > 0 && (!errors.Is(err, broken) || len(finished) > 1 || cycles.Load() > 5+int64(2*max(workers, 1))) {
				t.Errorf("%d workers: %v, %v, %d cycles", workers, err, finished, cycles.Load())
			}
		}
	}
}

// The first interrupt of the whole command ends it in good order: what is finished is shown and kept, and the answer is no.
func TestSweepInterruptedBySignal(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	dir := t.TempDir()
	file, out := filepath.Join(dir, "quick.toml"), filepath.Join(dir, "out.csv")
	if err := os.WriteFile(file, []byte(quickRecipe), 0o600); err != nil {
		t.Fatal(err)
	}
	// More cycles than could ever be run: it ends by the interrupt or not at all.
	fans := make([]string, 70)
	for i := range fans {
		fans[i] = fmt.Sprint(30+i, " %")
	}
	var said bytes.Buffer
	interrupted := false
	errs := writerFunc(func(p []byte) {
		said.Write(p)
		if !interrupted && bytes.Contains(p, []byte("cycles")) {
			interrupted = true
			if err := syscall.Kill(os.Getpid(), syscall.SIGINT); err != nil {
				t.Error(err)
			}
		}
	})
	var shown bytes.Buffer
	status := execute([]string{"sweep", file, "--fan", strings.Join(fans, ","), "--scrub", "4 s, 5 s, 6 s, 7 s", "--strength", "70, 91, 99",
		"--spin-out", "5 s", "--draws", "1000", "--out", out, "--json"}, strings.NewReader(""), &shown, errs)
	var got sweepJSON
	if err := json.Unmarshal(shown.Bytes(), &got); err != nil {
		t.Fatalf("%v: %s", err, shown.String())
	}
	if status != statusNo || !got.Interrupted || got.Cycles != 840000 && got.Cycles != 841000 || got.CyclesRun >= got.Cycles ||
		!strings.Contains(said.String(), "Interrupted after ") || !strings.Contains(said.String(), "--resume goes on from there") {
		t.Errorf("status %d, %d of %d cycles\n%s", status, got.CyclesRun, got.Cycles, said.String())
	}
	if data, err := os.ReadFile(out); err != nil || !bytes.HasPrefix(data, []byte(headMark)) {
		t.Errorf("%v: %s", err, data)
	}
}

// The order begins with the recipe as it is and has every candidate once.
func TestSpread(t *testing.T) {
	for _, n := range []int{1, 2, 50} {
		order := spread(n, 1)
		if order[0] != 0 || !reflect.DeepEqual(order, spread(n, 1)) {
			t.Errorf("%v", order)
		}
		if sorted := slices.Sorted(slices.Values(order)); sorted[n-1] != n-1 || len(slices.Compact(sorted)) != n {
			t.Errorf("%v", order)
		}
	}
	if reflect.DeepEqual(spread(50, 1), spread(50, 2)) {
		t.Error("two seeds, one order")
	}
}

// Elsewhere than in a terminal progress is told ten times, whatever the number of cycles.
func TestProgressIsShort(t *testing.T) {
	s := quickSweep(t, func(f *sweepFlags) { f.draws = 100 })
	var said bytes.Buffer
	p := newProgress(&said, s)
	p.begin()
	for i := range s.cycles() {
		p.at(i + 1)
	}
	p.end()
	if lines := strings.Split(strings.TrimSpace(said.String()), "\n"); len(lines) != 11 || lines[10] != "100 %: 1200 of 1200 cycles" {
		t.Errorf("%d lines:\n%s", len(lines), said.String())
	}
}
