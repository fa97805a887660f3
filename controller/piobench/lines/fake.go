package lines

import (
	"io/fs"
	"slices"
	"sync"
	"syscall"
	"time"
)

// Fake is a kernel for tests, here and in the packages above: chips in memory that write down every physical level. It
// does what was seen of real drivers: one request sets direction and value together, a held line is busy, a released one
// keeps its level or becomes an input, edges that do not fit drop the oldest. It has no electricity.
//
// Its zero value has no chips. Set its fields before use; its methods may be called from several goroutines.
type Fake struct {
	TurnToInput bool                 // what a released output does: becomes an input (true) or keeps its level (false)
	Clock       func() time.Duration // stamps samples and edges; nil counts them in nanoseconds

	mu       sync.Mutex
	ticks    time.Duration
	nodes    []FakeNode
	chips    []*FakeChip
	trace    []Sample
	requests []Request
	held     []*fakeHeld
	failing  error
}

// FakeNode is a device node. Several may lead to one chip, as links do.
type FakeNode struct {
	Path   string
	Chip   string // the kernel's name of the chip
	Denied bool   // the user may not open it
}

// FakeChip is a chip with its lines.
type FakeChip struct {
	Name, Label string
	Lines       []FakeLine
}

// FakeLine is a line. Pull is its level while nobody drives it: by a resistor, or by what is wired to it.
type FakeLine struct {
	Name, Consumer string // a consumer from the start is somebody else
	Pull           bool

	flags Flags
	level bool
}

// Sample is the physical level of a line after something happened to it.
type Sample struct {
	At     time.Duration
	Chip   string // label
	Offset int
	High   bool
	Why    string // "request", "set", "release" or "outside"
}

// Add gives the fake a chip, with its lines at their pulls, and the nodes that lead to it: "/dev/NAME" when none is given.
func (f *Fake) Add(c FakeChip, nodes ...FakeNode) {
	f.mu.Lock()
	defer f.mu.Unlock()
	c.Lines = slices.Clone(c.Lines)
	for i := range c.Lines {
		c.Lines[i].level, c.Lines[i].flags = c.Lines[i].Pull, FlagInput
	}
	f.chips = append(f.chips, &c)
	if len(nodes) == 0 {
		nodes = []FakeNode{{Path: "/dev/" + c.Name, Chip: c.Name}}
	}
	f.nodes = append(f.nodes, nodes...)
}

// Link gives the fake more nodes: links to chips that it has, or to nothing.
func (f *Fake) Link(nodes ...FakeNode) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.nodes = append(f.nodes, nodes...)
}

// Drive sets the level of an input from outside, and makes its edge. An output keeps its level.
func (f *Fake) Drive(label string, offset int, high bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	c := f.chip(func(c *FakeChip) bool { return c.Label == label })
	l := &c.Lines[offset]
	l.Pull = high
	if l.flags&FlagOutput == 0 && l.level != high {
		f.put(c, offset, high, "outside")
		f.edge(c, offset, high)
	}
}

// High reads a physical level, as a meter on the wire does.
func (f *Fake) High(label string, offset int) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.chip(func(c *FakeChip) bool { return c.Label == label }).Lines[offset].level
}

// chip returns the first chip that is meant; one without lines when there is none, so that a test which names a wrong
// one fails at its line.
func (f *Fake) chip(is func(*FakeChip) bool) *FakeChip {
	if i := slices.IndexFunc(f.chips, is); i >= 0 {
		return f.chips[i]
	}
	return &FakeChip{}
}

// Trace returns every sample so far, oldest first.
func (f *Fake) Trace() []Sample {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.trace)
}

// Requests returns every request so far, those that were refused too.
func (f *Fake) Requests() []Request {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.requests)
}

// Kill releases every line without a word, as the kernel does for a process that was killed.
func (f *Fake) Kill() {
	f.mu.Lock()
	held := slices.Clone(f.held)
	f.mu.Unlock()
	for _, h := range held {
		_ = h.Close() // already closed is as good
	}
}

// Fail makes every later reading and setting of a line fail; nil ends that.
func (f *Fake) Fail(err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.failing = err
}

// Now reads the fake's clock.
func (f *Fake) Now() time.Duration {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.now()
}

// now stamps what happens. The fake is locked.
func (f *Fake) now() time.Duration {
	if f.Clock != nil {
		return f.Clock()
	}
	f.ticks++
	return f.ticks
}

// Nodes lists the nodes in the order in which they were added.
func (f *Fake) Nodes() ([]string, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	var paths []string
	for _, n := range f.nodes {
		paths = append(paths, n.Path)
	}
	return paths, nil
}

// Open opens a node.
func (f *Fake) Open(node string) (Device, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, n := range f.nodes {
		if n.Path != node {
			continue
		}
		if n.Denied {
			return nil, &fs.PathError{Op: "open", Path: node, Err: syscall.EACCES}
		}
		if c := f.chip(func(c *FakeChip) bool { return c.Name == n.Chip }); c.Name != "" {
			return fakeDevice{f, c}, nil
		}
	}
	return nil, &fs.PathError{Op: "open", Path: node, Err: syscall.ENOENT}
}

// put changes a level and writes it down. The fake is locked.
func (f *Fake) put(c *FakeChip, offset int, high bool, why string) {
	c.Lines[offset].level = high
	f.trace = append(f.trace, Sample{At: f.now(), Chip: c.Label, Offset: offset, High: high, Why: why})
}

// edge hands an edge to whoever holds the line and asked for it. The fake is locked.
func (f *Fake) edge(c *FakeChip, offset int, rising bool) {
	for _, h := range f.held {
		if h.chip == c && h.request.Offset == offset {
			h.note(f.now(), rising)
		}
	}
}
