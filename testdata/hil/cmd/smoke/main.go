// Smoke proves the rig itself, without the product: that the host sees what lines and channels do and nothing else, that
// inputs moved outside arrive inside, and that the models on the bus are read alike by raw transfers and by the kernel's
// own drivers.
//
// With RIG_MUTANT set some of its deeds are wrong on purpose: it then has to fail.
package main

import (
	"fmt"
	"os"
	"strings"

	"hil/bus"
	"hil/console"
	"hil/i2c"
	"hil/lines"
)

// board is where the lines are on this kind of guest.
type board struct {
	label string
	// wired: inputs are moved at the wire, with edges. Otherwise only their level can be set.
	wired                            bool
	output, activeLow, input, pulsed int
}

var boards = map[string]board{
	"virt":    {"9030000.pl061", true, 5, 6, 0, 3},
	"raspi3b": {"pinctrl-bcm2835", false, 23, 24, 5, 4},
	"raspi0":  {"pinctrl-bcm2835", false, 23, 24, 5, 4},
}

// test is one run of all checks.
type test struct {
	*console.Host
	board
	chip   string
	mutant bool
	bus    *i2c.Bus
	model  *bus.Model
}

func main() {
	t := &test{Host: console.Dial(), board: boards[os.Getenv("RIG_MACHINE")], mutant: os.Getenv("RIG_MUTANT") != ""}
	var err error
	t.chip, err = lines.Chip(t.label)
	if t.Check(err == nil, "the gpiochip %q is %s (%v)", t.label, t.chip, err) {
		t.outputs()
		t.inputs()
	}
	if t.openBus() {
		t.humidity()
		t.voltages()
		t.converters()
		t.faults()
		t.channels()
	}
	os.Exit(t.Status())
}

// edges asks what the wires did since the last time, as "wire level" joined by commas.
func (t *test) edges() string {
	answer, err := t.Ask("mark")
	if err != nil {
		return err.Error()
	}
	var out []string
	for _, line := range strings.Split(answer, "\n") {
		if f := strings.Fields(line); len(f) == 3 {
			out = append(out, f[1]+" "+f[2])
		}
	}
	return strings.Join(out, ", ")
}

// outputs claims lines with their first value in the request and toggles one.
func (t *test) outputs() {
	t.edges()
	high, err := lines.Claim(t.chip, t.output, lines.Output, t.mutant)
	if !t.Check(err == nil, "claiming an output (%v)", err) {
		return
	}
	defer high.Close()
	claimed := t.edges()
	t.Check(claimed == "", "no edge when an output is claimed inactive: %q", claimed)
	state, err := lines.Look(t.chip, t.output)
	t.Check(err == nil && state.Consumer == "rig" && state.Flags&lines.Output != 0, "the kernel tells holder and direction: %+v", state)
	look, err := t.Ask("look %d", t.output)
	t.Check(err == nil && look == "out 0", "the device's registers agree: %q (%v)", look, err)
	for i := range 3 {
		if t.mutant && i == 1 {
			continue // a toggle that does not happen has to be missed
		}
		if err := high.Set(true); err != nil {
			t.Check(false, "setting an output: %v", err)
		}
		high.Set(false)
	}
	once := fmt.Sprintf("line%d 1, line%d 0", t.output, t.output)
	want := strings.Join([]string{once, once, once}, ", ")
	got := t.edges()
	t.Check(got == want, "three times on and off is what the wire shows: %q", got)
	t.inverted()
}

// inverted claims an output that is on at low. Where nothing holds the wire up before, one rise is right, and no fall.
func (t *test) inverted() {
	low, err := lines.Claim(t.chip, t.activeLow, lines.Output|lines.ActiveLow, false)
	if !t.Check(err == nil, "claiming an output that is on at low (%v)", err) {
		return
	}
	defer low.Close()
	claimed := t.edges()
	rise := fmt.Sprintf("line%d 1", t.activeLow)
	t.Check(claimed == rise || !t.wired && claimed == "", "claimed inactive it only rises: %q", claimed)
	look, err := t.Ask("look %d", t.activeLow)
	t.Check(err == nil && look == "out 1", "inactive is high: %q (%v)", look, err)
	low.Set(true)
	low.Set(false)
	if !t.wired { // this device model says nothing when a line that stands high becomes an output, nor at the fall after it
		t.edges()
	}
	low.Set(true)
	low.Set(false)
	got := t.edges()
	once := fmt.Sprintf("line%d 0, line%d 1", t.activeLow, t.activeLow)
	t.Check(strings.TrimPrefix(got, once+", ") == once, "on is a fall, off a rise: %q", got)
}

// inputs are moved by the host.
func (t *test) inputs() {
	flags := uint64(lines.Input)
	if t.wired {
		flags |= lines.Rising | lines.Falling
	}
	in, err := lines.Claim(t.chip, t.input, flags, false)
	if !t.Check(err == nil, "claiming an input (%v)", err) {
		return
	}
	defer in.Close()
	for _, level := range []int{1, 0, 1} {
		_, err := t.Ask("input %d %d", t.input, level)
		got, err2 := in.Get()
		t.Check(err == nil && err2 == nil && got == (level == 1), "the host sets the input to %d: %v (%v, %v)", level, got, err, err2)
	}
	if !t.wired {
		return
	}
	edges, err := in.Edges(quiet)
	t.Check(err == nil && fmt.Sprint(edges) == "[true false true]", "and the kernel gives three edges: %v (%v)", edges, err)
	t.pulses()
}
