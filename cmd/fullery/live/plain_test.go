package live

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares a text with testdata/name.txt.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s has changed.\ngot:\n%s\nwant:\n%s", file, got, want)
	}
}

// plainRun runs a cycle fast and returns its lines.
func plainRun(t *testing.T, name string, twist func(time.Duration, *controller.Readings)) string {
	t.Helper()
	p := program(t, name)
	var out bytes.Buffer
	plain := NewPlain(p, &out)
	runFast(context.Background(), t, p, &bench{p: p, twist: twist}, plain.Room, plain)
	if err := plain.Close(); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func TestPlainGolden(t *testing.T) {
	got := plainRun(t, "isopropanol-91", nil)
	golden(t, "plain", got)
	if again := plainRun(t, "isopropanol-91", nil); again != got {
		t.Error("the same run gave other lines")
	}
}

func TestPlainSaysGuardsInFull(t *testing.T) {
	got := plainRun(t, "isopropanol-91", func(now time.Duration, r *controller.Readings) {
		if now > 40*time.Second {
			r[recipe.EStop].Value = 0
		}
	})
	if want := controller.EStopPressed.Said(); !strings.Contains(got, want) {
		t.Errorf("no %q in\n%s", want, got)
	}
}

// Every event of the run is in the lines, in order.
func TestPlainLosesNothingWhenFast(t *testing.T) {
	p := program(t, "water-detergent")
	var want []string
	all := watcherFunc(func(tick *controller.Tick) {
		for _, ev := range tick.Outputs.Events.All() {
			want = append(want, p.Say(ev))
		}
	})
	out := &slow{}
	plain := NewPlain(p, out)
	noisy := &bench{p: p, twist: func(now time.Duration, r *controller.Readings) {
		r[recipe.Vapour].Value = 0.01
		if now/(5*time.Second)%2 == 1 { // a warning that comes and goes, so that there is much to tell
			r[recipe.Vapour].Value = 0.15
		}
	}}
	runFast(context.Background(), t, p, noisy, plain.Room, all, plain)
	if err := plain.Close(); err != nil {
		t.Fatal(err)
	}
	if len(want) < 300 {
		t.Fatalf("only %d events: this test shows nothing", len(want))
	}
	rest := out.String()
	for i, w := range want {
		_, after, ok := strings.Cut(rest, w+"\n")
		if !ok {
			t.Fatalf("event %d is missing: %q", i, w)
		}
		rest = after
	}
	if strings.Contains(out.String(), "lost") {
		t.Error("lines were lost")
	}
}

type watcherFunc func(*controller.Tick)

func (f watcherFunc) Watch(t *controller.Tick) { f(t) }

// slow takes a few bytes at a time, as a pipe that is full does.
type slow struct{ bytes.Buffer }

func (s *slow) Write(b []byte) (int, error) {
	for i := 0; i < len(b); i += 16 {
		s.Buffer.Write(b[i:min(i+16, len(b))])
	}
	return len(b), nil
}

// blocked is a pipe that nobody reads until it is opened.
type blocked struct {
	open chan struct{}
	bytes.Buffer
}

func (b *blocked) Write(p []byte) (int, error) {
	<-b.open
	return b.Buffer.Write(p)
}

// A pipe that nobody reads never blocks the loop; what had no room is counted and told.
func TestPlainTellsWhatItLost(t *testing.T) {
	p := program(t, "water-detergent")
	out := &blocked{open: make(chan struct{})}
	plain := NewPlain(p, out)
	r := newRig(p, plain)
	r.step(controller.Command{})
	if !plain.Room() {
		t.Error("no room at the beginning")
	}
	const orders = plainQueue + 1000
	for range orders {
		r.order(controller.Hold) // refused: one line
	}
	if plain.Room() {
		t.Error("room in a queue that is full")
	}
	close(out.open)
	if err := plain.Close(); err != nil {
		t.Fatal(err)
	}
	lines := strings.Count(out.String(), "Order refused: hold.")
	lost := orders - lines
	if lost < 900 || !strings.Contains(out.String(), "lines were lost here") {
		t.Fatalf("%d of %d lines written, and it ends:\n%s", lines, orders, tail(out.String()))
	}
	if want := strconv.Itoa(lost) + " lines were lost here"; !strings.Contains(out.String(), want) {
		t.Errorf("no %q in the end:\n%s", want, tail(out.String()))
	}
}

func tail(s string) string { return s[max(len(s)-300, 0):] }

// broken is an output that fails.
type broken struct{}

var errBroken = errors.New("no space left on device")

func (broken) Write([]byte) (int, error) { return 0, errBroken }

// An output that fails does not hold up a fast cycle, and Close says so, as often as it is asked.
func TestPlainOnABrokenOutput(t *testing.T) {
	p := program(t, "isopropanol-91")
	plain := NewPlain(p, broken{})
	r := newRig(p, plain)
	for range 3 * plainQueue { // far more lines than the queue holds
		for !plain.Room() {
			runtime.Gosched()
		}
		r.order(controller.Hold)
	}
	for range 2 {
		if err := plain.Close(); !errors.Is(err, errBroken) {
			t.Errorf("Close: %v", err)
		}
	}
}

// Whoever reads along sees a line when it happens, not when the cycle has ended.
func TestPlainIsPrompt(t *testing.T) {
	p := program(t, "isopropanol-91")
	in, out := io.Pipe()
	plain := NewPlain(p, out)
	r := newRig(p, plain)
	r.step(controller.Command{})
	r.order(controller.Start)
	lines := bufio.NewScanner(in)
	for _, want := range []string{"Order taken: start.", "The cycle is running.", "Wet, pass 1 begins."} {
		if !lines.Scan() || !strings.HasSuffix(lines.Text(), want) {
			t.Errorf("read %q, want %q", lines.Text(), want)
		}
	}
	if err := plain.Close(); err != nil {
		t.Error(err)
	}
}

// A stage that follows a long one, or begins anew, tells its own progress from its own start.
func TestPlainProgressBeginsAnew(t *testing.T) {
	p := program(t, "water-detergent")
	var out bytes.Buffer
	plain := NewPlain(p, &out)
	tick := controller.Tick{State: controller.State{Cycle: controller.Running}}
	for _, worked := range []time.Duration{0, 6, 11, 0, 4, 6} {
		tick.State.Worked = worked * time.Minute
		plain.Watch(&tick)
	}
	if err := plain.Close(); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(out.String(), "Wet, pass 1: 6 min"); got != 2 {
		t.Errorf("%d times six minutes, want 2:\n%s", got, out.String())
	}
}

func TestPlainProgress(t *testing.T) {
	p := program(t, "water-detergent")
	var out bytes.Buffer
	plain := NewPlain(p, &out)
	runFast(context.Background(), t, p, &bench{p: p}, plain.Room, plain)
	if err := plain.Close(); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"Dry: 5 min of about 54 min; the jacket is 5.0 K colder than the air; about ",
		"Dry: 20 min of about 54 min; the jacket is ",
	} {
		if n := strings.Count(out.String(), want); n != 1 {
			t.Errorf("%d times %q", n, want)
		}
	}
}
