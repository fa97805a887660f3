package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"fullery/controller"
	"fullery/controller/piobench"
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
	trustCells  bool
	acknowledge bool
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
	flags.BoolVar(&f.trustCells, "trust-cells", false, "real bench: run although a pad's calibration is old or its zero has moved")
	flags.BoolVar(&f.acknowledge, "acknowledge", false, "say that you have read, and done, what the record asks to be acknowledged")
	flags.BoolVar(&f.json, "json", false, "print the summary as JSON")
	return c
}

// job is one run, made ready step by step; close undoes what was taken, last first.
type job struct {
	flags     runFlags
	named     string // the recipe that was named, if any
	program   *controller.Program
	bench     recipe.Bench
	plant     controller.Bench // what the loop drives
	sim       *simbench.Bench  // the same, when it is simulated
	board     cells            // the same, when it is real
	vigil     *vigil           // watches over this process while it owns a real bench
	faults    []simbench.FaultOrder
	script    []scripted
	record    *record.Record
	cycle     *record.Cycle
	cut       *record.Cut
	owner     *owner
	start     controller.State // where the loop begins
	times     float64          // how many times as fast as real time; 0: as fast as can be followed
	attended  bool             // somebody is at a keyboard
	unwatched atomic.Bool      // the terminal view is gone: nobody can give an order
	endedAt   time.Duration    // the last moment at which the cycle had not ended
	ending    chan error       // what came of writing the cycle's end, once it has begun
	orders    chan controller.Command
	wishes    wishes
	// unattended says that a held cycle was stopped because nobody was at the keyboard.
	unattended string
	closers    []func() error

	// A job that was handed over:
	at      *station       // whose bench it runs on; nil otherwise
	command *cobra.Command // the streams of whoever handed it over
	asked   orderWatch     // who waits for what comes of an order
	result  chan error     // what came of the job
	looping atomic.Bool    // its loop has begun
	ran     chan struct{}  // closed when it has ended
	came    string         // the state that it ended in
	purged  bool           // the fan has cleared already what a cycle that was cut short left behind
}

// cells is a real bench whose load cells can be looked at and calibrated.
type cells interface {
	controller.Bench
	Looks() []piobench.Look
	Calibrate(s recipe.Sensor, zero, gain float64)
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
	if handed, err := handOver(c, r, j.bench, f, name != ""); handed {
		return err
	}
	if err := j.ready(ctx, c, &r, j.parseOrders, j.takeBench, func() error { return j.openBoard(ctx) },
		func() error { return j.openRecord(ctx) }); err != nil {
		return err
	}
	return j.loop(ctx, c)
}

// ready does what comes first, and then what every cycle needs before it can begin. The last thing is the record: a cycle is
// in it before it is on the bench.
func (j *job) ready(ctx context.Context, c *cobra.Command, r *recipe.Recipe, first ...func() error) error {
	for _, prepare := range append(first,
		func() error { return j.askRecord(ctx, r) },
		func() error { return j.useCalibrations(ctx, c, *r) },
		func() error { return j.compile(ctx, *r) },
		func() error { return j.beginRecord(ctx) },
	) {
		if err := prepare(); err != nil {
			return err
		}
	}
	return nil
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

// takeBench makes this process the bench's only owner.
func (j *job) takeBench() error {
	var err error
	if j.owner, err = own(j.bench.Name, j.off); err != nil {
		return err
	}
	j.closers = append(j.closers, j.owner.Close)
	return nil
}

// openBoard claims a real bench, off, before anything else is done with it. From here on a second process watches over
// this one.
func (j *job) openBoard(ctx context.Context) error {
	if j.bench.Simulated {
		return nil
	}
	var err error
	if j.vigil, err = keepVigil(ctx, j.bench); err != nil {
		return err
	}
	board, err := openBoard(j.bench, piobench.System("/"), piobench.Options{})
	if err != nil {
		return errors.Join(err, j.vigil.leave(!errors.Is(err, piobench.ErrMayBeOn)))
	}
	j.plant, j.board = board, board
	j.closers = append(j.closers, func() error {
		err := board.Close()
		return errors.Join(err, j.vigil.leave(err == nil))
	})
	return nil
}

// useCalibrations gives a real bench what was measured of its cells. A calibration that is too old, or whose zero moved,
// ends it before it begins, where pads are to press; a person may decide otherwise.
func (j *job) useCalibrations(ctx context.Context, c *cobra.Command, r recipe.Recipe) error {
	if j.board == nil {
		return nil
	}
	unknown, doubts, err := calibrate(ctx, j.record, j.bench, j.board)
	if err != nil || r.Pads.Pressure == 0 {
		return err
	}
	for _, text := range unknown {
		fmt.Fprintln(c.ErrOrStderr(), "Attention:", text)
	}
	if len(doubts) > 0 && !j.flags.trustCells {
		return said(statusPersonal, "%s\nOr run it all the same with --trust-cells", strings.Join(doubts, "\n"))
	}
	return nil
}

// room is the room as it is now, where the bench can tell.
func (j *job) room(ctx context.Context) recipe.Room {
	if j.bench.Simulated {
		return j.bench.Room
	}
	return roomAir(ctx, j.plant, j.bench.Room, func(s recipe.Sensor) bool { return j.bench.Sensors[s].Fitted })
}

// off is what another process's "fullery off" does: it aborts the cycle, whatever it is doing.
func (j *job) off() string {
	j.wishes.abort.Store(true)
	return "Bench " + j.bench.Name + ": the cycle is being aborted; pumps, pads, hub and heater go off within a tick."
}

// compile makes the recipe ready for the bench, and for what its logged dryings taught.
func (j *job) compile(ctx context.Context, r recipe.Recipe) error {
	known, err := j.record.LatestBelief(ctx, j.bench.Name, j.bench.Simulated)
	if err != nil {
		return withStatus(statusUsage, err)
	}
	told := j.bench
	told.Room = j.room(ctx)
	p, err := controller.CompileKnowing(r, told, beliefOf(known))
	if err != nil {
		return withStatus(statusNo, j.heldHint(err))
	}
	j.program = p
	if !j.bench.Simulated {
		return nil
	}
	j.sim = simbench.New(j.bench, r)
	j.plant = j.sim
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

// wetsNothing tells whether the disk arrives wet.
func wetsNothing(p *controller.Program) bool {
	for _, s := range p.Stages() {
		if s.Liquid > 0 {
			return false
		}
	}
	return true
}
