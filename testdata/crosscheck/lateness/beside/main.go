// Beside times how late the control loop's ticks are and, at the same time and under the same load, how late a bare loop in
// C is woken. It prints the quantiles of both and their ratio, and gives no verdict.
//
// Both sleep the same period and count it from the moment they were woken. They run together, because how busy a machine is
// changes from second to second; their periods drift against each other, so that neither stands in the other's way for long.
// Other builds of the loop may be given: they take turns, each beside a bare loop of its own.
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// setting is what the loops share the machine with.
type setting string

const (
	busy  setting = "busy"  // one busy process more than there are cores
	idle  setting = "idle"  // no load of ours
	first setting = "first" // the kernel runs both loops before everything else: what is late then is late by itself
)

// situation is what the loops run in, and for how long.
type situation struct {
	in     setting
	period time.Duration
	ticks  int // in a round
	rounds int
}

// plans: 20 Hz is what the loop runs at. A ten times shorter period shows ten times as many wakings, and more of what is
// rare; the record still writes once a second.
var plans = map[bool][]situation{
	false: {
		{busy, 50 * time.Millisecond, 1000, 3}, {busy, 5 * time.Millisecond, 8000, 3},
		{idle, 50 * time.Millisecond, 600, 2}, {idle, 5 * time.Millisecond, 4000, 3},
		{first, 50 * time.Millisecond, 600, 3}, {first, 5 * time.Millisecond, 4000, 3},
	},
	true: {
		{busy, 50 * time.Millisecond, 120, 1}, {busy, 5 * time.Millisecond, 600, 2},
		{idle, 5 * time.Millisecond, 500, 1}, {first, 5 * time.Millisecond, 500, 1},
	},
}

func main() {
	sleeper := flag.String("sleeper", "", "`program` that was compiled from sleeper.c")
	short := flag.Bool("short", false, "a smaller part, half a minute in all")
	only := flag.String("only", "", "`setting` to time: busy, idle or first; all when empty")
	times := flag.Int("times", 1, "how often to do every round")
	flag.Usage = func() {
		fmt.Fprintln(flag.CommandLine.Output(), "usage: beside -sleeper PROGRAM [flags] [NAME=]TESTBINARY…")
		flag.PrintDefaults()
	}
	flag.Parse()
	if *sleeper == "" || flag.NArg() == 0 || *times < 1 {
		flag.Usage()
		os.Exit(2)
	}
	all, err := builds(flag.Args())
	if err == nil {
		err = compare(*sleeper, plans[*short], *only, *times, all)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// build is one loop to be timed: a test binary that holds BenchmarkTickLateness.
type build struct{ name, path string }

func builds(given []string) (all []build, err error) {
	for _, g := range given {
		name, path, named := strings.Cut(g, "=")
		if !named {
			name, path = "fullery", g
		}
		if path, err = filepath.Abs(path); err != nil { // it will run in another folder
			return nil, err
		}
		all = append(all, build{name, path})
	}
	return all, nil
}

// compare does every round of every situation, the builds in turn, and prints a table for each.
func compare(sleeper string, plan []situation, only string, times int, all []build) error {
	folder, err := os.MkdirTemp("", "lateness")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	for _, at := range plan {
		if only != "" && at.in != setting(only) {
			continue
		}
		if at.in == first && !mayBeFirst() {
			fmt.Printf("\nevery %v, before everything else: SKIPPED, real-time priority is not allowed here\n", at.period)
			continue
		}
		found := make([]pair, len(all))
		for range at.rounds * times {
			for i, b := range all {
				if err := round(sleeper, folder, at, b, &found[i]); err != nil {
					return fmt.Errorf("%s: %w", b.name, err)
				}
			}
		}
		show(os.Stdout, at, all, found)
	}
	return nil
}

// round runs one build and a bare loop together, and adds what both measured.
func round(sleeper, folder string, at situation, b build, found *pair) error {
	cores, err := occupy(sleeper, at.in == busy)
	if err != nil {
		return err
	}
	defer cores.stop()
	socket, out := filepath.Join(folder, "pages"), filepath.Join(folder, "late")
	readers := follow(socket)
	defer readers.stop()
	bare, err := begin(sleeper, at)
	if err != nil {
		return err
	}
	if err := tick(b.path, folder, socket, out, at); err != nil {
		_ = bare.Process.Kill()
		_ = bare.Wait()
		return err
	}
	c, err := bare.end()
	if err != nil {
		return err
	}
	ours, err := readSpans(out)
	if err != nil {
		return err
	}
	found.add(ours, c)
	return nil
}
