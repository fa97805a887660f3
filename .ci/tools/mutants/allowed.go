package main

import (
	"bufio"
	"fmt"
	"os"
	"slices"
	"strings"
)

// allowance is one line of the list: a fault that may survive, and why it cannot matter.
type allowance struct{ key, reason string }

// readAllowed reads the list: "function: text → text  # reason" a line; lines that begin with # are for the reader.
func readAllowed(path string) ([]allowance, error) {
	if path == "" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var list []allowance
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		key, reason, _ := strings.Cut(line, "  # ")
		if key, reason = strings.TrimSpace(key), strings.TrimSpace(reason); reason == "" {
			return nil, fmt.Errorf("%s:%d: no reason is given: write \"%s  # why it cannot matter\"", path, n, key)
		}
		list = append(list, allowance{key, reason})
	}
	return list, lines.Err()
}

// report prints what became of the faults, and tells whether the run failed: a fault lived that is not on the list, or
// the list names one that did not, or that is not there. Of a part of the files the last cannot be told.
func report(faults []*fault, allowed []allowance, whole bool) (bad bool) {
	counts, listed := map[outcome]int{}, 0
	known := map[string]*fault{}
	for _, f := range faults {
		counts[f.outcome]++
		known[f.key] = f
		switch on := slices.ContainsFunc(allowed, func(a allowance) bool { return a.key == f.key }); {
		case f.outcome == killed || f.outcome == timedOut:
			if on {
				bad = true
				fmt.Printf("on the list, but a test notices it now: %s\n", f.key)
			}
		case on:
			listed++
		default:
			bad = true
			fmt.Printf("%s:%d: %s: %s\n", f.file, f.line, f.outcome, f.key)
		}
	}
	for _, a := range allowed {
		if known[a.key] == nil && whole {
			bad = true
			fmt.Printf("on the list, but there is no such fault: %s\n", a.key)
		}
	}
	fmt.Printf("%d faults: %d killed (%d of them by time-out), %d survived, %d not covered; %d of those that lived are on the list\n",
		len(faults), counts[killed]+counts[timedOut], counts[timedOut], counts[survived], counts[uncovered], listed)
	return bad
}
