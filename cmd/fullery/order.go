package main

import (
	"fmt"
	"io"
	"strings"
	"sync/atomic"
	"time"

	"fullery/controller"
	"fullery/disks/record"

	"github.com/spf13/cobra"
)

func newOrder() *cobra.Command {
	var bench string
	var looked bool
	c := &cobra.Command{
		Use:   "order hold|resume|dry|stop|abort|reset",
		Short: "Give an order to the cycle that runs on a bench that is served",
		Args:  wants(1, 1, "one order: hold, resume, dry, stop, abort or reset"),
		RunE: func(c *cobra.Command, args []string) error {
			b, err := readBench(bench)
			if err != nil {
				return err
			}
			o, err := orderNamed(args[0])
			if err != nil {
				return err
			}
			return giveOrder(b.Name, o, looked, c.OutOrStdout(), c.ErrOrStderr())
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file (default: the shipped simulated one)")
	c.Flags().BoolVar(&looked, "looked", false, "say that you looked at bench and disk")
	return c
}

// orderNamed reads an order that a person may give to a cycle.
func orderNamed(name string) (controller.Order, error) {
	for o := controller.Hold; o <= controller.Reset; o++ {
		if o.String() == name {
			return o, nil
		}
	}
	return controller.NoOrder, said(statusUsage, "%q is no order; there are hold, resume, dry, stop, abort and reset", name)
}

// giveOrder sends an order to the owner of a bench, and prints what came of it.
func giveOrder(bench string, o controller.Order, looked bool, out, errs io.Writer) error {
	conn, found, err := dial(bench)
	switch {
	case conn == nil && found:
		return said(statusPersonal, "bench %q is owned by a process that does not answer (%v): fullery off", bench, err)
	case conn == nil:
		return said(statusNo, "Nobody serves bench %q: there is no cycle to give an order to.", bench)
	}
	defer conn.Close()
	_ = conn.SetDeadline(time.Now().Add(orderWithin + askFor))
	word := ""
	if looked {
		word = " looked"
	}
	if _, err := fmt.Fprintf(conn, "order %s%s\n", o, word); err != nil {
		return said(statusPersonal, "bench %q is owned by a process that does not answer (%v): fullery off", bench, err)
	}
	return followAnswer(conn, out, errs)
}

// orderWithin is how long an order may take to be carried out or refused; a tick is a twentieth of a second.
const orderWithin = 3 * time.Second

// purgeAtMost is how long a fan clears vapour that a cycle which was cut short left behind.
const purgeAtMost = "two minutes"

// waiting is an order whose answer somebody waits for.
type waiting struct {
	order controller.Order
	heard chan controller.Event
}

// orderWatch hands the events of orders to whoever waits for one. It is a watcher.
type orderWatch struct{ by atomic.Pointer[waiting] }

// Watch looks for the answer.
func (a *orderWatch) Watch(t *controller.Tick) {
	w := a.by.Load()
	if w == nil {
		return
	}
	for _, ev := range t.Outputs.Events.All() {
		if (ev.Kind == controller.OrderTaken || ev.Kind == controller.OrderRefused) && ev.Order == w.order && a.by.CompareAndSwap(w, nil) {
			w.heard <- ev // it has room for one
		}
	}
}

// order gives an order to the cycle that runs, or chooses what becomes of one that was cut short.
func (s *station) order(text string, a answer) error {
	name, rest, _ := strings.Cut(text, " ")
	o, err := orderNamed(name)
	if err != nil {
		return err
	}
	looked := rest == "looked"
	s.mu.Lock()
	j, cut, open := s.busy, s.cut, s.open
	s.mu.Unlock()
	switch {
	case !open:
		return s.notYet()
	case j == nil && cut != nil:
		return s.choose(o, looked, cut, a)
	case j == nil:
		return said(statusNo, "Bench %q: no cycle runs. Every output is off.", s.bench.Name)
	case !j.looping.Load():
		return said(statusPersonal, "Nothing moves yet; after a failure the fan clears vapour first, for %s at most. Give the order "+
			"again then, or: fullery off", purgeAtMost)
	}
	return j.obey(controller.Command{Order: o, Looked: looked}, a)
}

// choose begins what a person chose for a cycle that was cut short. What comes of it goes into the journal.
func (s *station) choose(o controller.Order, looked bool, cut *record.Cut, a answer) error {
	choice, ok := chosen(o)
	switch {
	case !ok:
		return said(statusNo, "Bench %q is held. %s", s.bench.Name, sayHeld(cut))
	case !looked && (o == controller.Resume || o == controller.ToDry):
		return said(statusPersonal, "Look at bench and disk first, then say so: fullery order %s --looked", o)
	}
	j, err := s.take(handover{BenchText: s.bench.Text, Cut: string(choice), Recipe: cut.Recipe, RecipeText: cut.RecipeText}, s.log, s.log)
	if err != nil {
		return err
	}
	go func() {
		if err := <-j.result; err != nil && err.Error() != "" {
			s.log.printf("%v", err)
		}
	}()
	fmt.Fprintf(a.out(), "Order taken: %s. Cycle %d goes on with it.\n", o, j.cycle.Number())
	return nil
}

// obey gives an order to a cycle and waits for what comes of it.
func (j *job) obey(command controller.Command, a answer) error {
	w := &waiting{command.Order, make(chan controller.Event, 1)}
	if !j.asked.by.CompareAndSwap(nil, w) {
		return said(statusPersonal, "another order is being given at this moment: look what came of it, then give yours")
	}
	defer j.asked.by.CompareAndSwap(w, nil)
	if command.Order == controller.Stop || command.Order == controller.Abort {
		j.wishes.never.Store(true)
	}
	select {
	case j.orders <- command:
	default:
		return said(statusPersonal, "the orders before this one were not taken yet: fullery off")
	}
	select {
	case ev := <-w.heard:
		if ev.Kind == controller.OrderTaken {
			fmt.Fprintln(a.out(), j.program.Say(ev))
			return nil
		}
		status := statusPersonal
		if ev.Refusal == controller.WrongState {
			status = statusNo
		}
		if ev.Refusal == controller.LookFirst {
			return said(status, "%s That is: fullery order %s --looked", j.program.Say(ev), ev.Order)
		}
		return said(status, "%s", j.program.Say(ev))
	case <-j.ran:
		return said(statusNo, "The cycle has just ended: %s.", j.came)
	case <-time.After(orderWithin):
		return said(statusPersonal, "the cycle did not answer the order: fullery off")
	}
}
