package lines

import (
	"context"
	"fmt"
	"strings"
	"time"
)

// Kernel is what this package asks of the GPIO character devices. System gives the real one, Fake one for tests.
//
// The real one and the fake are behind the same interface, so that the tests above run the code that drives a board.
type Kernel interface {
	// Nodes lists the paths of the chips' device nodes, links included.
	Nodes() ([]string, error)
	// Open opens one of them. An error that is fs.ErrPermission means that the user may not.
	Open(node string) (Device, error)
	// Now reads the clock that stamps edges: CLOCK_MONOTONIC.
	Now() time.Duration
}

// Device is an open chip. It stays the same chip even when the numbers of the nodes change.
type Device interface {
	// Info tells about the chip.
	Info() (ChipInfo, error)
	// Line tells about a line without claiming or changing it.
	Line(offset int) (LineInfo, error)
	// Request claims one line. A line that somebody holds is syscall.EBUSY.
	Request(Request) (Held, error)
	// Close lets go of the chip; lines that are held stay held.
	Close() error
}

// Held is a claimed line. There is deliberately no way to configure it anew.
type Held interface {
	// Value reads the line: true is active. It changes nothing, on an output neither.
	Value() (bool, error)
	// SetValue drives an output: true is active.
	SetValue(active bool) error
	// Edges waits for edges and copies them, oldest first, without Lost. It ends with the context's error, or with
	// os.ErrClosed after Close.
	Edges(ctx context.Context, buf []Edge) (int, error)
	// Close releases the line and leaves its level to the chip.
	Close() error
}

// ChipInfo is what the kernel says about a chip.
type ChipInfo struct {
	Name  string // the kernel's own, "gpiochip0": unique, and the same through every link, but not steady over updates
	Label string // what the chip is: steady
	Lines int    // offsets run from 0 to Lines-1
}

// Request asks for one line.
type Request struct {
	Offset   int
	Consumer string // shown to everybody who asks who holds the line; the kernel keeps 31 bytes
	Flags    Flags
	Active   bool // the value that an output has from its first moment on; false is inactive for both polarities
	Buffer   int  // edges that the kernel keeps for us; 0 leaves it to the kernel (16, from memory)
}

// Edge is one change of an input.
type Edge struct {
	At     time.Duration // when, on CLOCK_MONOTONIC, stamped by the kernel
	Rising bool          // from low to high
	Seq    uint32        // number of this edge on its line, from 1, with those that got lost
	Lost   uint32        // edges before this one that nobody fetched in time
}

// Flags are the kernel's properties of a line, as in linux/gpio.h (enum gpio_v2_line_flag).
type Flags uint64

// The flags that this package uses or tells about.
const (
	FlagUsed Flags = 1 << iota
	FlagActiveLow
	FlagInput
	FlagOutput
	FlagEdgeRising
	FlagEdgeFalling
	FlagOpenDrain
	FlagOpenSource
	FlagPullUp
	FlagPullDown
	FlagBiasDisabled
)

var flagNames = []string{"used", "active low", "input", "output", "rising edges", "falling edges", "open drain",
	"open source", "pull-up", "pull-down", "no pull"}

// String lists the flags in words.
func (f Flags) String() string {
	var words []string
	for bit, name := range flagNames {
		if f&(1<<bit) != 0 {
			words = append(words, name)
		}
	}
	return strings.Join(words, ", ")
}

// LineInfo is what the kernel says about a line.
type LineInfo struct {
	Offset   int
	Name     string // "" on many chips
	Consumer string // who holds it; may be "" although it is used
	Flags    Flags
}

// String names the line and tells what it is and who holds it.
func (l LineInfo) String() string {
	text := fmt.Sprintf("line %d", l.Offset)
	if l.Name != "" {
		text += fmt.Sprintf(" %q", l.Name)
	}
	if l.Flags != 0 {
		text += ": " + l.Flags.String()
	}
	if l.Consumer != "" {
		text += fmt.Sprintf(", held by %q", l.Consumer)
	}
	return text
}
