//go:build linux || darwin || freebsd

package record

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"testing"
	"time"
)

// The lives that power cuts are tried on. Each tells the log what is acknowledged, and what might be on the disk besides.

// known is what is known of a record at some moment. A mark keeps a copy.
type known struct {
	opened bool // the record is there, and of this program's layout
	old    bool // it holds the cycles of oldRecord
	cycles []knownCycle
}

// knownCycle is what is known of a cycle.
type knownCycle struct {
	number   int64
	resolves *Resolution // of the cycle before it
	begun    bool        // Begin has returned
	put      uint64      // entries that may be there
	acked    uint64      // entries that must be there
	finished bool        // Finish has returned
	from     int         // the stage that it goes on with; -1 for a new one
}

func (k known) clone() known {
	k.cycles = slices.Clone(k.cycles)
	return k
}

// life is a record being written.
type life struct {
	t     *testing.T
	path  string
	log   *platter
	r     *Record
	known known
	// trouble that begins once a cycle has.
	trouble *func(call, string) int32
}

// allEntries is as many as a cycle of example's three stages takes; the end comes after them.
const allEntries = 15

// perStage is how many entries a stage takes: its beginning, two samples, an event, its end.
const perStage = allEntries / 3

// opened opens the record over the shim.
func opened(t *testing.T, path string, log *platter) *life {
	h := &life{t: t, path: path, log: log}
	if len(log.base.names) > 0 {
		h.known.old, h.known.cycles = true, oldCycles()
	}
	h.mark()
	return h.again()
}

// again opens the record anew.
func (h *life) again() *life {
	h.t.Helper()
	var err error
	if h.r, err = open(context.Background(), h.path, quick); err != nil {
		h.t.Fatal(err)
	}
	h.known.opened = true
	h.mark()
	return h
}

func (h *life) mark() { h.log.mark(h.known.clone()) }

// pragma sets something on the record's only connection.
func (h *life) pragma(set string) {
	h.t.Helper()
	h.r.db.SetMaxOpenConns(1)
	if _, err := h.r.db.Exec("PRAGMA " + set); err != nil {
		h.t.Fatal(err)
	}
}

func (h *life) close() {
	h.t.Helper()
	if err := h.r.Close(); err != nil {
		h.t.Fatal(err)
	}
	h.mark()
}

// cycle runs a cycle of so many entries; with all of them it is finished, else it is left without an end.
func (h *life) cycle(resolves *Resolution, entries uint64) {
	h.t.Helper()
	ctx := context.Background()
	number := int64(len(h.known.cycles) + 1)
	is := knownCycle{number: number, resolves: resolves, from: -1}
	if resolves != nil {
		is.from = stageAt(&h.known.cycles[resolves.Cycle-1], h.known.cycles[resolves.Cycle-1].acked)
	}
	h.known.cycles = append(h.known.cycles, is)
	k := &h.known.cycles[number-1]
	h.mark()
	s := example()
	s.Resolve = resolves
	c, err := h.r.Begin(ctx, s)
	if err != nil || c.Number() != number {
		h.t.Fatalf("cycle %d: %v", number, err)
	}
	k.begun = true
	h.mark()
	if h.trouble != nil {
		w := watchedAt(h.path)
		w.trouble.Store(h.trouble)
		defer w.trouble.Store(nil)
	}
	for n := uint64(1); n <= entries; n++ {
		k.put = n
		h.mark()
		putEntry(c, n)
		if n%perStage == 2 || n%perStage == 3 { // samples wait for the event after them
			continue
		}
		if err := c.Flush(ctx); err != nil || c.Acked() != n {
			h.t.Fatalf("entry %d: %v, acked %d", n, err, c.Acked())
		}
		k.acked = n
		h.mark()
	}
	if entries < allEntries {
		if err := c.Close(); err != nil {
			h.t.Fatal(err)
		}
		return
	}
	k.put = allEntries + 1
	h.mark()
	if err := c.Finish(ctx, theEnd); err != nil {
		h.t.Fatal(err)
	}
	k.acked, k.finished = allEntries+1, true
	h.mark()
}

// theEnd is how a finished cycle ends.
var theEnd = End{State: "complete", Reason: "all stages done", Wall: noon.Add(time.Hour), Duration: time.Hour, LiquidML: 15,
	Drying: 45 * time.Minute, DryingEvidence: "surface"}

// moment is when an entry happens.
func moment(n uint64) time.Duration { return time.Duration(n) * 10 * time.Second }

// stageOf is the stage that an entry belongs to.
func stageOf(n uint64) int { return int(n-1) / perStage }

// putEntry puts the n-th entry of a cycle; eventAt and sampleAt are what it then holds.
func putEntry(c *Cycle, n uint64) {
	switch n % perStage {
	case 1:
		c.PutStage(StageChange{At: moment(n), Stage: stageOf(n), Begun: true})
	case 0:
		c.PutStage(StageChange{At: moment(n), Stage: stageOf(n), Actual: moment(4), Ending: "done"})
	case 4:
		c.PutEvent(eventAt(c.Number(), n).Event)
	default:
		c.PutSample(sampleAt(c.Number(), n).Sample)
	}
}

func eventAt(cycle int64, n uint64) KeptEvent {
	return KeptEvent{n, Event{At: moment(n), Wall: noon.Add(moment(n)), Kind: "state", ID: "start", Stage: stageOf(n), State: "running",
		Said: fmt.Sprintf("Cycle %d, entry %d of the seed bank's disk.", cycle, n)}}
}

func sampleAt(cycle int64, n uint64) KeptSample {
	return KeptSample{n, Sample{At: moment(n), Stage: stageOf(n), DosedML: new(float64(n)), AirC: new(float64(cycle) + float64(n)/100)}}
}

// stageAt is the stage that a cycle is in after an entry.
func stageAt(k *knownCycle, last uint64) int {
	switch {
	case last == 0:
		return k.from
	case last > allEntries:
		return stageOf(allEntries)
	}
	return stageOf(last)
}

// oldRecord makes a record of the first layout with two cycles, the second one cut short in its second stage.
func oldRecord(t *testing.T, path string) {
	t.Helper()
	ctx := within(t)
	all, err := migrations(embedded)
	if err != nil {
		t.Fatal(err)
	}
	db, err := connect(path, "rwc", time.Second)
	if err != nil {
		t.Fatal(err)
	}
	if err := migrate(ctx, path, db, all[:1]); err != nil {
		t.Fatal(err)
	}
	for _, k := range oldCycles() {
		fillOld(t, db, k)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// oldCycles are the cycles of oldRecord.
func oldCycles() []knownCycle {
	return []knownCycle{
		{number: 1, begun: true, put: allEntries + 1, acked: allEntries + 1, finished: true, from: -1},
		{number: 2, begun: true, put: 9, acked: 9, from: -1},
	}
}

// fillOld writes a cycle as the program of the first layout did.
func fillOld(t *testing.T, db *sql.DB, k knownCycle) {
	t.Helper()
	ctx := within(t)
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback()
	n, err := insertCycle(ctx, tx, example())
	if err != nil || n != k.number {
		t.Fatal(n, err)
	}
	b := batch{path: "old", tx: tx, cycle: n, ready: map[string]*sql.Stmt{}}
	p := progress{stage: -1}
	old := &Cycle{queue: queue{room: 64}, number: n}
	for i := uint64(1); i <= min(k.acked, allEntries); i++ {
		putEntry(old, i)
	}
	if k.finished {
		old.queue.end(theEnd)
	}
	for _, it := range old.queue.items {
		it.advance(&p)
		if s, is := it.entry.(Sample); is { // its later columns were not there yet
			_, err = b.exec(ctx, `insert into sample (cycle, seq, at_s, stage, dosed_ml, air_c) values (?, ?, ?, ?, ?, ?)`, n,
				it.seq, seconds(s.At), s.Stage, *s.DosedML, *s.AirC)
		} else {
			err = it.write(ctx, &b, it.seq)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := b.mark(ctx, p, k.acked, 0); err != nil {
		t.Fatal(err)
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
}
