package main

import (
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// operator gives the orders that the command line stands for. It is a watcher: it sees each tick and may send one
// order. It starts the cycle (whoever typed run has looked at the bench), gives the orders that were scripted, and,
// where nobody is at a keyboard, stops a cycle that is held, because nobody will come and resume it.
type operator struct {
	program   *controller.Program
	orders    chan<- controller.Command
	wishes    *wishes
	attended  bool
	script    []scripted
	continues controller.Order // what a person chose for a cycle that was cut short; NoOrder for a new one

	began       bool
	stoppedHeld bool             // a held cycle was stopped because nobody would resume it
	refusal     controller.Event // the last refusal of the first order
	next        time.Duration    // when the first order is given again
	nextEnd     time.Duration    // when an order that ends the cycle is given again
	tries       int
	state       controller.CycleState
	entered     time.Duration // when the state was entered
}

// scripted is an order at a time in a stage or a state: "hold@scrub+5s", "resume@held+10s".
type scripted struct {
	order controller.Order
	where string
	after time.Duration
	done  bool
}

// mostReading is how long the first order waits at most while the dry disk is read. A sensor that never answers is then
// the guards' business.
const mostReading = 30 * time.Second

// mostTries is how often the first order may be refused, once a second, before the operator gives up.
const mostTries = 10

// Watch looks at one tick and gives at most one order.
func (o *operator) Watch(t *controller.Tick) {
	now, s := t.Inputs.Now, &t.State
	if s.Cycle != o.state {
		o.state, o.entered = s.Cycle, now
	}
	for _, ev := range t.Outputs.Events.All() {
		if ev.Kind == controller.OrderRefused && !o.began {
			o.refused(ev)
		}
	}
	o.began = o.began || s.Cycle != controller.Idle && s.Cycle != controller.Held || s.Total > 0
	switch {
	case o.wishes.asked() != controller.NoOrder:
		o.end(t, o.wishes.asked())
	case !o.began:
		o.begin(t)
	case o.play(t):
	case s.Cycle == controller.Held && !o.attended && !o.waitsForScript():
		o.send(controller.Stop, false)
		o.stoppedHeld = true
	}
}

// wishes are what other goroutines want of the cycle: a signal its stop, another process its abort. They are flags and
// not orders in a queue, so that one which comes before the cycle has begun is not forgotten: it never begins.
type wishes struct {
	stop, abort atomic.Bool
	never       atomic.Bool // a cycle that has not begun is not to begin any more
}

// asked is the strongest wish.
func (w *wishes) asked() controller.Order {
	switch {
	case w.abort.Load():
		return controller.Abort
	case w.stop.Load():
		return controller.Stop
	default:
		return controller.NoOrder
	}
}

// end gives the order that ends the cycle, once a second until it has come true.
func (o *operator) end(t *controller.Tick, order controller.Order) {
	c := t.State.Cycle
	ending := c == controller.Aborting || order == controller.Stop && c == controller.Stopping
	if now := t.Inputs.Now; o.began && !ending && !c.Ended() && now >= o.nextEnd && o.send(order, false) {
		o.nextEnd = now + time.Second
	}
}

// refused notes why the first order was not taken. Only readings that are still coming in are worth another try: were
// the order repeated, closing the lid would start the cycle.
func (o *operator) refused(ev controller.Event) {
	o.refusal = ev
	if ev.Refusal == controller.CauseRemains && ev.Guard != controller.ReadingStale {
		o.tries = mostTries + 1
	}
}

// begin gives the first order, once a second until it is taken: the readings may still be coming in. It waits while
// the fan clears the vapour that a cycle which was cut short left behind.
func (o *operator) begin(t *controller.Tick) {
	now := t.Inputs.Now
	if now < o.next || o.tries > mostTries || o.wishes.never.Load() || t.State.PurgeLeft > 0 && o.continues != controller.Stop {
		return
	}
	if o.program.ReadsDry(&t.State) > 0 && now < mostReading && !contactOpen(t) {
		return
	}
	o.next = now + time.Second
	o.tries++
	if t.Inputs.Readings[recipe.EStop].Quality == controller.Good { // otherwise nothing has been read yet
		o.send(o.first(), true)
	}
}

// contactOpen tells whether a contact surely reads trouble. Then the first order is given at once, and refused: were it
// held back while the dry disk is read, closing the lid would start the cycle.
func contactOpen(t *controller.Tick) bool {
	for _, s := range []recipe.Sensor{recipe.Lid, recipe.EStop, recipe.TrayFloat} {
		if r := t.Inputs.Readings[s]; r.Quality == controller.Good && r.Value == 0 {
			return true
		}
	}
	return false
}

// first is the order that sets the cycle going.
func (o *operator) first() controller.Order {
	if o.continues != controller.NoOrder {
		return o.continues
	}
	return controller.Start
}

// gaveUp tells whether the cycle never began and will not.
func (o *operator) gaveUp(s controller.State) bool {
	return !o.began && (o.wishes.asked() != controller.NoOrder || o.wishes.never.Load() || s.PurgeLeft == 0 && o.tries > mostTries)
}

// sayNever says why the cycle never began.
func (o *operator) sayNever() error {
	if o.wishes.asked() != controller.NoOrder || o.wishes.never.Load() {
		return said(statusNo, "The cycle was called off before it began.")
	}
	return said(statusPersonal, "The cycle did not start. %s", o.refusal.Refusal.Said(o.refusal.Guard))
}

// send gives an order unless one is already on its way, and tells whether it did.
func (o *operator) send(order controller.Order, looked bool) bool {
	if len(o.orders) > 0 {
		return false
	}
	select {
	case o.orders <- controller.Command{Order: order, Looked: looked}:
		return true
	default:
		return false
	}
}

// play gives the scripted orders that are due.
func (o *operator) play(t *controller.Tick) bool {
	for i := range o.script {
		p := &o.script[i]
		since, here := o.since(t, p.where)
		if !p.done && here && since >= p.after {
			p.done = o.send(p.order, true)
			return true
		}
	}
	return false
}

// since tells whether the cycle is in the stage or state of that name, and for how long.
func (o *operator) since(t *controller.Tick, where string) (time.Duration, bool) {
	if where == t.State.Cycle.String() {
		return t.Inputs.Now - o.entered, true
	}
	return t.State.InStage, t.State.Cycle == controller.Running && where == o.program.Kind(t.State.Stage).String()
}

// waitsForScript tells whether a scripted order will still come in this state.
func (o *operator) waitsForScript() bool {
	for _, p := range o.script {
		if !p.done && p.where == o.state.String() {
			return true
		}
	}
	return false
}

// knownWhere tells whether a word is a stage or a state of a cycle.
func knownWhere(where string) bool {
	for k := recipe.Wet; k <= recipe.Dry; k++ {
		if k.String() == where {
			return true
		}
	}
	for _, t := range controller.Transitions() {
		if t.From.String() == where {
			return true
		}
	}
	return false
}

// parseOrder reads ORDER@WHERE+TIME.
func parseOrder(text string) (scripted, error) {
	bad := func(why string) (scripted, error) {
		return scripted{}, said(statusUsage, "cannot understand the order %q: %s; write ORDER@STAGE+TIME or ORDER@STATE+TIME, as in hold@scrub+5s",
			text, why)
	}
	name, rest, ok := strings.Cut(text, "@")
	if !ok {
		return bad("it has no @")
	}
	where, at, ok := strings.Cut(rest, "+")
	if !ok {
		return bad("it has no +")
	}
	p := scripted{where: where}
	for o := controller.Hold; o <= controller.Abort; o++ {
		if o.String() == name {
			p.order = o
		}
	}
	if p.order == controller.NoOrder {
		return bad(fmt.Sprintf("%q is no order; there are hold, resume, dry, stop and abort", name))
	}
	if !knownWhere(where) {
		return bad(fmt.Sprintf("%q is neither a stage nor a state", where))
	}
	var err error
	if p.after, err = time.ParseDuration(at); err != nil || p.after < 0 {
		return bad(fmt.Sprintf("%q is no time", at))
	}
	return p, nil
}
