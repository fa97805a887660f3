package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"fullery/controller"
	"fullery/controller/simbench"
	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipes"
)

var (
	latenessPeriod = flag.Duration("lateness.period", 50*time.Millisecond, "period of BenchmarkTickLateness")
	latenessSocket = flag.String("lateness.socket", "", "where its clients connect; empty: they are part of it")
	latenessOut    = flag.String("lateness.out", "", "file for how late every tick was, ns a line")
)

// clients is how many pages follow the cycle while its ticks are timed.
const clients = 20

// BenchmarkTickLateness runs the control loop as a bench runs it, in real time, and reports how late its ticks were: the
// real clock, the simulated bench, the record writing to a real file, and clients that are told of every tick through a
// socket. b.N is the number of ticks. Alone it says little: testdata/crosscheck/lateness/run sets it beside a bare loop in C
// under the same load.
func BenchmarkTickLateness(b *testing.B) {
	r, err := recipes.Recipe("isopropanol-91") // no warmth: nothing but the record and the clients differs from tick to tick
	if err != nil {
		b.Fatal(err)
	}
	spec, err := recipes.Bench(recipes.DefaultBench)
	if err != nil {
		b.Fatal(err)
	}
	p, err := controller.Compile(r, spec)
	if err != nil {
		b.Fatal(err)
	}
	pages := newPages(b, p)
	clock := &lateClock{Clock: controller.NewKernelClock(), period: *latenessPeriod, late: make([]time.Duration, 0, b.N),
		driven: make([]time.Duration, 0, b.N)}
	cycle := latenessCycle(b, r, spec)
	orders := make(chan controller.Command, 1)
	orders <- controller.Command{Order: controller.Start, Looked: true}
	loop := controller.Loop{Program: p, Bench: drivenBench{simbench.New(spec, r), clock}, Clock: clock, Commands: orders,
		Recorder: &recording{program: p, cycle: cycle, wall: time.Now, clockOK: true},
		Watchers: []controller.Watcher{&controller.Summary{Program: p}, pages},
		Until:    func(controller.State) bool { return len(clock.driven) == b.N }}
	b.ResetTimer()
	last, err := loop.Run(context.Background(), controller.State{})
	b.StopTimer()
	pages.close()
	if err != nil {
		b.Fatal(err)
	}
	if last.Cycle == controller.Idle && b.N > 1 {
		b.Error("the cycle never began: nothing was timed")
	}
	b.ReportMetric(float64(cycle.Acked()), "recorded")
	b.ReportMetric(float64(pages.lost.Load())/float64(b.N*clients), "lost/told")
	reportLateness(b, clock)
}

// latenessCycle is a cycle in a record of its own.
func latenessCycle(b *testing.B, r recipe.Recipe, spec recipe.Bench) *record.Cycle {
	b.Helper()
	ctx := context.Background()
	rec, err := record.Open(ctx, filepath.Join(b.TempDir(), "r.db"))
	if err != nil {
		b.Fatal(err)
	}
	cycle, err := rec.Begin(ctx, record.Start{Bench: spec.Name, Recipe: r.Name, RecipeText: r.Text, Wall: time.Now(), ClockSet: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		_ = cycle.Close()
		_ = rec.Close()
	})
	return cycle
}

// reportLateness reports the quantiles, and writes every figure where the comparison wants it.
func reportLateness(b *testing.B, c *lateClock) {
	b.Helper()
	if *latenessOut != "" {
		var lines bytes.Buffer
		for _, late := range c.late {
			fmt.Fprintln(&lines, late.Nanoseconds())
		}
		if err := os.WriteFile(*latenessOut, lines.Bytes(), 0o600); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(0, "ns/op") // it is the period
	reportQuantiles(b, "late", c.late)
	reportQuantiles(b, "driven", c.driven)
}

// reportQuantiles sorts spans and reports what half, 99 %, 99.9 % and all of them do not pass, in ms.
func reportQuantiles(b *testing.B, what string, spans []time.Duration) {
	if len(spans) == 0 {
		return
	}
	slices.Sort(spans)
	for _, permille := range []int{500, 990, 999, 1000} {
		i := (len(spans)*permille+999)/1000 - 1
		b.ReportMetric(spans[i].Seconds()*1e3, fmt.Sprintf("%s-p%g-ms", what, float64(permille)/10))
	}
}

// lateClock is the real clock with a period to choose, which remembers how late it let the loop go on.
type lateClock struct {
	controller.Clock
	period time.Duration
	began  time.Duration // Now of the newest tick
	until  time.Duration // when the tick was due; 0 for the first
	late   []time.Duration
	driven []time.Duration // from when the tick was due until its outputs were driven
}

// Now returns the moment, with which the loop begins a tick.
func (c *lateClock) Now() time.Duration {
	c.began = c.Clock.Now()
	return c.began
}

// Wait waits for the next tick. A period that is not the program's own changes when the loop looks, not how time goes.
func (c *lateClock) Wait(ctx context.Context, _ time.Duration) error {
	c.until = c.began + c.period
	err := c.Clock.Wait(ctx, c.until)
	c.late = append(c.late, c.Clock.Now()-c.until)
	return err
}

// drivenBench is a bench that notes when it was driven.
type drivenBench struct {
	controller.Bench
	clock *lateClock
}

// Drive drives the bench and notes when that was done.
func (d drivenBench) Drive(now time.Duration, l controller.Levels) error {
	err := d.Bench.Drive(now, l)
	c := d.clock
	if c.until == 0 { // the first tick is due when it begins
		c.until = now
	}
	c.driven = append(c.driven, c.Clock.Now()-c.until)
	return err
}

// pages tells clients of every tick, each through a bounded queue and a socket, as an event stream to a web page.
type pages struct {
	program *controller.Program
	queues  []chan *news
	done    chan struct{}
	lost    atomic.Int64
}

// news is what a client is told of a tick.
type news struct {
	At       time.Duration
	Cycle    string
	Stage    string
	Levels   controller.Levels
	Readings controller.Readings
}

// newPages waits until all clients are connected.
func newPages(b *testing.B, p *controller.Program) *pages {
	b.Helper()
	path := *latenessSocket
	if path == "" {
		path = filepath.Join(b.TempDir(), "pages")
	}
	listen, err := net.Listen("unix", path)
	if err != nil {
		b.Fatal(err)
	}
	defer listen.Close()
	s := &pages{program: p, done: make(chan struct{}, clients)}
	for range clients {
		if *latenessSocket == "" {
			go drain(path)
		}
		conn, err := listen.Accept()
		if err != nil {
			b.Fatal(err)
		}
		queue := make(chan *news, 16)
		s.queues = append(s.queues, queue)
		go s.tell(conn, queue)
	}
	return s
}

// drain is a client that reads all it is told.
func drain(path string) {
	if conn, err := net.Dial("unix", path); err == nil {
		_, _ = io.Copy(io.Discard, conn)
		_ = conn.Close()
	}
}

// Watch hands the tick to every client that has room for it.
func (s *pages) Watch(t *controller.Tick) {
	now := &news{At: t.Inputs.Now, Cycle: t.State.Cycle.String(), Stage: s.program.Kind(t.State.Stage).String(),
		Levels: t.Outputs.Levels, Readings: t.Inputs.Readings}
	for _, queue := range s.queues {
		select {
		case queue <- now:
		default:
			s.lost.Add(1)
		}
	}
}

// tell writes to one client until its queue is closed.
func (s *pages) tell(conn net.Conn, queue <-chan *news) {
	defer func() { s.done <- struct{}{} }()
	defer conn.Close()
	for now := range queue {
		text, err := json.Marshal(now)
		if err == nil {
			_, err = fmt.Fprintf(conn, "data: %s\n\n", text)
		}
		if err != nil {
			for range queue {
				s.lost.Add(1)
			}
		}
	}
}

// close ends every stream.
func (s *pages) close() {
	for _, queue := range s.queues {
		close(queue)
	}
	for range s.queues {
		<-s.done
	}
}
