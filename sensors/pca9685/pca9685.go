// Package pca9685 drives the sixteen switching outputs of a PCA9685, all at one frequency and each with its own duty.
//
// The chip keeps its outputs going without us: when this program dies, they stay as they are until somebody switches them
// off. So whatever hangs on it needs another way to be switched off, such as the chip's OE pin. And it forgets everything
// when its supply dips, which only Check finds out. Sections are those of NXP's data sheet of 2015 (revision 4); all of it
// is from memory and wants checking there.
package pca9685

import (
	"errors"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3"

	"fullery/sensors"
)

// ErrReset tells that the chip no longer holds what Begin wrote: its supply dipped, or another program uses it. Its outputs
// are then in no known state, and Set refuses until Begin has been called.
var ErrReset = errors.New("the chip lost its settings")

// Registers, section 7.3 table 4.
const (
	regMode1    = 0x00
	regMode2    = 0x01
	regChannel0 = 0x06 // four for each channel: on low, on high, off low, off high
	regAllOffHi = 0xFD // the last of the four that write all channels; cannot be read
	regPrescale = 0xFE // can only be written asleep
)

// Bits of the mode registers, sections 7.3.1 and 7.3.2.
const (
	restart       = 1 << 7 // written: go on after sleep. It then reads 0
	externalClock = 1 << 6 // once set, only a power cycle or a reset of the whole bus clears it
	autoIncrement = 1 << 5
	asleep        = 1 << 4 // oscillator off
	mode1         = autoIncrement
	mode2         = 1 << 2 // totem pole; not inverted; change at the stop of a transfer; low while OE is high
)

// full in the high byte of the on or of the off count: on or off all the time. Off wins (section 7.3.3).
const full = 0x10

// Waits and tries.
const (
	wakes    = time.Millisecond // the oscillator takes 500 µs (section 7.3.1.1)
	offTries = 3                // our choice: a single bad transfer must not leave a heater on
)

// Channels is how many outputs a chip has.
const Channels = 16

// Dev is one chip. Its methods may be called from several goroutines.
type Dev struct {
	c     conn.Conn
	sleep func(time.Duration)

	mu    sync.Mutex
	begun bool // it holds our settings, as far as we know
	scale byte
}

// New returns the chip that answers on c. Nothing is sent. The sleep function is what the driver waits with; it must not
// be nil.
func New(c conn.Conn, sleep func(time.Duration)) *Dev { return &Dev{c: c, sleep: sleep} }

// Begin switches all channels off and brings the chip from any earlier state to a frequency in Hz, 24 to 1526, still with
// all channels off. The frequency is met to within half a step of the divider and to what the oscillator of the chip is
// worth, some 5 % (common practice, no source). Errors: a frequency that is not to be had, sensors.ErrNoAnswer,
// sensors.ErrForeign. After an error Set refuses.
func (d *Dev) Begin(frequency float64) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.begun = false
	// Off comes first, even when the frequency is nonsense: the outputs may be on from before.
	if err := d.allOff(); err != nil {
		return d.explain(err)
	}
	scale, err := prescale(frequency)
	if err != nil {
		return d.explain(err)
	}
	if err := d.begin(scale); err != nil {
		return d.explain(err)
	}
	d.begun, d.scale = true, scale
	return nil
}

func (d *Dev) begin(scale byte) error {
	// MODE2 at once: with an inversion left over from another program, off is high.
	if err := d.write(regMode2, mode2); err != nil {
		return err
	}
	// Off again: set to change on acknowledge by another program, a chip waits for all four registers of a channel, and may
	// not have heeded the first time.
	if err := d.allOff(); err != nil {
		return err
	}
	if err := d.write(regMode1, mode1|asleep); err != nil {
		return err
	}
	if err := d.write(regPrescale, scale); err != nil {
		return err
	}
	if err := d.write(regMode1, mode1); err != nil {
		return err
	}
	d.sleep(wakes)
	if err := d.write(regMode1, mode1|restart); err != nil {
		return err
	}
	got, err := d.settings()
	if err != nil {
		return err
	}
	if err := recognise(got, settings{mode1, mode2, scale}); err != nil {
		return err
	}
	return d.seenOff()
}

// seenOff reads all channels back: off is to be seen and not assumed, and the registers that write all cannot be read.
func (d *Dev) seenOff() error {
	var got [4 * Channels]byte
	if err := d.c.Tx([]byte{regChannel0}, got[:]); err != nil {
		return fmt.Errorf("%w: %w", sensors.ErrNoAnswer, err)
	}
	for channel := range Channels {
		if counts := got[4*channel : 4*channel+4]; counts[3]&full == 0 {
			return fmt.Errorf("%w: channel %d reads % X after all were switched off", sensors.ErrForeign, channel, counts)
		}
	}
	return nil
}

// recognise refuses a chip that did not keep what was written to it.
func recognise(got, want settings) error {
	switch {
	case got == want:
		return nil
	case got.mode1&externalClock != 0:
		return fmt.Errorf("%w, or it was set to an external clock, which only its supply off and on again undoes (%v)",
			sensors.ErrForeign, got)
	}
	return fmt.Errorf("%w: it holds %v after %v was written", sensors.ErrForeign, got, want)
}

// Set gives a channel, 0 to 15, a duty of 0 (off all the time) to 1 (on all the time), in steps of 1/4096. The others stay
// as they are. Errors: a channel or duty that does not exist, sensors.ErrNoAnswer, ErrReset before Begin or after Check
// failed. After an error the channel may be in its old state or in the new one.
func (d *Dev) Set(channel int, duty float64) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if channel < 0 || channel >= Channels {
		return d.explain(fmt.Errorf("there is no channel %d: they are 0 to %d", channel, Channels-1))
	}
	counts, err := encode(duty)
	if err != nil {
		return d.explain(fmt.Errorf("channel %d: %w", channel, err))
	}
	if !d.begun {
		return d.explain(fmt.Errorf("channel %d: %w, or was never given any: begin first", channel, ErrReset))
	}
	if err := d.write(regChannel0+4*byte(channel), counts[:]...); err != nil {
		return d.explain(fmt.Errorf("channel %d: %w", channel, err))
	}
	return nil
}

// AllOff switches all channels off. It can be called at any time, also before Begin and with a chip in an unknown state,
// and tries three times. Error: sensors.ErrNoAnswer; the outputs may then still be on.
func (d *Dev) AllOff() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.allOff(); err != nil {
		return d.explain(err)
	}
	return nil
}

// allOff needs one register only, so that it also works on a chip that does not count addresses up.
func (d *Dev) allOff() (err error) {
	for range offTries {
		if err = d.write(regAllOffHi, full); err == nil {
			return nil
		}
	}
	return fmt.Errorf("%w; its channels may still be on", err)
}

// Check holds the settings of the chip against those that Begin wrote. Errors: sensors.ErrNoAnswer, after which Check can
// simply be tried again, and ErrReset, after which Begin is needed.
func (d *Dev) Check() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if !d.begun {
		return d.explain(fmt.Errorf("%w, or was never given any: begin first", ErrReset))
	}
	got, err := d.settings()
	if err != nil {
		return d.explain(err)
	}
	if want := (settings{mode1, mode2, d.scale}); got != want {
		d.begun = false
		return d.explain(fmt.Errorf("%w: it holds %v and not %v; look at its supply, and for other programs on this bus",
			ErrReset, got, want))
	}
	return nil
}

// settings reads each register by itself: a chip that was reset does not count addresses up.
func (d *Dev) settings() (settings, error) {
	var got [3]byte
	for i, register := range [3]byte{regMode1, regMode2, regPrescale} {
		if err := d.c.Tx([]byte{register}, got[i:i+1]); err != nil {
			return settings{}, fmt.Errorf("%w: %w", sensors.ErrNoAnswer, err)
		}
	}
	return settings{got[0], got[1], got[2]}, nil
}

func (d *Dev) write(register byte, values ...byte) error {
	if err := d.c.Tx(append([]byte{register}, values...), nil); err != nil {
		return fmt.Errorf("%w: %w", sensors.ErrNoAnswer, err)
	}
	return nil
}

func (d *Dev) explain(err error) error { return fmt.Errorf("PCA9685 at %s: %w", d.c, err) }
