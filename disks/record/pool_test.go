package record

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// TestEveryConnectionIsSetUp holds eight connections at once, twice, the second time after the pool was emptied (I02),
// and asks each for its settings: a wait for locks, foreign keys, and a durable commit (I04: synchronous 2 is FULL).
func TestEveryConnectionIsSetUp(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	for range 2 {
		var held []*sql.Conn
		for range 8 {
			conn, err := r.db.Conn(ctx)
			if err != nil {
				t.Fatal(err)
			}
			held = append(held, conn)
			for pragma, want := range map[string]string{
				"busy_timeout": "5000", "foreign_keys": "1", "synchronous": "2", "journal_mode": "wal",
			} {
				var got string
				if err := conn.QueryRowContext(ctx, "PRAGMA "+pragma).Scan(&got); err != nil || got != want {
					t.Errorf("connection %d: %s is %s (%v), want %s", len(held), pragma, got, err, want)
				}
			}
		}
		for _, conn := range held {
			conn.Close()
		}
		r.db.SetMaxIdleConns(-1) // closes them
	}
}

// TestForeignKeysHold: a row that belongs to no cycle is refused.
func TestForeignKeysHold(t *testing.T) {
	r := testRecord(t, defaults)
	if _, err := r.db.Exec(`insert into stage (cycle, stage, work) values (99, 0, 'wet')`); err == nil {
		t.Error("a stage of no cycle was accepted")
	}
}

// TestTransactionsFromManyGoroutines: 8 goroutines over two open records, 200 transactions each: 1600 rows (I02).
func TestTransactionsFromManyGoroutines(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, settings{busy: time.Minute, queue: 16})
	other := reopen(t, r.Path(), settings{busy: time.Minute, queue: 16})
	var wg sync.WaitGroup
	for g := range 8 {
		to := []*Record{r, other}[g%2]
		wg.Go(func() {
			for n := range 200 {
				if err := to.PutChangeover(ctx, Changeover{Bench: fmt.Sprint(g), Liquid: fmt.Sprint(n)}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	var rows int
	if err := r.db.QueryRow(`select count(distinct bench || '/' || liquid) from changeover`).Scan(&rows); err != nil || rows != 1600 {
		t.Errorf("%d rows, %v; want 1600", rows, err)
	}
}

// TestCyclesOnManyBenches: four processes' worth of benches begin and end cycles in one file at once. A transaction
// that reads before it writes must have its turn reserved from its beginning (I01).
func TestCyclesOnManyBenches(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, settings{busy: time.Minute, queue: 16})
	var wg sync.WaitGroup
	for g := range 4 {
		own := reopen(t, r.Path(), settings{busy: time.Minute, queue: 16})
		wg.Go(func() {
			s := example()
			s.Bench = fmt.Sprint(g)
			for range 25 {
				c, err := own.Begin(ctx, s)
				if err != nil {
					t.Error(err)
					return
				}
				c.PutEvent(Event{Said: "x"})
				if err := c.Finish(ctx, End{State: "complete"}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	cycles, err := r.Cycles(ctx, 0)
	if err != nil || len(cycles) != 100 || cycles[0].Number != 100 {
		t.Errorf("%d cycles, %v; want 100, numbered to 100", len(cycles), err)
	}
}

// TestLogStaysSmall writes a day of samples while another reader keeps reading (I03); then again while one holds a
// transaction: the log grows, and is cut back after the reader is gone.
func TestLogStaysSmall(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, defaults)
	other := reopen(t, r.Path(), defaults)
	c := begin(t, r, example())
	largest := int64(0)
	samples := func(count int) {
		for n := range count {
			for c.Room() == 0 {
				if err := c.Flush(ctx); err != nil {
					t.Fatal(err)
				}
			}
			c.PutSample(Sample{At: time.Duration(n) * time.Second, AirC: new(21.0), DosedML: new(1.0)})
			if n%1000 == 0 {
				if _, err := other.Events(ctx, 1); err != nil {
					t.Fatal(err)
				}
				largest = max(largest, LogBytes(r.Path()))
			}
		}
	}
	samples(86400)
	if largest == 0 || largest > LargeLog {
		t.Errorf("the log grew to %d bytes, want some and at most %d", largest, LargeLog)
	}
	held, err := other.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer held.Rollback()
	if err := held.QueryRow(`select count(*) from sample`).Scan(new(int)); err != nil {
		t.Fatal(err)
	}
	before := LogBytes(r.Path())
	samples(60000)
	if pinned := LogBytes(r.Path()); pinned <= before || pinned <= walLimit {
		t.Errorf("the log is %d bytes beside a reader that stays, %d before: the test holds nothing", pinned, before)
	}
	if err := held.Rollback(); err != nil {
		t.Fatal(err)
	}
	for range 3 { // one write takes the log over, the next starts it anew
		c.PutEvent(Event{Said: "x"})
		if err := c.Flush(ctx); err != nil {
			t.Fatal(err)
		}
	}
	if after := LogBytes(r.Path()); after > walLimit {
		t.Errorf("the log is %d bytes after the reader is gone, want at most %d", after, walLimit)
	}
	if h := c.Health(); h.Failing || h.Lost > 0 {
		t.Errorf("health %+v", h)
	}
}

func TestSpace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "not", "yet", "there.db")
	free, err := FreeBytes(path)
	if err != nil || free <= 0 {
		t.Errorf("FreeBytes = %d, %v", free, err)
	}
	if err := checkSpace(path, LowSpace); err != nil {
		t.Error(err)
	}
	wantFault(t, checkSpace(path, LowSpace-1), ErrLowSpace, path)
}
