package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"time"
	"unicode"
	"unicode/utf8"

	"fullery/controller"
	"fullery/controller/simbench"
	"fullery/disks/record"
	"fullery/recipe"

	"github.com/spf13/cobra"
)

// runFlags are what a person may say to run.
type runFlags struct {
	bench       string
	disk        string
	record      string
	fast        string
	faults      []string
	orders      []string
	cut         string
	changedOver bool
	freshRecord bool
	json        bool
}

// asFastAsCan is the value of --fast without a number.
const asFastAsCan = "most"

func newRun() *cobra.Command {
	var f runFlags
	c := &cobra.Command{
		Use:   "run [RECIPE]",
		Short: "Run a cycle (no arguments: the shipped recipe on the simulated bench, shown fast)",
		Long: "Run a cycle on a bench and record it. RECIPE is a file or the name of a recipe that ships (see:\n" +
			"fullery recipes). Typing this command at the bench is the start: look at disk, lid and tanks first.\n" +
			"Where nobody is at a keyboard, a cycle that is held is stopped, because nobody can resume it.",
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			name := ""
			if len(args) == 1 {
				name = args[0]
			}
			if name == "" && f.bench == "" && f.cut == "" && !c.Flags().Changed("fast") {
				f.fast = asFastAsCan
			}
			return run(c, name, f)
		},
	}
	flags := c.Flags()
	flags.StringVar(&f.bench, "bench", "", "bench file (default: the shipped simulated one)")
	flags.StringVar(&f.disk, "disk", "", "label of the disk, as in SB-0147")
	flags.StringVar(&f.record, "record", "", "record file (default: fullery.db in the user's data folder)")
	flags.StringVar(&f.fast, "fast", "", "simulated bench: run so many times as fast as real time; without a number as fast as can be followed")
	flags.Lookup("fast").NoOptDefVal = asFastAsCan
	flags.StringArrayVar(&f.faults, "fault", nil, "simulated bench: misbehave on order, ID@STAGE+TIME, as in lid-open@scrub+5s (repeatable; see: fullery guards)")
	flags.StringArrayVar(&f.orders, "order", nil, "give an order later, ORDER@STAGE+TIME or ORDER@STATE+TIME, as in resume@held+10s (repeatable)")
	flags.StringVar(&f.cut, "cut", "", "what is to become of a cycle that was cut short: resume, dry or end")
	flags.BoolVar(&f.changedOver, "changed-over", false, "say that pads and bath were changed: nothing flammable is on them any more")
	flags.BoolVar(&f.freshRecord, "fresh-record", false, "set a damaged record aside (it is renamed, not deleted) and begin a new one")
	flags.BoolVar(&f.json, "json", false, "print the summary as JSON")
	return c
}

// job is one run, made ready step by step; close undoes what was taken, last first.
type job struct {
	flags    runFlags
	named    string // the recipe that was named, if any
	program  *controller.Program
	bench    recipe.Bench
	sim      *simbench.Bench
	faults   []simbench.FaultOrder
	script   []scripted
	record   *record.Record
	cycle    *record.Cycle
	cut      *record.Cut
	owner    *owner
	start    controller.State // where the loop begins
	times    float64          // how many times as fast as real time; 0: as fast as can be followed
	attended bool             // somebody is at a keyboard
	orders   chan controller.Command
	wishes   wishes
	// unattended says that a held cycle was stopped because nobody was at the keyboard.
	unattended string
	closers    []func() error
}

func (j *job) close() error {
	var err error
	for i := len(j.closers) - 1; i >= 0; i-- {
		err = errors.Join(err, j.closers[i]())
	}
	j.closers = nil
	return err
}

// run makes a job ready, runs its loop, and reports.
func run(c *cobra.Command, name string, f runFlags) (err error) {
	ctx := c.Context()
	if ctx == nil {
		ctx = context.Background()
	}
	j := &job{flags: f, orders: make(chan controller.Command, 4)}
	defer func() { err = errors.Join(err, j.close()) }()
	r, err := readRecipe(name)
	if err != nil {
		return err
	}
	if j.bench, err = readBench(f.bench); err != nil {
		return err
	}
	j.named = name
	for _, prepare := range []func() error{
		j.parseOrders,
		j.takeBench,
		func() error { return j.openRecord(ctx) },
		func() error { return j.askRecord(ctx, &r) },
		func() error { return j.compile(r) },
		func() error { return j.beginRecord(ctx) },
	} {
		if err := prepare(); err != nil {
			return err
		}
	}
	return j.loop(ctx, c)
}

// parseOrders reads the faults and orders of the command line.
func (j *job) parseOrders() error {
	if err := j.parsePace(); err != nil {
		return err
	}
	if err := checkLabel(j.flags.disk); err != nil {
		return err
	}
	if !j.bench.Simulated && (len(j.flags.faults) > 0 || j.flags.fast != "") {
		return said(statusUsage, "--fault and --fast are for simulated benches, and bench %q is a real one", j.bench.Name)
	}
	for _, text := range j.flags.faults {
		o, err := simbench.ParseFault(text)
		if err != nil {
			return withStatus(statusUsage, err)
		}
		j.faults = append(j.faults, o)
	}
	for _, text := range j.flags.orders {
		o, err := parseOrder(text)
		if err != nil {
			return err
		}
		j.script = append(j.script, o)
	}
	return nil
}

// parsePace reads --fast.
func (j *job) parsePace() error {
	switch j.flags.fast {
	case "":
		j.times = 1
		return nil
	case asFastAsCan:
		return nil
	}
	const most = 1e6
	x, err := strconv.ParseFloat(j.flags.fast, 64)
	if err != nil || !(x >= 1 && x <= most) {
		return said(statusUsage, "--fast=%s is no pace: write how many times as fast as real time, 1 to %.0f, as in --fast=50, "+
			"or --fast alone", j.flags.fast, most)
	}
	j.times = x
	return nil
}

// checkLabel refuses a disk's label that could not be written on a sticker, or would disturb a terminal.
func checkLabel(label string) error {
	const most = 64
	if n := utf8.RuneCountInString(label); n > most || !utf8.ValidString(label) {
		return said(statusUsage, "the label of a disk has %d characters at most, and this one has %d", most, n)
	}
	for _, r := range label {
		if !unicode.IsPrint(r) {
			return said(statusUsage, "the label %q has a character that cannot be printed: use letters, digits and signs", label)
		}
	}
	return nil
}

// takeBench makes this process the bench's only owner.
func (j *job) takeBench() error {
	if !j.bench.Simulated {
		return said(statusPersonal, "bench %q is a real bench, and this version has no driver for one yet: "+
			"check its file with fullery check, and run the recipe on the simulated bench", j.bench.Name)
	}
	var err error
	if j.owner, err = own(j.bench.Name, j.off); err != nil {
		return err
	}
	j.closers = append(j.closers, j.owner.Close)
	return nil
}

// off is what another process's "fullery off" does: it aborts the cycle, whatever it is doing.
func (j *job) off() string {
	j.wishes.abort.Store(true)
	return "Bench " + j.bench.Name + ": the cycle is being aborted; pumps, pads, hub and heater go off within a tick."
}

// openRecord opens the record, or sets a damaged one aside if the person asked for that.
func (j *job) openRecord(ctx context.Context) (err error) {
	path := j.flags.record
	if path == "" {
		path = filepath.Join(dataFolder(), "fullery.db")
	}
	if info, err := os.Lstat(path); err == nil && !info.Mode().IsRegular() {
		if info, err = os.Stat(path); err != nil || !info.Mode().IsRegular() {
			return said(statusUsage, "%s is not a file that can hold a record: name another with --record", path)
		}
	}
	j.record, err = record.Open(ctx, path)
	if j.flags.freshRecord && (errors.Is(err, record.ErrDamaged) || errors.Is(err, record.ErrNotRecord)) {
		j.record, err = freshRecord(ctx, path)
	}
	if errors.Is(err, record.ErrDamaged) {
		err = fmt.Errorf("%w To set it aside and begin a new one, add --fresh-record", err)
	}
	if err != nil {
		return withStatus(statusUsage, err)
	}
	j.closers = append(j.closers, j.record.Close)
	if err := record.CheckSpace(path); err != nil {
		return withStatus(statusPersonal, err)
	}
	return nil
}

// freshRecord sets a record aside. The person who asked for it knows, so what it raises is acknowledged.
func freshRecord(ctx context.Context, path string) (*record.Record, error) {
	rec, aside, err := record.OpenFresh(ctx, path, time.Now())
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(os.Stderr, "The damaged record lies in %s now; a new one was begun.\n", aside)
	list, err := rec.Attentions(ctx)
	for _, a := range list {
		err = errors.Join(err, rec.Acknowledge(ctx, a.ID, "the person who ran --fresh-record", time.Now()))
	}
	return rec, err
}

// askRecord asks what this bench's last cycle left behind: a cycle cut short, and what pads and bath held.
func (j *job) askRecord(ctx context.Context, r *recipe.Recipe) error {
	held, err := j.record.LastLiquid(ctx, j.bench.Name)
	if err != nil {
		return withStatus(statusUsage, err)
	}
	switch {
	case j.flags.changedOver: // the person's word; it is written down when the cycle begins
	case held.Flammable != "":
		j.bench.PadsAndBathHeld = held.Flammable
	case !held.Known && !j.bench.Simulated: // a new record knows nothing of an old bench
		j.bench.PadsAndBathHeld = "nobody knows what"
	}
	if j.cut, err = j.record.CutShort(ctx, j.bench.Name); err != nil {
		return withStatus(statusUsage, err)
	}
	return j.chooseCut(r)
}

// chooseCut asks the person, or takes their choice, about a cycle that was cut short.
func (j *job) chooseCut(r *recipe.Recipe) error {
	choice := record.Choice(j.flags.cut)
	switch {
	case j.cut == nil && choice != "":
		return said(statusUsage, "no cycle of bench %q was cut short: leave --cut out", j.bench.Name)
	case j.cut == nil:
		return nil
	case choice == record.ToResume || choice == record.ToDry || choice == record.ToEnd:
		return j.takeCut(r)
	case choice != "":
		return said(statusUsage, "--cut %s is no choice: resume, dry or end", choice)
	default:
		return said(statusPersonal, "%s\nNothing starts by itself. Look at the disk: liquid that dried on it half-way is worse "+
			"than wetting it again.\nThen choose: run --cut resume (the interrupted stage from its start), run --cut dry (go on "+
			"to drying), or run --cut end (only end it; after a flammable liquid the fan purges).", j.cut)
	}
}

// takeCut takes recipe and disk from the cycle that was cut short: a person who goes on with it goes on with that one.
func (j *job) takeCut(r *recipe.Recipe) error {
	again, problems := recipe.Read(j.cut.Recipe+".toml", []byte(j.cut.RecipeText))
	if j.named != "" && again.Name != r.Name {
		return said(statusUsage, "cycle %d that was cut short ran %s, not %s: leave the recipe out", j.cut.Number, again.Name, r.Name)
	}
	if j.flags.disk != "" && j.flags.disk != j.cut.Disk {
		return said(statusUsage, "cycle %d that was cut short has disk %q, not %q: leave --disk out", j.cut.Number, j.cut.Disk, j.flags.disk)
	}
	j.flags.disk, *r = j.cut.Disk, again
	if j.flags.cut == string(record.ToEnd) { // it ends on the bench as it was: nothing but the fan will run
		if bench, bad := recipe.ReadBench(j.bench.Name+".toml", []byte(j.cut.BenchText)); len(bad.Errors()) == 0 {
			held := j.bench.PadsAndBathHeld
			j.bench = bench
			j.bench.PadsAndBathHeld = held
		}
	}
	return refused(problems)
}

// compile makes the recipe ready for the bench.
func (j *job) compile(r recipe.Recipe) error {
	p, err := controller.Compile(r, j.bench)
	if err != nil {
		return withStatus(statusNo, j.heldHint(err))
	}
	j.program = p
	j.sim = simbench.New(j.bench, r)
	if wetsNothing(p) || j.cut != nil {
		j.sim.Wet(j.bench.Sim.Kept)
	}
	for _, o := range j.faults {
		if err := j.sim.Order(o); err != nil {
			return withStatus(statusUsage, err)
		}
	}
	return nil
}

// heldHint adds the way out where what pads and bath held is in the way.
func (j *job) heldHint(err error) error {
	if j.bench.PadsAndBathHeld == "" {
		return err
	}
	return fmt.Errorf("%w\nIf you have changed pads and bath of bench %q since they held %s, say so with --changed-over",
		err, j.bench.Name, j.bench.PadsAndBathHeld)
}

// wetsNothing tells whether the disk arrives wet.
func wetsNothing(p *controller.Program) bool {
	for _, s := range p.Stages() {
		if s.Liquid > 0 {
			return false
		}
	}
	return true
}

// beginRecord writes the start of the cycle. When it returns, power may fail: the record knows.
func (j *job) beginRecord(ctx context.Context) error {
	r, wall := j.program.Recipe(), time.Now()
	start := record.Start{
		Disk: j.flags.disk, Bench: j.bench.Name, BenchText: j.bench.Text, Simulated: j.bench.Simulated,
		Recipe: r.Name, RecipeTitle: r.Title, RecipeText: r.Text, Liquid: r.Liquid, Rinse: r.Rinse,
		Flammable: burning(r), Program: version(), BootID: bootID(), Wall: wall, Mono: sinceBoot(), ClockSet: clockSet(wall),
	}
	for _, s := range j.program.Stages() {
		start.Stages = append(start.Stages, record.Planned{Do: s.Do.String(), For: s.Planned, AtMost: s.AtMost})
	}
	if j.cut != nil {
		start.Resolve = &record.Resolution{Cycle: j.cut.Number, Choice: record.Choice(j.flags.cut), By: "operator", Wall: wall}
	}
	var err error
	if j.flags.changedOver {
		err = j.record.PutChangeover(ctx, record.Changeover{Bench: j.bench.Name, Liquid: r.Liquid, Flammable: burning(r) != "",
			By: "operator", Wall: wall})
	}
	if err == nil {
		j.cycle, err = j.record.Begin(ctx, start)
	}
	if err != nil {
		status := statusUsage
		if errors.Is(err, record.ErrAttention) || errors.Is(err, record.ErrCutShort) {
			status = statusPersonal
		}
		return withStatus(status, err)
	}
	j.closers = append(j.closers, j.cycle.Close)
	return nil
}
