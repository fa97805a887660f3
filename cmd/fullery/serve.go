package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"fullery/controller"
	"fullery/controller/piobench"
	"fullery/disks/record"
	"fullery/recipe"

	"github.com/spf13/cobra"
)

// station is a bench that is served: one process owns it for as long as it lives, keeps it off between cycles, and runs the
// cycles that other processes hand to it.
type station struct {
	bench  recipe.Bench
	board  *lentBoard // nil for a simulated bench
	vigil  *vigil     // likewise
	record *record.Record
	notify *notifier
	log    *journal

	jobs chan *job // the job that is ready, at most one

	mu      sync.Mutex
	busy    *job        // being made ready, or running
	number  int64       // of its cycle, once it is in the record; 0 before
	cut     *record.Cut // the cycle that holds the bench since the program or the power failed
	open    bool        // its record is: cycles and orders can be taken
	closing bool
	began   bool // a first tick was driven
	failing bool // the last idle tick could not be driven
}

func newServe() *cobra.Command {
	var bench, file string
	c := &cobra.Command{
		Use:   "serve",
		Short: "Own a bench and run the cycles that other commands hand to it",
		Long: "Own a bench, keep it off between cycles, and run what \"fullery run\" hands over. A cycle that is held waits for\n" +
			"a person (fullery order). Nothing starts by itself: after a failure of program or power the bench comes up held,\n" +
			"and only the fan runs, to clear what burns. See fullery install-service for a bench that is always served.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return serve(c, bench, file) },
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file (default: the shipped simulated one)")
	c.Flags().StringVar(&file, "record", "", "record file (default: fullery.db in the user's data folder)")
	return c
}

// serve takes everything in the order in which it must be had: the bench, off; then the record.
func serve(c *cobra.Command, benchFile, file string) (err error) {
	s := &station{notify: newNotifier(), log: newJournal(c.OutOrStdout()), jobs: make(chan *job, 1)}
	defer s.log.Close()
	if s.bench, err = readBench(benchFile); err != nil {
		return err
	}
	o, err := ownAnswering(s.bench.Name, s.answer)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, o.Close()) }()
	if err := s.claim(contextOf(c)); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.letGo()) }()
	j := &job{flags: runFlags{record: file}}
	if err := j.openRecord(contextOf(c)); err != nil {
		return errors.Join(err, j.close())
	}
	s.record = j.record
	defer func() { err = errors.Join(err, j.close()) }()
	return s.work(contextOf(c))
}

// claim claims a real bench, off, under the eyes of a second process.
func (s *station) claim(ctx context.Context) error {
	if s.bench.Simulated {
		return nil
	}
	v, err := keepVigil(ctx, s.bench)
	if err != nil {
		return err
	}
	board, err := openBoard(s.bench, piobench.System("/"), piobench.Options{})
	if err != nil {
		return errors.Join(err, v.leave(!errors.Is(err, piobench.ErrMayBeOn)))
	}
	s.vigil, s.board = v, &lentBoard{bench: board}
	return nil
}

// letGo switches off and lets the bench go.
func (s *station) letGo() error {
	s.notify.stopping()
	if s.board == nil {
		return nil
	}
	err := closing{s.board.bench, s.vigil}.Close()
	return errors.Join(err, s.vigil.leave(err == nil))
}

// work serves until it is told to end.
func (s *station) work(ctx context.Context) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	defer s.signals(cancel)()
	s.log.printf("Bench %q is served; every output is off. Record: %s", s.bench.Name, s.record.Path())
	cut, err := s.record.CutShort(ctx, s.bench.Name)
	if err != nil {
		return withStatus(statusUsage, err)
	}
	s.mu.Lock()
	s.cut, s.open = cut, true
	s.mu.Unlock()
	purged := false
	if cut != nil {
		purged = s.hold(ctx, cut)
	}
	for j := s.rest(); j != nil; j = s.rest() {
		j.purged, purged = purged, false
		s.perform(ctx, j)
	}
	s.log.printf("Bench %q is let go; every output is off.", s.bench.Name)
	return nil
}

// rest keeps the bench off, tick by tick, until a job is ready. It returns nil when the station is to end and nobody is
// making a job ready.
func (s *station) rest() *job {
	every := time.NewTicker(restTick)
	defer every.Stop()
	for {
		s.idle()
		select {
		case j := <-s.jobs:
			return j
		case <-every.C:
		}
		if s.over() {
			return nil
		}
	}
}

// restTick is the period at which a bench at rest is looked at, that of a cycle.
const restTick = 50 * time.Millisecond

// idle is one tick between cycles: everything off. The watchdogs are fed only by ticks that could be driven.
func (s *station) idle() {
	var err error
	if s.board != nil {
		_, _ = s.board.Read(0) // so that every reading is fresh when a cycle begins
		err = s.board.Drive(0, controller.Levels{})
	}
	if failing := err != nil; failing != s.failing {
		s.failing = failing
		if failing {
			s.log.printf("The outputs of bench %q cannot be driven: %v. Cut its power by hand.", s.bench.Name, err)
		}
	}
	if err == nil {
		s.beat()
		s.up()
	}
}

// beat feeds both watchdogs. It is called by the loop that drives the bench, and nowhere else.
func (s *station) beat() {
	if s.vigil != nil {
		s.vigil.Beat()
	}
	s.notify.feed(time.Now())
}

// up tells the service manager, once, that the bench is driven.
func (s *station) up() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.began {
		s.began = true
		s.notify.ready()
		s.tellState()
	}
}

// tellState tells the manager what the bench does; the caller holds the lock.
func (s *station) tellState() {
	switch {
	case s.cut != nil:
		s.notify.status("Held. " + s.cut.String())
	case s.busy != nil && s.number != 0:
		s.notify.status(fmt.Sprintf("Cycle %d is under way", s.number))
	default:
		s.notify.status("Every output is off; waiting for a cycle")
	}
}

// over tells whether there is nothing more to do.
func (s *station) over() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.closing && s.busy == nil
}

// signals makes the first signal end the station as soon as its cycle has been stopped, with the purge that it needs, and
// the second one at once.
func (s *station) signals(cancel context.CancelCauseFunc) (undo func()) {
	return onSignals(s.end, func() { cancel(errQuit) })
}

// end makes the station end.
func (s *station) end() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.closing {
		s.closing = true
		s.log.printf("Ending: a cycle that runs is stopped first.")
	}
	if s.busy != nil {
		s.busy.wishes.stop.Store(true)
	}
}

// perform runs one job and tells whoever handed it over what came of it. While its end is being written, which may take as
// long as a slow disk does, the bench is kept off here.
func (s *station) perform(ctx context.Context, j *job) {
	s.log.printf("Cycle %d begins: %s%s.", j.cycle.Number(), j.program.Recipe().Name, diskWord(j.flags.disk))
	s.mu.Lock()
	s.cut = nil
	s.tellState()
	s.mu.Unlock()
	j.looping.Store(true)
	done := make(chan error, 1)
	go func() { done <- errors.Join(j.loop(ctx, j.command), j.cycle.Close()) }()
	<-j.ran
	every := time.NewTicker(restTick)
	defer every.Stop()
	for {
		s.idle()
		select {
		case err := <-done:
			s.finished(j, err)
			return
		case <-every.C:
		}
	}
}

// finished lets a job go.
func (s *station) finished(j *job, err error) {
	s.log.printf("Cycle %d has ended: %s.", j.cycle.Number(), j.came)
	s.mu.Lock()
	s.busy, s.number = nil, 0
	s.tellState()
	s.mu.Unlock()
	j.result <- err
}

// lentBoard is a real bench that is lent to one cycle after the other. Closing it switches off and keeps it. One goroutine
// drives it; another may look at it, to make the next cycle ready.
type lentBoard struct {
	mu    sync.Mutex
	bench *piobench.Bench
}

// Read reads every sensor.
func (l *lentBoard) Read(now time.Duration) (controller.Readings, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.bench.Read(now)
}

// Drive asks every output for its level.
func (l *lentBoard) Drive(now time.Duration, levels controller.Levels) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.bench.Drive(now, levels)
}

// Looks tells how every sensor of the buses stands.
func (l *lentBoard) Looks() []piobench.Look {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.bench.Looks()
}

// Calibrate gives a sensor another calibration.
func (l *lentBoard) Calibrate(s recipe.Sensor, zero, gain float64) { l.bench.Calibrate(s, zero, gain) }

// Close switches every output off.
func (l *lentBoard) Close() error { return l.Drive(0, controller.Levels{}) }

// journal writes lines from a goroutine of its own, so that a reader that stalls holds up nothing; what has no room is lost.
type journal struct {
	lines chan string
	done  chan struct{}
}

func newJournal(to io.Writer) *journal {
	l := &journal{lines: make(chan string, 256), done: make(chan struct{})}
	go func() {
		defer close(l.done)
		for line := range l.lines {
			_, _ = io.WriteString(to, line)
		}
	}()
	return l
}

func (l *journal) printf(format string, args ...any) { _, _ = fmt.Fprintf(l, format+"\n", args...) }

// Write queues what is to be written.
func (l *journal) Write(p []byte) (int, error) {
	select {
	case l.lines <- string(p):
	default:
	}
	return len(p), nil
}

// Close waits a moment for what is queued. Nothing may be written after it.
func (l *journal) Close() {
	close(l.lines)
	select {
	case <-l.done:
	case <-time.After(sendWithin):
	}
}
