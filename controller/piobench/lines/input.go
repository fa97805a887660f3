package lines

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
)

// Bias is what pulls an input inside the chip. It must be declared: a contact on a floating line reads anything.
type Bias uint8

// The kinds of bias. A chip without pulls accepts PullUp and PullDown and does nothing (seen with one driver), so that the
// kernel's consent proves nothing; the self-test with the contact open does.
const (
	Undeclared Bias = iota
	PullUp
	PullDown
	NoPull // pulled outside the chip
)

// biasFlags are what each bias is to the kernel. Undeclared has no entry that is used: Input refuses it.
var biasFlags = [...]Flags{PullUp: FlagPullUp, PullDown: FlagPullDown, NoPull: FlagBiasDisabled}

// Watch chooses the edges that an input collects.
type Watch uint8

// The choices. Rising is from low to high.
const (
	NoEdges Watch = iota
	RisingEdges
	FallingEdges
	BothEdges
)

var watchFlags = [...]Flags{RisingEdges: FlagEdgeRising, FallingEdges: FlagEdgeFalling,
	BothEdges: FlagEdgeRising | FlagEdgeFalling}

// buffer is how many edges the kernel keeps until they are fetched: more than a second of a fan at 3000 rpm with two
// pulses a turn. When it is full the kernel drops the oldest.
const buffer = 256

// Input is a claimed input. Its methods may be called from several goroutines; it starts none of its own.
type Input struct {
	chip   *Chip
	role   string
	offset int
	watch  Watch

	mu     sync.Mutex
	held   Held // nil after Close
	closed error

	watching sync.Mutex // one reader of edges at a time: two would each see a part and take the rest for lost
	last     uint32     // sequence number of the last edge; owned by whoever holds watching
}

// Input claims a line as an input for a role of the bench ("lid"). Levels and edges are electrical, high or low: what a
// high line means is for the caller to know.
func (c *Chip) Input(offset int, role string, bias Bias, watch Watch) (*Input, error) {
	if bias == Undeclared || int(bias) >= len(biasFlags) || int(watch) >= len(watchFlags) {
		return nil, fmt.Errorf("%s: say what pulls line %d of %s when its contact is open: the chip's own pull-up or "+
			"pull-down, or a resistor outside", role, offset, c.info.Label)
	}
	r := Request{Offset: offset, Flags: FlagInput | biasFlags[bias] | watchFlags[watch]}
	if watch != NoEdges {
		r.Buffer = buffer
	}
	held, err := c.request(role, r)
	if err != nil {
		return nil, err
	}
	return &Input{chip: c, role: role, offset: offset, watch: watch, held: held}, nil
}

// Role returns what the input is for.
func (in *Input) Role() string { return in.role }

// High reads the line: true at logic high.
func (in *Input) High() (bool, error) {
	held := in.holding()
	if held == nil {
		return false, in.released()
	}
	high, err := held.Value()
	if err != nil {
		return false, in.unreadable(err)
	}
	return high, nil
}

// Info asks the kernel what the line is now.
func (in *Input) Info() (LineInfo, error) { return in.chip.Info(in.offset) }

// Edges hands every edge to each, in order, on the caller's goroutine, until the context ends (it returns its error) or
// the input is closed (it returns nil). Edges made while nobody calls it wait in the kernel, as many as its buffer holds;
// what did not fit is counted in the next edge's Lost. Only one call at a time may run.
func (in *Input) Edges(ctx context.Context, each func(Edge)) error {
	if in.watch == NoEdges {
		return fmt.Errorf("%s: line %d of %s was not claimed for edges", in.role, in.offset, in.chip.info.Label)
	}
	if !in.watching.TryLock() {
		return fmt.Errorf("%s: the edges of line %d of %s are being fetched already", in.role, in.offset, in.chip.info.Label)
	}
	defer in.watching.Unlock()
	var batch [16]Edge // bounded: a slow each leaves the rest in the kernel, whose buffer is bounded as well
	for ctx.Err() == nil {
		held := in.holding()
		if held == nil {
			return nil
		}
		n, err := held.Edges(ctx, batch[:])
		for _, e := range batch[:n] {
			e.Lost = e.Seq - in.last - 1
			in.last = e.Seq
			each(e)
		}
		if errors.Is(err, os.ErrClosed) {
			return nil
		}
		if err != nil && ctx.Err() == nil {
			return in.unreadable(err)
		}
	}
	return context.Cause(ctx)
}

// Close releases the line and ends a running Edges. Further calls do nothing and return the same.
func (in *Input) Close() error {
	in.mu.Lock()
	defer in.mu.Unlock()
	if in.held == nil {
		return in.closed
	}
	if err := in.held.Close(); err != nil {
		in.closed = fmt.Errorf("%s: line %d of %s could not be released: %w", in.role, in.offset, in.chip.info.Label, err)
	}
	in.held = nil
	return in.closed
}

// holding returns the claimed line, or nil after Close. The lock is not kept while the kernel is asked, so that Close can
// end a reader that waits.
func (in *Input) holding() Held {
	in.mu.Lock()
	defer in.mu.Unlock()
	return in.held
}

// released is what every call after Close gets.
func (in *Input) released() error {
	return fmt.Errorf("%s: line %d of %s has been released", in.role, in.offset, in.chip.info.Label)
}

// unreadable tells which contact it is that gives no reading. A level that could not be read is never low or high.
func (in *Input) unreadable(err error) error {
	return fmt.Errorf("%s: line %d of %s cannot be read: %w", in.role, in.offset, in.chip.info.Label, err)
}
