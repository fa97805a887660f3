package main

import (
	"bufio"
	"bytes"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"
)

func TestWiresRecordChangesOnly(t *testing.T) {
	w := newWires()
	w.note(time.Second, "line5", 0) // it was low
	w.note(2*time.Second, "line5", 1)
	w.note(3*time.Second, "line5", 1)
	w.note(4*time.Second, "pwm0", 2048)
	if got := w.since(true); got != "2.0000 line5 1\n4.0000 pwm0 2048" {
		t.Errorf("recorded %q", got)
	}
	w.note(5*time.Second, "line5", 0)
	if got := w.since(false, "pwm0"); got != "" {
		t.Errorf("another wire and the time before the mark give %q", got)
	}
	if got := w.since(false, "line5"); got != "5.0000 line5 0" {
		t.Errorf("after the mark %q", got)
	}
}

// answering plays QEMU's side of the test protocol with fixed answers, and keeps what was asked.
func answering(t *testing.T, answers map[string]string) (*probe, *[]string) {
	t.Helper()
	here, there := net.Pipe()
	t.Cleanup(func() { here.Close(); there.Close() })
	p := &probe{conn: here, answers: make(chan string, 1)}
	asked := &[]string{}
	go func() {
		lines := bufio.NewScanner(there)
		for lines.Scan() {
			*asked = append(*asked, lines.Text())
			answer, ok := answers[lines.Text()]
			if !ok {
				answer = "OK"
			}
			fmt.Fprintln(there, answer)
		}
	}()
	go p.listen(func(int, int) {})
	return p, asked
}

func TestRequests(t *testing.T) {
	answers := map[string]string{
		"readl 0x9030400":                     "OK 0x20", // direction: line 5 is an output
		"readl 0x90303fc":                     "OK 0x1",  // level: line 0 is high
		"set_irq_in /m/p unnamed-gpio-in 7 1": "FAIL no such line",
	}
	p, asked := answering(t, answers)
	r := &requests{machine: machines["virt"], path: "/m/p", probe: p, wires: newWires(), since: func() time.Duration { return 0 },
		pulses: map[int]chan struct{}{}}
	for _, c := range []struct{ request, want, fails string }{
		{"look 5", "out 0", ""},
		{"look 0", "in 1", ""},
		{"input 0 1", "", ""},
		{"edges input0", "0.0000 input0 1", ""},
		{"now input0", "1", ""},
		{"input 7 1", "", "no such line"},
		{"input 99 1", "", "no line"},
		{"pulse 3 0 line5 1", "", "no rhythm"},
		{"jump 3", "", "unknown"},
		{"", "", "empty"},
	} {
		got, err := r.answer(c.request)
		if got != c.want || (err == nil) != (c.fails == "") || err != nil && !strings.Contains(err.Error(), c.fails) {
			t.Errorf("%q gives %q, %v; not %q, %q", c.request, got, err, c.want, c.fails)
		}
	}
	if (*asked)[4] != "set_irq_in /m/p unnamed-gpio-in 0 1" {
		t.Errorf("an input is moved by %q", (*asked)[4])
	}
}

// On a board without input wires the level's register is set, and a silent rise of an output is found by looking.
func TestRequestsOnTheBoard(t *testing.T) {
	answers := map[string]string{"readl 0x3f200008": "OK 0x200", "readl 0x3f200034": "OK 0x800000"} // line 23: an output, high
	p, asked := answering(t, answers)
	r := &requests{machine: machines["raspi3b"], probe: p, wires: newWires(), since: func() time.Duration { return time.Second }}
	if _, err := r.answer("input 5 0"); err != nil || (*asked)[0] != "writel 0x3f200028 0x20" {
		t.Errorf("an input is cleared by %v (%v)", *asked, err)
	}
	r.wires.note(0, "line23", 1)
	r.wires.note(0, "line23", 0)
	if got, err := r.answer("mark line23"); err != nil || !strings.HasSuffix(got, "\n1.0000 line23 1") {
		t.Errorf("the edges are %q (%v)", got, err)
	}
}

func TestSummary(t *testing.T) {
	for _, c := range []struct {
		console string
		passed  bool
	}{
		{"~pass one\n~end failed=0 steps=1\n", true},
		{"~pass one\n~fail two\n~end failed=0 steps=1\n", false},
		{"~end failed=0 steps=1\n", false},            // nothing was checked
		{"~pass one\n~end failed=1 steps=1\n", false}, // a step failed without a word
		{"~pass one\n~end failed=0 steps=0\n", false},
		{"~pass one\n", false}, // it never ended
		{"~pass one\nKernel panic - not syncing\n~end failed=0 steps=1\n", false},
	} {
		w := &watch{label: "test", wires: newWires(), log: &bytes.Buffer{}, start: time.Now()}
		err := w.follow(strings.NewReader(c.console), &bytes.Buffer{})
		if got := w.report() && err == nil; got != c.passed {
			t.Errorf("%q passes: %v", c.console, got)
		}
	}
}
