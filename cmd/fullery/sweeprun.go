package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"fullery/controller/sweep"

	"github.com/charmbracelet/x/term"
)

// pool runs the cycles of a sweep on several cores.
type pool struct {
	workers, draws int
	order          []int // candidates
	cycle          func(candidate, draw int) (sweep.Outcome, error)
}

// ended is one cycle that is over.
type ended struct {
	at, draw int // at counts along the order
	outcome  sweep.Outcome
	err      error
}

// run works along the order, all draws of a candidate after each other, until all is done or the context ends; a cycle
// that has begun is finished. ran is told of every cycle, finished of every candidate, both on the goroutine of the
// caller, and candidates always along the order, so that what was finished does not depend on the number of workers. An
// error of finished stops it.
func (p pool) run(ctx context.Context, ran func(), finished func(candidate int, all []sweep.Outcome) error) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	results := make(chan ended)
	var next atomic.Int64
	var working sync.WaitGroup
	for range max(p.workers, 1) {
		working.Go(func() {
			for ctx.Err() == nil {
				job := int(next.Add(1)) - 1
				if job >= len(p.order)*p.draws {
					return
				}
				e := ended{at: job / p.draws, draw: job % p.draws}
				e.outcome, e.err = p.cycle(p.order[e.at], e.draw)
				results <- e
			}
		})
	}
	go func() { working.Wait(); close(results) }()
	g := gathering{pool: p, ran: ran, finished: finished, all: map[int][]sweep.Outcome{}, left: map[int]int{}}
	var failed error
	for e := range results { // to the end, whatever happens: the workers wait for it
		if failed == nil {
			if failed = g.take(e); failed != nil {
				cancel(failed)
			}
		}
	}
	return failed
}

// gathering collects outcomes until candidates are whole.
type gathering struct {
	pool
	ran      func()
	finished func(candidate int, all []sweep.Outcome) error
	all      map[int][]sweep.Outcome
	left     map[int]int
	whole    int // candidates along the order that are finished
}

// take notes one cycle, and hands over every candidate along the order that is whole with it.
func (g *gathering) take(e ended) error {
	if e.err != nil {
		return e.err
	}
	if g.all[e.at] == nil {
		g.all[e.at], g.left[e.at] = make([]sweep.Outcome, g.draws), g.draws
	}
	g.all[e.at][e.draw] = e.outcome
	g.left[e.at]--
	g.ran()
	for g.all[g.whole] != nil && g.left[g.whole] == 0 {
		if err := g.finished(g.order[g.whole], g.all[g.whole]); err != nil {
			return err
		}
		delete(g.all, g.whole)
		g.whole++
	}
	return nil
}

// run runs what a file does not have yet, writes every finished candidate, and follows the progress.
func (s *sweeping) run(ctx context.Context, workers int, file *sweepFile, p *progress) error {
	todo := s.order[s.resumed:]
	work := pool{workers: workers, draws: s.flags.draws, order: todo, cycle: func(candidate, draw int) (sweep.Outcome, error) {
		c := s.candidates[candidate]
		spec, err := s.draws.Bench(s.bench, c.Recipe, draw)
		if err != nil {
			return sweep.Outcome{}, err
		}
		return sweep.Run(c, spec)
	}}
	p.begin()
	err := work.run(ctx, func() { s.ran++; p.at(s.ran) }, func(candidate int, all []sweep.Outcome) error {
		row := encodeRow(candidate, s.candidates[candidate].Choice, sweep.Sum(all))
		if err := file.put(row); err != nil {
			return err
		}
		return s.take(candidate, row)
	})
	p.end()
	return err
}

// take notes a finished candidate by its row: what is shown is what is written.
func (s *sweeping) take(candidate int, row []string) error {
	figures, err := decodeRow(row, s.flags.draws)
	if err != nil {
		return err
	}
	s.results[candidate] = sweep.Result{Choice: s.candidates[candidate].Choice, Figures: figures}
	s.done[candidate] = true
	s.finished++
	return nil
}

// progress tells on stderr how far a sweep is: in a terminal on one line that is drawn again, elsewhere in a line now
// and then.
type progress struct {
	w       io.Writer
	s       *sweeping
	live    bool
	start   time.Time
	drawn   time.Time
	tenth   int
	already int
}

// newProgress draws one line again and again only where somebody sees it.
func newProgress(w io.Writer, s *sweeping) *progress {
	f, ok := w.(*os.File)
	return &progress{w: w, s: s, live: ok && term.IsTerminal(f.Fd())}
}

// begin says what will be done.
func (p *progress) begin() {
	p.start, p.already = time.Now(), p.s.ran
	p.tenth = p.s.ran * 10 / p.s.cycles()
	skipped := ""
	if n := len(p.s.skipped); n > 0 {
		skipped = fmt.Sprintf(" Besides, %s cannot be run.", choicesWord(n))
	}
	fmt.Fprintf(p.w, "%s, %s each: %d cycles.%s%s\n", choicesWord(len(p.s.candidates)), benchesWord(p.s.flags.draws),
		p.s.cycles(), skipped, counted(p.s.ran, " %d cycles are in the file already."))
}

// counted is a sentence about a number of things, or nothing when there are none.
func counted(n int, sentence string) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(sentence, n)
}

// at tells how many cycles are over.
func (p *progress) at(ran int) {
	all := p.s.cycles()
	if !p.live {
		if tenth := ran * 10 / all; tenth > p.tenth {
			p.tenth = tenth
			fmt.Fprintf(p.w, "%3d %%: %d of %d cycles\n", tenth*10, ran, all)
		}
		return
	}
	const often = 200 * time.Millisecond
	if now := time.Now(); now.Sub(p.drawn) >= often || ran == all {
		p.drawn = now
		spent := now.Sub(p.start).Seconds()
		left := spent / float64(ran-p.already) * float64(all-ran)
		fmt.Fprintf(p.w, "\r%d of %d cycles, about %.0f s left; ctrl-c shows what there is\x1b[K", ran, all, left)
	}
}

// end leaves the line empty for what follows.
func (p *progress) end() {
	if p.live {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
