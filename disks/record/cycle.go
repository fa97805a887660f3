package record

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"
)

// Cycle is one cycle being written. The Put methods, Health, Room and Acked never wait for the disk and may be called
// from any goroutine; one goroutine writes behind them until Finish succeeds or Close is called.
type Cycle struct {
	rec    *Record
	number int64

	queue queue
	wake  chan struct{} // something was put
	hurry chan struct{} // somebody waits: do not pause
	quit  chan struct{} // Close: one last attempt, then stop
	done  chan struct{} // the goroutine is gone
	once  sync.Once     // guards quit

	acked atomic.Uint64
	why   atomic.Pointer[error] // of the last attempt to write; nil when it succeeded
}

// Health is what a controller must know of the record at every tick.
type Health struct {
	Failing bool  // the last attempt to write failed; it is tried again
	Why     error // a sentence; nil unless Failing
	Queued  int   // entries that are not durable yet
	Lost    int   // entries that were refused because the queue was full; the record is incomplete
}

// start runs the goroutine that writes cycle n.
func (r *Record) start(n int64) (*Cycle, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil, fault(r.path, ErrEnded, "the record was closed while cycle %d began", n)
	}
	c := &Cycle{rec: r, number: n, queue: queue{room: r.set.queue}, wake: make(chan struct{}, 1),
		hurry: make(chan struct{}, 1), quit: make(chan struct{}), done: make(chan struct{})}
	c.queue.moved = make(chan struct{})
	r.live[c] = struct{}{}
	go c.run()
	return c, nil
}

// Number returns the cycle's number.
func (c *Cycle) Number() int64 { return c.number }

// Each Put method returns the entry's sequence number, counted from 1, which Acked reaches when the entry is durable;
// or 0 when the queue was full, which is counted in Health, or the cycle has ended.

// PutEvent queues an event; it is written as soon as possible.
func (c *Cycle) PutEvent(e Event) uint64 { return c.put(e, true) }

// PutStage queues the beginning or end of a stage; it is written as soon as possible.
func (c *Cycle) PutStage(s StageChange) uint64 { return c.put(s, true) }

// PutDrying queues a timed drying; it is written as soon as possible.
func (c *Cycle) PutDrying(d Drying) uint64 { return c.put(d, true) }

// PutClock queues the note that the wall clock became trustworthy at the monotonic time at since the cycle's start, and
// what it then read.
func (c *Cycle) PutClock(at time.Duration, wall time.Time) uint64 {
	return c.put(clockNote{at, wall}, true)
}

// PutSample queues a sample; it is written within a second or with the next event. The last quarter of the queue is
// kept for events, so samples are refused first.
func (c *Cycle) PutSample(s Sample) uint64 { return c.put(s, false) }

func (c *Cycle) put(e entry, urgent bool) uint64 {
	seq := c.queue.put(e, urgent)
	nudge(c.wake)
	return seq
}

// nudge leaves a token in a channel that holds one: once is enough, however often it is called.
func nudge(ch chan<- struct{}) {
	select {
	case ch <- struct{}{}:
	default:
	}
}

// Health tells whether the record keeps up. It costs a lock held for a few instructions.
func (c *Cycle) Health() Health {
	queued, lost := c.queue.counts()
	h := Health{Queued: queued, Lost: lost}
	if why := c.why.Load(); why != nil {
		h.Failing, h.Why = true, *why
	}
	return h
}

// Acked returns the sequence number of the last durable entry. It and everything before it survive a power cut.
func (c *Cycle) Acked() uint64 { return c.acked.Load() }

// Room returns how many more samples the queue takes. A clock that runs faster than the world waits (see Flush)
// when there is none, instead of losing entries.
func (c *Cycle) Room() int {
	queued, _ := c.queue.counts()
	return max(0, c.queue.room-c.queue.room/4-queued)
}

// Flush waits until everything put so far is durable, or ctx ends; its error then says why it is not.
func (c *Cycle) Flush(ctx context.Context) error {
	last := c.queue.flush()
	nudge(c.wake)
	nudge(c.hurry)
	for {
		moved := c.queue.movement()
		if c.Acked() >= last {
			return nil
		}
		select {
		case <-moved:
		case <-c.done:
			if c.Acked() >= last {
				return nil
			}
			return c.stuck(errors.New("the cycle was closed"))
		case <-ctx.Done():
			return c.stuck(ctx.Err())
		}
	}
}

// stuck says what kept entries from being written.
func (c *Cycle) stuck(cause error) error {
	h := c.Health()
	if h.Why == nil {
		return fmt.Errorf("%d entries of cycle %d were not written to the record %s: %w", h.Queued, c.number,
			c.rec.path, cause)
	}
	return fmt.Errorf("%d entries of cycle %d were not written: %w (%w)", h.Queued, c.number, h.Why, cause)
}

// Finish writes everything queued and the end of the cycle, waits until it is durable, and ends the goroutine. When
// ctx ends first it returns an error; the goroutine goes on trying, Finish may be called again to wait again (the
// first End counts), and Close gives up. Nothing can be put after Finish was called.
func (c *Cycle) Finish(ctx context.Context, e End) error {
	c.queue.end(e)
	if err := c.Flush(ctx); err != nil {
		return err
	}
	return c.Close()
}

// Close ends the goroutine after one last attempt to write what is queued. Without a successful Finish the cycle
// stays without an end, as after a power cut. Close may be called more than once, also after Finish.
func (c *Cycle) Close() error {
	c.once.Do(func() { close(c.quit) })
	<-c.done
	c.rec.mu.Lock()
	delete(c.rec.live, c)
	c.rec.mu.Unlock()
	if queued, _ := c.queue.counts(); queued > 0 {
		return c.stuck(errors.New("given up"))
	}
	return nil
}
