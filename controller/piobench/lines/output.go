package lines

import (
	"errors"
	"fmt"
	"sync"
)

// Output is a claimed output. One request holds one line, so that an error names its load and one load can be let go
// without the others. Its methods may be called from several goroutines, so that whoever notices trouble can
// close it.
type Output struct {
	chip   *Chip
	role   string
	offset int

	mu     sync.Mutex // so that no Set comes between Close's switching off and its release
	held   Held       // nil after Close
	closed error      // what Close said
}

// Output claims a line as an output for a role of the bench ("pump"), which is off from the first moment: the request
// itself carries the inactive value, high for an active-low load and low for any other. It is off whatever the line was
// before. A line that is taken is refused with the name of its holder.
func (c *Chip) Output(offset int, role string, activeLow bool) (*Output, error) {
	flags := FlagOutput
	if activeLow {
		flags |= FlagActiveLow
	}
	held, err := c.request(role, Request{Offset: offset, Flags: flags, Active: false})
	if err != nil {
		return nil, err
	}
	return &Output{chip: c, role: role, offset: offset, held: held}, nil
}

// Role returns what the output is for.
func (o *Output) Role() string { return o.role }

// Set switches the load on or off. It writes even what is so already: if something else has changed the chip, the next
// tick puts it right. After Close it is an error.
func (o *Output) Set(on bool) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.held == nil {
		return o.released()
	}
	if err := o.held.SetValue(on); err != nil {
		return fmt.Errorf("%s: line %d of %s cannot be set: %w", o.role, o.offset, o.chip.info.Label, err)
	}
	return nil
}

// Level reads the line itself, not what was last asked: true when the load is on. The line stays an output. What the
// pin shows is not yet a running motor: whether the load follows only its own sensor tells.
func (o *Output) Level() (on bool, err error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.held == nil {
		return false, o.released()
	}
	on, err = o.held.Value()
	if err != nil {
		return false, fmt.Errorf("%s: line %d of %s cannot be read back: %w", o.role, o.offset, o.chip.info.Label, err)
	}
	return on, nil
}

// Info asks the kernel what the line is now. It works after Close as well.
func (o *Output) Info() (LineInfo, error) { return o.chip.Info(o.offset) }

// Close switches off, then releases the line. If it cannot be switched off the line is released all the same, so that
// another process can try, and the error says so. Further calls do nothing and return the same.
func (o *Output) Close() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.held == nil {
		return o.closed
	}
	if err := o.held.SetValue(false); err != nil {
		o.closed = fmt.Errorf("%s: line %d of %s could not be switched off (%w): it may still be on, cut the power of the bench",
			o.role, o.offset, o.chip.info.Label, err)
	}
	if err := o.held.Close(); err != nil {
		o.closed = errors.Join(o.closed, fmt.Errorf("%s: line %d of %s could not be released: %w",
			o.role, o.offset, o.chip.info.Label, err))
	}
	o.held = nil
	return o.closed
}

// released is what every call after Close gets. The descriptor's number may belong to something else by then, so that the
// kernel must not even be asked.
func (o *Output) released() error {
	return fmt.Errorf("%s: line %d of %s has been released", o.role, o.offset, o.chip.info.Label)
}
