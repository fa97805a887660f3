package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"hil/bus"
	"hil/console"
	"hil/i2c"
	"hil/lines"
)

// rig is what a scenario works with: the host outside, the bus model, and the product.
type rig struct {
	*console.Host
	name   string // of the scenario under way
	chip   string // label of the gpiochip
	model  *bus.Model
	folder int // number of the data folder: one a scenario
	// outputs are those of the scenario's bench.
	outputs []output
}

// check reports one check of the scenario under way.
func (r *rig) check(ok bool, format string, args ...any) bool {
	return r.Check(ok, "%s: %s", r.name, fmt.Sprintf(format, args...))
}

// need gives up the scenario for what has nothing to do with the product: a request that the host or the model refused.
func (r *rig) need(err error) {
	if err != nil {
		panic(broken{err})
	}
}

// broken is a scenario that cannot go on.
type broken struct{ err error }

func (r *rig) ask(format string, args ...any) string {
	answer, err := r.Ask(format, args...)
	r.need(err)
	return answer
}

func (r *rig) order(format string, args ...any) {
	_, err := r.model.Order(format, args...)
	r.need(err)
}

// edge is one change of a wire as the host saw it.
type edge struct {
	at    float64 // s, on the host's clock
	wire  string
	level int
}

// edges are all that the wires did since the scenario began.
func (r *rig) edges(wires ...string) []edge {
	var all []edge
	for _, line := range strings.Split(r.ask("edges %s", strings.Join(wires, " ")), "\n") {
		var e edge
		if n, _ := fmt.Sscanf(line, "%g %s %d", &e.at, &e.wire, &e.level); n == 3 {
			all = append(all, e)
		}
	}
	return all
}

// until waits for an edge of a wire and returns when it came; a second result of false says that it did not.
func (r *rig) until(wire string, wanted func(level int) bool, within time.Duration) (at float64, came bool) {
	for range within / (50 * time.Millisecond) {
		for _, e := range r.edges(wire) {
			if wanted(e.level) {
				return e.at, true
			}
		}
		time.Sleep(50 * time.Millisecond)
	}
	return 0, false
}

// product is one run of the program under test.
type product struct {
	*exec.Cmd
	began     time.Time
	out, errs bytes.Buffer
	ended     chan struct{}
}

// start runs the product in a process group of its own: what it starts itself, a supervisor for one, is not hit by a
// signal to it. Each scenario has a fresh folder for its data.
func (r *rig) start(args ...string) *product {
	p := &product{Cmd: exec.Command("/fullery", args...), began: time.Now(), ended: make(chan struct{})}
	p.Stdout, p.Stderr = &p.out, &p.errs
	p.Env = append(os.Environ(), fmt.Sprintf("XDG_DATA_HOME=/run/data%d", r.folder), "NO_COLOR=1")
	p.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	r.need(p.Start())
	go func() { p.Wait(); close(p.ended) }()
	return p
}

// signal sends one to the product's own process only.
func (p *product) signal(s syscall.Signal) { p.Process.Signal(s) }

// status waits for the end and returns the exit status; -1 when it died of a signal, -2 when it did not end in time.
func (p *product) status(within time.Duration) int {
	select {
	case <-p.ended:
		return p.ProcessState.ExitCode()
	case <-time.After(within):
		return -2
	}
}

// finish asks the product to end and returns its status. After a warm stage the fan goes on until the heater has cooled,
// which takes minutes: a second signal ends that.
func (p *product) finish() int {
	for range 2 {
		p.signal(terminated)
		if status := p.status(4 * time.Second); status != -2 {
			return status
		}
	}
	return p.status(10 * time.Second)
}

// load is the share of one core that the product took, of its own processes that ended, while it ran.
func (p *product) load() float64 {
	used := p.ProcessState.UserTime() + p.ProcessState.SystemTime()
	return used.Seconds() / time.Since(p.began).Seconds()
}

// said is all that the product printed, for the text of a check. It is read only after the product ended.
func (p *product) said() string {
	select {
	case <-p.ended:
		return strings.TrimSpace(p.out.String() + " " + p.errs.String())
	default:
		return "(it still runs)"
	}
}

// sweep ends what a scenario left behind: first what is stopped is let go, then all of the group is killed.
func (p *product) sweep() {
	syscall.Kill(-p.Process.Pid, syscall.SIGCONT)
	syscall.Kill(-p.Process.Pid, syscall.SIGKILL)
	<-p.ended
}

// bench writes a bench file with the name of the adapter that this kernel made, and returns its path.
func (r *rig) bench(name string) string {
	text, err := os.ReadFile("/benches/" + name)
	r.need(err)
	node := i2c.Find("tiny-usb")
	adapter, err := os.ReadFile(filepath.Join("/sys/class/i2c-adapter", filepath.Base(node), "name"))
	r.need(err)
	path := "/run/" + name
	r.need(os.WriteFile(path, bytes.ReplaceAll(text, []byte("ADAPTER"), bytes.TrimSpace(adapter)), 0o644))
	return path
}

// scenario runs one row of the table; a break in it is a failed check and not the end of the others.
func (r *rig) scenario(s scenario) {
	r.folder++
	r.name, r.outputs = s.name, s.outputs
	defer func() {
		if b, ok := recover().(broken); ok {
			r.check(false, "cannot go on: %v", b.err)
		}
	}()
	r.quiet(s)
	s.run(r)
}

// quiet makes all well before a scenario: contacts closed, which is low on the wire, chips healed, rhythms still.
func (r *rig) quiet(s scenario) {
	for _, address := range []int{0x2a, 0x40, 0x44, 0x45, 0x48, 0x4a, 0x4b, 0x76} {
		r.order("heal 0x%02x", address)
	}
	for _, o := range s.outputs {
		r.pullUp(o)
	}
	for _, line := range s.contacts {
		r.ask("input %d 0", line)
	}
	for _, world := range s.world {
		r.order("%s", world)
	}
	for _, coupling := range s.couplings {
		r.ask("pulse %s", coupling)
	}
	r.ask("mark")
}

// pullUp stands in for the resistor that holds an output which is on at low: nothing in QEMU pulls a line up. The device
// keeps the level when the line is given back.
func (r *rig) pullUp(o output) {
	var offset int
	if n, _ := fmt.Sscanf(o.wire, "line%d", &offset); n == 0 || !o.low {
		return
	}
	chip, err := lines.Chip(r.chip)
	r.need(err)
	l, err := lines.Claim(chip, offset, lines.Output|lines.ActiveLow, false)
	r.need(err)
	r.need(l.Close())
}

// settled waits until every output is inactive, and returns when the last of them became so. An output whose line nobody
// drives is inactive: the resistor that its bench file declares holds it.
func (r *rig) settled(outputs []output, within time.Duration) (at float64, err error) {
	for range within/(50*time.Millisecond) + 1 {
		var active []string
		for _, o := range outputs {
			if r.isActive(o) {
				active = append(active, o.name)
			}
		}
		if len(active) == 0 {
			return r.lastOff(outputs), nil
		}
		err = fmt.Errorf("still on: %s", strings.Join(active, ", "))
		time.Sleep(50 * time.Millisecond)
	}
	return 0, err
}

// isActive asks the device's registers for a line, and the record of wires for a channel.
func (r *rig) isActive(o output) bool {
	number, isLine := strings.CutPrefix(o.wire, "line")
	if !isLine {
		return r.ask("now %s", o.wire) != "0"
	}
	direction, level, _ := strings.Cut(r.ask("look %s", number), " ")
	return direction == "out" && (level == "1") != o.low
}

// lastOff is when the last output went off.
func (r *rig) lastOff(outputs []output) (at float64) {
	for _, o := range outputs {
		for _, e := range r.edges(o.wire) {
			if !o.active(e.level) {
				at = max(at, e.at)
			}
		}
	}
	return at
}

// output is one output of a bench and the wire that shows it.
type output struct {
	name, wire string
	low        bool // on at low
}

func (o output) active(level int) bool { return (level > 0) != o.low }

// rest is the level at which the output is inactive: what the declared resistor of the bench file would hold.
func (o output) rest() int {
	if o.low {
		return 1
	}
	return 0
}

// activations lists when outputs went on, by name: "fan@3.21".
func (r *rig) activations(outputs []output) []string {
	var all []string
	for _, o := range outputs {
		level := o.rest()
		for _, e := range r.edges(o.wire) {
			if o.active(e.level) && !o.active(level) {
				all = append(all, o.name+"@"+strconv.FormatFloat(e.at, 'f', 2, 64))
			}
			level = e.level
		}
	}
	return all
}
