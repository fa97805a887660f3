// Package ads1115 reads the four analogue inputs of an ADS1115 converter, each against ground, one conversion at a time.
//
// The converter is one behind a switch: its result register holds the last conversion, whichever input that was of. So a
// reading is only believed when the chip was resting before it was asked, has said that it is done, and still holds the
// settings that were written. Register names and bits are those of the data sheet SBAS444D; its config register and the
// table of ranges were seen, section numbers are from memory.
package ads1115

import (
	"encoding/binary"
	"fmt"
	"sync"
	"time"

	"periph.io/x/conn/v3"

	"fullery/sensors"
)

// Registers, SBAS444D section 9.6.1.
const (
	regResult = 0x00
	regConfig = 0x01
)

// Limits of the waiting, so that a reading takes less than 100 ms even if the chip never gets ready.
const (
	restStep   = 3 * time.Millisecond
	restTries  = 15 // 45 ms: a conversion of ours that was cut short takes 35 ms at the slowest rate
	beginTries = 60 // 180 ms: somebody else's may have been one of 8 a second
	lateTries  = 10 // of a twentieth of a conversion each; its oscillator is within 10 % (from memory)
)

// Dev is one chip. There must be one Dev a chip: its lock keeps two readers from setting the switch for each other. Its
// methods may be called from several goroutines.
type Dev struct {
	c     conn.Conn
	set   Settings
	sleep func(time.Duration)

	mu sync.Mutex // held from the setting of the switch until the result is fetched
}

// New returns the chip that answers on c. Nothing is sent. The sleep function is what the driver waits with; it must not
// be nil.
func New(c conn.Conn, set Settings, sleep func(time.Duration)) *Dev {
	return &Dev{c: c, set: set, sleep: sleep}
}

// Begin brings the chip from any earlier state, such as converting without end, to rest, and finds out whether it is the
// chip that it should be. Errors: the settings are impossible, sensors.ErrNoAnswer, sensors.ErrNotReady,
// sensors.ErrForeign.
func (d *Dev) Begin() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.begin(); err != nil {
		return fmt.Errorf("ADS1115 at %s: %w", d.c, err)
	}
	return nil
}

func (d *Dev) begin() error {
	config, err := d.set.config(0)
	if err != nil {
		return err
	}
	if err := d.rest(config, beginTries); err != nil {
		return err
	}
	if err := d.write(config); err != nil {
		return err
	}
	return d.done(config, 1)
}

// Read converts one input, 0 to 3, against ground. It takes one conversion and at most 100 ms of waiting. Errors, all with
// an empty Reading: sensors.ErrNoAnswer, sensors.ErrNotReady (also if it lost its settings), sensors.ErrForeign if it does
// not hold what was written, sensors.ErrRange if the voltage cannot be at an input of this chip, sensors.ErrSaturated at
// an end of the range, because a clipped code is a bound and no value.
func (d *Dev) Read(channel int) (Reading, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	code, err := d.convert(channel)
	if err != nil {
		return Reading{}, fmt.Errorf("ADS1115 at %s, input %d: %w", d.c, channel, err)
	}
	r, err := d.set.Decode(code)
	if err == nil && r.Clipped {
		err = saturated(r)
	}
	if err != nil {
		return Reading{}, fmt.Errorf("ADS1115 at %s, input %d: %w", d.c, channel, err)
	}
	return r, nil
}

func saturated(r Reading) error {
	end := "high"
	if r.Code < 0 {
		end = "low"
	}
	return fmt.Errorf("%w %s: %.4g V is the end of the range (code %d); set a larger range, or look at the wiring of the input",
		sensors.ErrSaturated, end, r.Volts, r.Code)
}

// convert makes one conversion of an input and returns its code.
func (d *Dev) convert(channel int) (int16, error) {
	config, err := d.set.config(channel)
	if err != nil {
		return 0, err
	}
	if err := d.rest(config, restTries); err != nil {
		return 0, err
	}
	if err := d.write(config | bitStart); err != nil {
		return 0, err
	}
	period := d.set.period()
	d.sleep(period)
	if err := d.done(config, lateTries); err != nil {
		return 0, err
	}
	code, err := d.read(regResult)
	if err != nil {
		return 0, err
	}
	// A supply that dipped just before would have cleared the result, and 0 is a voltage like any other.
	return int16(code), d.done(config, 1)
}

// rest ends what the chip may still be converting. While it converts, a start is ignored (SBAS444D, config register, OS):
// the result would then be that of the former input, under the settings of the new one.
func (d *Dev) rest(config uint16, tries int) error {
	got, err := d.read(regConfig)
	if err != nil {
		return err
	}
	if got&bitStart != 0 && got&bitSingle != 0 {
		return nil
	}
	if err := d.write(config); err != nil { // single, and no start: it stops after the conversion under way
		return err
	}
	for range tries {
		d.sleep(restStep)
		if got, err = d.read(regConfig); err != nil {
			return err
		}
		if got&bitStart != 0 {
			return nil
		}
	}
	return fmt.Errorf("%w: it does not stop converting", sensors.ErrNotReady)
}

// done waits for the end of a conversion, looking a number of times, and holds the settings against what was written.
func (d *Dev) done(config uint16, tries int) error {
	for range tries {
		got, err := d.read(regConfig)
		if err != nil {
			return err
		}
		if err := recognise(got&^bitStart, config); err != nil {
			return err
		}
		if got&bitStart != 0 {
			return nil
		}
		d.sleep(d.set.period() / 20)
	}
	return fmt.Errorf("%w: the conversion does not end", sensors.ErrNotReady)
}

// recognise refuses settings that are not those that were written.
func recognise(got, config uint16) error {
	switch got {
	case config:
		return nil
	case atPowerOn:
		return fmt.Errorf("%w: it lost its settings; look at its supply", sensors.ErrNotReady)
	}
	return fmt.Errorf("%w, or another program uses it: its settings read 0x%04x after 0x%04x was written",
		sensors.ErrForeign, got, config)
}

func (d *Dev) read(register byte) (uint16, error) {
	var b [2]byte
	if err := d.c.Tx([]byte{register}, b[:]); err != nil {
		return 0, fmt.Errorf("%w: %w", sensors.ErrNoAnswer, err)
	}
	return binary.BigEndian.Uint16(b[:]), nil
}

func (d *Dev) write(config uint16) error {
	if err := d.c.Tx(binary.BigEndian.AppendUint16([]byte{regConfig}, config), nil); err != nil {
		return fmt.Errorf("%w: %w", sensors.ErrNoAnswer, err)
	}
	return nil
}
