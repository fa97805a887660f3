package piobench

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"fullery/controller"
	"fullery/controller/piobench/lines"
	"fullery/recipe"
)

// Bench is a real bench. Read, Drive and Close are its owner's, one goroutine's, as controller.Bench says; Looks may be
// called from any.
type Bench struct {
	spec  *recipe.Bench
	world World
	chip  *lines.Chip

	outputs  outputs
	shaper   shaper
	alive    bool // the sign of life was high last
	contacts []*contact
	pulses   []*pulses
	inputs   []*lines.Input
	workers  []*worker
	table    table
	lines    [recipe.NumSensors]atomic.Pointer[straight]

	cancel  context.CancelFunc // ends the watching of edges
	watches sync.WaitGroup
	closed  bool
	said    error // by the first Close
}

// Options are how a bench is opened.
type Options struct {
	// Tolerant opens the bench although chips do not answer, for a person who looks for the reason. Lines that cannot be
	// claimed are refused all the same.
	Tolerant bool
}

// Open claims every output of a bench, off, before anything else, then its inputs and buses, and begins its chips. The
// error is for the person at the bench: what is missing, where, and how to mend it. Then everything is let go again, off.
func Open(spec recipe.Bench, world World, o Options) (*Bench, error) {
	b := &Bench{spec: &spec, world: world, shaper: shaper{bench: &spec}}
	ctx, cancel := context.WithCancel(context.Background())
	b.cancel = cancel
	if err := b.open(o); err != nil {
		if left := b.Close(); left != nil {
			err = errors.Join(err, ErrMayBeOn, left)
		}
		return nil, err
	}
	for _, p := range b.pulses {
		b.watches.Go(func() { p.watch(ctx) })
	}
	for _, w := range b.workers {
		w.running = true
		go w.run(&b.table, &b.world)
	}
	return b, nil
}

// ErrMayBeOn is joined to an error of Open when not everything that was claimed could be switched off again.
var ErrMayBeOn = errors.New("some outputs may be on")

func (b *Bench) open(o Options) (err error) {
	if b.spec.Simulated {
		return fmt.Errorf("bench %q is simulated: it has no wires", b.spec.Name)
	}
	if b.chip, err = lines.Find(b.world.Kernel, b.spec.Board.Chip); err != nil {
		return err
	}
	if err := b.claim(); err != nil {
		return err
	}
	if err := b.claimInputs(); err != nil {
		return err
	}
	if err := b.openBuses(); err != nil {
		return err
	}
	return b.begin(o)
}

// begin begins every chip once, each bus beside the others: outputs are off before the bench counts as open, and a chip
// that is missing is told now.
func (b *Bench) begin(o Options) error {
	errs := make([]error, len(b.workers))
	var all sync.WaitGroup
	for i, w := range b.workers {
		all.Go(func() { errs[i] = w.first(&b.table, b.world.Kernel.Now, o) })
	}
	all.Wait()
	return errors.Join(errs...)
}

// first begins the chips of one bus.
func (w *worker) first(t *table, now func() time.Duration, o Options) (errs error) {
	for _, b := range w.boards {
		b.write(now)
		if b.trouble != nil { // the outputs of a chip that does not answer are not known to be off
			errs = errors.Join(errs, fmt.Errorf("%s: %w", b.name, b.trouble))
		}
	}
	for _, s := range w.sources {
		if err := s.start(t, now); err != nil && !o.Tolerant {
			errs = errors.Join(errs, fmt.Errorf("%s: %w", s.name, err))
		}
	}
	return errs
}

// Read returns the latest of every sensor, and waits for no bus.
func (b *Bench) Read(time.Duration) (r controller.Readings, err error) {
	if b.closed {
		return r, errClosed
	}
	now := b.world.Kernel.Now()
	b.table.read(now, &r)
	for _, c := range b.contacts {
		r[c.of] = c.read(now)
	}
	for _, p := range b.pulses {
		r[p.of] = p.read(now)
	}
	return r, nil
}

var errClosed = errors.New("the bench was closed")

// Drive asks every output for what the levels come to on its wire now, by the kernel's own clock: rhythms and rests must not
// depend on where a caller began to count. All are tried, whatever goes wrong with one.
func (b *Bench) Drive(_ time.Duration, levels controller.Levels) error {
	if b.closed {
		return errClosed
	}
	want := b.shaper.shape(b.world.Kernel.Now(), asked(&levels, b.spec))
	if b.alive = !b.alive; b.alive {
		want[recipe.OutAlive] = 1 // whatever is asked of the loads: it stands still only when nobody drives any more
	}
	return b.outputs.set(&want)
}

// patience is how long Close waits for a bus that hangs.
const patience = 1500 * time.Millisecond

// Close leaves every output off and lets everything go. It may be called more than once, and says the same each time.
func (b *Bench) Close() error {
	if b.closed {
		return b.said
	}
	b.closed = true
	errs := b.outputs.close() // before anything that could take time
	b.cancel()
	for _, w := range b.workers {
		errs = errors.Join(errs, w.end(patience))
	}
	for _, in := range b.inputs {
		errs = errors.Join(errs, in.Close())
	}
	b.watches.Wait()
	if b.chip != nil {
		errs = errors.Join(errs, b.chip.Close())
	}
	b.said = errs
	return errs
}

// Looks returns how every sensor of the buses stands, for a person who watches.
func (b *Bench) Looks() []Look {
	var all []Look
	now := b.world.Kernel.Now()
	for s := range recipe.NumSensors {
		if b.spec.Sensors[s].Fitted && b.spec.Board.Inputs[s].Chip != "" {
			all = append(all, b.table.look(s, now))
		}
	}
	return all
}
