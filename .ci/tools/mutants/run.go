package main

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
)

// outcome is what became of a fault.
type outcome int

const (
	uncovered outcome = iota // no test comes to where it would matter
	survived                 // tests run it and none noticed
	killed
	timedOut // a test came to no end, which is noticed too
)

func (o outcome) String() string {
	return [...]string{"not covered", "survived", "killed", "timed out"}[o]
}

//go:embed switch.go.txt
var switchCode string

// bench is a test binary with every fault in it.
type bench struct {
	binary string
	dir    string // where tests run: a copy of the package's testdata
	scrap  string
	tests  []string
	flags  []string
	cost   map[string]time.Duration // processor time of each test
	reachd map[int][]string
}

// build compiles the tests with all faults.
func build(dir, pkg string, m *mutation, skip string) (*bench, error) {
	overlay := map[string]string{}
	put := func(path string, text []byte) error {
		copied := filepath.Join(dir, filepath.Base(path)+".txt")
		overlay[path] = copied
		return os.WriteFile(copied, text, 0o600)
	}
	err := put(filepath.Join(m.dir, "mutant_switch.go"), []byte(strings.Replace(switchCode, "PACKAGE", m.name, 1)))
	for path, text := range m.files {
		err = errors.Join(err, put(path, text))
	}
	table, _ := json.Marshal(map[string]any{"Replace": overlay})
	list := filepath.Join(dir, "overlay.json")
	if err = errors.Join(err, os.WriteFile(list, table, 0o600)); err != nil {
		return nil, err
	}
	b := &bench{binary: filepath.Join(dir, "tests"), dir: filepath.Join(dir, "run"), scrap: dir,
		cost: map[string]time.Duration{}}
	out, err := exec.Command("go", "test", "-c", "-vet=off", "-overlay", list, "-o", b.binary, pkg).CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("the faults do not compile: %w\n%s", err, out)
	}
	if err := os.CopyFS(filepath.Join(b.dir, "testdata"), os.DirFS(filepath.Join(m.dir, "testdata"))); err != nil &&
		!errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	return b, errors.Join(os.MkdirAll(b.dir, 0o700), b.list(skip))
}

// list asks the binary for its tests.
func (b *bench) list(skip string) error {
	slow, err := regexp.Compile(skip)
	if err != nil {
		return err
	}
	out, err := b.command(context.Background(), "-test.list", "^(Test|Fuzz|Example)").Output()
	if err != nil {
		return err
	}
	b.flags = quick
	if b.command(context.Background(), append(slices.Clone(random), "-test.list", "^$")...).Run() == nil {
		b.flags = slices.Concat(quick, random)
	}
	for _, name := range strings.Fields(string(out)) {
		if !slow.MatchString(name) {
			b.tests = append(b.tests, name)
		}
	}
	return nil
}

func (b *bench) command(ctx context.Context, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, b.binary, args...)
	cmd.Dir = b.dir
	cmd.Env = append(os.Environ(), "MUTANT=0")
	return cmd
}

// quick are the flags under which tests are few; random ones, where a package has them, are to be the same each time.
var (
	quick  = []string{"-test.short", "-test.failfast", "-test.count=1"}
	random = []string{"-rapid.seed=1", "-rapid.nofailfile"}
)

func only(tests []string) string { return "-test.run=^(" + strings.Join(tests, "|") + ")$" }

// reach runs each test alone, without a fault, and notes which faults it comes past and what it costs.
func (b *bench) reach(faults int) error {
	b.reachd = map[int][]string{}
	for i, name := range b.tests {
		note := filepath.Join(b.scrap, fmt.Sprintf("reach%d", i))
		cmd := b.command(context.Background(), append(slices.Clone(b.flags), only([]string{name}))...)
		cmd.Env = append(cmd.Env, "MUTANT_REACH="+note)
		if out, err := cmd.CombinedOutput(); err != nil {
			return fmt.Errorf("%s fails without any fault: %w\n%s", name, err, out)
		}
		b.cost[name] = cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
		text, _ := os.ReadFile(note)
		for _, line := range bytes.Fields(text) {
			if id, err := strconv.Atoi(string(line)); err == nil && id <= faults {
				b.reachd[id] = append(b.reachd[id], name)
			}
		}
	}
	return nil
}

// try runs, for each fault, the tests that reach it, until one fails.
func (b *bench) try(faults []*fault, workers int, verbose bool) {
	work := make(chan *fault)
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			for f := range work {
				b.one(f)
				if verbose {
					fmt.Printf("%s:%d: %s: %s (%s)\n", f.file, f.line, f.outcome, f.key, f.by)
				}
			}
		})
	}
	for _, f := range faults {
		work <- f
	}
	close(work)
	all.Wait()
}

// tiers are the bounds of processor time between tests that are tried first, next and last.
var tiers = [...]time.Duration{12 * time.Millisecond, 60 * time.Millisecond, time.Hour}

// one tries one fault: the quick tests first, and the slow ones only when those notice nothing.
func (b *bench) one(f *fault) {
	f.tests = b.reachd[f.id]
	if len(f.tests) == 0 {
		return
	}
	f.outcome = survived
	least := time.Duration(-1)
	for _, most := range tiers {
		var tests []string
		for _, name := range f.tests {
			if b.cost[name] > least && b.cost[name] <= most {
				tests = append(tests, name)
			}
		}
		if least = most; len(tests) > 0 && f.outcome == survived {
			b.attempt(f, tests)
		}
	}
}

// patience is how much more processor time than without a fault the tests may take before they count as endless. By the
// wall clock they may take very long: others use the machine as well, and being slow for that is not being noticed.
const (
	patience = 10
	endless  = 5 * time.Minute
)

var failed = regexp.MustCompile(`--- FAIL: (\S+)`)

func (b *bench) attempt(f *fault, tests []string) {
	limit := 2 * time.Second
	for _, name := range tests {
		limit += patience * b.cost[name]
	}
	ctx, cancel := context.WithTimeout(context.Background(), endless)
	defer cancel()
	cmd := b.command(ctx, append(slices.Clone(b.flags), only(tests))...)
	limited := []string{"sh", "-c", `ulimit -t "$0" && exec "$@"`, strconv.Itoa(int(limit.Seconds()) + 1), b.binary}
	cmd.Args = append(limited, cmd.Args[1:]...)
	cmd.Path = "/bin/sh"
	cmd.Env = append(cmd.Env, fmt.Sprintf("MUTANT=%d", f.id), "GOMEMLIMIT=500MiB")
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		f.by = err.Error() // not run is not noticed
		return
	}
	go endAsleep(ctx, cancel, cmd.Process.Pid)
	err := cmd.Wait()
	used := cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	switch {
	case err == nil:
	case ctx.Err() != nil, used >= limit:
		f.outcome = timedOut
	default:
		f.outcome = killed
		if at := failed.FindSubmatch(said.Bytes()); at != nil {
			f.by = string(at[1])
		}
	}
}
