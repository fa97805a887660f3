// Package sht4x reads the humidity and temperature sensors SHT40, SHT41, SHT43 and SHT45 over I2C.
//
// The chip has no status to read and no command that switches its heater off: a burst of heat ends by itself after a
// second at most, and the reset ends it at once. How warm the chip still is from a burst that an earlier program began
// cannot be read; this driver never heats.
//
// Commands and times are those of the data sheet SHT4x, version 6 of February 2023, as public drivers have them or from
// memory, as marked. A serial number with right checksums is taken for the chip's kind: an SHT3x, which may have the same
// address, does not know the command.
package sht4x

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3"

	"fullery/sensors"
)

// Commands (section 4.5; numbers as public drivers have them).
const (
	measureHigh = 0xFD // temperature and humidity, high repeatability
	readSerial  = 0x89
	softReset   = 0x94
)

// Times to wait.
const (
	measures = 10 * time.Millisecond  // longest measurement 8.3 ms (section 3.1, as public drivers have it)
	resets   = 2 * time.Millisecond   // 1 ms at most (section 3.1, from memory)
	gap      = time.Millisecond       // least pause between a command and its answer (section 3.1, from memory)
	again    = 3 * time.Millisecond   // before an unfinished measurement is asked for again; our choice
	settles  = 250 * time.Millisecond // before another try to begin; five of them outlast a burst of heat of 1.1 s
)

const (
	frameSize  = 6
	beginTries = 6
	readTries  = 3
)

// Dev is one chip. It is for one goroutine.
type Dev struct {
	c     conn.Conn
	sleep func(time.Duration)
	begun bool // in the known state, as far as we know
}

// New returns the chip behind a connection; nothing is sent yet. All waiting goes through sleep.
func New(c conn.Conn, sleep func(time.Duration)) *Dev { return &Dev{c: c, sleep: sleep} }

// Begin resets the chip, which ends whatever an earlier program had it do, a burst of heat too, and reads its serial
// number as a proof that it is one. It takes 3 ms, with a chip that refuses 1.3 s. Errors: sensors.ErrNoAnswer,
// sensors.ErrChecksum.
func (d *Dev) Begin() error { return d.begin(beginTries) }

func (d *Dev) begin(tries int) (err error) {
	d.begun = false
	for try := range tries {
		if try > 0 {
			d.sleep(settles)
		}
		if err = d.settle(); err == nil {
			d.begun = true
			return nil
		}
	}
	return err
}

func (d *Dev) settle() error {
	if err := d.send(softReset, resets); err != nil {
		return err
	}
	_, err := d.serial()
	return err
}

// Read measures, which takes some 10 ms. After an error the reading is zero, and the next Read begins anew by itself.
// Errors: those of Begin and Decode, and sensors.ErrNotReady when the chip took the command and never finished.
func (d *Dev) Read() (Reading, error) {
	if err := d.ready(); err != nil {
		return Reading{}, err
	}
	r, err := d.measure()
	if err != nil {
		d.begun = false
		return Reading{}, err
	}
	return r, nil
}

// ready begins anew after trouble, with a single try: the next call is the next try, so that a dead chip does not hold up
// the others on its bus.
func (d *Dev) ready() error {
	if d.begun {
		return nil
	}
	return d.begin(1)
}

func (d *Dev) measure() (Reading, error) {
	if err := d.send(measureHigh, measures); err != nil {
		return Reading{}, err
	}
	var frame [frameSize]byte
	if err := d.fetch(frame[:]); err != nil {
		return Reading{}, err
	}
	return Decode(frame[:])
}

// fetch reads a measurement. Until it is finished the chip does not acknowledge, which looks the same as a chip that is
// gone; because it took the command just before, it is called not ready.
func (d *Dev) fetch(frame []byte) (err error) {
	for try := range readTries {
		if try > 0 {
			d.sleep(again)
		}
		if err = d.c.Tx(nil, frame); err == nil {
			return nil
		}
	}
	return fmt.Errorf("SHT4x: took the command to measure and gave nothing within %v: %w: %w",
		measures+(readTries-1)*again, sensors.ErrNotReady, err)
}

// Serial returns the number that the maker gave this chip, to tell two of them apart. Errors: those of Begin.
func (d *Dev) Serial() (uint32, error) {
	if err := d.ready(); err != nil {
		return 0, err
	}
	number, err := d.serial()
	if err != nil {
		d.begun = false
	}
	return number, err
}

func (d *Dev) serial() (uint32, error) {
	if err := d.send(readSerial, gap); err != nil {
		return 0, err
	}
	var b [6]byte
	if err := d.c.Tx(nil, b[:]); err != nil {
		return 0, fmt.Errorf("SHT4x: %w when asked for its serial number (an SHT3x would not answer either): %w",
			sensors.ErrNoAnswer, err)
	}
	high, err := sensors.CheckedWord(b[:3])
	if err != nil {
		return 0, fmt.Errorf("SHT4x: serial number: %w", err)
	}
	low, err := sensors.CheckedWord(b[3:])
	if err != nil {
		return 0, fmt.Errorf("SHT4x: serial number: %w", err)
	}
	return uint32(high)<<16 | uint32(low), nil
}

// send gives a command and waits as long as the chip needs for it.
func (d *Dev) send(command byte, wait time.Duration) error {
	if err := d.c.Tx([]byte{command}, nil); err != nil {
		return fmt.Errorf("SHT4x: %w, command %02X was refused: %w", sensors.ErrNoAnswer, command, err)
	}
	d.sleep(wait)
	return nil
}
