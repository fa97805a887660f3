package piobench

import (
	"errors"
	"fmt"
	"sync"
	"time"
)

// pwmChip is a chip on a bus whose channels are outputs.
type pwmChip interface {
	Begin(frequency float64) error // every channel off
	Set(channel int, duty float64) error
	AllOff() error
	Check() error // that it is still as Begin left it
}

// worker is the goroutine of one bus: it alone talks on it. What outputs are asked for comes before what sensors are due.
type worker struct {
	name    string
	close   func() error // of the bus
	sources []*source
	boards  []*board

	running bool
	wake    chan struct{} // something was asked for
	stop    chan struct{}
	done    chan struct{}
}

// board is a chip with outputs, and what is asked of it.
type board struct {
	name      string
	address   int
	chip      pwmChip
	frequency float64

	mu      sync.Mutex
	asked   [16]float64
	written [16]float64
	used    [16]bool
	known   bool          // written is what the chip has
	asking  time.Duration // since when something asked for was not written
	waiting bool
	trouble error
	checked time.Duration
}

// tooLong is how long what was asked of a chip with outputs may take to be written, before driving it counts as failed.
const tooLong = 500 * time.Millisecond

// checkEvery is how often a chip with outputs is asked whether it lost its settings, as after a dip of its supply.
const checkEvery = time.Second

// chanSink is one channel of a board.
type chanSink struct {
	board   *board
	channel int
	wake    chan<- struct{}
	now     func() time.Duration
}

// Set asks for a duty, and never waits. It fails while something asked for earlier has not reached the chip for too long,
// or when the last write failed.
func (c *chanSink) Set(duty float64) error {
	b := c.board
	b.mu.Lock()
	defer b.mu.Unlock()
	now := c.now()
	if b.asked[c.channel] != duty {
		b.asked[c.channel] = duty
		if !b.waiting {
			b.waiting, b.asking = true, now
		}
		select {
		case c.wake <- struct{}{}:
		default:
		}
	}
	switch {
	case b.trouble != nil:
		return fmt.Errorf("%s: %w", b.name, b.trouble)
	case b.waiting && now-b.asking > tooLong:
		return fmt.Errorf("%s does not take what it is asked for: its bus hangs", b.name)
	}
	return nil
}

// Close asks for off; the worker's own end waits until it is written.
func (c *chanSink) Close() error {
	_ = c.Set(0) // whether it arrived is told by the worker's end
	return nil
}

// write brings the chip to what is asked. Offs go first.
func (b *board) write(now func() time.Duration) {
	b.mu.Lock()
	asked, have, known := b.asked, b.written, b.known
	check := b.waiting || !known || now()-b.checked >= checkEvery
	b.mu.Unlock()
	if !check {
		return
	}
	err := b.bring(asked, have, known)
	b.mu.Lock()
	defer b.mu.Unlock()
	b.trouble, b.checked = err, now()
	if b.known = err == nil; b.known {
		b.written = asked
		b.waiting = b.asked != asked // something came meanwhile
		b.asking = b.checked
	}
}

// bring does it without the lock: it takes as long as the bus takes. After a failure nothing of the chip is known.
func (b *board) bring(asked, have [16]float64, known bool) error {
	if err := b.chip.Check(); err != nil || !known {
		// Not as we left it: everything off, then what is asked.
		if err := b.chip.Begin(b.frequency); err != nil {
			return err
		}
		have = [16]float64{}
	}
	for _, off := range [...]bool{true, false} {
		for i, duty := range asked {
			if b.used[i] && duty != have[i] && (duty == 0) == off {
				if err := b.chip.Set(i, duty); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// run polls until stop: always the source that has been due for longest, so that a slow chip makes the impatient ones wait
// for one transfer and not for a whole round.
func (w *worker) run(t *table, world *World) {
	defer close(w.done)
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-w.stop:
			return
		default:
		}
		for _, b := range w.boards {
			b.write(world.Kernel.Now)
		}
		now := world.Kernel.Now()
		due := now + checkEvery
		var first *source
		for _, s := range w.sources {
			if s.next < due {
				due, first = s.next, s
			}
		}
		if due <= now {
			first.poll(t, world.Kernel.Now)
			continue
		}
		timer.Reset(due - now)
		select {
		case <-w.stop:
			return
		case <-w.wake:
		case <-timer.C:
		}
	}
}

// end stops the worker, switches its outputs off, and closes its bus. A transfer that hangs is waited for only so long:
// then the bus is left to it, and the error says which outputs may be on.
func (w *worker) end(patience time.Duration) error {
	if !w.running {
		close(w.done)
	}
	close(w.stop)
	limit := time.NewTimer(patience)
	defer limit.Stop()
	select {
	case <-w.done:
	case <-limit.C:
		if len(w.boards) == 0 {
			return fmt.Errorf("bus %s hangs and was left so", w.name)
		}
		return fmt.Errorf("bus %s hangs: the outputs of its chips may still be on; cut the power of the bench by hand", w.name)
	}
	var errs error
	for _, b := range w.boards {
		if err := b.chip.AllOff(); err != nil {
			errs = errors.Join(errs, fmt.Errorf("%s could not be switched off: %w; cut the power of the bench by hand", b.name, err))
		}
	}
	return errors.Join(errs, w.close())
}
