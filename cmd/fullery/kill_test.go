package main

import (
	"context"
	"errors"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fullery/disks/record"
)

// TestKilledAtRandom kills the real program at random moments of a cycle. Whatever the moment, the next run says what
// was cut short and starts nothing, a person can end it, the record is whole, and no cycle is forgotten.
func TestKilledAtRandom(t *testing.T) {
	dir := t.TempDir()
	program := filepath.Join(dir, "under-test")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	file := filepath.Join(dir, "record.db")
	run := func(args ...string) *exec.Cmd {
		c := exec.Command(program, append([]string{"run", "--record", file}, args...)...)
		c.Env = []string{"HOME=" + dir, "TMPDIR=" + dir, "XDG_DATA_HOME=" + dir, "PATH=/nowhere"}
		return c
	}
	random := rand.New(rand.NewPCG(1, 2))
	killed := 0
	for range 15 {
		victim := run("isopropanol-91", "--fast=40")
		if err := victim.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(random.IntN(300)) * time.Millisecond) // when it dies; nothing is measured
		_ = victim.Process.Kill()
		_ = victim.Wait()
		out, err := run("isopropanol-91", "--fast").CombinedOutput()
		switch status := exitCode(err); {
		case status == statusPersonal && strings.Contains(string(out), "was cut short"):
			killed++
			if out, err := run("--cut", "end", "--fast").CombinedOutput(); err != nil {
				t.Fatalf("the cut cycle could not be ended: %v\n%s", err, out)
			}
		case status != statusDone: // killed before its cycle had begun: there is nothing to ask
			t.Fatalf("after the kill: %v\n%s", err, out)
		}
	}
	rec, err := record.Open(context.Background(), file)
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Close()
	cycles, err := rec.Cycles(context.Background(), 1000)
	if err != nil {
		t.Fatal(err)
	}
	cut := 0
	for _, c := range cycles {
		if !c.Ended && c.Choice == record.ToEnd {
			cut++
		} else if !c.Ended {
			t.Errorf("cycle %d has neither an end nor a choice", c.Number)
		}
	}
	if cut != killed || killed == 0 {
		t.Errorf("%d cycles were cut short, the record knows %d", killed, cut)
	}
}

func exitCode(err error) int {
	if e := (*exec.ExitError)(nil); errors.As(err, &e) {
		return e.ExitCode()
	}
	if err != nil {
		return -1
	}
	return statusDone
}
