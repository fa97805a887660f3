// Package sht3x reads the humidity and temperature sensors SHT30, SHT31 and SHT35 over I2C, one single shot at a time and
// without clock stretching, which some bus controllers cannot bear.
//
// Sections and tables are those of the data sheet SHT3x-DIS, version 5 of May 2018. What is marked so is from memory of
// it and wants checking there. The chip has no number that tells its kind: a status word with a right checksum is taken
// for it.
package sht3x

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3"

	"fullery/sensors"
)

// Commands.
const (
	singleShot = 0x2400 // table 9: high repeatability, the clock is not held
	stop       = 0x3093 // section 4.8, "break": ends the periodic mode (number as public drivers have it)
	softReset  = 0x30A2 // section 4.9 (number as public drivers have it)
	heaterOff  = 0x3066 // table 16
	readStatus = 0xF32D // table 17
	serial     = 0x3682 // not in the data sheet: public drivers have it, the clock is not held
	serialHeld = 0x3780 // the same, the clock may be held; some parts know only this one
)

const heaterIsOn = 1 << 13 // table 18

// Times to wait.
const (
	measures = 16 * time.Millisecond // longest measurement 15 ms (section 2.1, table 4, from memory)
	resets   = 2 * time.Millisecond  // 1.5 ms at most (table 4, from memory)
	stops    = 2 * time.Millisecond  // "this takes 1 ms" (section 4.8, from memory)
	gap      = time.Millisecond      // least pause between a command and what follows (table 9)
	again    = 3 * time.Millisecond  // before an unfinished measurement is asked for again; our choice
	settles  = 20 * time.Millisecond // before another try to begin: longer than any measurement; our choice
)

const (
	frameSize  = 6
	beginTries = 5
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

// Begin brings the chip from whatever state an earlier program left it in into the known one: single shots, its own heater
// off. It takes 6 ms, with a chip that refuses 110 ms at most. Errors: sensors.ErrNoAnswer, sensors.ErrChecksum, and
// sensors.ErrRange when the heater stays on, which makes every reading too warm and too dry.
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
	// A chip that is measuring or half asleep may refuse its first command. Whether it obeys the reset is what counts.
	_ = d.send(stop, stops)
	if err := d.send(softReset, resets); err != nil {
		return err
	}
	if err := d.send(heaterOff, gap); err != nil {
		return err
	}
	return d.heater()
}

// Read measures, which takes some 17 ms. After an error the reading is zero, and the next Read begins anew by itself.
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
	if err := d.send(singleShot, measures); err != nil {
		return Reading{}, err
	}
	var frame [frameSize]byte
	if err := d.fetch(frame[:]); err != nil {
		return Reading{}, err
	}
	r, err := Decode(frame[:])
	if err != nil {
		return Reading{}, err
	}
	// Asked after every measurement, because another program can switch the heater on at any time.
	return r, d.heater()
}

// fetch reads a measurement. Until it is finished the chip does not acknowledge (section 4.4), which looks the same as a
// chip that is gone; because it took the command just before, it is called not ready.
func (d *Dev) fetch(frame []byte) (err error) {
	for try := range readTries {
		if try > 0 {
			d.sleep(again)
		}
		if err = d.c.Tx(nil, frame); err == nil {
			return nil
		}
	}
	return fmt.Errorf("SHT3x: took the command to measure and gave nothing within %v: %w: %w",
		measures+(readTries-1)*again, sensors.ErrNotReady, err)
}

// heater refuses a chip whose own heater is on.
func (d *Dev) heater() error {
	var b [3]byte
	if err := d.ask(readStatus, b[:]); err != nil {
		return err
	}
	status, err := sensors.CheckedWord(b[:])
	if err != nil {
		return fmt.Errorf("SHT3x: status: %w", err)
	}
	if status&heaterIsOn != 0 {
		return fmt.Errorf("SHT3x: %w: its own heater is on (status %04X), so it reads too warm and too dry; end other programs "+
			"that use it, and replace it if this stays", sensors.ErrRange, status)
	}
	return nil
}

// Serial returns the number that the maker gave this chip, to tell two of them apart. Parts without one of their own give
// zero. Errors: those of Begin.
func (d *Dev) Serial() (uint32, error) {
	if err := d.ready(); err != nil {
		return 0, err
	}
	number, err := d.serial(serial)
	if err != nil {
		number, err = d.serial(serialHeld)
	}
	if err != nil {
		d.begun = false
	}
	return number, err
}

func (d *Dev) serial(command uint16) (uint32, error) {
	var b [6]byte
	if err := d.ask(command, b[:]); err != nil {
		return 0, err
	}
	high, err := sensors.CheckedWord(b[:3])
	if err != nil {
		return 0, fmt.Errorf("SHT3x: serial number: %w", err)
	}
	low, err := sensors.CheckedWord(b[3:])
	if err != nil {
		return 0, fmt.Errorf("SHT3x: serial number: %w", err)
	}
	return uint32(high)<<16 | uint32(low), nil
}

// ask sends a command and reads its answer.
func (d *Dev) ask(command uint16, answer []byte) error {
	if err := d.send(command, gap); err != nil {
		return err
	}
	if err := d.c.Tx(nil, answer); err != nil {
		return fmt.Errorf("SHT3x: %w to command %04X: %w", sensors.ErrNoAnswer, command, err)
	}
	return nil
}

// send gives a command and waits as long as the chip needs for it.
func (d *Dev) send(command uint16, wait time.Duration) error {
	if err := d.c.Tx([]byte{byte(command >> 8), byte(command)}, nil); err != nil {
		return fmt.Errorf("SHT3x: %w, command %04X was refused: %w", sensors.ErrNoAnswer, command, err)
	}
	d.sleep(wait)
	return nil
}
