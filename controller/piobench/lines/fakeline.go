package lines

import (
	"context"
	"fmt"
	"os"
	"slices"
	"syscall"
	"time"
)

// fakeDevice is an open chip of a Fake.
type fakeDevice struct {
	fake *Fake
	chip *FakeChip
}

// Close does nothing: there is no descriptor.
func (d fakeDevice) Close() error { return nil }

// Info tells about the chip.
func (d fakeDevice) Info() (ChipInfo, error) {
	return ChipInfo{Name: d.chip.Name, Label: d.chip.Label, Lines: len(d.chip.Lines)}, nil
}

// Line tells about a line; one with a consumer is used.
func (d fakeDevice) Line(offset int) (LineInfo, error) {
	d.fake.mu.Lock()
	defer d.fake.mu.Unlock()
	if offset < 0 || offset >= len(d.chip.Lines) {
		return LineInfo{}, syscall.EINVAL
	}
	l := d.chip.Lines[offset]
	info := LineInfo{Offset: offset, Name: l.Name, Consumer: l.Consumer, Flags: l.flags}
	if l.Consumer != "" {
		info.Flags |= FlagUsed
	}
	return info, nil
}

// Request does what the kernel does, in one step: the direction and the first value of an output become true together.
func (d fakeDevice) Request(r Request) (Held, error) {
	f := d.fake
	f.mu.Lock()
	defer f.mu.Unlock()
	f.requests = append(f.requests, r)
	if r.Offset < 0 || r.Offset >= len(d.chip.Lines) || len(r.Consumer) > 31 {
		return nil, syscall.EINVAL
	}
	l := &d.chip.Lines[r.Offset]
	if l.Consumer != "" {
		return nil, syscall.EBUSY
	}
	l.Consumer, l.flags = r.Consumer, r.Flags
	// An input shows what is wired to it. An output has its value at once: there is no moment in between to be seen.
	high := l.Pull
	if r.Flags&FlagOutput != 0 {
		high = r.Active != (r.Flags&FlagActiveLow != 0)
	}
	f.put(d.chip, r.Offset, high, "request")
	h := &fakeHeld{fake: f, chip: d.chip, request: r, more: make(chan struct{}, 1), gone: make(chan struct{})}
	f.held = append(f.held, h)
	return h, nil
}

// fakeHeld is a claimed line of a Fake.
type fakeHeld struct {
	fake    *Fake
	chip    *FakeChip
	request Request
	edges   []Edge
	seq     uint32
	more    chan struct{} // holds a token when edges may have come
	gone    chan struct{}
	closed  bool
}

// Value reads the physical level and turns it by the polarity of the request.
func (h *fakeHeld) Value() (bool, error) {
	h.fake.mu.Lock()
	defer h.fake.mu.Unlock()
	if err := h.trouble(); err != nil {
		return false, err
	}
	return h.chip.Lines[h.request.Offset].level != (h.request.Flags&FlagActiveLow != 0), nil
}

// SetValue drives an output; on an input it is refused, as by the kernel.
func (h *fakeHeld) SetValue(active bool) error {
	h.fake.mu.Lock()
	defer h.fake.mu.Unlock()
	if err := h.trouble(); err != nil {
		return err
	}
	if h.request.Flags&FlagOutput == 0 {
		return syscall.EPERM
	}
	h.fake.put(h.chip, h.request.Offset, active != (h.request.Flags&FlagActiveLow != 0), "set")
	return nil
}

// trouble is why nothing can be done with the line. The fake is locked.
func (h *fakeHeld) trouble() error {
	if h.closed {
		return os.ErrClosed
	}
	return h.fake.failing
}

// note keeps an edge, and drops the oldest when the buffer is full, as the kernel does. The fake is locked.
func (h *fakeHeld) note(at time.Duration, rising bool) {
	want := FlagEdgeFalling
	if rising {
		want = FlagEdgeRising
	}
	if h.request.Flags&want == 0 {
		return
	}
	h.seq++
	if most := max(h.request.Buffer, 16); len(h.edges) >= most {
		h.edges = slices.Delete(h.edges, 0, 1)
	}
	h.edges = append(h.edges, Edge{At: at, Rising: rising, Seq: h.seq})
	select {
	case h.more <- struct{}{}:
	default:
	}
}

// Edges waits on channels only, so that it works with a clock of the test's own (testing/synctest).
func (h *fakeHeld) Edges(ctx context.Context, buf []Edge) (int, error) {
	for {
		h.fake.mu.Lock()
		closed, n := h.closed, copy(buf, h.edges)
		h.edges = slices.Delete(h.edges, 0, n)
		h.fake.mu.Unlock()
		if closed {
			return 0, os.ErrClosed
		}
		if n > 0 {
			return n, nil
		}
		select {
		case <-ctx.Done():
			return 0, ctx.Err()
		case <-h.gone:
		case <-h.more:
		}
	}
}

// Close releases the line: an output keeps its level or becomes an input at its pull, as the fake is told.
func (h *fakeHeld) Close() error {
	f := h.fake
	f.mu.Lock()
	defer f.mu.Unlock()
	if h.closed {
		return fmt.Errorf("line %d: %w", h.request.Offset, os.ErrClosed)
	}
	h.closed = true
	close(h.gone)
	f.held = slices.DeleteFunc(f.held, func(other *fakeHeld) bool { return other == h })
	l := &h.chip.Lines[h.request.Offset]
	l.Consumer = ""
	// Polarity, pull and edges belong to the request and go with it; the direction is the pin's and stays.
	l.flags &= FlagOutput | FlagInput
	if l.flags&FlagOutput != 0 && f.TurnToInput {
		l.flags = FlagInput
		f.put(h.chip, h.request.Offset, l.Pull, "release")
		return nil
	}
	f.put(h.chip, h.request.Offset, l.level, "release")
	return nil
}
