package record

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// full leaves the record's only connection no page to grow by; it returns what lifts that. PRAGMA max_page_count makes
// SQLite answer as on a full disk.
func full(t testing.TB, r *Record) (lift func()) {
	t.Helper()
	r.db.SetMaxOpenConns(1)
	pragma := func(n int) {
		var got int
		if err := r.db.QueryRow(fmt.Sprintf("PRAGMA max_page_count=%d", n)).Scan(&got); err != nil {
			t.Fatal(err)
		}
	}
	pragma(1) // SQLite takes the present size instead
	return func() { pragma(1 << 30) }
}

// long is an event that needs pages of its own.
func long(n int) Event {
	return Event{At: time.Duration(n) * time.Second, Kind: "guard", Said: fmt.Sprintf("%8000d", n)}
}

// TestDiskFull: the disk fills mid-run (I05). The record says so, keeps what it holds, loses nothing that was
// acknowledged, and goes on when there is space again.
func TestDiskFull(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx := within(t)
		r := testRecord(t, quick)
		c := begin(t, r, example())
		c.PutEvent(long(1))
		if err := c.Flush(ctx); err != nil {
			t.Fatal(err)
		}
		lift := full(t, r)
		for n := 2; n <= 10; n++ {
			c.PutEvent(long(n))
		}
		synctest.Wait() // the writer has tried and pauses
		h := c.Health()
		if !h.Failing || h.Queued != 9 || h.Lost != 0 || c.Acked() != 1 {
			t.Fatalf("health %+v, acked %d", h, c.Acked())
		}
		wantFault(t, h.Why, ErrFull, r.Path())
		short, cancel := context.WithTimeout(ctx, time.Minute)
		defer cancel()
		if err := c.Finish(short, End{State: "stopped"}); !errors.Is(err, ErrFull) || !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("Finish on a full disk: %v", err)
		}
		if events, err := r.Events(ctx, 1); err != nil || len(events) != 1 {
			t.Errorf("%d events are readable, %v", len(events), err)
		}
		lift()
		if err := c.Finish(ctx, End{State: "this end is the second"}); err != nil {
			t.Fatal(err)
		}
		if events, err := r.Events(ctx, 1); err != nil || len(events) != 10 {
			t.Errorf("%d events after there was space, %v", len(events), err)
		}
		if s, err := r.CycleByNumber(ctx, 1); err != nil || s.State != "stopped" || !s.Complete() {
			t.Errorf("cycle %+v, %v", s, err)
		}
	})
}

// TestFullDiskNeverCleared: without space the cycle is given up, not finished; the next process finds it cut short.
func TestFullDiskNeverCleared(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	c := begin(t, r, example())
	full(t, r)
	c.PutEvent(long(1))
	if err := c.Close(); !errors.Is(err, ErrFull) {
		t.Errorf("Close = %v", err)
	}
	if _, err := r.Begin(ctx, example()); !errors.Is(err, ErrCutShort) {
		t.Errorf("Begin = %v", err)
	}
	s := example()
	s.Bench = "attic"
	s.RecipeText = fmt.Sprintf("%80000d", 1)
	_, err := r.Begin(ctx, s)
	wantFault(t, err, ErrFull, r.Path())
	if cycles, err := r.Cycles(ctx, 0); err != nil || len(cycles) != 1 {
		t.Errorf("a refused start left %d cycles, %v", len(cycles), err)
	}
}

// TestLocked: another program holds the file. The writer tries again and again with longer pauses, and succeeds when
// it is let go.
func TestLocked(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx := within(t)
		r := testRecord(t, quick)
		c := begin(t, r, example())
		tx, err := reopen(t, r.Path(), quick).db.BeginTx(ctx, nil)
		if err != nil {
			t.Fatal(err)
		}
		defer tx.Rollback()
		c.PutEvent(Event{Kind: "order", Said: "Hold."})
		time.Sleep(2 * quick.busy) // of the test's own clock, as all sleeping here
		synctest.Wait()
		wantFault(t, c.Health().Why, ErrLocked, r.Path())
		s := example()
		s.Bench = "attic"
		_, err = r.Begin(ctx, s)
		wantFault(t, err, ErrLocked, r.Path())
		if err := tx.Rollback(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(2 * firstPause)
		synctest.Wait()
		if h := c.Health(); h.Failing || c.Acked() != 1 {
			t.Errorf("after the lock was let go: %+v, acked %d", h, c.Acked())
		}
	})
}

// TestLongOutageOfTheDisk: after an hour without space the writer still looks every few seconds.
func TestLongOutageOfTheDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := testRecord(t, quick)
		c := begin(t, r, example())
		lift := full(t, r)
		c.PutEvent(long(1))
		time.Sleep(time.Hour)
		synctest.Wait()
		if h := c.Health(); !h.Failing || h.Queued != 1 {
			t.Fatalf("health %+v", h)
		}
		lift()
		time.Sleep(lastPause)
		synctest.Wait()
		if h := c.Health(); h.Failing || c.Acked() != 1 {
			t.Errorf("health %+v, acked %d", h, c.Acked())
		}
	})
}

// TestSamplesRipen: samples wait a second for company, an event takes them along at once.
func TestSamplesRipen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := testRecord(t, quick)
		c := begin(t, r, example())
		settle := func(d time.Duration, want uint64) {
			t.Helper()
			time.Sleep(d)
			synctest.Wait()
			if c.Acked() != want {
				t.Errorf("acked %d, want %d", c.Acked(), want)
			}
		}
		c.PutSample(Sample{})
		settle(ripening-1, 0)
		c.PutSample(Sample{}) // the first one's second counts
		settle(1, 2)
		c.PutSample(Sample{})
		c.PutEvent(Event{})
		settle(0, 4)
		for range batchSize {
			c.PutSample(Sample{})
		}
		settle(0, 4+batchSize)
	})
}

// TestOverflowIsCounted: with the disk gone, samples are refused first, then events; the end always has room, and the
// record says that it is incomplete.
func TestOverflowIsCounted(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, settings{busy: 10 * time.Millisecond, queue: 16})
	c := begin(t, r, example())
	other := reopen(t, r.Path(), quick)
	tx, err := other.db.BeginTx(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	taken := 0
	for range 20 {
		if c.PutSample(Sample{}) > 0 {
			taken++
		}
	}
	if taken != 12 || c.Room() != 0 {
		t.Errorf("%d samples taken, room %d; want 12 and 0", taken, c.Room())
	}
	for range 10 {
		if c.PutEvent(Event{Said: "x"}) > 0 {
			taken++
		}
	}
	if h := c.Health(); taken != 16 || h.Queued != 16 || h.Lost != 14 {
		t.Errorf("%d taken, health %+v; want 16 queued, 14 lost", taken, h)
	}
	if err := tx.Rollback(); err != nil {
		t.Fatal(err)
	}
	if err := c.Finish(ctx, End{State: "aborted"}); err != nil {
		t.Fatal(err)
	}
	s, err := r.CycleByNumber(ctx, 1)
	if err != nil || s.Lost != 14 || s.Complete() || s.LastSeq != 17 {
		t.Errorf("cycle %+v, %v; want 14 lost, not complete", s, err)
	}
	if c.PutEvent(Event{}) != 0 || c.Finish(ctx, End{}) != nil || c.Close() != nil {
		t.Error("an ended cycle took an event, or would not be ended twice")
	}
}

// TestFastClockWaits: a clock faster than the disk waits for room, and nothing is lost in a queue of 8.
func TestFastClockWaits(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, settings{busy: time.Second, queue: 8})
	c := begin(t, r, example())
	for n := range 100 {
		for c.Room() == 0 {
			if err := c.Flush(ctx); err != nil {
				t.Fatal(err)
			}
		}
		c.PutSample(Sample{At: time.Duration(n)})
	}
	if err := c.Finish(ctx, End{State: "complete"}); err != nil {
		t.Fatal(err)
	}
	if samples, err := r.Samples(ctx, 1); err != nil || len(samples) != 100 || c.Health().Lost != 0 {
		t.Errorf("%d samples, %v, health %+v", len(samples), err, c.Health())
	}
}

// TestClosedRecordEndsItsCycles: closing the record writes what is queued and leaves the cycle without an end.
func TestClosedRecordEndsItsCycles(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	c := begin(t, r, example())
	c.PutSample(Sample{At: time.Second})
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if c.Acked() != 1 {
		t.Error("the queued sample was not written")
	}
	if err := c.Flush(ctx); err != nil {
		t.Error(err)
	}
	c.PutEvent(Event{})
	if err := c.Flush(ctx); err == nil {
		t.Error("an entry after Close was called durable")
	}
	if _, err := r.Begin(ctx, example()); err == nil {
		t.Error("a closed record began a cycle")
	}
}

// TestWrittenTwiceIsKeptOnce: when the answer to a commit is lost, the same entries are written again; the record is
// the same as if they had been written once.
func TestWrittenTwiceIsKeptOnce(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	c := begin(t, r, example())
	items := []item{
		{1, StageChange{At: 2, Begun: true}}, {2, Event{Said: "x"}}, {3, Sample{}}, {4, Drying{Liquid: "water"}},
		{5, clockNote{3, noon}}, {6, StageChange{Actual: 5, Ending: "done"}}, {7, End{State: "complete"}},
	}
	p := progress{stage: -1}
	look := func() (all []any) {
		if !c.write(items, &p) {
			t.Fatal(c.Health().Why)
		}
		s, err := r.CycleByNumber(ctx, 1)
		if err != nil {
			t.Fatal(err)
		}
		events, _ := r.Events(ctx, 1)
		samples, _ := r.Samples(ctx, 1)
		stages, _ := r.Stages(ctx, 1)
		dryings, _ := r.Dryings(ctx, "")
		return append(all, s, events, samples, stages, dryings)
	}
	c.queue.mu.Lock()
	c.queue.items = append(items, items...) // what write takes out as durable
	c.queue.mu.Unlock()
	once := look()
	differ(t, "the second time", look(), once)
	if n := len(once[1].([]KeptEvent)); n != 1 {
		t.Errorf("%d events", n)
	}
}

// TestPutsFromManyGoroutines: 8 goroutines, 200 entries each: 1600 rows (I02).
func TestPutsFromManyGoroutines(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	c := begin(t, r, example())
	var wg sync.WaitGroup
	for g := range 8 {
		wg.Go(func() {
			for n := range 200 {
				c.PutEvent(Event{ID: fmt.Sprint(g), Stage: n, Said: "x"})
				c.Health()
			}
		})
	}
	wg.Wait()
	if err := c.Finish(ctx, End{State: "complete"}); err != nil {
		t.Fatal(err)
	}
	events, err := r.Events(ctx, 1)
	if err != nil || len(events) != 1600 {
		t.Fatalf("%d events, %v", len(events), err)
	}
	next := map[string]int{}
	for _, e := range events {
		if e.Stage != next[e.ID] {
			t.Fatalf("goroutine %s: entry %d where %d was put", e.ID, e.Stage, next[e.ID])
		}
		next[e.ID]++
	}
}
