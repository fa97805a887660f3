package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"fullery/cmd/fullery/live"
	"fullery/controller"
	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/liquid"

	"github.com/spf13/cobra"
)

// finishWithin bounds how long the end of a cycle waits for the record.
const finishWithin = 20 * time.Second

// followable is how much faster than real time a person can follow a cycle in a terminal.
const followable = 200

// loop runs the control loop with its watchers, and reports what came of it.
func (j *job) loop(ctx context.Context, c *cobra.Command) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	out := c.OutOrStdout()
	j.attended = !j.flags.json && terminal(c)
	rec := &recording{program: j.program, cycle: j.cycle, wall: time.Now, clockOK: clockSet(time.Now())}
	summary := &controller.Summary{Program: j.program}
	oper := &operator{program: j.program, wishes: &j.wishes, orders: j.orders, attended: j.attended || j.at != nil,
		script: j.script, continues: continued(j.cut, j.flags.cut)}
	if j.at == nil { // else its station hears them
		defer j.signals(cancel)()
	}

	view := j.view(out, cancel)
	loop := controller.Loop{
		Program: j.program, Bench: j.plant, Commands: j.orders, Clock: j.clock(view), Recorder: rec,
		Watchers: []controller.Watcher{summary, j.finishAtEnd(summary), oper, view},
		Until:    func(s controller.State) bool { return oper.gaveUp(s) || j.over(s, oper) },
	}
	if j.sim != nil {
		loop.Clock, loop.Recorder = faultyClock{loop.Clock, j.sim}, faultyRecord{rec, j.sim}
		loop.Watchers = append([]controller.Watcher{watchFunc(j.tellStage)}, loop.Watchers...)
	}
	if j.vigil != nil {
		loop.Beat, loop.Bench = j.vigil.Beat, closing{j.plant, j.vigil}
	}
	if j.at != nil {
		loop.Beat, loop.Watchers = j.at.beat, append(loop.Watchers, &j.asked)
	}
	if j.cut != nil {
		j.start = j.program.Interrupted(j.cut.Stage, j.cut.LiquidML/1e6)
		if j.purged {
			j.start.PurgeLeft = 0
		}
		if j.start.PurgeLeft > 0 {
			fmt.Fprintf(c.ErrOrStderr(), "The fan clears the vapour first, for %s.\n", clock(j.start.PurgeLeft))
		}
	}
	last, err := loop.Run(ctx, j.start)
	if j.at != nil { // its station keeps the bench off from here on
		j.came = last.Cycle.String()
		close(j.ran)
	}
	if errors.Is(err, errQuit) {
		err = nil
	}
	ended := summary.Final.Cycle.Ended()
	if ended || oper.gaveUp(last) && j.cut == nil { // the record first: a screen that stalls must not hold it up
		state := ""
		if !ended {
			state = "never started"
		}
		err = errors.Join(err, j.finish(summary, state))
	}
	err = errors.Join(err, j.raise(rec.after))
	shown := closeWithin(view)
	err = errors.Join(err, shown)
	if oper.stoppedHeld {
		j.unattended = " It was stopped because nobody was at a keyboard to resume it."
	}
	j.tellNeverDue(c.ErrOrStderr(), oper)
	switch {
	case oper.gaveUp(last):
		if left := j.remains(summary); left != "" && j.cut != nil {
			fmt.Fprintln(c.ErrOrStderr(), "Attention:", left)
		}
		return errors.Join(err, oper.sayNever())
	case errors.Is(shown, errStalled): // the summary would stall as well
		return err
	case !ended: // it has no end: the record keeps it as cut short
		return errors.Join(err, said(statusNo, "Ended at once: the outputs were switched off and the cycle was left where it "+
			"was. The next run asks what is to become of it."))
	}
	err = errors.Join(err, j.report(out, summary))
	if err == nil && len(rec.after) > 0 {
		err = said(statusPersonal, "%s.", strings.Join(rec.after, ".\n"))
	}
	return err
}

// errStalled is a reader who takes nothing any more.
var errStalled = errors.New("what was to be shown could not all be shown: whoever reads it has stalled. The record has it")

// closeWithin closes the view, but does not wait for ever for a reader that has stalled.
func closeWithin(v view) error {
	done := make(chan error, 1)
	go func() { done <- v.Close() }()
	select {
	case err := <-done:
		return err
	case <-time.After(finishWithin):
		return withStatus(statusUsage, errStalled)
	}
}

// over tells whether the loop's work is done. After a flammable liquid, with somebody at the keyboard, the fan goes on
// until that person resets; with nobody there the program ends with the purge, and the summary says what remains.
func (j *job) over(s controller.State, o *operator) bool {
	if s.Cycle == controller.Idle {
		return o.began // reset
	}
	waits := (j.at != nil || j.attended && !j.unwatched.Load()) && j.wishes.asked() == controller.NoOrder &&
		j.program.Flammable() && s.Cycle != controller.Complete
	return (controller.Ended(s) || j.goesNowhere(s)) && !waits
}

// longestBlow is how long a simulated fan blows against a heater that is stuck, with nobody there. On a real bench it blows
// until somebody comes: it is what keeps the heat down.
const longestBlow = 30 * time.Minute

// goesNowhere tells whether a simulated cycle has ended and only waits for a person who cannot come.
func (j *job) goesNowhere(s controller.State) bool {
	if !s.Cycle.Ended() {
		j.endedAt = s.Last
	}
	return j.sim != nil && s.Last-j.endedAt >= longestBlow
}

// tellNeverDue says which faults and orders never came about: a trial that did not happen must not look passed.
func (j *job) tellNeverDue(w io.Writer, o *operator) {
	if j.sim != nil {
		for _, f := range j.sim.NeverDue() {
			fmt.Fprintf(w, "The fault %s was never due.\n", f)
		}
	}
	for _, p := range o.script {
		if !p.done {
			fmt.Fprintf(w, "The order %s@%s+%s was never due.\n", p.order, p.where, p.after)
		}
	}
}

// errQuit is how a second interrupt ends the loop without waiting for anything.
var errQuit = errors.New("quit")

// signals makes the first interrupt a stop and the second the end of the loop.
func (j *job) signals(cancel context.CancelCauseFunc) (undo func()) {
	return onSignals(func() { j.wishes.stop.Store(true) }, func() { cancel(errQuit) })
}

// onSignals calls first at the first signal that asks to end, and last at the second, or at once where the first one leaves no
// time. Both are called on a goroutine of their own.
func onSignals(first, last func()) (undo func()) {
	ch := make(chan os.Signal, 2)
	signal.Notify(ch, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
	done := make(chan struct{})
	go func() {
		for n := 0; ; n++ {
			select {
			case got := <-ch:
				if n == 0 {
					first()
				}
				if n > 0 || got == syscall.SIGQUIT {
					last()
					return
				}
			case <-done:
				return
			}
		}
	}()
	return func() { signal.Stop(ch); close(done) }
}

// view is what shows the cycle while it runs.
type view interface {
	controller.Watcher
	Room() bool
	Close() error
}

// view picks the live view in a terminal and plain lines elsewhere; with --json there is none.
func (j *job) view(out io.Writer, cancel context.CancelCauseFunc) view {
	switch {
	case j.flags.json:
		return noView{}
	case j.attended:
		return newLiveView(j, cancel)
	default:
		return live.NewPlain(j.program, out)
	}
}

// noView shows nothing.
type noView struct{}

func (noView) Watch(*controller.Tick) {}
func (noView) Room() bool             { return true }
func (noView) Close() error           { return nil }

// liveView is the terminal view, running beside the loop.
type liveView struct {
	*live.Feed
	done chan error
}

func newLiveView(j *job, cancel context.CancelCauseFunc) *liveView {
	v := &liveView{Feed: live.NewFeed(j.program), done: make(chan error, 1)}
	options := live.Options{Orders: j.orders, Disk: j.flags.disk, Cycle: fmt.Sprint(j.cycle.Number()),
		Pace: j.pace()}
	go func() {
		err := live.Show(context.Background(), v.Feed, options)
		j.unwatched.Store(true)
		if errors.Is(err, live.ErrLeft) {
			cancel(errQuit)
			err = nil
		}
		v.done <- err
	}()
	return v
}

func (v *liveView) Room() bool { return true }

// Close ends the view, which leaves its last picture behind.
func (v *liveView) Close() error {
	v.Done()
	return <-v.done
}

// speed is how many times as fast as real time the bench runs: 1 is real time, 0 as fast as it can be computed.
func (j *job) speed() float64 {
	switch {
	case !j.bench.Simulated:
		return 1
	case j.times > 0:
		return j.times
	case j.attended:
		return followable
	default:
		return 0
	}
}

// pace tells in words how fast the bench runs.
func (j *job) pace() string {
	switch {
	case !j.bench.Simulated:
		return ""
	case j.speed() == 1:
		return "simulated, real time"
	default:
		return fmt.Sprintf("simulated, %g × real time", j.speed())
	}
}

// clock picks the loop's time. A fast clock waits for those who write down what happens.
func (j *job) clock(v view) controller.Clock {
	speed := j.speed()
	if speed == 1 {
		return controller.NewKernelClock()
	}
	const spare = 64
	return &controller.FastClock{Speed: speed, Room: func() bool { return j.cycle.Room() > spare && v.Room() }}
}

// watchFunc makes a function a watcher.
type watchFunc func(*controller.Tick)

// Watch calls the function.
func (f watchFunc) Watch(t *controller.Tick) { f(t) }

// tellStage tells the simulated bench where the cycle is, so that faults act when they were ordered.
func (j *job) tellStage(t *controller.Tick) {
	if t.State.Cycle == controller.Running {
		j.sim.AtStage(j.program.Kind(t.State.Stage), t.State.InStage)
	}
}

// finish writes the end of the cycle and waits until it is durable.
func (j *job) finish(u *controller.Summary, state string) error {
	if j.ending != nil {
		return <-j.ending
	}
	return j.writeEnd(j.endOf(u, state))
}

// finishAtEnd begins to write the end as soon as the cycle has one, beside the loop: a fan that goes on until a person
// resets is no reason to leave a stopped cycle without its end.
func (j *job) finishAtEnd(u *controller.Summary) watchFunc {
	return func(t *controller.Tick) {
		if j.ending == nil && t.State.Cycle.Ended() {
			end := j.endOf(u, "")
			j.ending = make(chan error, 1)
			go func() { j.ending <- j.writeEnd(end) }()
		}
	}
}

// raise puts what guards said after the end of the cycle where the next one finds it.
func (j *job) raise(after []string) (err error) {
	ctx, cancel := context.WithTimeout(context.Background(), finishWithin)
	defer cancel()
	for _, text := range after {
		err = errors.Join(err, j.record.Raise(ctx, text, time.Now()))
	}
	if err != nil {
		return said(statusNo, "what came after the end of the cycle could not be written to the record: %v", err)
	}
	return nil
}

// endOf is how the cycle ended, for the record.
func (j *job) endOf(u *controller.Summary, state string) record.End {
	front, back := u.Pressure()
	return record.End{
		State: cmp.Or(state, u.Final.Cycle.String()), Reason: u.Reason(), Wall: time.Now(), Duration: u.Final.Last,
		LiquidML: (u.Final.Dosed - j.start.Dosed) * 1e6, PadFrontKPa: pressureKPa(front), PadBackKPa: pressureKPa(back),
		Drying: u.Final.Drying.Took, DryingEvidence: u.Final.Drying.Evidence.String(),
	}
}

// writeEnd writes it, and waits until it is durable.
func (j *job) writeEnd(end record.End) error {
	ctx, cancel := context.WithTimeout(context.Background(), finishWithin)
	defer cancel()
	if err := j.cycle.Finish(ctx, end); err != nil {
		return said(statusNo, "the end of the cycle could not be written to the record: %v", err)
	}
	return nil
}

// continued is the order that goes on with a cycle that was cut short.
func continued(cut *record.Cut, choice string) controller.Order {
	switch {
	case cut == nil:
		return controller.NoOrder
	case record.Choice(choice) == record.ToDry:
		return controller.ToDry
	case record.Choice(choice) == record.ToEnd:
		return controller.Stop // which purges by itself, where there is something to purge
	default:
		return controller.Resume
	}
}

// burning names the flammable liquid of a recipe, if it has one.
func burning(r recipe.Recipe) string {
	for _, name := range []string{r.Liquid, r.Rinse} {
		if l, err := liquid.Parse(name); err == nil && l.Flammable {
			return name
		}
	}
	return ""
}

// bootID tells one start of the system from another; empty where the system does not say.
func bootID() string {
	data, _ := os.ReadFile("/proc/sys/kernel/random/boot_id")
	return strings.TrimSpace(string(data))
}

// sinceBoot is the system's own monotonic time; zero where the system does not say.
func sinceBoot() time.Duration {
	data, _ := os.ReadFile("/proc/uptime")
	var seconds float64
	fmt.Sscan(string(data), &seconds)
	return time.Duration(seconds * float64(time.Second))
}

// terminal tells whether a person sits at both ends of the command.
func terminal(c *cobra.Command) bool {
	in, ok := c.InOrStdin().(*os.File)
	out, also := c.OutOrStdout().(*os.File)
	return ok && also && live.Terminal(in, out, os.Getenv)
}
