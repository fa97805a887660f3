package lines

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// Sysfs is where the kernel's files are, and how to pass time and write.
type Sysfs struct {
	Root  string                         // the folder that holds sys and dev: "/" on a real system
	Wait  func(time.Duration)            // passes time while the system hands a new channel over to the user's group
	Write func(path, value string) error // nil writes the file
}

// PWM is one channel of the hardware PWM. Its methods may be called from several goroutines.
//
// Sysfs knows no exclusive holder: two programs can write the same channel. And what the pin does while the channel is
// disabled is the chip's affair, mostly low: wire only loads that are off at logic low, with a pull-down.
type PWM struct {
	sys    Sysfs
	role   string
	dir    string // of the channel
	period int64  // ns

	mu     sync.Mutex
	done   bool
	closed error
}

// The frequencies that can be asked for, in Hz: the period must fit the 32 bits of older kernels, and leave a thousand
// steps.
const (
	lowestFrequency  = 0.25
	highestFrequency = 1e6
)

// OpenPWM sets a channel up for a role of the bench ("fan") at a frequency in Hz, 0.25 Hz to 1 MHz, running at 0 %.
// The chip is chosen by the path of its device ("fe20c000.pwm", or more of it), because its number changes with kernels
// and on one board another chip turns the computer's own fan. A channel that the kernel uses, or that belongs to a
// cooling fan, is refused. Whatever an earlier program left running is switched off first.
func OpenPWM(sys Sysfs, role, device string, channel int, frequency float64) (*PWM, error) {
	if !(frequency >= lowestFrequency && frequency <= highestFrequency) {
		return nil, fmt.Errorf("%s: a PWM frequency is from %g Hz to %g Hz, not %g Hz", role, lowestFrequency, highestFrequency, frequency)
	}
	if sys.Write == nil {
		sys.Write = writeFile
	}
	chip, err := findPWM(sys.Root, device)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", role, err)
	}
	if err := chip.refuse(channel); err != nil {
		return nil, fmt.Errorf("%s: %w", role, err)
	}
	p := &PWM{sys: sys, role: role, period: int64(math.Round(1e9 / frequency)),
		dir: filepath.Join(chip.dir, fmt.Sprintf("pwm%d", channel))}
	if err := p.export(chip, channel); err != nil {
		return nil, fmt.Errorf("%s: %w", role, err)
	}
	// From here on the channel may be running as an earlier program left it, so that trouble must not just be returned.
	if err := p.start(); err != nil {
		_ = p.Close() // best effort; the first trouble is the one to tell
		return nil, err
	}
	return p, nil
}

// export makes the channel's files appear and waits until they may be written: udev changes their group a moment after
// the kernel made them. A channel that is exported already is taken over: an earlier run may have left it so, and sysfs
// cannot tell by whom.
func (p *PWM) export(chip pwmChip, channel int) error {
	if _, err := os.Stat(p.dir); err != nil {
		err := p.sys.Write(filepath.Join(chip.dir, "export"), strconv.Itoa(channel))
		if errors.Is(err, syscall.EBUSY) {
			return fmt.Errorf("channel %d of %s is used by the kernel itself (a fan, a backlight, a sound): take another one: %w",
				channel, chip.device, err)
		}
		if err != nil {
			return fmt.Errorf("channel %d of %s cannot be set up: %w%s", channel, chip.device, err, group(err, "gpio"))
		}
	}
	var err error
	for range 40 {
		if err = p.ready(); err == nil {
			return nil
		}
		p.sys.Wait(50 * time.Millisecond)
	}
	return fmt.Errorf("channel %d of %s did not become writable within 2 s: %w%s", channel, chip.device, err, group(err, "gpio"))
}

// ready opens the channel's files for writing without writing. It asks for all three, because udev goes through them one
// by one.
func (p *PWM) ready() error {
	for _, name := range []string{"period", "duty_cycle", "enable"} {
		f, err := os.OpenFile(filepath.Join(p.dir, name), os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		if err := f.Close(); err != nil {
			return err
		}
	}
	return nil
}

// start brings the channel to 0 %, running, from whatever state it is in, without a moment of full on. The order matters:
//   - at inversed polarity a duty of 0 is full on, so that such a channel is disabled before anything else;
//   - the kernel refuses a period shorter than the duty, so that the duty goes to 0 before the period is set;
//   - it refuses a duty while the period is 0, as on a fresh channel, whose duty is 0 anyway;
//   - polarity changes only while disabled, and enable comes last.
func (p *PWM) start() error {
	period, err := p.read("period")
	if err != nil {
		return err
	}
	enabled, err := p.read("enable")
	if err != nil {
		return err
	}
	polarity, err := p.read("polarity") // a chip that cannot invert has no such file
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	inversed := polarity == "inversed"
	steps := []struct {
		when        bool
		file, value string
	}{
		{enabled != "0" && inversed, "enable", "0"},
		{period != "0", "duty_cycle", "0"},
		{enabled != "0" && !inversed, "enable", "0"},
		{true, "period", strconv.FormatInt(p.period, 10)},
		{true, "duty_cycle", "0"},
		{inversed, "polarity", "normal"},
		{true, "enable", "1"},
	}
	for _, s := range steps {
		if !s.when {
			continue
		}
		if err := p.write(s.file, s.value); err != nil {
			return err
		}
	}
	return nil
}

// Role returns what the channel is for.
func (p *PWM) Role() string { return p.role }

// Set drives a share of each period: 0 is off, 1 is full on. Anything else is an error, and changes nothing.
func (p *PWM) Set(share float64) error {
	if !(share >= 0 && share <= 1) {
		return fmt.Errorf("%s: a share of %g was asked, it must be from 0 to 1", p.role, share)
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.done {
		return p.released()
	}
	return p.write("duty_cycle", strconv.FormatInt(int64(math.Round(share*float64(p.period))), 10))
}

// Share reads back from the kernel which share of each period is driven, 0 to 1. A channel that somebody disabled
// drives 0.
func (p *PWM) Share() (float64, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.done {
		return 0, p.released()
	}
	// The enable file first: a disabled channel keeps its duty, which would be told as if it drove.
	enabled, err := p.read("enable")
	if err != nil || enabled == "0" {
		return 0, err
	}
	text, err := p.read("duty_cycle")
	if err != nil {
		return 0, err
	}
	duty, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return 0, fmt.Errorf("%s: the kernel's duty of %s cannot be read: %w", p.role, p.dir, err)
	}
	return float64(duty) / float64(p.period), nil
}

// Close sets the share to 0, then disables the channel; it tries the second even when the first fails. The channel stays
// exported, so that another process can switch it off as well. Further calls do nothing and return the same.
func (p *PWM) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.done {
		return p.closed
	}
	p.done = true
	if err := errors.Join(p.write("duty_cycle", "0"), p.write("enable", "0")); err != nil {
		p.closed = fmt.Errorf("%s may still be on, cut the power of the bench: %w", p.role, err)
	}
	return p.closed
}

// released is what every call after Close gets.
func (p *PWM) released() error { return fmt.Errorf("%s: its PWM channel has been released", p.role) }

// read reads one of the channel's attributes.
func (p *PWM) read(name string) (string, error) {
	text, err := os.ReadFile(filepath.Join(p.dir, name))
	if err != nil {
		return "", fmt.Errorf("%s: %w", p.role, err)
	}
	return strings.TrimSpace(string(text)), nil
}

// write sets one of the channel's attributes. The kernel itself skips what is so already (read in its source), so that
// writing every tick does not disturb the wave.
func (p *PWM) write(name, value string) error {
	path := filepath.Join(p.dir, name)
	if err := p.sys.Write(path, value); err != nil {
		return fmt.Errorf("%s: %s cannot be set to %s: %w%s", p.role, path, value, err, group(err, "gpio"))
	}
	return nil
}

// writeFile writes an attribute. It never creates a file: what is not there the kernel does not offer. Truncating means
// nothing to sysfs; in a tree of ordinary files it keeps the tail of a longer value from staying behind.
func writeFile(path, value string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_TRUNC, 0)
	if err != nil {
		return err
	}
	_, err = f.WriteString(value)
	return errors.Join(err, f.Close())
}

// group tells how to get a permission that is missing, or nothing when that is not the trouble. The groups are those of
// the usual systems for such boards (from memory); ls -l on the path shows the one of this system.
func group(err error, name string) string {
	if !errors.Is(err, fs.ErrPermission) {
		return ""
	}
	return fmt.Sprintf(": add the user to the group %s (sudo usermod -aG %s USER, then log in anew), "+
		"or let the service run in it", name, name)
}
