package main

import (
	"io"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"fullery/controller/piobench"
	"fullery/controller/piobench/lines"
	"fullery/recipe"
)

// pumpBench is the small bench with a pump on line 5.
const pumpBench = smallBench + `
[tank]
holds = "500 mL"
[pump]
curve = [["20 %", "2 mL/min"], ["100 %", "12 mL/min"]]
[outputs.pump]
line   = 5
active = "high"
drive  = "slow"
period = "2 s"
rests  = "off by pull-down"
[sensors.tank-float]
line      = 6
closes-to = "ground"
`

// TestPumpIsRun: the pump runs for its time at each duty, twice, and never a moment more; an open lid, a stop or a wet tray
// ends it at once, and the reason is said.
func TestPumpIsRun(t *testing.T) {
	for _, c := range []struct {
		name  string
		open  int           // a contact that opens meanwhile; -1 none
		after time.Duration // when
		says  string
		burns bool
	}{
		{"in order", -1, 0, "", false},
		{"it may burn, and the fan stands", -1, 0, "the fan is not seen to turn", true},
		{"the lid opens", 0, 90 * time.Second, "lid is open", false},
		{"the stop is pressed", 1, 15 * time.Second, "emergency stop", false},
		{"the tray gets wet", 2, 200 * time.Second, "float has lifted", false},
	} {
		synctest.Test(t, func(t *testing.T) {
			b, problems := recipe.ReadBench("small.toml", []byte(pumpBench))
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
			if c.open >= 0 {
				time.AfterFunc(c.after, func() { kernel.Drive("fake", c.open, true) })
			}
			time.Sleep(time.Second)
			if _, err := bench.Read(0); err != nil { // so that the contacts have been closed for a while
				t.Fatal(err)
			}
			time.Sleep(100 * time.Millisecond)
			ask := newAsker(strings.NewReader(strings.Repeat("\n7.5 ml\n", 4)), io.Discard, nil)
			defer ask.end()
			p := &pumping{bench: bench, spec: b, of: "pump", burns: c.burns}
			caught, err := p.lead(t.Context(), ask, []string{"20 %", " 100 %"}, time.Minute)
			if kernel.High("fake", 5) {
				t.Errorf("%s: the pump is on", c.name)
			}
			if c.says != "" {
				if err == nil || !strings.Contains(err.Error(), c.says) || caught != nil {
					t.Errorf("%s: %v, %v", c.name, caught, err)
				}
				return
			}
			if err != nil || len(caught) != 4 || !strings.HasPrefix(caught[0], "20 %, 7.5 mL, 60") || !strings.HasPrefix(caught[3], "100 %, 7.5 mL, 60") {
				t.Errorf("%s: %q, %v", c.name, caught, err)
			}
			for _, text := range caught { // it is what --caught takes
				if _, err := runOf(text); err != nil {
					t.Error(err)
				}
			}
			on := time.Duration(0)
			last, high := time.Duration(0), false
			for _, s := range kernel.Trace() {
				if s.Offset != 5 {
					continue
				}
				if high {
					on += s.At - last
				}
				last, high = s.At, s.High
			}
			if want := 2 * time.Duration(1.2*float64(time.Minute)); on < want-4*time.Second || on > want+4*time.Second {
				t.Errorf("the pump was on for %v, want about %v", on, want)
			}
		})
	}
}
