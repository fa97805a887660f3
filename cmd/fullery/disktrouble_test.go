//go:build linux || darwin || freebsd

package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"fullery/controller"
	"fullery/controller/simbench"
	"fullery/disks/record"
	"fullery/docs"
	"fullery/recipe"
	"fullery/recipes"

	sqlite3 "modernc.org/sqlite/lib"
)

// Trouble with the disk that holds the record, in the middle of whole cycles: the controller's own loop, the simulated bench,
// the record on a disk that fails on order, all on the test's own clock.

// diskTrouble is one way in which that disk fails.
type diskTrouble struct {
	name   string
	answer func(diskCall) int32 // nil: another program holds the record
	kind   error
	says   string // how the reason begins
}

var diskTroubles = []diskTrouble{
	{"no space left (ENOSPC)", func(c diskCall) int32 { return map[diskCall]int32{diskWrite: sqlite3.SQLITE_FULL}[c] },
		record.ErrFull, "no space is left for the record"},
	{"writes fail (EIO)", func(c diskCall) int32 { return map[diskCall]int32{diskWrite: sqlite3.SQLITE_IOERR_WRITE}[c] },
		record.ErrFailing, "the record"},
	{"syncs fail (EIO)", func(c diskCall) int32 { return map[diskCall]int32{diskSync: sqlite3.SQLITE_IOERR_FSYNC}[c] },
		record.ErrFailing, "the record"},
	{"remounted read-only (EROFS)", func(c diskCall) int32 {
		return map[diskCall]int32{diskWrite: sqlite3.SQLITE_IOERR_WRITE, diskSync: sqlite3.SQLITE_IOERR_FSYNC,
			diskOpen: sqlite3.SQLITE_CANTOPEN}[c]
	}, record.ErrFailing, "the record"},
	{"held by another program", nil, record.ErrLocked, "the record"},
}

// noticed is the longest that trouble may go unnoticed: samples are taken every five seconds in a drying and ripen for one;
// another program is waited for five seconds more.
func (d diskTrouble) noticed() time.Duration {
	if d.answer == nil {
		return 12 * time.Second
	}
	return 7 * time.Second
}

// troubledCycle is a cycle whose disk fails once it has been in a stage for a while.
type troubledCycle struct {
	diskTrouble
	in    recipe.Kind
	after time.Duration
	ends  bool // the trouble is over a minute after the cycle was held, and a person resumes it then; else it stays

	path   string
	begin  func()
	over   func()
	began  time.Duration // when the trouble began; 0 before
	held   time.Duration // when the cycle was held; 0 before
	gone   bool          // the trouble is over
	worst  time.Duration
	why    error
	job    *job
	faults []string
}

// TestDiskTroubleInMidCycle brings each trouble over each stage of a cycle. The cycle is held as soon as the record notices,
// with pumps, pads, hub and heater off in the same tick; it says why; what could not be written is kept. When the trouble
// ends and a person resumes, the cycle completes and its record has no hole. When it stays, the cycle is stopped, the person
// is told that its end is not written, and the next start finds it cut short.
func TestDiskTroubleInMidCycle(t *testing.T) {
	stages := []recipe.Kind{recipe.Wet, recipe.Scrub, recipe.SpinOut, recipe.Dry}
	if testing.Short() {
		stages = stages[1:2]
	}
	var page strings.Builder
	page.WriteString("| trouble | cycles | held in the tick that knew it, pumps, pads, hub and heater off | known within | " +
		"once it was over: entries missing | where it stayed: cycles found cut short |\n| --- | --: | --: | --: | --: | --: |\n")
	for _, trouble := range diskTroubles {
		cycles, cut := 0, 0
		var worst time.Duration
		t.Run(trouble.name, func(t *testing.T) {
			for _, stage := range stages {
				for _, ends := range []bool{true, false} {
					c := &troubledCycle{diskTrouble: trouble, in: stage, after: 4 * time.Second, ends: ends,
						path: filepath.Join(t.TempDir(), "r.db")}
					synctest.Test(t, c.run)
					for _, fault := range c.faults {
						t.Errorf("in %s, ends %v: %s", stage, ends, fault)
					}
					worst = max(worst, c.worst)
					cycles++
					if !ends {
						cut++
					}
				}
			}
		})
		fmt.Fprintf(&page, "| %s | %d | %d | %.0f s | 0 | %d of %d |\n", trouble.name, cycles, cycles,
			trouble.noticed().Seconds(), cut, cut)
		t.Logf("%s: known after %v at most", trouble.name, worst)
	}
	if !testing.Short() && !t.Failed() {
		docs.Hold(t, "disk-trouble", page.String())
	}
}

func (c *troubledCycle) fault(format string, args ...any) {
	c.faults = append(c.faults, fmt.Sprintf(format, args...))
}

// run runs the cycle and looks at what came of it.
func (c *troubledCycle) run(t *testing.T) {
	ctx := context.Background()
	c.arm(t)
	rec, err := record.Open(ctx, c.path)
	if err != nil {
		t.Fatal(err)
	}
	r, _ := recipes.Recipe("isopropanol-91")
	b, _ := recipes.Bench(recipes.DefaultBench)
	p, err := controller.Compile(r, b)
	if err != nil {
		t.Fatal(err)
	}
	j := &job{program: p, bench: b, record: rec, sim: simbench.New(b, r), orders: make(chan controller.Command, 4), attended: c.ends}
	c.job = j
	start := record.Start{Bench: b.Name, Recipe: r.Name, RecipeText: r.Text, BenchText: b.Text, Wall: time.Now(), ClockSet: true}
	for _, s := range p.Stages() {
		start.Stages = append(start.Stages, record.Planned{Do: s.Do.String(), For: s.Planned, AtMost: s.AtMost})
	}
	if j.cycle, err = rec.Begin(ctx, start); err != nil {
		t.Fatal(err)
	}
	sum := &controller.Summary{Program: p}
	oper := &operator{program: p, wishes: &j.wishes, orders: j.orders, attended: c.ends,
		script: []scripted{{order: controller.Resume, where: "held", after: 90 * time.Second}}}
	if !c.ends {
		oper.script = nil
	}
	loop := controller.Loop{Program: p, Bench: j.sim, Clock: controller.NewRealClock(), Commands: j.orders, Until: controller.Ended,
		Recorder: &recording{program: p, cycle: j.cycle, wall: time.Now, clockOK: true},
		Watchers: []controller.Watcher{sum, oper, watchFunc(c.watch)}}
	if _, err := loop.Run(ctx, controller.State{}); err != nil {
		t.Fatal(err)
	}
	end := j.finish(sum, "")
	c.look(sum, end)
	if !c.ends {
		if err := j.cycle.Close(); !errors.Is(err, c.kind) {
			c.fault("given up with %v", err)
		}
		c.over()
	}
	if err := errors.Join(j.cycle.Close(), rec.Close()); err != nil && c.ends {
		c.fault("closing: %v", err)
	}
	c.lookAgain(sum)
}

// arm makes the trouble ready.
func (c *troubledCycle) arm(t *testing.T) {
	trouble, well := diskOf(t, filepath.Dir(c.path))
	if c.answer != nil {
		c.begin, c.over = func() { trouble(c.answer) }, well
		return
	}
	other, err := sql.Open("sqlite", "file:"+c.path+"?_txlock=immediate")
	if err != nil {
		t.Fatal(err)
	}
	var tx *sql.Tx
	c.begin = func() {
		if tx, err = other.Begin(); err != nil {
			c.fault("the other program cannot hold the record: %v", err)
		}
	}
	c.over = func() {
		if err := errors.Join(tx.Rollback(), other.Close()); err != nil {
			c.fault("the other program cannot let go: %v", err)
		}
	}
}

// watch brings the trouble on and off, and holds every tick against what was promised.
func (c *troubledCycle) watch(t *controller.Tick) {
	now, s := t.Inputs.Now, &t.State
	if c.began == 0 && s.Cycle == controller.Running && c.job.program.Kind(s.Stage) == c.in && s.InStage >= c.after {
		c.began = now
		c.begin()
	}
	if t.Inputs.RecordFailing && s.Cycle == controller.Running {
		c.fault("at %v the cycle runs on with a record that fails", now)
	}
	if c.held == 0 && t.Inputs.RecordFailing {
		c.held, c.worst = now, now-c.began
		if l := t.Outputs.Levels; s.Cycle != controller.Held && s.Cycle != controller.Holding ||
			l.Pump != 0 || l.RinsePump != 0 || l.Pads != 0 || l.Hub != 0 || l.Heater != 0 {
			c.fault("in the tick that knew of it: %s, %+v", s.Cycle, l)
		}
		if c.worst > c.noticed() {
			c.fault("nobody knew of it for %v", c.worst)
		}
		c.why = c.job.cycle.Health().Why
	}
	if c.held > 0 && c.ends && !c.gone && now >= c.held+time.Minute {
		c.gone = true
		c.over()
	}
}

// look looks at what was said while the trouble was there.
func (c *troubledCycle) look(sum *controller.Summary, end error) {
	if c.held == 0 {
		c.fault("the trouble was never noticed")
		return
	}
	if !errors.Is(c.why, c.kind) || !strings.HasPrefix(c.why.Error(), c.says) {
		c.fault("the record gave as reason: %v", c.why)
	}
	told := false
	for _, g := range sum.Guards {
		told = told || g.Guard == controller.RecordFailing && g.Response == controller.ToHold &&
			strings.Contains(g.Said, "The record cannot be written") && strings.Contains(g.Said, "kept in memory")
	}
	if !told {
		c.fault("nobody was told: %+v", sum.Guards)
	}
	switch want := controller.Complete; {
	case !c.ends && sum.Final.Cycle != controller.Stopped:
		c.fault("the cycle ended %s", sum.Final.Cycle)
	case !c.ends && (end == nil || !errors.Is(c.job.cycle.Health().Why, c.kind) ||
		!strings.HasPrefix(end.Error(), "the end of the cycle could not be written to the record")):
		c.fault("of its end was said %v", end)
	case c.ends && (sum.Final.Cycle != want || end != nil):
		c.fault("the cycle ended %s, %v", sum.Final.Cycle, end)
	}
	if h := c.job.cycle.Health(); h.Lost != 0 || c.ends == h.Failing {
		c.fault("health at the end: %+v", h)
	}
}

// lookAgain looks at the record as the next start finds it.
func (c *troubledCycle) lookAgain(sum *controller.Summary) {
	ctx := context.Background()
	rec, err := record.Open(ctx, c.path)
	if err != nil {
		c.fault("the record does not open: %v", err)
		return
	}
	defer rec.Close()
	kept, err := rec.CycleByNumber(ctx, 1)
	if err != nil {
		c.fault("%v", err)
		return
	}
	if !c.ends {
		cut, err := rec.CutShort(ctx, kept.Bench)
		if err != nil || cut == nil || cut.Work != c.in.String() || cut.LastSeq < c.job.cycle.Acked() {
			c.fault("the next start finds %+v, %v; %d entries were acknowledged", cut, err, c.job.cycle.Acked())
		}
		return
	}
	events, err := rec.Events(ctx, 1)
	samples, also := rec.Samples(ctx, 1)
	stages, moreover := rec.Stages(ctx, 1)
	if err = errors.Join(err, also, moreover); err != nil || !kept.Complete() || kept.Duration != sum.Final.Last {
		c.fault("the record has %+v, %v", kept, err)
	}
	for i, s := range stages {
		if s.Actual == nil || *s.Actual != sum.Stages[i].Actual {
			c.fault("stage %d: %+v in the record, %+v on the bench", i, s, sum.Stages[i])
		}
	}
	said := false
	for _, e := range events {
		said = said || e.ID == "record-failing" && e.At == c.held
	}
	if !said {
		c.fault("the record does not tell of its own trouble at %v", c.held)
	}
	for n := 1; n < len(samples); n++ {
		if gap := samples[n].At - samples[n-1].At; gap > 5*time.Second+100*time.Millisecond {
			c.fault("no samples for %v after %v", gap, samples[n-1].At)
		}
	}
}
