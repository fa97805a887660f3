package record

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The test binary runs itself as a second process: childPath names the record, childJob what to do with it.
const (
	childPath = "RECORD_TEST_PATH"
	childJob  = "RECORD_TEST_JOB"
)

// child starts the second process and returns its standard input and output.
func child(t *testing.T, job, path string) (*exec.Cmd, io.WriteCloser, *bufio.Scanner) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childPath+"="+path, childJob+"="+job)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	return cmd, in, bufio.NewScanner(out)
}

// childMain is the second process. It ends with its standard input, or is killed.
func childMain(path string) {
	go func() {
		io.Copy(io.Discard, os.Stdin)
		os.Exit(0)
	}()
	ctx := context.Background()
	var err error
	switch os.Getenv(childJob) {
	case "write":
		err = childWrite(ctx, path)
	case "cycles":
		err = childCycles(ctx, path)
	case "read":
		err = childRead(ctx, path)
	case "hold":
		err = childHold(ctx, path)
	case "open":
		_, err = Open(ctx, path)
	}
	fmt.Println("error", err)
	os.Exit(1)
}

// childWrite writes entries for ever and prints each number that is acknowledged. Its queue is short, so that there
// are many small transactions to be killed in.
func childWrite(ctx context.Context, path string) error {
	r, err := open(ctx, path, settings{busy: time.Minute, queue: 128})
	if err != nil {
		return err
	}
	c, err := r.Begin(ctx, example())
	if err != nil {
		return err
	}
	fmt.Println("began", c.Number())
	for n, acked := uint64(1), uint64(0); ; n++ {
		for c.Room() == 0 {
			if err := c.Flush(ctx); err != nil {
				return err
			}
		}
		at := time.Duration(n) * time.Second
		switch n % 50 {
		case 0:
			c.PutEvent(Event{At: at, Kind: "guard", Said: fmt.Sprint("entry ", n)})
		case 1:
			c.PutStage(StageChange{At: at, Stage: int(n / 50 % 3), Begun: true})
		default:
			c.PutSample(Sample{At: at, AirC: new(float64(n))})
		}
		if now := c.Acked(); now > acked {
			acked = now
			fmt.Println("acked", acked)
		}
	}
}

// childCycles runs short cycles to their end, one after the other, and prints the number of each that is finished.
func childCycles(ctx context.Context, path string) error {
	r, err := Open(ctx, path)
	if err != nil {
		return err
	}
	for {
		c, err := r.Begin(ctx, example())
		if err != nil {
			return err
		}
		for n := range 20 {
			c.PutEvent(Event{At: time.Duration(n) * time.Second, Kind: "order", Said: "Hold."})
		}
		if err := c.Finish(ctx, End{State: "complete", Duration: 20 * time.Second}); err != nil {
			return err
		}
		fmt.Println("finished", c.Number())
	}
}

// childRead holds a read transaction until its standard input ends.
func childRead(ctx context.Context, path string) error {
	r, err := OpenReadOnly(ctx, path)
	if err != nil {
		return err
	}
	rows, err := r.db.QueryContext(ctx, `select said from event union all select bench from cycle`)
	if err != nil {
		return err
	}
	if !rows.Next() {
		return fmt.Errorf("nothing to read")
	}
	fmt.Println("reading")
	select {}
}

// childHold keeps every other writer out until its standard input ends.
func childHold(ctx context.Context, path string) error {
	r, err := Open(ctx, path)
	if err != nil {
		return err
	}
	if _, err := r.db.BeginTx(ctx, nil); err != nil {
		return err
	}
	fmt.Println("holding")
	select {}
}

// TestKilledProcessLosesNothingAcknowledged kills the writer at a random moment, thirty times on one file: what it
// said was acknowledged is there, the file is whole, and exactly one cycle is cut short (H01, H02, I04; invariant 10).
func TestKilledProcessLosesNothingAcknowledged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "seed-bank.db")
	rng := rand.New(rand.NewPCG(1, 2)) // seeded: how many lines are let through
	for round := range 30 {
		cmd, _, out := child(t, "write", path)
		var number int64
		var acked uint64
		lines := 1 + rng.IntN(6)
		for n := 0; out.Scan(); n++ {
			if n == lines {
				cmd.Process.Kill()
			}
			if strings.HasPrefix(out.Text(), "error") {
				t.Fatal(out.Text())
			}
			fmt.Sscanf(out.Text(), "began %d", &number)
			fmt.Sscanf(out.Text(), "acked %d", &acked)
		}
		cmd.Wait()
		if number != int64(round+1) {
			t.Fatalf("round %d wrote cycle %d", round, number)
		}
		checkKilled(t, path, number, acked)
	}
}

// checkKilled opens the record as the next process would, looks for every entry, and resolves the cycle.
func checkKilled(t *testing.T, path string, number int64, acked uint64) {
	t.Helper()
	ctx := within(t)
	r, err := open(ctx, path, defaults) // looks at every page
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	cut, err := r.CutShort(ctx, "cellar")
	if err != nil || cut == nil || cut.Number != number {
		t.Fatalf("CutShort = %v, %v, want cycle %d", cut, err, number)
	}
	if cut.LastSeq < acked {
		t.Errorf("cycle %d: last entry %d, but %d was acknowledged", number, cut.LastSeq, acked)
	}
	have := map[uint64]bool{}
	events, err := r.Events(ctx, number)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		have[e.Seq] = e.Said == fmt.Sprint("entry ", e.Seq)
	}
	samples, err := r.Samples(ctx, number)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range samples {
		have[s.Seq] = s.AirC != nil && *s.AirC == float64(s.Seq)
	}
	for n := uint64(1); n <= cut.LastSeq; n++ {
		if !have[n] && n%50 != 1 { // stage changes are no rows of their own
			t.Errorf("cycle %d: entry %d is missing or wrong; %d was acknowledged", number, n, acked)
		}
	}
	if want := time.Duration(cut.LastSeq) * time.Second; cut.Duration != want {
		t.Errorf("cycle %d got at least to %v, want %v", number, cut.Duration, want)
	}
	if err := r.Resolve(ctx, Resolution{Cycle: number, Choice: ToEnd, By: "test", Wall: noon}); err != nil {
		t.Error(err)
	}
}

// TestKilledBetweenCycles kills at any point of beginning and finishing: a cycle that was said to be finished has its
// end and all its events, and at most the one after it has none.
func TestKilledBetweenCycles(t *testing.T) {
	ctx := within(t)
	path := filepath.Join(t.TempDir(), "seed-bank.db")
	rng := rand.New(rand.NewPCG(3, 4))
	for range 10 {
		cmd, _, out := child(t, "cycles", path)
		var finished int64
		lines := 1 + rng.IntN(10)
		for n := 1; out.Scan(); n++ {
			if n == lines {
				cmd.Process.Kill()
			}
			fmt.Sscanf(out.Text(), "finished %d", &finished)
		}
		cmd.Wait()
		r := reopen(t, path, defaults)
		cycles, err := r.Cycles(ctx, 0)
		if err != nil || finished == 0 {
			t.Fatalf("finished %d, %v", finished, err)
		}
		for _, s := range cycles {
			events, err := r.Events(ctx, s.Number)
			if s.Number <= finished && s.Choice == "" && (!s.Complete() || len(events) != 20 || err != nil) {
				t.Errorf("cycle %d of %d: %+v with %d events, %v", s.Number, finished, s, len(events), err)
			}
		}
		cut, err := r.CutShort(ctx, "cellar")
		if err != nil || cut != nil && cut.Number <= finished {
			t.Fatalf("CutShort = %v, %v; %d was finished", cut, err, finished)
		}
		if cut != nil {
			err = r.Resolve(ctx, Resolution{Cycle: cut.Number, Choice: ToDry})
		}
		if err = errors.Join(err, r.Close()); err != nil {
			t.Fatal(err)
		}
	}
}

// TestReaderInAnotherProcess: a process that holds a read transaction neither delays the writer nor costs an entry
// (I01), and sees nothing half-written.
func TestReaderInAnotherProcess(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	c := begin(t, r, example())
	if c.PutEvent(Event{Kind: "order", Said: "Start."}); c.Flush(ctx) != nil {
		t.Fatal(c.Health())
	}
	cmd, in, out := child(t, "read", r.Path())
	if !out.Scan() || out.Text() != "reading" {
		t.Fatalf("reader says %q", out.Text())
	}
	for n := range 100 { // 5 entries a second for 20 s
		c.PutEvent(Event{At: time.Duration(n) * 200 * time.Millisecond, Kind: "order", Said: "Hold."})
		if err := c.Flush(ctx); err != nil {
			t.Fatal(err)
		}
		if h := c.Health(); h.Failing || h.Lost > 0 || h.Queued > 0 {
			t.Fatalf("entry %d: health %+v", n, h)
		}
	}
	other, err := OpenReadOnly(ctx, r.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	events, err := other.Events(ctx, 1)
	if err != nil || len(events) != 101 {
		t.Errorf("a reader sees %d events (%v), want 101", len(events), err)
	}
	in.Close()
	cmd.Wait()
	if err := c.Finish(ctx, End{State: "complete"}); err != nil {
		t.Error(err)
	}
}
