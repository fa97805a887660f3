package record

import (
	"context"
	"database/sql"
	"sync"
	"time"
)

// The rhythm of writing. On a card each commit wears a few pages and takes some 10 ms (common practice, no source):
// once a second is little enough, and a sample more or less is no loss, while an event is written at once.
const (
	ripening   = time.Second            // samples wait this long for company
	batchSize  = 512                    // entries in one transaction; this many samples do not wait
	firstPause = 100 * time.Millisecond // after a failed write; doubles
	lastPause  = 5 * time.Second
)

// queue is what is not durable yet, oldest first. An entry leaves it only when it is durable.
type queue struct {
	room int // entries it takes; samples only fill three quarters

	mu     sync.Mutex
	items  []item
	next   uint64        // last sequence number given
	urgent uint64        // write at once up to this one
	lost   int           // refused
	ended  bool          // nothing more is taken
	moved  chan struct{} // closed, and replaced, when entries become durable
}

// item is an entry and its sequence number.
type item struct {
	seq uint64
	entry
}

// put appends an entry and returns its number, or 0 when there is no room for it.
func (q *queue) put(e entry, urgent bool) uint64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	room := q.room
	if !urgent {
		room -= q.room / 4
	}
	if q.ended || len(q.items) >= room {
		q.lost++
		return 0
	}
	return q.add(e, urgent)
}

// add appends without asking for room; the caller holds the lock.
func (q *queue) add(e entry, urgent bool) uint64 {
	q.next++
	q.items = append(q.items, item{q.next, e})
	if urgent {
		q.urgent = q.next
	}
	return q.next
}

// end appends the end of the cycle, for which there is always room, once.
func (q *queue) end(e End) {
	q.mu.Lock()
	defer q.mu.Unlock()
	if !q.ended {
		q.add(e, true)
		q.ended = true
	}
}

// flush marks everything as urgent and returns the last number.
func (q *queue) flush() uint64 {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.urgent = q.next
	return q.next
}

// movement returns the channel that the next acknowledgment closes.
func (q *queue) movement() <-chan struct{} {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.moved
}

// counts returns how many entries wait and how many were refused.
func (q *queue) counts() (queued, lost int) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return len(q.items), q.lost
}

// oldest returns a copy of the oldest entries, at most a batch, and whether they must be written at once.
func (q *queue) oldest() (items []item, now bool) {
	q.mu.Lock()
	defer q.mu.Unlock()
	n := min(len(q.items), batchSize)
	if n == 0 {
		return nil, false
	}
	// A quarter of the room is left to events, so samples alone never fill it: a small queue must not wait for 512.
	full := n == batchSize || n >= q.room/2
	return append(items, q.items[:n]...), full || q.items[0].seq <= q.urgent
}

// drop removes the n oldest entries, which are durable now.
func (q *queue) drop(n int) {
	q.mu.Lock()
	defer q.mu.Unlock()
	rest := copy(q.items, q.items[n:])
	clear(q.items[rest:])
	q.items = q.items[:rest]
	close(q.moved)
	q.moved = make(chan struct{})
}

// run is the goroutine that writes: what is urgent at once, samples when they are ripe. After a failure it pauses and
// tries the same entries again.
func (c *Cycle) run() {
	defer close(c.done)
	p := progress{stage: -1}
	var ripe <-chan time.Time // nil while nothing ripens
	pause := firstPause
	// due: write even what is not urgent, because it is ripe or because it has been tried before.
	for due := false; ; {
		items, now := c.queue.oldest()
		if len(items) > 0 && (now || due) {
			if due = !c.write(items, &p); !due {
				ripe, pause = nil, firstPause
			} else if !c.sleep(pause) {
				break
			} else {
				pause = min(2*pause, lastPause)
			}
			continue
		}
		if len(items) > 0 && ripe == nil {
			ripe = time.After(ripening)
		}
		select {
		case <-c.wake:
			continue
		case <-ripe:
			due = true
			continue
		case <-c.quit:
		}
		break
	}
	c.drain(&p)
}

// sleep pauses after a failure, until somebody waits in Flush; it returns false when the cycle is being closed.
func (c *Cycle) sleep(d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-c.hurry:
	case <-c.quit:
		return false
	}
	return true
}

// drain is the last attempt: it writes until nothing is left or a write fails.
func (c *Cycle) drain(p *progress) {
	for {
		items, _ := c.queue.oldest()
		if len(items) == 0 || !c.write(items, p) {
			return
		}
	}
}

// write commits one batch and acknowledges it. The context is nobody's: an entry is not given up because a caller
// lost patience; the wait for another writer is bounded by the connection.
func (c *Cycle) write(items []item, p *progress) bool {
	ctx := context.Background()
	next := *p
	last := items[len(items)-1].seq
	err := c.rec.update(ctx, func(tx *sql.Tx) error {
		b := batch{path: c.rec.path, tx: tx, cycle: c.number, ready: map[string]*sql.Stmt{}}
		for _, it := range items {
			it.advance(&next)
			if err := it.write(ctx, &b, it.seq); err != nil {
				return err
			}
		}
		_, lost := c.queue.counts()
		return b.mark(ctx, next, last, lost)
	})
	if err != nil {
		c.why.Store(&err) // the entries stay in the queue
		return false
	}
	*p = next
	c.why.Store(nil)
	c.acked.Store(last) // before drop, which wakes those who look at it
	c.queue.drop(len(items))
	return true
}

const markCycle = `update cycle set state = ?, stage = ?, last_at_s = ?, dosed_ml = ?, last_seq = ?, lost_entries = ?
	where number = ? and choice = ''`

// mark notes in the cycle's row how far it got.
func (b *batch) mark(ctx context.Context, p progress, last uint64, lost int) error {
	n, err := b.exec(ctx, markCycle, p.state, p.stage, seconds(p.at), p.dosed, last, lost, b.cycle)
	if err == nil && n == 0 {
		err = fault(b.path, ErrEnded, "cycle %d was closed as cut short by somebody else", b.cycle)
	}
	return err
}
