package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"net"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fullery/controller"
	"fullery/disks/record"
	"fullery/recipes"

	"pgregory.net/rapid"
)

// manager is a service manager that only listens.
func manager(t *testing.T) *net.UnixConn {
	t.Helper()
	path := filepath.Join(t.TempDir(), "notify")
	conn, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	t.Setenv("NOTIFY_SOCKET", path)
	return conn
}

// next is the next message that the manager gets.
func next(t *testing.T, conn *net.UnixConn) string {
	t.Helper()
	_ = conn.SetReadDeadline(time.Now().Add(10 * time.Second))
	text := make([]byte, 4096)
	n, err := conn.Read(text)
	if err != nil {
		t.Fatal(err)
	}
	return string(text[:n])
}

// TestNotifier: the messages of sd_notify(3), four for the watchdog in its span, and none that waits.
func TestNotifier(t *testing.T) {
	conn := manager(t)
	t.Setenv("WATCHDOG_USEC", "2000000")
	n := newNotifier()
	n.ready()
	n.status("two\nlines")
	at := time.Unix(1e9, 0)
	for range 60 { // three seconds of ticks
		n.feed(at)
		at = at.Add(50 * time.Millisecond)
	}
	n.stopping()
	var got []string
	for len(got) == 0 || got[len(got)-1] != "STOPPING=1" {
		got = append(got, next(t, conn))
	}
	want := "READY=1 STATUS=two lines WATCHDOG=1 WATCHDOG=1 WATCHDOG=1 WATCHDOG=1 WATCHDOG=1 WATCHDOG=1 STOPPING=1"
	if said := strings.Join(got, " "); said != want {
		t.Errorf("told %q, want %q", said, want)
	}
	for range 10_000 { // nobody reads: what has no room is lost, and nothing stands still
		n.tell(strings.Repeat("x", 1000))
	}
}

// TestNotifierOfNobody: without a manager, or with a watchdog that is another process's, nothing is told.
func TestNotifierOfNobody(t *testing.T) {
	n := newNotifier()
	n.ready()
	n.feed(time.Now())
	conn := manager(t)
	t.Setenv("WATCHDOG_USEC", "2000000")
	t.Setenv("WATCHDOG_PID", "1")
	n = newNotifier()
	n.feed(time.Unix(1e9, 0))
	n.ready()
	if got := next(t, conn); got != "READY=1" {
		t.Errorf("told %q first", got)
	}
}

// TestWatchdogIsFedByTheLoopOnly: a bench that cannot be driven any more feeds nobody.
func TestWatchdogIsFedByTheLoopOnly(t *testing.T) {
	conn := manager(t)
	t.Setenv("WATCHDOG_USEC", "4") // every tick is due
	_, bench := padBench(t, &oneChip{codes: [4]int16{1000, 1000}})
	s := &station{notify: newNotifier(), log: newJournal(&bytes.Buffer{}), board: &lentBoard{bench: bench}}
	s.idle()
	if got := next(t, conn) + next(t, conn); got != "WATCHDOG=1READY=1" {
		t.Fatalf("told %q", got)
	}
	next(t, conn) // what it does
	if err := bench.Close(); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		s.idle()
	}
	s.notify.stopping()
	if got := next(t, conn); got != "STOPPING=1" {
		t.Errorf("a bench that could not be driven told %q", got)
	}
	s.log.Close()
}

// served is a station on the simulated bench with a record of its own, working until the test ends.
func served(t *testing.T) *station {
	t.Helper()
	t.Setenv("XDG_DATA_HOME", t.TempDir())
	b, err := recipes.Bench(recipes.DefaultBench)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := record.Open(t.Context(), filepath.Join(t.TempDir(), "r.db"))
	if err != nil {
		t.Fatal(err)
	}
	s := &station{bench: b, record: rec, notify: &notifier{}, log: newJournal(&bytes.Buffer{}), jobs: make(chan *job, 1)}
	s.open = true
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		for j := s.rest(); j != nil; j = s.rest() {
			s.perform(context.Background(), j)
		}
	}()
	t.Cleanup(func() {
		s.end()
		<-ended
		s.log.Close()
		if err := rec.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// TestOneAtATime: of two cycles that are handed over at once one is taken, and the other is told why it is not.
func TestOneAtATime(t *testing.T) {
	s := served(t)
	r, err := recipes.Recipe("dry-only")
	if err != nil {
		t.Fatal(err)
	}
	h := handover{Recipe: r.Name, RecipeText: r.Text, BenchText: s.bench.Text, Fast: asFastAsCan}
	for range 2 {
		results := make(chan error, 2)
		for range 2 {
			go func() {
				var out, errs bytes.Buffer
				j, err := s.take(h, &out, &errs)
				if err == nil {
					err = <-j.result
				}
				results <- err
			}()
		}
		first, second := <-results, <-results
		for _, err := range []error{first, second} {
			if err != nil && !strings.Contains(err.Error(), "is busy") {
				t.Errorf("%v", err)
			}
		}
		if first != nil && second != nil {
			t.Error("neither was taken")
		}
	}
	if cut, err := s.record.CutShort(t.Context(), s.bench.Name); err != nil || cut != nil {
		t.Errorf("left behind: %v, %v", cut, err)
	}
}

// TestAnswer: what an owner sends arrives, in order, on the right streams, with its status; an owner that is gone is told.
func TestAnswer(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var wire, out, errs, wantOut, wantErrs bytes.Buffer
		a := answer{&wire}
		for range rapid.IntRange(0, 5).Draw(rt, "pieces") {
			text := rapid.StringMatching(`[ -~\n]{0,20}`).Draw(rt, "text")
			to, want := a.out(), &wantOut
			if rapid.Bool().Draw(rt, "errs") {
				to, want = a.errs(), &wantErrs
			}
			if _, err := to.Write([]byte(text)); err != nil {
				rt.Fatal(err)
			}
			want.WriteString(text)
		}
		status := rapid.IntRange(0, 4).Draw(rt, "status")
		if status == 0 {
			a.end(nil)
		} else {
			a.end(withStatus(status, nil))
		}
		whole := wire.Bytes()
		err := followAnswer(bytes.NewReader(whole), &out, &errs)
		if statusOf(err) != status || out.String() != wantOut.String() || errs.String() != wantErrs.String() {
			rt.Fatalf("%d %q %q, want %d %q %q", statusOf(err), &out, &errs, status, &wantOut, &wantErrs)
		}
		torn := whole[:rapid.IntRange(0, len(whole)-2).Draw(rt, "torn")]
		if err := followAnswer(bytes.NewReader(torn), &out, &errs); !errors.Is(err, errNoEnd) {
			rt.Fatalf("an answer that broke off: %v", err)
		}
	})
}

// FuzzAsked: whatever a process asks of an owner, it gets an answer and the owner lives.
func FuzzAsked(f *testing.F) {
	text, _ := json.Marshal(handover{Recipe: "x", RecipeText: "y"})
	for _, seed := range []string{"off", "order stop", "order resume looked", "order", "run", "run {}", "run " + string(text), "", "x y z"} {
		f.Add(seed)
	}
	b, err := recipes.Bench(recipes.DefaultBench)
	if err != nil {
		f.Fatal(err)
	}
	rec, err := record.Open(f.Context(), filepath.Join(f.TempDir(), "r.db"))
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { rec.Close() })
	f.Fuzz(func(t *testing.T, line string) {
		s := &station{bench: b, record: rec, notify: &notifier{}, log: newJournal(&bytes.Buffer{}), jobs: make(chan *job, 1), open: true}
		defer s.log.Close()
		ours, theirs := net.Pipe()
		go func() { s.answer(line, ours); ours.Close() }()
		var out, errs bytes.Buffer
		if strings.HasPrefix(line, "off") && strings.Fields(line)[0] == "off" {
			return
		}
		err := followAnswer(theirs, &out, &errs)
		if errors.Is(err, errNoEnd) || err == nil {
			t.Errorf("%q: %v, %q", line, err, &errs)
		}
	})
}

// TestOrdersToNobody: an order is only for a cycle that moves; what cut a cycle short can be chosen once a person looked.
func TestOrdersToNobody(t *testing.T) {
	s := served(t)
	for o := controller.Hold; o <= controller.Reset; o++ {
		if err := s.order(o.String(), answer{&bytes.Buffer{}}); statusOf(err) != statusNo {
			t.Errorf("%s to nobody: %v", o, err)
		}
	}
	s.mu.Lock()
	s.open = false
	s.mu.Unlock()
	if err := s.order("stop", answer{&bytes.Buffer{}}); statusOf(err) != statusPersonal {
		t.Errorf("before the record is open: %v", err)
	}
}
