// Package hx711 reads a load cell through an HX711: an amplifier and a converter of 24 bits on two plain lines, a clock that
// we make and a data line.
//
// The clock has to be quick: high for longer than 60 µs means "power down" to the chip, and a computer with other work to
// do cannot promise that. So every pulse is timed, and a sample with one long pulse is thrown away and counted. The data
// line has no checksum and a line that is connected to nothing gives plain zeros, so it is also looked at where the chip
// has to hold it high. Times are from memory of the maker's data sheet; the numbers of pulses and the end codes are as
// several public drivers have them.
package hx711

import (
	"fmt"
	"sync"
	"time"

	"fullery/sensors"
)

// Out is the clock line. A pin of a hardware library does more and should not be handed in as it is: in some libraries Read
// turns an output into an input, and a clock that floats powers the chip down. So there is nothing here to read it with.
type Out interface {
	Set(on bool) error // true: high
}

// In is the data line. A pull-up makes a missing chip read as never ready; without one it may look like zeros.
type In interface {
	High() (bool, error)
}

// Gain is an input of the chip with its gain; they only come together.
type Gain int

// The gains, in the order of their pulses: 25, 26 and 27.
const (
	A128 Gain = iota // ±20 mV at a supply of 5 V
	B32              // ±80 mV; input B
	A64              // ±40 mV
)

func (g Gain) known() bool { return g >= A128 && g <= A64 }

// pulses of a whole sample: 24 bits, and the rest says what is to be converted next.
func (g Gain) pulses() int { return bits + 1 + int(g) }

const (
	bits   = 24
	window = 20 // samples that Degraded looks back on
	many   = 6  // of them, 30 %
)

// Limits of time.
const (
	readyLimit = 500 * time.Millisecond // five times a sample at 10 a second, and more than it takes to settle
	readyStep  = time.Millisecond       // our choice
	highLimit  = 50 * time.Microsecond  // of one pulse; above 60 µs the chip powers down
	powerDown  = 100 * time.Microsecond // to make it do so
	settles    = 400 * time.Millisecond // at 10 samples a second; 50 ms at 80
	unsettled  = 100                    // samples in that time at most; at 80 a second they are 32

	// Nobody says what the chip does to a sample that is still being fetched when the next one is done. Our choice: less
	// than the 12.5 ms that it takes for one at 80 a second.
	fetchLimit = 10 * time.Millisecond
)

// Dev is one chip. Its methods may be called from several goroutines.
type Dev struct {
	clock Out
	data  In
	now   func() time.Duration
	sleep func(time.Duration)
	gain  Gain

	mu      sync.Mutex // held for a whole sample
	begun   bool       // clock low, settled at the gain, as far as we know
	thrown  int
	history uint32 // the last samples, newest in the lowest bit; 1: thrown away
}

// New returns the chip on two lines. Nothing is switched. The clock now may start anywhere, but must not go back and must
// tell microseconds apart; sleep is what the driver waits with, never within a pulse. Neither may be nil.
func New(clock Out, data In, now func() time.Duration, sleep func(time.Duration), gain Gain) *Dev {
	return &Dev{clock: clock, data: data, now: now, sleep: sleep, gain: gain}
}

// Begin brings the chip from any earlier state, such as half a sample, to the gain, and fetches a first sample, which it
// does not keep. It takes some 0.4 s, with a gain other than A128 some 0.8 s. Errors: those of Read, without
// sensors.ErrSaturated.
func (d *Dev) Begin() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.begun = false
	if _, err := d.next(); err != nil {
		return fmt.Errorf("HX711: %w", err)
	}
	return nil
}

// Read waits for the next sample, for at most 500 ms, and fetches it. After an error other than sensors.ErrSaturated the
// next Read works again by itself, but resets the chip and waits as long as Begin does. Errors, all with an empty Reading:
// sensors.ErrNotReady, sensors.ErrChecksum for a sample that was fetched too slowly to be believed, sensors.ErrNoAnswer if
// a line cannot be used or no converter drives the data line, sensors.ErrSaturated.
func (d *Dev) Read() (Reading, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	raw, err := d.next()
	if err != nil {
		return Reading{}, fmt.Errorf("HX711: %w", err)
	}
	r, err := Decode(raw)
	if err != nil {
		return Reading{}, fmt.Errorf("HX711: %w", err)
	}
	return r, nil
}

// Thrown returns how many samples were fetched too slowly and thrown away since New.
func (d *Dev) Thrown() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.thrown
}

// Degraded tells whether 30 % of the last 20 samples had to be thrown away: the computer is too busy for this chip, and
// what is left of its samples comes too seldom to be relied on.
func (d *Dev) Degraded() bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	bad := 0
	for i := range window {
		bad += int(d.history >> i & 1)
	}
	return bad >= many
}

// next fetches a sample of a settled chip, and after trouble takes care that the next one begins anew.
func (d *Dev) next() (raw uint32, err error) {
	if !d.begun {
		err = d.begin()
	}
	if err == nil {
		raw, err = d.sample()
	}
	d.begun = err == nil
	return raw, err
}

// begin resets the chip by powering it down and up, after which it is at A128, and sets another gain with a sample that
// nobody wants.
func (d *Dev) begin() error {
	if !d.gain.known() {
		return fmt.Errorf("there is no gain %d", d.gain)
	}
	if err := d.set(true); err != nil {
		return err
	}
	d.sleep(powerDown)
	if err := d.set(false); err != nil {
		return err
	}
	since := d.now()
	if d.gain != A128 {
		if _, err := d.sample(); err != nil {
			return err
		}
		since = d.now()
	}
	return d.settle(since)
}

// settle throws away what the chip makes before it has settled, should it not keep that to itself.
func (d *Dev) settle(since time.Duration) error {
	for range unsettled {
		if err := d.ready(); err != nil {
			return err
		}
		if d.now()-since >= settles {
			return nil
		}
		if _, err := d.sample(); err != nil {
			return err
		}
	}
	return fmt.Errorf("%w: its samples come faster than such a chip makes them", sensors.ErrNotReady)
}

// sample waits for a sample and fetches it.
func (d *Dev) sample() (uint32, error) {
	if err := d.ready(); err != nil {
		return 0, err
	}
	begin := d.now()
	raw, longest, err := d.fetch()
	if err != nil {
		return 0, err
	}
	took := d.now() - begin
	slow := longest > highLimit || took > fetchLimit
	d.note(slow)
	if slow {
		return 0, fmt.Errorf("%w: fetched too slowly (%v in all, the longest pulse %v), the computer was busy with something "+
			"else; sample number %d to be thrown away", sensors.ErrChecksum, took, longest, d.thrown)
	}
	// The pulse after the 24 bits takes the line high until the next sample is ready. A line that nobody drives stays low.
	high, err := d.high()
	if err == nil && !high {
		err = fmt.Errorf("%w: no converter, its data line is always low; look at the wiring and its supply", sensors.ErrNoAnswer)
	}
	return raw, err
}

func (d *Dev) note(slow bool) {
	d.history <<= 1
	if slow {
		d.history |= 1
		d.thrown++
	}
}

// ready waits until the data line is low. The number of looks is bounded as well, for a clock that stands still.
func (d *Dev) ready() error {
	begin := d.now()
	for range readyLimit / readyStep {
		high, err := d.high()
		if err != nil || !high {
			return err
		}
		if d.now()-begin+readyStep > readyLimit { // a difference, which is right also when the clock wraps
			break
		}
		d.sleep(readyStep)
	}
	return fmt.Errorf("%w: no sample in %v, its data line is always high; look at the wiring and its supply",
		sensors.ErrNotReady, readyLimit)
}

// fetch clocks a sample out and sets the gain of the next, and returns the longest time that the clock may have been high.
func (d *Dev) fetch() (raw uint32, longest time.Duration, err error) {
	for pulse := range d.gain.pulses() {
		high, err := d.pulse()
		if err != nil {
			return 0, 0, err
		}
		longest = max(longest, high)
		if pulse >= bits {
			continue
		}
		// Looked at with the clock low again: the bit stays until the next pulse, and the high time stays short.
		one, err := d.high()
		if err != nil {
			return 0, 0, err
		}
		raw <<= 1
		if one {
			raw |= 1
		}
	}
	return raw, longest, nil
}

// pulse takes the clock high and low. The time is from before the one to after the other, so that the true one is shorter.
func (d *Dev) pulse() (time.Duration, error) {
	begin := d.now()
	if err := d.set(true); err != nil {
		return 0, err
	}
	if err := d.set(false); err != nil {
		return 0, err
	}
	return d.now() - begin, nil
}

func (d *Dev) set(on bool) error {
	if err := d.clock.Set(on); err != nil {
		return fmt.Errorf("%w, the clock line cannot be switched: %w", sensors.ErrNoAnswer, err)
	}
	return nil
}

func (d *Dev) high() (bool, error) {
	high, err := d.data.High()
	if err != nil {
		return false, fmt.Errorf("%w, the data line cannot be read: %w", sensors.ErrNoAnswer, err)
	}
	return high, nil
}
