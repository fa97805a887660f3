package main

import (
	"bufio"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"fullery": main, "killed-run": killedRun, "off-once-begun": offOnceBegun})
}

// killedRun runs a recipe in real time and kills the process as soon as its first stage has begun: what a power cut
// leaves behind.
func killedRun() {
	c := exec.Command("fullery", append([]string{"run"}, os.Args[1:]...)...)
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	for lines := bufio.NewScanner(out); err == nil && lines.Scan(); {
		if strings.Contains(lines.Text(), "begins") || strings.Contains(lines.Text(), "Order taken: resume") {
			err = c.Process.Kill()
			break
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	_ = c.Wait() // it was killed
}

// offOnceBegun runs a recipe in real time, has another process switch it off as soon as its first stage has begun, and
// prints what both said.
func offOnceBegun() {
	c := exec.Command("fullery", "run", os.Args[1])
	out, err := c.StdoutPipe()
	if err == nil {
		err = c.Start()
	}
	asked := false
	for lines := bufio.NewScanner(out); err == nil && lines.Scan(); {
		fmt.Println(lines.Text())
		if !asked && strings.Contains(lines.Text(), "begins") {
			asked = true
			var answer []byte
			answer, err = exec.Command("fullery", "off").CombinedOutput()
			fmt.Print(string(answer))
		}
	}
	if err != nil || c.Wait() == nil {
		fmt.Fprintln(os.Stderr, "the run was not cut off", err)
		os.Exit(1)
	}
}

// TestScripts runs the real program as a person would: every script under testdata/script. FULLERY_UPDATE=1 accepts
// what it prints.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		UpdateScripts:       os.Getenv("FULLERY_UPDATE") != "",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			env.Setenv("XDG_DATA_HOME", filepath.Join(env.WorkDir, "data"))
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"status": statusCmd, "junk": junkCmd, "until": untilCmd},
	})
}

// statusCmd runs fullery and checks its exit status: status 3 run --fast …
func statusCmd(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: status N ARG…")
	}
	err := ts.Exec("fullery", args[1:]...)
	got := "0"
	if err != nil {
		got = exitStatus(err)
	}
	if got != args[0] {
		ts.Fatalf("exit status %s, want %s", got, args[0])
	}
}

// exitStatus reads the status out of an exec error ("exit status 3").
func exitStatus(err error) string {
	text := err.Error()
	return text[len(text)-1:]
}

// junkCmd writes a file of so many bytes of noise: junk FILE BYTES.
func junkCmd(ts *testscript.TestScript, _ bool, args []string) {
	const size = 10 << 20
	data := make([]byte, size)
	state := uint32(1)
	for i := range data {
		state = state*1664525 + 1013904223
		data[i] = byte(state >> 24)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), data, 0o644))
}

// untilCmd runs a command again and again until what it says matches: until PATTERN COMMAND ARG…
func untilCmd(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: until PATTERN COMMAND ARG…")
	}
	want, err := regexp.Compile(args[0])
	ts.Check(err)
	const tries = 600 // a bound and no measure: another process is starting meanwhile
	for range tries {
		_ = ts.Exec(args[1], args[2:]...)
		if want.MatchString(ts.ReadFile("stdout") + ts.ReadFile("stderr")) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	ts.Fatalf("never said %q; last: %s%s", args[0], ts.ReadFile("stdout"), ts.ReadFile("stderr"))
}
