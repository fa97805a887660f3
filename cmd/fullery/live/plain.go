package live

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"sync"
	"sync/atomic"
	"time"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/recipe"
)

const (
	// plainQueue is how many lines may wait for a slow pipe. A fast clock asks Room every few ticks; half the queue is
	// far more than all that those ticks can say.
	plainQueue = 2048
	// plainEvery is how often a long stage tells how far it is.
	plainEvery = 5 * time.Minute
)

// Plain is a controller.Watcher for pipes and logs: a line for every event, and now and then one for a long stage.
// Times are those of the cycle, so that the same run gives the same lines. Watch never waits: lines go through a
// bounded queue to one goroutine that writes them, and what has no room is counted and told.
type Plain struct {
	program *controller.Program
	stages  []controller.StagePlan
	watch   stopwatch
	told    time.Duration // Worked of the last progress line of this stage

	queue chan line
	lost  atomic.Int64
	done  chan error
	once  sync.Once
	err   error
}

// line is one line before it is written out: an event, or how far a stage is.
type line struct {
	at       time.Duration
	event    controller.Event
	progress bool
	state    progress
}

// progress is what a progress line tells of a stage.
type progress struct {
	worked   time.Duration
	evidence controller.Evidence // that the end will rest on, when it is sensed
	signal   float64             // what it shows, in the unit that is shown
	left     draw.Interval       // how long it will yet take, when that is known
}

// NewPlain returns a watcher that writes to w from a goroutine of its own until Close.
func NewPlain(p *controller.Program, w io.Writer) *Plain {
	l := &Plain{program: p, stages: p.Stages(), queue: make(chan line, plainQueue), done: make(chan error, 1)}
	go func() { l.done <- l.drain(w) }()
	return l
}

// Watch queues what a tick has to tell.
func (l *Plain) Watch(t *controller.Tick) {
	at := l.watch.at(t)
	for _, ev := range t.Outputs.Events.All() {
		l.send(line{at: at, event: ev})
	}
	s := &t.State
	if s.Worked < l.told { // another stage, or this one from its start
		l.told = 0
	}
	if s.Cycle == controller.Running && s.Worked-l.told >= plainEvery {
		l.told += plainEvery
		l.send(line{at: at, event: controller.Event{Stage: s.Stage}, progress: true,
			state: l.progressOf(s)})
	}
}

// send queues a line, or counts it when there is no room: the loop waits for nobody.
func (l *Plain) send(x line) {
	select {
	case l.queue <- x:
	default:
		l.lost.Add(1)
	}
}

// Room tells whether there is room for more. A fast clock that stands while there is not loses nothing.
func (l *Plain) Room() bool { return len(l.queue) < plainQueue/2 }

// Close waits until everything that is queued is written, and returns the first error of writing. Watch must not be
// called after it; Close may be called more than once.
func (l *Plain) Close() error {
	l.once.Do(func() {
		close(l.queue)
		l.err = <-l.done
	})
	return l.err
}

// drain writes lines until the queue is closed. After a failure it only empties the queue: a log that cannot be
// written is no reason to hold up a cycle.
func (l *Plain) drain(w io.Writer) error {
	out := bufio.NewWriter(w)
	var failed error
	for x := range l.queue {
		if failed != nil {
			continue
		}
		failed = l.write(out, x)
		// Nothing waits: whoever reads along gets what there is. While more waits, it goes out in larger pieces.
		if len(l.queue) == 0 && failed == nil {
			failed = errors.Join(l.confess(out), out.Flush())
		}
	}
	if failed == nil {
		failed = errors.Join(l.confess(out), out.Flush())
	}
	if failed != nil {
		return fmt.Errorf("the lines about this cycle could not all be written (%w): its record has them", failed)
	}
	return nil
}

// write writes one line as a person reads it.
func (l *Plain) write(out io.Writer, x line) error {
	said := l.program.Say(x.event)
	if x.progress {
		said = l.sayProgress(x)
	}
	if said == "" {
		return nil
	}
	_, err := fmt.Fprintf(out, "%s  %s\n", clock(x.at), said)
	return err
}

// confess tells how many lines were lost since it last did.
func (l *Plain) confess(out io.Writer) error {
	n := l.lost.Swap(0)
	if n == 0 {
		return nil
	}
	_, err := fmt.Fprintf(out, "         %d lines were lost here: whoever reads this was too slow. The record has them.\n", n)
	return err
}

// sayProgress says how far a stage is.
func (l *Plain) sayProgress(x line) string {
	plan := l.stages[x.event.Stage]
	said := fmt.Sprintf("%s: %.0f min of about %.0f min", l.program.StageName(int(x.event.Stage)),
		x.state.worked.Minutes(), plan.Planned.Minutes())
	if plan.Do == recipe.Dry && x.state.evidence.Proven() {
		said += "; " + saySignal(x.state.evidence, x.state.signal)
	}
	if x.state.left.High > 0 {
		said += "; " + sayLeft(x.state.left)
	}
	return said + "."
}

// progressOf is what a progress line tells of a stage.
func (l *Plain) progressOf(s *controller.State) progress {
	x := progress{worked: s.Worked, left: left(l.program, s)}
	if e := l.stages[s.Stage].Evidence; s.Drying.Seen.Zeroed(e) {
		x.evidence, x.signal = e, shownSignal(e, s)
	}
	return x
}
