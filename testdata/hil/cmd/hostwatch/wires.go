package main

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"
)

// edge is one change of a wire, timed by the host's clock since the guest was started. What the host did to an input is
// in the same list, so that an answer of the product can be timed against what it answers to.
type edge struct {
	at    time.Duration
	wire  string // "line5" of the chip as the board drives it, "input0" as the host moved it, or a name the guest gave
	level int
}

func (e edge) String() string { return fmt.Sprintf("%.4f %s %d", e.at.Seconds(), e.wire, e.level) }

// wires is the record of all edges, and the level of each wire now.
type wires struct {
	mu    sync.Mutex
	edges []edge
	mark  int // edges before it have been asked for
	now   map[string]int
	wake  chan struct{} // closed and replaced at each edge
}

func newWires() *wires { return &wires{now: map[string]int{}, wake: make(chan struct{})} }

// note records a level; one that is no change is dropped. A wire that was never heard of is low.
func (w *wires) note(at time.Duration, wire string, level int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.now[wire] == level {
		return
	}
	w.now[wire] = level
	w.edges = append(w.edges, edge{at, wire, level})
	close(w.wake)
	w.wake = make(chan struct{})
}

// level is the wire's level now, and a channel that closes when any wire changes.
func (w *wires) level(wire string) (int, <-chan struct{}) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.now[wire], w.wake
}

// lines are the numbers of the chip's lines that have ever changed.
func (w *wires) lines() []int {
	w.mu.Lock()
	defer w.mu.Unlock()
	var all []int
	for wire := range w.now {
		var line int
		if n, _ := fmt.Sscanf(wire, "line%d", &line); n == 1 {
			all = append(all, line)
		}
	}
	return all
}

// since lists the edges since the mark, of all wires or of those named; forget moves the mark to the end.
func (w *wires) since(forget bool, named ...string) string {
	w.mu.Lock()
	defer w.mu.Unlock()
	var out []string
	for _, e := range w.edges[w.mark:] {
		if len(named) == 0 || slices.Contains(named, e.wire) {
			out = append(out, e.String())
		}
	}
	if forget {
		w.mark = len(w.edges)
	}
	return strings.Join(out, "\n")
}
