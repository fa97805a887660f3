package live

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"strings"
	"sync"
	"testing"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/x/ansi"

	"fullery/controller"
)

// screenBuffer is an output that may be read while it is written.
type screenBuffer struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (b *screenBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.Write(p)
}

func (b *screenBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}

// showOn runs Show on a buffer with keys from a pipe.
func showOn(ctx context.Context, t *testing.T, feed *Feed, orders chan controller.Command, keys io.Reader) (string, error) {
	t.Helper()
	out := &screenBuffer{}
	err := show(ctx, feed, Options{Orders: orders, In: keys, Out: out, Disk: "SB-0147"}, tea.WithWindowSize(80, 24),
		tea.WithEnvironment([]string{"TERM=xterm-256color"}))
	return out.String(), err
}

// A whole cycle is followed to its end, and the last picture stays after the screen was given back.
func TestShowFollowsToTheEnd(t *testing.T) {
	p := program(t, "isopropanol-91")
	feed := NewFeed(p)
	var wait sync.WaitGroup
	wait.Go(func() {
		runFast(context.Background(), t, p, &bench{p: p}, nil, feed)
		feed.Done()
		feed.Done() // twice does no harm
	})
	out, err := showOn(context.Background(), t, feed, nil, strings.NewReader(""))
	wait.Wait()
	if err != nil {
		t.Fatal(err)
	}
	const leavesScreen = "\x1b[?1049l" // xterm: back from the alternate screen
	_, after, ok := strings.Cut(out, leavesScreen)
	if !ok {
		t.Fatalf("the screen was not given back: %q", tail(out))
	}
	if got := ansi.Strip(after); !strings.Contains(got, "COMPLETE  dry after") || !strings.Contains(got, "SB-0147") {
		t.Errorf("what stays is\n%s", got)
	}
}

func TestShowEndsWithItsContext(t *testing.T) {
	cause := errors.New("the power is going")
	ctx, cancel := context.WithCancelCause(context.Background())
	cancel(cause)
	if _, err := showOn(ctx, t, NewFeed(program(t, "isopropanol-91")), nil, strings.NewReader("")); !errors.Is(err, cause) {
		t.Errorf("Show: %v", err)
	}
}

// A key at the keyboard becomes an order, and ctrl-c in an idle view leaves it.
func TestShowTakesKeys(t *testing.T) {
	p := program(t, "isopropanol-91")
	feed := NewFeed(p)
	r := newRig(p, feed)
	r.step(controller.Command{})
	r.order(controller.Start)
	orders := make(chan controller.Command, 1)
	keys, hand := io.Pipe()
	var wait sync.WaitGroup
	wait.Go(func() {
		if _, err := hand.Write([]byte("h")); err != nil {
			t.Error(err)
		}
		if c := <-orders; c.Order != controller.Hold {
			t.Errorf("h gave %v", c.Order)
		}
		feed.Done()
		hand.Close()
	})
	_, err := showOn(context.Background(), t, feed, orders, keys)
	wait.Wait()
	if err != nil {
		t.Error(err)
	}
}

func TestShowCanBeLeft(t *testing.T) {
	feed := NewFeed(program(t, "isopropanol-91"))
	if _, err := showOn(context.Background(), t, feed, nil, strings.NewReader("\x03")); !errors.Is(err, ErrLeft) {
		t.Errorf("Show: %v", err)
	}
}

// An output that fails ends the view with an error, and nothing else.
func TestShowOnABrokenTerminal(t *testing.T) {
	feed := NewFeed(program(t, "isopropanol-91"))
	feed.Done()
	err := show(context.Background(), feed, Options{In: strings.NewReader(""), Out: broken{}}, tea.WithWindowSize(80, 24))
	if !errors.Is(err, errBroken) {
		t.Errorf("Show: %v", err)
	}
}

func TestTerminal(t *testing.T) {
	r, w, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	defer w.Close()
	for _, kind := range []string{"", "dumb", "xterm"} {
		if Terminal(r, w, func(string) string { return kind }) {
			t.Errorf("a pipe is taken for a terminal of kind %q", kind)
		}
	}
}
