package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"fullery/recipe"
	"fullery/sensors/calibration"
)

const (
	weighs    = 3 * time.Second // how long a mass is read,
	glances   = time.Second     // and how long a zero before a cycle
	fewestRaw = 10              // codes in that time, below which something is wrong with the bus
)

// boardScale reads a cell of a real bench.
type boardScale struct {
	bench cells
	of    recipe.Sensor
}

// read takes every code that comes within a while.
func (b boardScale) read(ctx context.Context, weighs time.Duration) (calibration.Reading, error) {
	var codes []float64
	last, trouble := -1, ""
	for began := time.Now(); time.Since(began) < weighs; {
		if !passes(ctx, b.bench, 20*time.Millisecond) {
			return calibration.Reading{}, said(statusNo, "ended before it was read")
		}
		for _, l := range b.bench.Looks() {
			if l.Sensor == b.of && l.Reads != last {
				if last >= 0 && l.Trouble == "" {
					codes = append(codes, l.Raw)
				}
				last, trouble = l.Reads, l.Trouble
			}
		}
	}
	if len(codes) < min(fewestRaw, int(weighs/(200*time.Millisecond))) {
		return calibration.Reading{}, said(statusPersonal, "%s gave %d codes in %v: %s", b.of, len(codes), weighs, trouble)
	}
	return meanOf(codes), nil
}

// meanOf is the mean of codes with their scatter.
func meanOf(codes []float64) calibration.Reading {
	sum, squares := 0.0, 0.0
	for _, c := range codes {
		sum += c
	}
	mean := sum / float64(len(codes))
	for _, c := range codes {
		squares += (c - mean) * (c - mean)
	}
	r := calibration.Reading{Counts: calibration.Counts(mean), N: len(codes)}
	if len(codes) > 1 {
		r.SD = math.Sqrt(squares / float64(len(codes)-1))
	}
	return r
}

// asker asks a person and waits for a line, while the bench is kept alive with every output off.
type asker struct {
	lines chan string
	over  chan struct{} // nobody asks any more
	out   io.Writer
	alive func() // one tick of the bench; nil where there is none
}

func newAsker(in io.Reader, out io.Writer, alive func()) *asker {
	a := &asker{lines: make(chan string), over: make(chan struct{}), out: out, alive: alive}
	go func() {
		defer close(a.lines)
		for from := bufio.NewScanner(in); from.Scan(); {
			select {
			case a.lines <- strings.TrimSpace(from.Text()):
			case <-a.over:
				return
			}
		}
	}()
	return a
}

// end lets the answers that nobody asked for go.
func (a *asker) end() { close(a.over) }

var errGaveUp = errors.New("given up: nothing was kept")

// ask prints a question and returns the answer in lower case.
func (a *asker) ask(ctx context.Context, format string, args ...any) (string, error) {
	fmt.Fprintf(a.out, format+" ", args...)
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case line, ok := <-a.lines:
			if !ok {
				fmt.Fprintln(a.out)
				return "", withStatus(statusNo, errGaveUp)
			}
			return strings.ToLower(line), nil
		case <-ctx.Done():
			return "", withStatus(statusNo, errGaveUp)
		case <-tick.C:
			if a.alive != nil {
				a.alive()
			}
		}
	}
}
