package main

import (
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"fullery/disks/record"
	"fullery/docs"
)

var kills = flag.Int("kills", 1000, "how many processes TestKilledAtRandom kills")

// killsAtATime is how many benches are killed on at a time.
const killsAtATime = 2

// killedFaults is what the kills came to.
type killedFaults struct {
	mu                                             sync.Mutex
	killed, reopening, migrating, early, cut, over int
	faults                                         []string
}

func (k *killedFaults) add(format string, args ...any) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.faults = append(k.faults, fmt.Sprintf(format, args...))
}

func (k *killedFaults) count(what *int) {
	k.mu.Lock()
	defer k.mu.Unlock()
	*what++
}

// TestKilledAtRandom kills the real program with SIGKILL at random moments of its life: while it opens the record, begins a
// cycle, runs it, ends it; while it opens again what the last kill left behind; and while it brings an old record up to
// date. Whatever the moment, the record is whole, nothing that another process could read in it before is gone, no cycle is
// forgotten, and the next run says what was cut short and starts nothing.
func TestKilledAtRandom(t *testing.T) {
	most := *kills
	if testing.Short() {
		most = min(most, 20)
	}
	program := filepath.Join(t.TempDir(), "under-test")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	var k killedFaults
	var wait sync.WaitGroup
	for n := range killsAtATime {
		v := &victims{t: t, k: &k, program: program, dir: t.TempDir(), random: rand.New(rand.NewPCG(1, uint64(n)))}
		v.file = filepath.Join(v.dir, "record.db")
		wait.Go(func() {
			for k.below(most) && v.round() {
			}
			v.allTold()
		})
	}
	wait.Wait()
	t.Logf("%d killed: %d while they opened a record again, %d while they opened an old one; %d before their cycle was begun, "+
		"%d in it, %d after it", k.killed, k.reopening, k.migrating, k.early, k.cut, k.over)
	for _, fault := range k.faults {
		t.Error(fault)
	}
	if k.cut == 0 || k.migrating == 0 || k.reopening == 0 {
		t.Error("no kill came in the middle of a cycle, or of opening")
	}
	if most == 1000 && !t.Failed() {
		docs.Hold(t, "kills", fmt.Sprintf("`fullery run` on the simulated bench was killed (SIGKILL) at least %d times, at random moments: of "+
			"a cycle, of opening again the record that the last kill left behind, of bringing an old record up to date.\n\n"+
			"| looked at after every kill | faults |\n| --- | --: |\n"+
			"| the record opens, every page is good | 0 |\n"+
			"| what another process had read in it before the kill is there | 0 |\n"+
			"| a cycle that was said to be complete has its end | 0 |\n"+
			"| a cycle without an end is found, with its stage | 0 |\n"+
			"| the next run tells of it, begins nothing, and ends with status 4 | 0 |\n"+
			"| an old record has its cycles, in the new layout | 0 |\n", most))
	}
}

// below tells whether another process is to be killed.
func (k *killedFaults) below(most int) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.killed < most && len(k.faults) == 0
}

// victims are the processes that are killed on one record, one after the other.
type victims struct {
	t       *testing.T
	k       *killedFaults
	program string
	dir     string
	file    string
	random  *rand.Rand
	rounds  int
	longest time.Duration // that a cycle was seen to take, so that kills fall everywhere in it
}

// run is the program with a home of its own.
func (v *victims) run(file string, args ...string) *exec.Cmd {
	c := exec.Command(v.program, append([]string{"run", "--record", file}, args...)...)
	c.Env = []string{"HOME=" + v.dir, "TMPDIR=" + v.dir, "XDG_DATA_HOME=" + v.dir, "PATH=/nowhere"}
	return c
}

// kill starts the program and kills it after some part of a span; it returns what it printed, and what could be read in the
// record just before. When it dies matters; how long anything took does not.
func (v *victims) kill(file string, span time.Duration, args ...string) (said string, before seen) {
	var out strings.Builder
	c := v.run(file, args...)
	c.Stdout = &out
	if err := c.Start(); err != nil {
		v.k.add("%v", err)
		return "", seen{}
	}
	time.Sleep(time.Duration(v.random.Int64N(int64(span))))
	before = readIn(file)
	_ = c.Process.Kill()
	_ = c.Wait()
	v.k.count(&v.k.killed)
	return out.String(), before
}

// seen is what another process can read of a record: its last cycle.
type seen struct {
	there bool
	last  record.Summary
}

// readIn reads the last cycle as it is, while somebody writes it.
func readIn(file string) seen {
	ctx := context.Background()
	rec, err := record.OpenReadOnly(ctx, file)
	if err != nil {
		return seen{} // not there yet
	}
	defer rec.Close()
	cycles, err := rec.Cycles(ctx, 1)
	if err != nil || len(cycles) == 0 {
		return seen{}
	}
	return seen{true, cycles[0]}
}

// round is a cycle that is killed, and what comes after it. It returns false when there is no use in going on.
func (v *victims) round() bool {
	v.rounds++
	if v.rounds%5 == 0 {
		v.migrating()
		return true
	}
	if v.longest == 0 { // a whole cycle, so that kills fall everywhere in one
		begun := time.Now()
		if out, err := v.run(v.file, "isopropanol-91", "--fast=4000").CombinedOutput(); err != nil {
			v.k.add("a run that nobody killed: %v: %s", err, out)
			return false
		}
		v.longest = time.Since(begun)
	}
	said, before := v.kill(v.file, v.longest+v.longest/4, "isopropanol-91", "--fast=4000")
	if v.rounds%3 == 0 { // the one that finds it is killed too
		v.kill(v.file, v.longest/3, "isopropanol-91", "--fast=4000", "--cut", "end")
		v.k.count(&v.k.reopening)
	}
	return v.after(said, before)
}

// after looks at what a kill left behind, as the next run finds it and as the record has it.
func (v *victims) after(said string, before seen) bool {
	ctx := context.Background()
	rec, err := record.Open(ctx, v.file) // looks at every page
	if err != nil {
		v.k.add("the record does not open: %v", err)
		return false
	}
	defer rec.Close()
	cycles, err := rec.Cycles(ctx, 0)
	if err != nil || before.there && len(cycles) < int(before.last.Number) {
		v.k.add("%d cycles, %v; cycle %d could be read", len(cycles), err, before.last.Number)
		return false
	}
	if before.there {
		now := cycles[len(cycles)-int(before.last.Number)]
		if now.Number != before.last.Number || now.LastSeq < before.last.LastSeq || before.last.Ended && !now.Ended {
			v.k.add("before the kill %+v could be read, after it %+v", before.last, now)
		}
	}
	var complete int
	if _, tail, ok := strings.Cut(said, "Cycle "); ok && strings.Contains(tail, ": complete") {
		fmt.Sscanf(tail, "%d: complete", &complete)
		if complete > 0 && !cycles[len(cycles)-complete].Ended {
			v.k.add("cycle %d was said to be complete, and has no end", complete)
		}
	}
	cut, err := rec.CutShort(ctx, "simulated")
	switch {
	case err != nil:
		v.k.add("asking for what was cut short: %v", err)
	case cut != nil:
		v.k.count(&v.k.cut)
		v.told(rec, cut, len(cycles))
	case complete > 0:
		v.k.count(&v.k.over)
	default:
		v.k.count(&v.k.early)
	}
	return true
}

// told has the next run find what was cut short, and a person end it.
func (v *victims) told(rec *record.Record, cut *record.Cut, cycles int) {
	ctx := context.Background()
	rows, err := rec.Samples(ctx, cut.Number)
	events, also := rec.Events(ctx, cut.Number)
	if err != nil || also != nil || uint64(len(rows)+len(events)) > cut.LastSeq {
		v.k.add("cycle %d has %d samples and %d events of %d entries: %v %v", cut.Number, len(rows), len(events), cut.LastSeq, err, also)
	}
	out, err := v.run(v.file, "isopropanol-91", "--fast").CombinedOutput()
	if status := exitCode(err); status != statusPersonal || !strings.Contains(string(out), cut.String()) ||
		!strings.Contains(string(out), "Nothing starts by itself") {
		v.k.add("after cycle %d was cut short the next run ends with %d and says %s; the record says %s", cut.Number, status, out, cut)
	}
	if now, err := rec.Cycles(ctx, 0); err != nil || len(now) != cycles {
		v.k.add("the next run began a cycle: %d where %d were, %v", len(now), cycles, err)
	}
	if v.rounds%11 == 0 {
		if out, err := v.run(v.file, "--cut", "end", "--fast").CombinedOutput(); err != nil {
			v.k.add("cycle %d could not be ended: %v: %s", cut.Number, err, out)
		}
		return
	}
	choice := record.Resolution{Cycle: cut.Number, Choice: record.ToEnd, By: "test", Wall: time.Now()}
	if err := rec.Resolve(ctx, choice); err != nil {
		v.k.add("cycle %d could not be resolved: %v", cut.Number, err)
	}
}

// migrating kills a run that brings a record of the first layout up to date.
func (v *victims) migrating() {
	ctx := context.Background()
	file := filepath.Join(v.dir, fmt.Sprint("old-", v.rounds, ".db"))
	if err := oldRecord(file); err != nil {
		v.k.add("%v", err)
		return
	}
	v.kill(file, v.longest/3+time.Millisecond, "isopropanol-91", "--fast=4000")
	v.k.count(&v.k.migrating)
	rec, err := record.Open(ctx, file)
	if err != nil {
		v.k.add("an old record does not open: %v", err)
		return
	}
	defer os.Remove(file)
	defer rec.Close()
	cycles, err := rec.Cycles(ctx, 0)
	if err != nil || len(cycles) < 1 || !cycles[len(cycles)-1].Ended || cycles[len(cycles)-1].Reason != "all stages done" {
		v.k.add("an old record has %v, %v", cycles, err)
	}
	if _, err := rec.LatestBelief(ctx, "simulated", true); err != nil { // of the second layout
		v.k.add("an old record is not of the new layout: %v", err)
	}
}

// allTold looks at the whole record at the end: no cycle has neither an end nor a choice.
func (v *victims) allTold() {
	rec, err := record.Open(context.Background(), v.file)
	if err != nil {
		v.k.add("at the end: %v", err)
		return
	}
	defer rec.Close()
	cycles, err := rec.Cycles(context.Background(), 0)
	for i, c := range cycles {
		if int(c.Number) != len(cycles)-i || !c.Ended && c.Choice == "" || c.Ended && c.Lost > 0 {
			v.k.add("at the end cycle %d has neither an end nor a choice, or a hole before it: %+v", c.Number, c)
		}
	}
	if err != nil || len(cycles) == 0 {
		v.k.add("at the end %d cycles, %v", len(cycles), err)
	}
}

// oldRecord makes a record as the first version of this program did, with one finished cycle.
func oldRecord(file string) error {
	layout, err := os.ReadFile(filepath.Join("..", "..", "disks", "record", "migrations", "0001_cycles.sql"))
	if err != nil {
		return err
	}
	db, err := sql.Open("sqlite", "file:"+file+"?_pragma=journal_mode(WAL)")
	if err != nil {
		return err
	}
	const fullBytes = 0x46554c4c // "FULL": what marks a record, see disks/record/sqlite.go
	_, err = db.Exec(string(layout) + fmt.Sprintf(`;
		insert into file values ('aa', 'title = "x"');
		insert into cycle (number, bench, bench_sha256, simulated, recipe, recipe_title, recipe_sha256, liquid, rinse, flammable,
			program, boot_id, started_mono_s, clock_set, clock_back, state, stage, last_at_s, dosed_ml, last_seq, lost_entries,
			ended, reason) values (1, 'simulated', 'aa', 1, 'dry-only', '', 'aa', '', '', '', '0.1', '', 1, 0, 0, 'complete', 0, 60, 0, 1, 0,
			1, 'all stages done');
		pragma application_id=%d; pragma user_version=1`, fullBytes))
	return errors.Join(err, db.Close())
}

func exitCode(err error) int {
	if e := (*exec.ExitError)(nil); errors.As(err, &e) {
		return e.ExitCode()
	}
	if err != nil {
		return -1
	}
	return statusDone
}
