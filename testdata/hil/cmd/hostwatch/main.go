// Hostwatch starts one guest in QEMU, follows its serial console, records every edge of every wire that the guest drives,
// and moves inputs from outside when the guest's tests ask for it.
//
// It prints every failed check, and at the end one line with the numbers. Exit status: 0 all passed, and there was
// something; 1 a check failed, a step failed, none ran, or the guest did not end in time.
package main

import (
	"bufio"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"syscall"
	"time"

	"hil/console"
)

// files are what QEMU is given.
type files struct{ kernel, tree, image, data string }

func main() {
	name := flag.String("machine", "virt", "kind of guest")
	folder := flag.String("qemu", "", "folder of the unpacked QEMU")
	log := flag.String("log", "", "file for the serial console and the wires")
	limit := flag.Duration("limit", 2*time.Minute, "the guest is ended after this time")
	label := flag.String("label", "", "name in the summary (default: the machine)")
	var f files
	flag.StringVar(&f.kernel, "kernel", "", "kernel")
	flag.StringVar(&f.tree, "tree", "", "device tree, where QEMU has none of its own")
	flag.StringVar(&f.image, "image", "", "image that packimage wrote")
	flag.Parse()
	if *label == "" {
		*label = *name
	}
	m, ok := machines[*name]
	if !ok {
		fmt.Fprintf(os.Stderr, "hostwatch: no machine %q\n", *name)
		os.Exit(1)
	}
	w := &watch{label: *label, start: time.Now(), wires: newWires()}
	err := w.run(m, *folder, f, *log, *limit)
	if err != nil {
		fmt.Printf("%s: %v\n", *label, err)
	}
	if !w.report() || err != nil {
		os.Exit(1)
	}
}

// watch is one guest under way.
type watch struct {
	label          string
	start          time.Time
	wires          *wires
	requests       *requests
	log            io.Writer
	passed, failed int
	waiting        []string // scenarios that were not run, and why
	failedSteps    int      // as the guest told at its end
	steps          int
}

func (w *watch) since() time.Duration { return time.Since(w.start) }

// run is the guest from its start to its end.
func (w *watch) run(m machine, folder string, f files, log string, limit time.Duration) error {
	sockets, err := os.MkdirTemp("", "hostwatch")
	if err != nil {
		return err
	}
	defer os.RemoveAll(sockets)
	out, err := os.Create(log)
	if err != nil {
		return err
	}
	defer out.Close()
	w.log = out
	f.data = folder + "/usr/share/qemu"
	// QEMU must not outlive this process; the signal belongs to the thread that starts it.
	runtime.LockOSThread()
	c := exec.Command(folder+"/usr/bin/"+m.qemu, m.arguments(f, sockets)...)
	libraries := folder + "/usr/lib/x86_64-linux-gnu:" + folder + "/lib/x86_64-linux-gnu"
	c.Env = append(os.Environ(), "LD_LIBRARY_PATH="+libraries)
	c.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
	c.Stderr = out
	in, _ := c.StdinPipe() // fails only when a stream is set already
	text, _ := c.StdoutPipe()
	if err := c.Start(); err != nil {
		return fmt.Errorf("cannot start QEMU: %w", err)
	}
	defer func() { c.Process.Kill(); c.Wait() }()
	if err := w.attach(m, sockets); err != nil {
		return err
	}
	stop := make(chan struct{})
	defer close(stop)
	go w.requests.keepAwake(stop)
	overtime := time.AfterFunc(limit, func() { c.Process.Kill() })
	defer overtime.Stop()
	return w.follow(text, in)
}

// attach intercepts the wires, and only then lets the guest's processor go, so that no edge can be missed.
func (w *watch) attach(m machine, sockets string) error {
	monitor, err := newMonitor(sockets + "/monitor")
	if err != nil {
		return fmt.Errorf("QEMU did not come up: %w", err)
	}
	path := monitor.find("/machine", m.device, 5)
	if path == "" {
		return fmt.Errorf("QEMU has no %s", m.device)
	}
	probe, err := newProbe(sockets+"/wires", func(line, level int) {
		w.wires.note(w.since(), fmt.Sprint("line", line), level)
	})
	if err != nil {
		return err
	}
	if _, err := probe.do("irq_intercept_out " + path); err != nil {
		return err
	}
	w.requests = &requests{machine: m, path: path, probe: probe, wires: w.wires, since: w.since, pulses: map[int]chan struct{}{}}
	_, err = monitor.do("cont", nil)
	return err
}

// follow reads the console until the guest's last word.
func (w *watch) follow(text io.Reader, in io.Writer) error {
	lines := bufio.NewScanner(text)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		line := strings.TrimRight(lines.Text(), "\r")
		fmt.Fprintf(w.log, "[%8.3f] %s\n", w.since().Seconds(), line)
		if strings.Contains(line, "Kernel panic") {
			return fmt.Errorf("the guest's kernel stopped: %s", line)
		}
		if w.hear(line, in) {
			fmt.Fprintf(w.log, "wires since the last mark:\n%s\n", w.wires.since(false))
			return nil
		}
	}
	return fmt.Errorf("the guest ended without its last word, or ran out of time")
}

// hear takes one line of the console; true for the last one.
func (w *watch) hear(line string, in io.Writer) bool {
	at := strings.IndexByte(line, '~')
	if at < 0 {
		return false
	}
	word, rest, _ := strings.Cut(line[at:], " ")
	switch word + " " {
	case console.Pass:
		w.passed++
	case console.Fail:
		w.failed++
		fmt.Printf("%s: FAIL %s\n", w.label, rest)
	case console.Wait:
		w.waiting = append(w.waiting, rest)
	case console.Wire:
		var name string
		var level int
		if n, _ := fmt.Sscanf(rest, "%s %d", &name, &level); n == 2 {
			w.wires.note(w.since(), name, level)
		}
	case console.Ask:
		answer, err := w.requests.answer(rest)
		if word, answer = console.OK, console.Quote(answer); err != nil {
			word, answer = console.No, console.Quote(err.Error())
		}
		fmt.Fprintf(w.log, "[%8.3f] host: %s%s\n", w.since().Seconds(), word, answer)
		fmt.Fprintf(in, "%s%s\n", word, answer)
	case console.End:
		n, _ := fmt.Sscanf(rest, "failed=%d steps=%d", &w.failedSteps, &w.steps)
		return n == 2
	}
	return false
}

// report prints the summary and tells whether all is well. A guest without a check has proven nothing.
func (w *watch) report() bool {
	for _, text := range w.waiting {
		fmt.Printf("%s: not run: %s\n", w.label, text)
	}
	fmt.Printf("%s: %d checks passed, %d failed; %d of %d steps failed; %d scenarios not run; %.1f s\n", w.label, w.passed, w.failed,
		w.failedSteps, w.steps, len(w.waiting), w.since().Seconds())
	return w.passed > 0 && w.failed == 0 && w.steps > 0 && w.failedSteps == 0
}
