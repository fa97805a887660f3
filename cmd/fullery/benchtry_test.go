package main

import (
	"io"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"fullery/controller/piobench"
	"fullery/controller/piobench/lines"
	"fullery/disks/record"
	"fullery/recipe"
)

// smallBench is a bench with lines only: nothing on it needs a bus.
const smallBench = `
kind  = "board"
title = "Small bench"
[board]
chip   = "fake"
header = "other"
[room]
volume      = "30 m³"
air-changes = "1 1/h"
air         = "21 °C"
humidity    = "50 %"
[tray]
holds = "60 mL"
[fan]
fastest   = "3000 rpm"
least     = "30 %"
through   = "3 L/s"
stirring  = "2 m/s"
duct-area = "20 cm²"
[outputs.fan]
line   = 3
active = "high"
drive  = "switched"
rests  = "off by pull-down"
[sensors.lid]
line      = 0
closes-to = "ground"
[sensors.emergency-stop]
line      = 1
closes-to = "ground"
[sensors.tray-float]
line      = 2
closes-to = "ground"
[sensors.fan-speed]
line   = 4
pulses = 2
`

// person reads what is asked and does it, or answers wrongly.
type person struct {
	mu     sync.Mutex
	kernel *lines.Fake
	answer io.Writer
	forget string // what this person does not do
	says   string // to questions
	shown  strings.Builder
}

func (p *person) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	text := string(b)
	p.shown.WriteString(text)
	for what, act := range map[string]struct {
		line int
		open bool
	}{"Press the emergency stop": {1, true}, "Release it": {1, false}, "Open the lid": {0, true}, "Close it": {0, false},
		"Lift the tray's float": {2, true}, "Let it down": {2, false}} {
		if strings.Contains(text, what) && what != p.forget {
			p.kernel.Drive("fake", act.line, act.open)
		}
	}
	switch {
	case strings.Contains(text, "(y or n)"):
		go io.WriteString(p.answer, p.says+"\n")
	case strings.Contains(text, "press enter") || strings.Contains(text, "Press enter"):
		go io.WriteString(p.answer, "\n")
	}
	return len(b), nil
}

// walked walks through the small bench with a person.
func walked(t *testing.T, forget, says string, turns bool) (*walk, *person, error) {
	t.Helper()
	b, problems := recipe.ReadBench("small.toml", []byte(smallBench))
	if bad := problems.Errors(); len(bad) > 0 {
		t.Fatal(bad)
	}
	began := time.Now()
	kernel := &lines.Fake{Clock: func() time.Duration { return time.Since(began) }}
	kernel.Add(lines.FakeChip{Name: "gpiochip0", Label: "fake", Lines: make([]lines.FakeLine, 8)})
	bench, err := piobench.Open(b, piobench.World{Kernel: kernel, Sysfs: lines.NewFakeSysfs(t.TempDir()).Sysfs(), Sleep: time.Sleep}, piobench.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer bench.Close()
	done := make(chan struct{})
	defer close(done)
	go func() { // the fan gives pulses while it is on, two a turn at 3000 rpm
		for {
			select {
			case <-done:
				return
			case <-time.After(5 * time.Millisecond):
			}
			if turns && kernel.High("fake", 3) {
				kernel.Drive("fake", 4, !kernel.High("fake", 4))
			}
		}
	}()
	from, to := io.Pipe()
	defer to.Close()
	p := &person{kernel: kernel, answer: to, forget: forget, says: says}
	w := &walk{spec: b, bench: bench, out: p, began: time.Now()}
	w.ask = newAsker(from, p, w.tick)
	err = w.walk(t.Context())
	if kernel.High("fake", 3) {
		t.Error("the fan is on after the walk")
	}
	return w, p, err
}

// TestWalk: a bench that is in order passes every step; a contact that does not move, a fan that does not turn and a person
// who says no do not.
func TestWalk(t *testing.T) {
	for _, c := range []struct {
		name, forget, says string
		turns              bool
		failed             []string
	}{
		{"in order", "", "y", true, nil},
		{"the lid's contact is bridged", "Open the lid", "y", true, []string{"lid"}},
		{"the fan does not turn", "", "y", false, []string{"fan"}},
		{"no air leaves", "", "n", true, []string{"fan"}},
		{"the stop stays pressed", "Release it", "y", true, []string{"emergency-stop", "fan"}},
	} {
		synctest.Test(t, func(t *testing.T) {
			w, p, err := walked(t, c.forget, c.says, c.turns)
			if err != nil {
				t.Fatalf("%s: %v\n%s", c.name, err, p.shown.String())
			}
			var failed []string
			for _, s := range w.steps {
				if s.Result == record.StepFailed {
					failed = append(failed, s.Part)
				}
			}
			if strings.Join(failed, " ") != strings.Join(c.failed, " ") {
				t.Errorf("%s: not well are %v, want %v\n%s", c.name, failed, c.failed, p.shown.String())
			}
			if verdict := w.verdict(); (verdict == nil) != (c.failed == nil) {
				t.Errorf("%s: %v", c.name, verdict)
			}
		})
	}
}
