// Package nau7802 reads the two bridges of a NAU7802 converter: 24 bits at a gain of 128.
//
// It is one converter behind a switch, with a filter that takes some conversions to forget the former input. And it falls
// asleep at other settings when its supply dips. So every result is fetched between two looks at its settings.
//
// Registers, bits and the order of the power-up are those of the data sheet, revision 1.7; its section 8.6 (calibration)
// was seen itself, the rest as public code quotes it. What is from memory says so.
package nau7802

import (
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3"

	"fullery/sensors"
)

// Registers, data sheet section 10.
const (
	regPower    = 0x00 // PU_CTRL
	regCtrl1    = 0x01
	regCtrl2    = 0x02
	regResult   = 0x12 // three bytes, highest first
	regADC      = 0x15
	regPGAPower = 0x1c
	regRevision = 0x1f
)

// Bits of these registers, data sheet section 11.
const (
	powReset    = 1 << 0 // RR
	powDigital  = 1 << 1 // PUD
	powAnalogue = 1 << 2 // PUA
	powUp       = 1 << 3 // PUR, read only: the digital part is up
	powCycles   = 1 << 4 // CS: convert one after the other
	powReady    = 1 << 5 // CR, read only: a conversion is there
	powLDO      = 1 << 7 // AVDDS: the analogue part is fed by the regulator inside

	running = powLDO | powCycles | powAnalogue | powDigital

	gain128      = 0b111 // GAINS
	calibrate    = 1 << 2
	calFailed    = 1 << 3
	second       = 1 << 7 // CHS: the second input
	choppersOff  = 0x30   // REG_CHPS, as the power-up sequence of section 9.1 has it
	capacitor    = 1 << 7 // PGA_CAP_EN: a capacitor at the second input quiets the first; only where that input is unused
	revisionMask = 0x0f
)

// Waiting. The data sheet's about 200 µs and 600 ms (table of section 7) as public code quotes them; the reset's and the
// number of conversions until the filter has settled from memory.
const (
	resetTime   = time.Millisecond
	upStep      = 250 * time.Microsecond
	upTries     = 20
	analogueUp  = 600 * time.Millisecond
	calStep     = 10 * time.Millisecond
	calTries    = 500 // 5 s; public code tells of 0.35 s at 80 conversions a second, so of 3 s at 10 if it goes by them
	settleAfter = 5   // conversions thrown away after a change of input: one of the former input, four of the filter
	lateTries   = 60  // of a tenth of a conversion each
)

// Dev is one chip. Its methods may be called from several goroutines.
type Dev struct {
	c     conn.Conn
	set   Settings
	sleep func(time.Duration)

	mu      sync.Mutex
	begun   bool
	channel int // whose conversions come; -1: not settled on any
}

// New returns the chip that answers on c. Nothing is sent. The sleep function is what the driver waits with; it must not
// be nil.
func New(c conn.Conn, set Settings, sleep func(time.Duration)) *Dev {
	return &Dev{c: c, set: set, sleep: sleep, channel: -1}
}

// Begin resets the chip, whatever state it was left in, powers it up, sets it and lets it calibrate itself: about a second
// for one input, longer at low rates. Errors: the settings are impossible, sensors.ErrNoAnswer, sensors.ErrNotReady (also
// if its calibration fails), sensors.ErrForeign.
func (d *Dev) Begin() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.begin(); err != nil {
		return fmt.Errorf("NAU7802 at %s: %w", d.c, err)
	}
	return nil
}

// Read returns the next conversion of an input: 0 is VIN1, 1 is VIN2 and has to be set up by Settings.Both. Going from one
// input to the other costs six conversions, staying at most one. After a loss of the settings it begins anew by itself,
// which takes as long as Begin. Errors, all with an empty Reading: those of Begin, and sensors.ErrSaturated.
func (d *Dev) Read(channel int) (Reading, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	result, err := d.read(channel)
	if err != nil {
		return Reading{}, fmt.Errorf("NAU7802 at %s, input %d: %w", d.c, channel, err)
	}
	r, err := Decode(result)
	if err != nil {
		return Reading{}, fmt.Errorf("NAU7802 at %s, input %d: %w", d.c, channel, err)
	}
	return r, nil
}

// result is what the chip gives for one conversion, highest byte first.
type result = [3]byte

func (d *Dev) read(channel int) (result, error) {
	if channel < 0 || channel > 1 || channel == 1 && !d.set.Both {
		return result{}, fmt.Errorf("there is no input %d: they are 0 and, if both are set up, 1", channel)
	}
	if !d.begun {
		if err := d.begin(); err != nil {
			return result{}, err
		}
	}
	if channel != d.channel {
		if err := d.turn(channel); err != nil {
			return result{}, err
		}
	}
	return d.conversion(channel)
}

// turn sets the switch to an input and throws away what is not of that input alone.
func (d *Dev) turn(channel int) error {
	d.channel = -1
	if err := d.write(regCtrl2, d.set.ctrl2(channel)); err != nil {
		return err
	}
	for range settleAfter {
		if _, err := d.conversion(channel); err != nil {
			return err
		}
	}
	d.channel = channel
	return nil
}

// conversion waits for the next conversion and fetches it.
func (d *Dev) conversion(channel int) (result, error) {
	for range lateTries {
		ready, err := d.ready(channel)
		if err != nil {
			return result{}, err
		}
		if ready {
			return d.fetch(channel)
		}
		d.sleep(d.set.period() / 10)
	}
	d.begun = false
	return result{}, fmt.Errorf("%w: no conversion for %v", sensors.ErrNotReady, d.set.period()/10*lateTries)
}

// fetch reads a result. A supply that dipped just before would have cleared it, and 0 is a count like any other, so the
// settings are looked at once more.
func (d *Dev) fetch(channel int) (result, error) {
	b, err := d.get(regResult, 3)
	if err != nil {
		return result{}, err
	}
	if _, err := d.ready(channel); err != nil {
		return result{}, err
	}
	return result(b), nil
}

// ready asks for a conversion, and holds all three control registers against what they were set to: a chip whose supply
// dipped is at gain 1 on the first input, if it converts at all.
func (d *Dev) ready(channel int) (bool, error) {
	b, err := d.get(regPower, 3)
	if err != nil {
		return false, err
	}
	want := [3]byte{running | powUp, d.set.ctrl1(), d.set.ctrl2(channel)}
	if got := [3]byte{b[0] &^ powReady, b[1], b[2]}; got != want {
		d.begun = false
		return false, fmt.Errorf("%w: its settings read % x and not % x; it lost its power, or another program uses it",
			sensors.ErrNotReady, got, want)
	}
	return b[0]&powReady != 0, nil
}

// get reads registers from one on.
func (d *Dev) get(register byte, n int) ([]byte, error) {
	b := make([]byte, n)
	if err := d.c.Tx([]byte{register}, b); err != nil {
		return nil, fmt.Errorf("%w: %w", sensors.ErrNoAnswer, err)
	}
	return b, nil
}

func (d *Dev) write(register, value byte) error {
	if err := d.c.Tx([]byte{register, value}, nil); err != nil {
		return fmt.Errorf("%w: %w", sensors.ErrNoAnswer, err)
	}
	return nil
}
