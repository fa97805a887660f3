//go:build linux || darwin || freebsd

package record

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	sqlite3 "modernc.org/sqlite/lib"
)

// Trouble with the disk in the middle of a cycle, made by the shim: what SQLite's own VFS answers when the system refuses a
// write or a sync (codes: https://www.sqlite.org/rescode.html). writer_test.go and disk_linux_test.go have the disk that is
// really full, and the file system that is read-only from the start.

// trouble is one way in which a disk fails.
type trouble struct {
	name   string
	answer func(call, string) int32
	kind   error
	words  string // that the sentence holds
}

var troubles = []trouble{
	{"no space left", func(c call, _ string) int32 {
		return map[call]int32{callWrite: sqlite3.SQLITE_FULL}[c]
	}, ErrFull, "no space is left for the record"},
	{"no space left for the log alone", func(c call, name string) int32 {
		if c == callWrite && strings.HasSuffix(name, "-wal") {
			return sqlite3.SQLITE_FULL
		}
		return sqlite3.SQLITE_OK
	}, ErrFull, "Free some space on that disk"},
	{"writes fail", func(c call, _ string) int32 {
		return map[call]int32{callWrite: sqlite3.SQLITE_IOERR_WRITE}[c]
	}, ErrFailing, "cannot be read or written"},
	{"syncs fail", func(c call, _ string) int32 {
		return map[call]int32{callSync: sqlite3.SQLITE_IOERR_FSYNC}[c]
	}, ErrFailing, "The card or disk may be failing"},
	{"remounted read-only", func(c call, _ string) int32 {
		return map[call]int32{callWrite: sqlite3.SQLITE_IOERR_WRITE, callTruncate: sqlite3.SQLITE_IOERR_TRUNCATE,
			callSync: sqlite3.SQLITE_IOERR_FSYNC, callDelete: sqlite3.SQLITE_IOERR_DELETE, callOpen: sqlite3.SQLITE_CANTOPEN}[c]
	}, ErrFailing, "cannot be read or written"},
}

// TestTroubleInMidCycle: whatever the disk refuses, the cycle's owner is told, entries are kept in memory and those beyond
// it counted, the end waits and then says why, and all of it is written once the trouble is over.
func TestTroubleInMidCycle(t *testing.T) {
	for _, tr := range troubles {
		t.Run(tr.name, func(t *testing.T) { synctest.Test(t, tr.inMidCycle) })
	}
}

func (tr trouble) inMidCycle(t *testing.T) {
	ctx := within(t)
	dir := t.TempDir()
	w := watch(t, dir)
	path := filepath.Join(dir, recordName)
	r := reopen(t, path, settings{busy: quick.busy, queue: 16})
	c := begin(t, r, example())
	c.PutEvent(eventAt(1, 1).Event)
	if err := c.Flush(ctx); err != nil {
		t.Fatal(err)
	}
	w.trouble.Store(&tr.answer)
	for n := uint64(2); n <= 9; n++ {
		c.PutEvent(eventAt(1, n).Event)
	}
	synctest.Wait() // the writer has tried and pauses
	if h := c.Health(); !h.Failing || h.Queued != 8 || h.Lost != 0 || c.Acked() != 1 {
		t.Fatalf("health %+v, acked %d", h, c.Acked())
	}
	wantFault(t, c.Health().Why, tr.kind, path)
	if said := c.Health().Why.Error(); !strings.Contains(said, tr.words) {
		t.Errorf("said %q, want %q in it", said, tr.words)
	}
	for n := uint64(10); n <= 20; n++ {
		c.PutEvent(eventAt(1, n).Event)
	}
	if h := c.Health(); h.Queued != 16 || h.Lost != 3 {
		t.Errorf("with memory full: %+v, want 16 queued and 3 lost", h)
	}
	short, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	if err := c.Finish(short, End{State: "stopped"}); !errors.Is(err, tr.kind) || !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("Finish said %v", err)
	}
	w.trouble.Store(nil)
	if err := c.Finish(ctx, End{State: "a second end"}); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	r = reopen(t, path, quick) // looks at every page
	s, err := r.CycleByNumber(ctx, 1)
	if err != nil || !s.Ended || s.State != "stopped" || s.Lost != 3 || s.LastSeq != 18 {
		t.Errorf("cycle %+v, %v", s, err)
	}
	events, err := r.Events(ctx, 1)
	if err != nil || len(events) != 17 {
		t.Fatalf("%d events, %v; want 17", len(events), err)
	}
	for n, e := range events {
		differ(t, "event", e, eventAt(1, uint64(n+1)))
	}
}

// TestTroubleNeverEnds: without an end of the trouble the cycle is given up, not finished; what was acknowledged is there for
// the next start, which calls the cycle cut short.
func TestTroubleNeverEnds(t *testing.T) {
	for _, tr := range troubles {
		t.Run(tr.name, func(t *testing.T) {
			ctx := within(t)
			dir := t.TempDir()
			w := watch(t, dir)
			path := filepath.Join(dir, recordName)
			r := reopen(t, path, quick)
			c := begin(t, r, example())
			c.PutStage(StageChange{At: time.Second, Begun: true})
			if err := c.Flush(ctx); err != nil {
				t.Fatal(err)
			}
			w.trouble.Store(&tr.answer)
			c.PutEvent(eventAt(1, 2).Event)
			if err := c.Close(); !errors.Is(err, tr.kind) {
				t.Errorf("Close said %v", err)
			}
			s := example()
			s.Bench = "attic"
			_, err := r.Begin(ctx, s)
			wantFault(t, err, tr.kind, path)
			_ = r.Close()
			w.trouble.Store(nil)
			r = reopen(t, path, quick)
			cut, err := r.CutShort(ctx, "cellar")
			if err != nil || cut == nil || cut.Stage != 0 || cut.LastSeq != 1 {
				t.Errorf("CutShort = %+v, %v", cut, err)
			}
			// After a sync that failed nobody knows what is on the disk: the refused start may be there, then whole.
			attic, err := r.CutShort(ctx, "attic")
			if err != nil || attic != nil && (tr.name != "syncs fail" || attic.Stage != -1 || attic.RecipeText != s.RecipeText) {
				t.Errorf("a refused start left %+v, %v", attic, err)
			}
		})
	}
}

// TestOpeningInTrouble: a start on a disk in trouble is refused with its reason, and changes nothing that the next one needs.
func TestOpeningInTrouble(t *testing.T) {
	for _, tr := range troubles[:4] { // the fifth refuses to be opened at all, see TestReadOnlyFileSystem
		t.Run(tr.name, func(t *testing.T) {
			dir := t.TempDir()
			w := watch(t, dir)
			path := filepath.Join(dir, recordName)
			oldRecord(t, path) // so that opening has something to write
			w.trouble.Store(&tr.answer)
			_, err := open(within(t), path, quick)
			wantFault(t, err, tr.kind, path)
			w.trouble.Store(nil)
			r := reopen(t, path, quick)
			if cut, err := r.CutShort(within(t), "cellar"); err != nil || cut == nil || cut.Number != 2 || cut.Stage != 1 {
				t.Errorf("CutShort = %+v, %v", cut, err)
			}
		})
	}
}

// TestFreshRecordOnAFailingDisk: a record is made on a disk that takes its log and then fails at some write of the file itself.
// The start is refused with the reason, and no half-made file is left that the next start would take for somebody else's.
func TestFreshRecordOnAFailingDisk(t *testing.T) {
	for fails := 1; ; fails++ {
		dir := t.TempDir()
		w := watch(t, dir)
		path := filepath.Join(dir, recordName)
		writes := 0
		answer := func(c call, name string) int32 {
			if c != callWrite || strings.HasSuffix(name, "-wal") || strings.HasSuffix(name, "-journal") {
				return sqlite3.SQLITE_OK
			}
			if writes++; writes >= fails {
				return sqlite3.SQLITE_FULL
			}
			return sqlite3.SQLITE_OK
		}
		w.trouble.Store(&answer)
		r, err := open(within(t), path, quick)
		if err == nil { // the trouble came too late
			if r.Close(); fails < 10 {
				t.Errorf("only %d writes: the trouble was not in between", fails)
			}
			return
		}
		if !errors.Is(err, ErrFull) {
			t.Errorf("write %d: %v", fails, err)
		}
		w.trouble.Store(nil)
		if r, err = open(within(t), path, quick); err != nil {
			t.Fatalf("write %d: after the trouble: %v", fails, err)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}
}

// TestFailedSyncThenPowerCut: after a sync that failed the system may drop what it held and call the next sync done (so Linux
// does). Each sync of a cycle fails once; wherever the power goes after that, what was acknowledged is there.
func TestFailedSyncThenPowerCut(t *testing.T) {
	const most = 40
	last, points, every := 0, 0, 1
	if testing.Short() {
		every = 20
	}
	for fails := 1; fails <= most; fails++ {
		syncs := 0
		answer := func(c call, _ string) int32 {
			if c != callSync {
				return sqlite3.SQLITE_OK
			}
			if syncs++; syncs == fails {
				return sqlite3.SQLITE_IOERR_FSYNC
			}
			return sqlite3.SQLITE_OK
		}
		h := history{fmt.Sprint("sync ", fails, " fails"), func(t *testing.T, path string, p *platter) {
			l := opened(t, path, p)
			l.pragma("wal_autocheckpoint=7")
			l.trouble = &answer
			l.cycle(nil, 6)
			l.close()
		}}
		got := cutEverywhere(t, h.run(t), outcomes(0)[:2], nobody, every)
		points += got.points
		for _, fault := range append(got.lost, got.other...) {
			t.Error(h.name, fault)
		}
		if last = syncs; syncs < fails || testing.Short() && fails == 3 {
			break
		}
	}
	if last < 5 || last >= most {
		t.Errorf("a cycle has %d syncs: the trouble was not in between", last)
	}
	t.Logf("%d syncs, each failed once, %d write points", last, points)
}

// TestLockedByAnotherProcess: a process that holds the record for longer than a connection waits delays entries, and costs
// none.
func TestLockedByAnotherProcess(t *testing.T) {
	ctx := within(t)
	r := testRecord(t, quick)
	c := begin(t, r, example())
	cmd, in, out := child(t, "hold", r.Path())
	if !out.Scan() || out.Text() != "holding" {
		t.Fatalf("the other process says %q", out.Text())
	}
	for n := uint64(1); n <= 5; n++ {
		c.PutEvent(eventAt(1, n).Event)
	}
	short, cancel := context.WithTimeout(ctx, 10*quick.busy)
	defer cancel()
	err := c.Flush(short)
	if !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), "is held by another program") || c.Health().Queued != 5 {
		t.Errorf("Flush said %v, health %+v", err, c.Health())
	}
	in.Close()
	cmd.Wait()
	if err := c.Finish(ctx, End{State: "complete"}); err != nil {
		t.Fatal(err)
	}
	if events, err := r.Events(ctx, 1); err != nil || len(events) != 5 || c.Health().Lost != 0 {
		t.Errorf("%d events, %v, health %+v", len(events), err, c.Health())
	}
}
