// Standin takes the product's place in the guest so that the scenarios themselves can be tried: that they pass for a
// program that behaves, and fail for one that does not. It knows the rig's bench files by their names and shares nothing
// with the product.
//
// The file /mutation names what it does wrong, one word; without it, it behaves:
//
//	pulse  claims its outputs active     deaf  does not look at the lid      alone  has no supervisor
//	calm   goes on without readings      rude  leaves its outputs on at its end, without one
package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"
)

func main() {
	mutation, _ := os.ReadFile("/mutation")
	wrong := strings.TrimSpace(string(mutation))
	name := ""
	for i, word := range os.Args {
		if word == "--bench" && i+1 < len(os.Args) {
			name = strings.TrimSuffix(strings.TrimPrefix(filepath.Base(os.Args[i+1]), "bench-"), ".toml")
		}
	}
	switch os.Args[1] {
	case "run":
		os.Exit(run(wirings[name], wrong))
	case "supervise":
		os.Exit(supervise(wirings[name]))
	case "off":
		os.Exit(off())
	}
}

// wiring is one of the rig's benches.
type wiring struct {
	chip     string
	outputs  []output
	contacts []int // lid, emergency stop and the others: low is well
	tach     int
	sensor   uint16 // without it the cycle cannot go on
	script   []step
}

// output is a line, or a channel of the PWM chip when line is negative.
type output struct {
	name          string
	line, channel int
	low           bool
}

// step is a span of the cycle with what is on in it.
type step struct {
	seconds float64
	on      string
}

var wirings = map[string]wiring{
	"wet": {chip: "9030000.pl061", contacts: []int{0, 1, 2, 4}, tach: 3, sensor: 0x48,
		outputs: []output{{"pump", 7, 0, true}, {"fan", -1, 0, false}, {"pads", -1, 1, false}, {"press", -1, 2, false},
			{"pads-reverse", -1, 3, false}, {"hub", -1, 4, false}},
		script: []step{{0.5, "hub pump"}, {0.5, "hub"}, {0.5, "hub pump"}, {0.5, "hub"}, {0.5, "hub pump"}, {1.5, "press hub"},
			{2, "press hub pads"}, {0.3, "press hub pads-reverse"}, {2, "press hub pads pads-reverse"}, {3, "fan"}}},
	"dry": {chip: "9030000.pl061", contacts: []int{0, 1, 2}, tach: 3, sensor: 0x45,
		outputs: []output{{"fan", 5, 0, false}, {"heater-enable", 6, 0, true}, {"heater", -1, 0, false}},
		script:  []step{{2, "fan"}, {6, "fan heater-enable heater"}, {1, "fan"}}},
	"pi": {chip: "pinctrl-bcm2835", contacts: []int{5, 6, 19}, tach: 4,
		outputs: []output{{"fan", 23, 0, false}, {"heater", 24, 0, false}, {"heater-enable", 7, 0, true}},
		script:  []step{{4, "fan"}}},
}

// owner is where the owner of a bench leaves its number.
const owner = "/run/owner"

// run is one cycle.
func run(w wiring, wrong string) int {
	b, err := open(w, wrong == "pulse")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 4
	}
	os.WriteFile(owner, []byte(fmt.Sprint(os.Getpid())), 0o600)
	beat := func() {}
	if wrong != "alone" && wrong != "rude" {
		beat = watchOver()
	}
	orders := make(chan os.Signal, 1)
	signal.Notify(orders, syscall.SIGTERM)
	c := &cycle{bench: b, wrong: wrong}
	if w.sensor != 0 {
		go b.listen()
	}
	for {
		select {
		case <-orders:
			c.end("aborted", "")
		case <-time.After(50 * time.Millisecond):
			c.tick()
		}
		beat()
		if c.over && (c.guard == "" || len(orders) > 0 || c.leaves) {
			break
		}
	}
	if wrong != "rude" {
		b.drive("")
	}
	guards := []map[string]string{}
	if c.guard != "" {
		guards = append(guards, map[string]string{"id": c.guard})
	}
	json.NewEncoder(os.Stdout).Encode(map[string]any{"state": c.state, "guards": guards})
	switch {
	case c.guard != "":
		return 3
	case c.state == "complete":
		return 0
	}
	return 1
}

// cycle is where the cycle stands.
type cycle struct {
	*bench
	wrong        string
	begin        time.Time
	over, leaves bool
	state, guard string
}

func (c *cycle) end(state, guard string) {
	if !c.over {
		c.state, c.guard = state, guard
	}
	c.over, c.leaves = true, state == "complete" || guard == ""
	if c.wrong != "rude" || guard != "" {
		c.drive("")
	}
}

// tick looks first and drives afterwards.
func (c *cycle) tick() {
	if c.over {
		c.leaves = c.leaves || c.guard == "fan-unproven"
		return
	}
	switch guard := c.trouble(); {
	case guard == "lid-open" && c.wrong == "deaf", strings.HasPrefix(guard, "reading") && c.wrong == "calm":
	case guard != "":
		c.end("aborted", guard)
		return
	}
	if c.begin.IsZero() {
		c.begin = time.Now()
	}
	elapsed, at := time.Since(c.begin).Seconds(), 0.0
	for _, s := range c.script {
		if at += s.seconds; elapsed < at {
			c.drive(s.on)
			return
		}
	}
	if c.tach == wirings["pi"].tach { // no pulse ever comes there
		c.end("aborted", "fan-unproven")
		return
	}
	c.end("complete", "")
}

// watchOver starts the supervisor and returns what tells it that the loop is alive.
func watchOver() func() {
	out, in, err := os.Pipe()
	if err != nil {
		return func() {}
	}
	p, err := os.StartProcess("/proc/self/exe", append([]string{os.Args[0], "supervise"}, os.Args[2:]...), &os.ProcAttr{
		Files: []*os.File{out, nil, os.Stderr}, Sys: &syscall.SysProcAttr{Setsid: true}})
	if err != nil {
		return func() {}
	}
	out.Close()
	p.Release()
	return func() { in.Write([]byte{1}) }
}

// supervise waits for the owner's silence, ends it, so that its lines are free, and switches off.
func supervise(w wiring) int {
	beats := make(chan bool)
	go func() {
		one := make([]byte, 1)
		for {
			if n, err := os.Stdin.Read(one); n == 0 || err != nil {
				close(beats)
				return
			}
			beats <- true
		}
	}()
	for alive := true; alive; {
		select {
		case _, alive = <-beats:
		case <-time.After(1500 * time.Millisecond):
			alive = false
		}
	}
	kill(syscall.SIGKILL)
	for range 20 { // the lines are free when the owner is gone
		if b, err := open(w, false); err == nil {
			b.drive("")
			return 0
		}
		time.Sleep(50 * time.Millisecond)
	}
	return 1
}

func off() int {
	kill(syscall.SIGTERM)
	return 0
}

func kill(s syscall.Signal) {
	var pid int
	text, _ := os.ReadFile(owner)
	if n, _ := fmt.Sscan(string(text), &pid); n == 1 && pid > 1 {
		syscall.Kill(pid, s)
	}
}
