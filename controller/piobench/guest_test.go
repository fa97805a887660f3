//go:build guest

package piobench

import (
	"bufio"
	"flag"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/controller/benchtest"
	"fullery/recipe"
)

// The conformance suite on a real kernel: this test is built into a binary of its own and run inside a virtual machine by
// testdata/hil, where the bus's chips are models that take orders on a socket.

// TestMain runs nothing else: what else there is was tested elsewhere.
func TestMain(m *testing.M) {
	flag.Parse()
	for name, value := range map[string]string{"test.run": "^TestConformanceInGuest$", "test.v": "true", "test.timeout": "170s"} {
		if err := flag.Set(name, value); err != nil {
			panic(err)
		}
	}
	os.Exit(m.Run())
}

// guestRig is the bench of the virtual machine.
type guestRig struct {
	bench *Bench
	spec  recipe.Bench
	began time.Time
	bus   net.Conn
	in    *bufio.Reader
}

// order gives the bus model one order.
func (r *guestRig) order(format string, args ...any) error {
	if _, err := fmt.Fprintf(r.bus, format+"\n", args...); err != nil {
		return err
	}
	line, err := r.in.ReadString('\n')
	if err == nil && !strings.HasPrefix(line, "ok") {
		err = fmt.Errorf("%s: %s", fmt.Sprintf(format, args...), line)
	}
	return err
}

// openGuest reads the bench file, puts in the adapter's name, and makes the air a little restless, as it is.
func openGuest() (benchtest.Rig, error) {
	text, err := os.ReadFile("/benches/bench-dry.toml")
	if err != nil {
		return nil, err
	}
	names, _ := filepath.Glob("/sys/class/i2c-adapter/*/name")
	for _, name := range names {
		if data, _ := os.ReadFile(name); strings.Contains(string(data), "tiny-usb") {
			text = []byte(strings.ReplaceAll(string(text), "ADAPTER", strings.TrimSpace(string(data))))
		}
	}
	spec, problems := recipe.ReadBench("bench-dry.toml", text)
	if bad := problems.Errors(); len(bad) > 0 {
		return nil, bad
	}
	r := &guestRig{spec: spec, began: time.Now()}
	if r.bus, err = net.Dial("unix", "/run/busmodel"); err != nil {
		return nil, err
	}
	r.in = bufio.NewReader(r.bus)
	for _, order := range []string{"heal 0x40", "heal 0x44", "heal 0x45", "heal 0x4a", "heal 0x4b", "set 0x44 celsius 21",
		"set 0x44 percent 50", "set 0x45 celsius 21", "set 0x45 percent 50", "set 0x4a celsius 21", "set 0x4b celsius 20",
		"noise 0x44 celsius 0.05", "noise 0x44 percent 0.3", "noise 0x45 celsius 0.05", "noise 0x45 percent 0.3",
		"noise 0x4a celsius 0.1", "noise 0x4b celsius 0.1"} {
		if err := r.order("%s", order); err != nil {
			return nil, err
		}
	}
	r.bench, err = Open(spec, System("/"), Options{})
	return r, err
}

func (r *guestRig) Bench() controller.Bench { return r.bench }
func (r *guestRig) Spec() recipe.Bench      { return r.spec }
func (r *guestRig) Now() time.Duration      { return time.Since(r.began) }
func (r *guestRig) Sleep(d time.Duration)   { time.Sleep(d) }
func (r *guestRig) End()                    { _, _ = r.bench.Close(), r.bus.Close() }

// Share asks the kernel's own list of lines. A channel of the PWM chip is seen by the host only.
func (r *guestRig) Share(o recipe.Output) (float64, bool) {
	w := r.spec.Board.Outputs[o]
	if !w.Fitted || w.Drive == recipe.DriveChip {
		return 0, false
	}
	list, err := os.ReadFile("/sys/kernel/debug/gpio")
	if err != nil {
		return 0, false
	}
	for _, line := range strings.Split(string(list), "\n") {
		label := fmt.Sprintf("|%-20.20s)", "fullery "+o.String()) // as the kernel prints it
		if _, after, held := strings.Cut(line, label); held && strings.Contains(after, "out") {
			if strings.Contains(line, " hi") != w.ActiveLow {
				return 1, true
			}
		}
	}
	return 0, true // nobody drives it
}

// Make lets a chip fail to acknowledge. Contacts and what hangs are the host's.
func (r *guestRig) Make(s recipe.Sensor, state benchtest.State) bool {
	w := r.spec.Board.Inputs[s]
	switch {
	case w.Chip == "":
		return state == benchtest.Well
	case state == benchtest.Well:
		return r.order("heal 0x%02x", w.Address) == nil
	case state == benchtest.Failing:
		return r.order("fault 0x%02x nak", w.Address) == nil
	}
	return false
}

// TestConformanceInGuest tells the host of each case by itself.
func TestConformanceInGuest(t *testing.T) {
	for _, f := range benchtest.Program(openGuest) {
		word := "~pass"
		if len(f.Failed) > 0 {
			word = "~fail"
			t.Errorf("%s: %s", f.Name, strings.Join(f.Failed, "; "))
		}
		fmt.Printf("\n%s a bench on a real kernel: %s %s\n", word, f.Name, strings.Join(f.Failed, "; "))
	}
}
