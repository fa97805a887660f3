package lines

import (
	"errors"
	"fmt"
	"sync"
	"syscall"
	"testing"

	"pgregory.net/rapid"
)

// both names the two polarities.
var both = map[string]bool{"active high": false, "active low": true}

// TestA01NoPulse: the request itself carries the inactive value, and no sample from the claim to the end shows a load
// on. The lines rest at off, as the check of bench files demands.
func TestA01NoPulse(t *testing.T) {
	for name, low := range both {
		for _, toInput := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, to input %t", name, toInput), func(t *testing.T) {
				f, c := one(t, FakeLine{Pull: low}, FakeLine{Pull: low}, FakeLine{Pull: low}, FakeLine{Pull: low})
				f.TurnToInput = toInput
				var outputs []*Output
				for offset := range 4 {
					o, err := c.Output(offset, fmt.Sprintf("out%d", offset), low)
					check(t, err)
					outputs = append(outputs, o)
				}
				for _, o := range outputs {
					check(t, o.Set(false))
					check(t, o.Close())
				}
				for _, r := range f.Requests() {
					if r.Active || r.Flags&FlagOutput == 0 || r.Flags&FlagActiveLow != 0 != low {
						t.Errorf("the request does not ask for off: %+v", r)
					}
				}
				if len(f.Requests()) != 4 || len(f.Trace()) != 16 {
					t.Fatalf("%d requests, %d samples, want 4 and 16", len(f.Requests()), len(f.Trace()))
				}
				for _, s := range f.Trace() {
					if s.High != low {
						t.Errorf("the load was on: %+v", s)
					}
				}
			})
		}
	}
}

// TestA01ClaimSwitchesOff: a line that an earlier program left on is off with the claim.
func TestA01ClaimSwitchesOff(t *testing.T) {
	for name, low := range both {
		t.Run(name, func(t *testing.T) {
			f, c := one(t, FakeLine{Pull: !low})
			_, err := c.Output(0, "heater", low)
			check(t, err)
			if f.High(label, 0) != low || len(f.Trace()) != 1 {
				t.Errorf("after the claim: %+v", f.Trace())
			}
		})
	}
}

// TestA03LogicalAndPhysical: on is on for both polarities, read from the line, and reading changes nothing.
func TestA03LogicalAndPhysical(t *testing.T) {
	for name, low := range both {
		t.Run(name, func(t *testing.T) {
			f, c := one(t, FakeLine{Name: "PUMP", Pull: low})
			o, err := c.Output(0, "pump", low)
			check(t, err)
			for _, on := range []bool{true, false, true} {
				check(t, o.Set(on))
				before := len(f.Trace())
				for range 100 {
					got, err := o.Level()
					check(t, err)
					info, err := o.Info()
					check(t, err)
					if got != on || f.High(label, 0) == on == low {
						t.Fatalf("set %t: level %t, physically high %t", on, got, f.High(label, 0))
					}
					if info.Flags&FlagOutput == 0 || info.Flags&FlagInput != 0 || info.Flags&FlagActiveLow != 0 != low ||
						info.Consumer != "fullery pump" || info.Name != "PUMP" {
						t.Fatalf("reading has changed the line: %s", info)
					}
				}
				if len(f.Trace()) != before || len(f.Requests()) != 1 {
					t.Errorf("reading has written: %+v", f.Trace()[before:])
				}
			}
		})
	}
}

// TestA04AfterTheProcess: Close leaves the load off on either kind of chip. After a kill the level is the chip's affair,
// and another process that claims the line switches it off by the claim alone.
func TestA04AfterTheProcess(t *testing.T) {
	for name, low := range both {
		for _, toInput := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, to input %t", name, toInput), func(t *testing.T) {
				f, c := one(t, FakeLine{Pull: low})
				f.TurnToInput = toInput
				claim := func() *Output {
					o, err := c.Output(0, "heater", low)
					check(t, err)
					check(t, o.Set(true))
					return o
				}
				check(t, claim().Close())
				if f.High(label, 0) != low {
					t.Fatal("on after Close")
				}
				killed := claim()
				f.Kill()
				if off := f.High(label, 0) == low; off != toInput {
					t.Fatalf("after a kill the load is off: %t; the fake does not do what it is told", off)
				}
				_, err := c.Output(0, "heater", low) // the helper
				check(t, err)
				if f.High(label, 0) != low {
					t.Error("on after the helper's claim")
				}
				if err := killed.Set(true); err == nil || f.High(label, 0) != low {
					t.Errorf("the killed process still drives: %v", err)
				}
			})
		}
	}
}

// TestA08Taken: a line that somebody holds is refused with the holder's name, and nothing changes.
func TestA08Taken(t *testing.T) {
	f, c := one(t, FakeLine{Name: "GPIO17"}, FakeLine{Consumer: "spi0 CS1"})
	first, err := c.Output(0, "pump", true)
	check(t, err)
	check(t, first.Set(true))
	before := f.Trace()

	_, err = c.Output(0, "fan", false)
	says(t, err, "fan", "line 0 (GPIO17) of pinctrl-test", `"fullery pump"`, "another run", "end that first")
	if !errors.Is(err, syscall.EBUSY) {
		t.Errorf("%v is not EBUSY", err)
	}
	_, err = c.Input(0, "lid", PullUp, NoEdges)
	says(t, err, "lid", `"fullery pump"`)
	_, err = c.Output(1, "hub", false)
	says(t, err, "hub", "line 1 of pinctrl-test", `"spi0 CS1"`, "overlay")

	if len(f.Trace()) != len(before) {
		t.Errorf("levels changed: %+v", f.Trace()[len(before):])
	}
	if on, err := first.Level(); err != nil || !on {
		t.Errorf("the first was disturbed: %t, %v", on, err)
	}
	check(t, first.Close())
	again, err := c.Output(0, "fan", false)
	check(t, err)
	check(t, again.Close())
}

// TestA08TakenWithoutName: the pin multiplexer takes lines without saying its name.
func TestA08TakenWithoutName(t *testing.T) {
	says(t, errors.New(taken(label, LineInfo{Offset: 2, Flags: FlagUsed})), "gives no name", "overlay")
	c := find(t, troubledKernel{troubled: troubled{request: syscall.EBUSY}}, label)
	_, err := c.Output(3, "pump", false)
	says(t, err, "pump", "line 3", "gives no name")
}

func TestClosedOutput(t *testing.T) {
	f, c := one(t, FakeLine{})
	o, err := c.Output(0, "pump", false)
	check(t, err)
	check(t, o.Set(true))
	check(t, o.Close())
	n := len(f.Trace())
	check(t, o.Close())
	says(t, o.Set(true), "pump", "released")
	_, err = o.Level()
	says(t, err, "pump", "released")
	if len(f.Trace()) != n || o.Role() != "pump" {
		t.Errorf("something happened after Close: %+v", f.Trace()[n:])
	}
}

// TestCloseThatCannotSwitchOff: the error tells that the load may be on, stays, and the line is free for others.
func TestCloseThatCannotSwitchOff(t *testing.T) {
	f, c := one(t, FakeLine{})
	o, err := c.Output(0, "heater", false)
	check(t, err)
	check(t, o.Set(true))
	f.Fail(syscall.EIO)
	says(t, o.Set(false), "heater", "line 0 of pinctrl-test", "cannot be set", "input/output error")
	_, err = o.Level()
	says(t, err, "heater", "cannot be read back")
	err = o.Close()
	says(t, err, "heater", "may still be on", "cut the power")
	if again := o.Close(); again == nil || again.Error() != err.Error() {
		t.Errorf("the second Close says %v", again)
	}
	f.Fail(nil)
	helper, err := c.Output(0, "heater", false)
	check(t, err)
	if f.High(label, 0) {
		t.Error("on after the helper's claim")
	}
	f.Kill()
	says(t, helper.Close(), "may still be on") // its line is gone: it cannot know
}

// TestSetAndCloseTogether is for the race detector: whoever comes after Close is refused, and nothing is on at the end.
func TestSetAndCloseTogether(t *testing.T) {
	f, c := one(t, FakeLine{})
	o, err := c.Output(0, "pump", false)
	check(t, err)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for range 100 {
				_ = o.Set(true) // refused after Close
			}
		})
	}
	check(t, o.Close())
	wg.Wait()
	if f.High(label, 0) {
		t.Error("on after Close")
	}
}

// TestOutputsAreWhatWasAsked: whatever is asked of two outputs in any order, the wires show it and nothing else.
func TestOutputsAreWhatWasAsked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := &Fake{TurnToInput: rapid.Bool().Draw(t, "to input")}
		low := [2]bool{rapid.Bool().Draw(t, "low 0"), rapid.Bool().Draw(t, "low 1")}
		f.Add(FakeChip{Name: "gpiochip0", Label: label, Lines: []FakeLine{{Pull: low[0]}, {Pull: low[1]}}})
		c, err := Find(f, label)
		if err != nil {
			t.Fatal(err)
		}
		var outputs [2]*Output
		var asked [2]bool
		for range rapid.IntRange(1, 30).Draw(t, "steps") {
			i := rapid.IntRange(0, 1).Draw(t, "which")
			on := rapid.Bool().Draw(t, "on")
			switch {
			case outputs[i] == nil:
				outputs[i], err = c.Output(i, "load", low[i])
				on = false
			case rapid.IntRange(0, 4).Draw(t, "end") == 0:
				err, on, outputs[i] = outputs[i].Close(), false, nil
			default:
				err = outputs[i].Set(on)
			}
			if err != nil {
				t.Fatal(err)
			}
			asked[i] = on
			for j := range asked {
				if got := f.High(label, j) != low[j]; got != asked[j] {
					t.Fatalf("output %d is on: %t, asked: %t", j, got, asked[j])
				}
			}
		}
	})
}
