package live

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/x/term"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
)

// perFrame is the time between two pictures.
const perFrame = time.Second / 15

// Options is what Show needs beside the feed.
type Options struct {
	Disk   string                    // what the operator called it; empty when not told
	Cycle  string                    // its number in the record; empty when there is none
	Pace   string                    // "simulated, 200 × real time"; empty on a real bench
	Orders chan<- controller.Command // nil: watching only
	In     io.Reader                 // nil: standard input
	Out    io.Writer                 // nil: standard output
}

// ErrLeft tells that the person left the view with ctrl-c after stop and abort had been asked for and the cycle did
// not end. The caller should end the loop, which switches every output off.
var ErrLeft = errors.New("the view was left before the cycle had ended")

// Terminal tells whether a view can be shown: both files are terminals, and of a kind that can move its cursor.
// Otherwise Plain is the thing to use.
func Terminal(in, out *os.File, getenv func(string) string) bool {
	kind := getenv("TERM")
	return kind != "" && kind != "dumb" && term.IsTerminal(in.Fd()) && term.IsTerminal(out.Fd())
}

// Show draws the cycle in the terminal, and sends the operator's orders, until the feed is done or the context ends.
// The last picture stays on the terminal. The error is nil when the feed was done, the context's cause, ErrLeft, or
// what the terminal had to say; in every case the loop goes on and the caller decides.
func Show(ctx context.Context, feed *Feed, o Options) error {
	return show(ctx, feed, o)
}

// show is Show with what a test has to set.
func show(ctx context.Context, feed *Feed, o Options, more ...tea.ProgramOption) error {
	settings := []tea.ProgramOption{tea.WithoutSignalHandler(), tea.WithFPS(30)}
	if o.In != nil {
		settings = append(settings, tea.WithInput(o.In))
	}
	if o.Out == nil {
		o.Out = os.Stdout
	}
	program := tea.NewProgram(newModel(feed, o), append(append(settings, tea.WithOutput(o.Out)), more...)...)

	left := make(chan struct{})
	var wait sync.WaitGroup
	wait.Go(func() { frames(ctx, feed, program, left) })
	last, err := program.Run()
	close(left)
	wait.Wait()

	m, ok := last.(*model)
	if !ok || err != nil {
		return fmt.Errorf("the terminal view failed (%w): the cycle goes on without it", err)
	}
	if err := m.leave(o.Out); err != nil {
		return fmt.Errorf("the last picture could not be written: %w", err)
	}
	if m.left {
		return ErrLeft
	}
	select {
	case <-feed.done:
		return nil
	default:
		return context.Cause(ctx)
	}
}

// frame asks for a new picture; over says that nothing more will come.
type (
	frame struct{}
	over  struct{}
)

// frames sends the beat of the pictures. It ends with the view, which takes no message any more by then.
func frames(ctx context.Context, feed *Feed, program *tea.Program, left <-chan struct{}) {
	beat := time.NewTicker(perFrame)
	defer beat.Stop()
	for {
		select {
		case <-beat.C:
			program.Send(frame{})
		case <-feed.done:
			program.Send(over{})
			return
		case <-ctx.Done():
			program.Send(over{})
			return
		case <-left:
			return
		}
	}
}

// leave writes the last picture where it stays.
func (m *model) leave(out io.Writer) error {
	_, err := io.WriteString(out, draw.ANSI(m.last(), m.colours)+"\n")
	return err
}
