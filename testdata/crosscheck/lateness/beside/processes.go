package main

import (
	"bytes"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// clients is how many readers the loop tells of every tick; BenchmarkTickLateness waits for as many.
const clients = 20

// crowd is processes that keep the cores busy.
type crowd []*exec.Cmd

// occupy starts one busy process more than there are cores, at normal priority; none when the machine is to be idle. Each
// has a session of its own, as other programs have: a kernel that shares its time out among sessions would otherwise make
// them and both loops wait together.
func occupy(sleeper string, busy bool) (crowd, error) {
	var all crowd
	for range runtime.NumCPU() + 1 {
		if !busy {
			break
		}
		c := exec.Command(sleeper, "busy")
		c.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
		if err := c.Start(); err != nil {
			all.stop()
			return nil, err
		}
		all = append(all, c)
	}
	return all, nil
}

func (all crowd) stop() {
	for _, c := range all {
		_ = c.Process.Kill()
		_ = c.Wait() // it was killed
	}
}

// followers are the clients: they read whatever the loop writes to its socket, in this process and not in its.
type followers struct {
	quit chan struct{}
	wait sync.WaitGroup
}

func follow(socket string) *followers {
	f := &followers{quit: make(chan struct{})}
	for range clients {
		f.wait.Go(func() { f.read(socket) })
	}
	return f
}

// read connects as soon as somebody listens, again and again: the benchmark is warmed up by a run of one tick.
func (f *followers) read(socket string) {
	const again = 20 * time.Millisecond
	for {
		select {
		case <-f.quit:
			return
		case <-time.After(again):
		}
		if conn, err := net.Dial("unix", socket); err == nil {
			_, _ = io.Copy(io.Discard, conn)
			_ = conn.Close()
		}
	}
}

func (f *followers) stop() {
	close(f.quit)
	f.wait.Wait()
}

// bareLoop is the loop in C while it runs.
type bareLoop struct {
	*exec.Cmd
	out bytes.Buffer
}

func begin(sleeper string, at situation) (*bareLoop, error) {
	b := &bareLoop{Cmd: at.command(sleeper, strconv.FormatInt(at.period.Microseconds(), 10), strconv.Itoa(at.ticks))}
	b.Stdout, b.Stderr = &b.out, os.Stderr
	return b, b.Start()
}

func (b *bareLoop) end() ([]float64, error) {
	if err := b.Wait(); err != nil {
		return nil, err
	}
	return spans(b.out.String())
}

// ahead gives a program real-time priority: the kernel runs it before every ordinary one.
var ahead = []string{"chrt", "-f", "10"}

// mayBeFirst tells whether we may give it.
func mayBeFirst() bool {
	return exec.Command(ahead[0], slices.Concat(ahead[1:], []string{"true"})...).Run() == nil
}

// command is a loop, run as the situation has it.
func (at situation) command(program string, given ...string) *exec.Cmd {
	if at.in == first {
		given = slices.Concat(ahead[1:], []string{program}, given)
		program = ahead[0]
	}
	return exec.Command(program, given...)
}

// tick runs the control loop for the ticks of a round.
func tick(program, folder, socket, out string, at situation) error {
	c := at.command(program, "-test.run=^$", "-test.bench=^BenchmarkTickLateness$", "-test.timeout=1h",
		fmt.Sprintf("-test.benchtime=%dx", at.ticks), "-lateness.period="+at.period.String(),
		"-lateness.socket="+socket, "-lateness.out="+out)
	c.Dir = folder
	said, err := c.CombinedOutput()
	if err != nil {
		return fmt.Errorf("%w: %s", err, said)
	}
	return nil
}

// readSpans reads a file of spans.
func readSpans(path string) ([]float64, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return spans(string(text))
}

// spans reads nanoseconds, one a line, as ms.
func spans(text string) (all []float64, err error) {
	for _, line := range strings.Fields(text) {
		ns, err := strconv.ParseInt(line, 10, 64)
		if err != nil {
			return nil, err
		}
		all = append(all, float64(ns)/1e6)
	}
	return all, nil
}
