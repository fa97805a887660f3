package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"strings"
	"time"

	"fullery/controller"
	"fullery/disks/record"
	"fullery/recipe"

	"github.com/spf13/cobra"
)

// A cycle is handed over: by "fullery run", when another process serves the bench, to that process.

// handover is a cycle that is handed over.
type handover struct {
	Recipe      string   `json:"recipe"`
	RecipeText  string   `json:"recipe_text"`
	BenchText   string   `json:"bench_text"`
	Disk        string   `json:"disk,omitempty"`
	Fast        string   `json:"fast,omitempty"`
	Faults      []string `json:"faults,omitempty"`
	Orders      []string `json:"orders,omitempty"`
	Cut         string   `json:"cut,omitempty"`
	ChangedOver bool     `json:"changed_over,omitempty"`
	TrustCells  bool     `json:"trust_cells,omitempty"`
	Acknowledge bool     `json:"acknowledge,omitempty"`
	JSON        bool     `json:"json,omitempty"`
	Named       bool     `json:"named,omitempty"`
}

// handOver hands a cycle to the process that owns the bench, and follows it. There is no owner: handed is false.
func handOver(c *cobra.Command, r recipe.Recipe, b recipe.Bench, f runFlags, named bool) (handed bool, err error) {
	conn, found, err := dial(b.Name)
	if conn == nil {
		if found {
			return true, said(statusPersonal, "bench %q is owned by a process that does not answer (%v): fullery off", b.Name, err)
		}
		return false, nil
	}
	defer conn.Close()
	if f.record != "" || f.freshRecord {
		return true, said(statusUsage, "bench %q is owned by another process, which has its own record: leave --record and "+
			"--fresh-record out", b.Name)
	}
	h := handover{Recipe: r.Name, RecipeText: r.Text, BenchText: b.Text, Disk: f.disk, Fast: f.fast, Faults: f.faults,
		Orders: f.orders, Cut: f.cut, ChangedOver: f.changedOver, TrustCells: f.trustCells, Acknowledge: f.acknowledge, JSON: f.json, Named: named}
	text, err := json.Marshal(h)
	if err != nil {
		return true, err
	}
	if len(text) > longestAsked/2 {
		return true, said(statusUsage, "recipe and bench file are too long to be handed over")
	}
	if _, err := fmt.Fprintf(conn, "run %s\n", text); err != nil {
		return true, said(statusPersonal, "bench %q is owned by a process that does not answer (%v): fullery off", b.Name, err)
	}
	defer stopOnSignal(c, b.Name, conn)()
	return true, followAnswer(conn, c.OutOrStdout(), c.ErrOrStderr())
}

// stopOnSignal makes the first signal an order to stop, and the second leave the cycle to its owner.
func stopOnSignal(c *cobra.Command, bench string, conn net.Conn) (undo func()) {
	return onSignals(func() {
		if err := giveOrder(bench, controller.Stop, false, c.OutOrStdout(), c.ErrOrStderr()); err != nil {
			fmt.Fprintln(c.ErrOrStderr(), "The order to stop did not arrive:", err)
		}
	}, func() {
		fmt.Fprintln(c.ErrOrStderr(), "Left: the owner of the bench goes on with what it was asked.")
		conn.Close()
	})
}

// answer is how a station answers what another process asks.
func (s *station) answer(asked string, conn net.Conn) {
	what, rest, _ := strings.Cut(asked, " ")
	a := answer{conn}
	switch what {
	case "off":
		fmt.Fprintln(conn, s.off())
	case "order":
		a.end(s.order(rest, a))
	case "run":
		a.end(s.hear(rest, a))
	default:
		a.end(said(statusUsage, "the owner of the bench does not understand this: it is of another version"))
	}
}

// off aborts what runs.
func (s *station) off() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.busy == nil {
		return "Bench " + s.bench.Name + ": no cycle runs. Everything is off but a fan that clears vapour."
	}
	return s.busy.off()
}

// hear takes a cycle that is handed over, and waits until it has ended.
func (s *station) hear(text string, a answer) error {
	var h handover
	if err := json.Unmarshal([]byte(text), &h); err != nil {
		return said(statusUsage, "what was handed over cannot be read: %v", err)
	}
	j, err := s.take(h, a.out(), a.errs())
	if err != nil {
		return err
	}
	return <-j.result
}

// take makes a cycle ready and hands it to the loop.
func (s *station) take(h handover, out, errs io.Writer) (*job, error) {
	c := &cobra.Command{}
	c.SetOut(out)
	c.SetErr(errs)
	c.SetIn(strings.NewReader(""))
	j := &job{at: s, command: c, result: make(chan error, 1), ran: make(chan struct{}), bench: s.bench, record: s.record, orders: make(chan controller.Command, 4),
		flags: runFlags{disk: h.Disk, fast: h.Fast, faults: h.Faults, orders: h.Orders, cut: h.Cut, changedOver: h.ChangedOver,
			trustCells: h.TrustCells, acknowledge: h.Acknowledge, json: h.JSON}}
	if h.Named {
		j.named = h.Recipe
	}
	if s.board != nil {
		j.plant, j.board = s.board, s.board
	}
	if err := s.reserve(j); err != nil {
		return nil, err
	}
	if err := s.prepare(c, j, h); err != nil {
		s.release()
		return nil, err
	}
	s.mu.Lock()
	s.number = j.cycle.Number()
	s.mu.Unlock()
	s.jobs <- j
	return j, nil
}

// reserve makes j the one job of the station, or tells what is in its way.
func (s *station) reserve(j *job) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case !s.open:
		return s.notYet()
	case s.closing:
		return said(statusPersonal, "bench %q is being let go: wait until it is, or until it is served again", s.bench.Name)
	case s.busy != nil && s.number != 0:
		return said(statusPersonal, "bench %q is busy with cycle %d: wait until it has ended, or end it with: fullery order stop",
			s.bench.Name, s.number)
	case s.busy != nil:
		return said(statusPersonal, "bench %q is busy: somebody else has just handed over a cycle", s.bench.Name)
	}
	s.busy = j
	return nil
}

// notYet is the answer while the record is still being opened.
func (s *station) notYet() error {
	return said(statusPersonal, "bench %q has only just been claimed: try again in a moment", s.bench.Name)
}

func (s *station) release() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.busy = nil
}

// prepareWithin bounds how long a cycle may take to be made ready.
const prepareWithin = time.Minute

// prepare does for a job that was handed over what run does for its own.
func (s *station) prepare(c *cobra.Command, j *job, h handover) error {
	if h.BenchText != s.bench.Text {
		return said(statusUsage, "bench %q is served with another bench file than this one: restart the service that owns it, or give "+
			"the file that it has", s.bench.Name)
	}
	if cut := s.heldBy(); j.flags.cut == "" && cut != nil {
		return said(statusPersonal, "Bench %q is held. %s", s.bench.Name, sayHeld(cut))
	}
	r, problems := recipe.Read(h.Recipe+".toml", []byte(h.RecipeText))
	if err := refused(problems); err != nil {
		return err
	}
	if err := record.CheckSpace(s.record.Path()); err != nil {
		return withStatus(statusPersonal, err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), prepareWithin)
	defer cancel()
	if err := j.ready(ctx, c, &r, j.parseOrders); err != nil {
		return err
	}
	if j.cut != nil && j.program.Flammable() {
		fmt.Fprintln(c.ErrOrStderr(), "The fan clears the vapour first, if it has not done so yet.")
	}
	return nil
}

// heldBy is the cycle that holds the bench since a failure, or nil.
func (s *station) heldBy() *record.Cut {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.cut
}
