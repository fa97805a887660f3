package main

import (
	"io"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"fullery/controller"
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

// TestAllowed: in a test of the bench as in a cycle nothing pumps into a wet tray, and nothing heats without moving, cool air.
func TestAllowed(t *testing.T) {
	b := &recipe.Bench{Fan: recipe.Fan{Fastest: 50}, Heater: recipe.Heater{AirLimit: 313.15}}
	all := controller.Levels{Pump: 1, RinsePump: 1, Fan: 1, Heater: 0.3, HeaterEnable: true}
	well := controller.Readings{}
	good := func(v float64) controller.Reading { return controller.Reading{Value: v, Quality: controller.Good} }
	well[recipe.TrayFloat], well[recipe.FanSpeed], well[recipe.Air] = good(1), good(40), good(295)
	if got := allowed(all, &well, b, true); got != all {
		t.Errorf("all is well, and %+v is left", got)
	}
	for name, c := range map[string]struct {
		of     recipe.Sensor
		is     controller.Reading
		heater bool
	}{
		"wet tray": {recipe.TrayFloat, good(0), true}, "tray not read": {recipe.TrayFloat, controller.Reading{Value: 1}, true},
		"fan stands": {recipe.FanSpeed, good(0), false}, "fan not read": {recipe.FanSpeed, controller.Reading{Value: 40, Quality: controller.Failed}, false},
		"hot": {recipe.Air, good(314), false}, "air not read": {recipe.Air, controller.Reading{Value: 295}, false},
	} {
		r := well
		r[c.of] = c.is
		got := allowed(all, &r, b, false)
		if on := got.Heater > 0 || got.HeaterEnable; on != c.heater {
			t.Errorf("%s: heater %v", name, on)
		}
		if on := got.Pump > 0 || got.RinsePump > 0; on == c.heater {
			t.Errorf("%s: pumps %v", name, on)
		}
		if got := allowed(all, &r, b, true); (got.Pump > 0) != (c.of == recipe.Air) {
			t.Errorf("%s, and it may burn: the pump is at %g", name, got.Pump)
		}
		if got.Fan != 1 {
			t.Errorf("%s: the fan goes off", name)
		}
	}
}
