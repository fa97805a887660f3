// Package bme280 reads the BME280, a sensor of humidity, pressure and temperature, over I2C, one forced measurement at a
// time, so that a value is never older than the call that returns it.
//
// Sections and tables are those of the data sheet BST-BME280-DS002, revision 1.6 of September 2018. What is marked so is
// from memory of it and wants checking there. The BMP280 looks the same and has no humidity; it is refused by name.
//
// The data carry no checksum. The calibration, which every value rests on for as long as the program runs, is therefore
// read twice; single damaged measurements are for spike filters and limits to find.
package bme280

import (
	"bytes"
	"fmt"
	"time"

	"periph.io/x/conn/v3"

	"fullery/sensors"
)

// Registers (table 18).
const (
	calibrationLow  = 0x88
	identity        = 0xD0
	reset           = 0xE0
	calibrationHigh = 0xE1
	controlHumidity = 0xF2 // counts only after control has been written (section 5.4.3)
	control         = 0xF4
	config          = 0xF5
)

// What is written to them.
const (
	resetWord     = 0xB6                 // section 5.4.2
	humidityOnce  = 0b001                // one sample (section 5.4.3, from memory)
	measureAsleep = 0b00100100           // temperature and pressure of one sample, asleep (section 5.4.5)
	measureNow    = measureAsleep | 0b01 // the same, forced: one measurement, then asleep again (section 3.3.3)
	noFilter      = 0                    // section 5.4.6
)

// Bits of the status register, 0xF3 (section 5.4.4).
const (
	measuring = 1 << 3
	copying   = 1 << 0 // the calibration is being copied to its registers
)

// Identities (section 5.4.1 and table 17).
const bme280, bmp280, bmp280Sample1, bmp280Sample2 = 0x60, 0x58, 0x56, 0x57

// Times to wait.
const (
	// The longest measurement of one sample each: 1.25 + 2.3 + 2.3 + 0.575 + 2.3 + 0.575 ms (section 9.1).
	measures = 10 * time.Millisecond
	starts   = 3 * time.Millisecond  // 2 ms at most after a reset (table 1, from memory)
	again    = 2 * time.Millisecond  // before an unfinished measurement is asked for again; our choice
	settles  = 20 * time.Millisecond // before another try to begin; our choice
)

const (
	beginTries = 5
	readTries  = 5
)

// The block that a reading is taken from in one piece: 0xF2 to 0xFE, so that the settings are seen beside the data.
const (
	blockSize                                         = 13
	atHumidity, atStatus, atControl, atConfig, atData = 0, 1, 2, 3, 5
)

// Dev is one chip. It is for one goroutine.
type Dev struct {
	c           conn.Conn
	sleep       func(time.Duration)
	calibration Calibration
	begun       bool // reset, known, and its calibration read
}

// New returns the chip behind a connection; nothing is sent yet. All waiting goes through sleep.
func New(c conn.Conn, sleep func(time.Duration)) *Dev { return &Dev{c: c, sleep: sleep} }

// Begin resets the chip from whatever mode an earlier program left it in, checks what it is and reads its calibration. It
// takes 3 ms, with a chip that refuses some 100 ms. Errors: sensors.ErrNoAnswer, sensors.ErrNotReady, sensors.ErrChecksum
// when two readings of the calibration differ, and sensors.ErrForeign for another chip.
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
	if err := d.known(); err != nil { // first: no other chip is to be reset
		return err
	}
	if err := d.write(reset, resetWord); err != nil {
		return err
	}
	d.sleep(starts)
	if err := d.started(); err != nil {
		return err
	}
	c, err := d.calibrate()
	if err != nil {
		return err
	}
	d.calibration = c
	return d.write(config, noFilter, controlHumidity, humidityOnce, control, measureAsleep)
}

// known checks the identity.
func (d *Dev) known() error {
	var id [1]byte
	if err := d.read(identity, id[:]); err != nil {
		return err
	}
	switch id[0] {
	case bme280:
		return nil
	case bmp280, bmp280Sample1, bmp280Sample2:
		return fmt.Errorf("BME280: %w: a BMP280 (identity %02X), which looks the same and measures no humidity; fit a BME280",
			sensors.ErrForeign, id[0])
	}
	return fmt.Errorf("BME280: %w: identity %02X, and a BME280 has %02X; check the address and the part", sensors.ErrForeign,
		id[0], bme280)
}

// started waits until the calibration has been copied to its registers; before that they are nonsense.
func (d *Dev) started() error {
	var block [blockSize]byte
	for range readTries {
		if err := d.read(controlHumidity, block[:]); err != nil {
			return err
		}
		if block[atStatus]&copying == 0 {
			return nil
		}
		d.sleep(again)
	}
	return fmt.Errorf("BME280: %w: it is still starting %v after its reset (status %02X)", sensors.ErrNotReady,
		starts+readTries*again, block[atStatus])
}

// calibrate reads the calibration twice.
func (d *Dev) calibrate() (Calibration, error) {
	var low, high [2][]byte
	for i := range 2 {
		low[i], high[i] = make([]byte, lowSize), make([]byte, highSize)
		if err := d.read(calibrationLow, low[i]); err != nil {
			return Calibration{}, err
		}
		if err := d.read(calibrationHigh, high[i]); err != nil {
			return Calibration{}, err
		}
	}
	if !bytes.Equal(low[0], low[1]) || !bytes.Equal(high[0], high[1]) {
		return Calibration{}, fmt.Errorf("BME280: %w: two readings of its calibration differ (% X % X and % X % X)",
			sensors.ErrChecksum, low[0], high[0], low[1], high[1])
	}
	return DecodeCalibration(low[0], high[0])
}

// Read measures, which takes some 11 ms. After an error the reading is zero, and the next Read begins anew by itself.
// Errors: those of Begin and Decode; sensors.ErrNotReady also when the measurement does not end or the chip has lost its
// settings, as it does when its supply fails.
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
	if err := d.write(controlHumidity, humidityOnce, control, measureNow); err != nil {
		return Reading{}, err
	}
	d.sleep(measures)
	var block [blockSize]byte
	for range readTries {
		if err := d.read(controlHumidity, block[:]); err != nil {
			return Reading{}, err
		}
		if block[atStatus]&measuring == 0 && block[atControl] != measureNow {
			return d.finished(block)
		}
		d.sleep(again)
	}
	return Reading{}, fmt.Errorf("BME280: %w: still measuring after %v (status %02X, control %02X)", sensors.ErrNotReady,
		measures+readTries*again, block[atStatus], block[atControl])
}

// finished decodes a block whose settings are the ones that were asked for.
func (d *Dev) finished(block [blockSize]byte) (Reading, error) {
	if block[atHumidity]&0b111 != humidityOnce || block[atControl] != measureAsleep || block[atConfig]>>2&0b111 != noFilter {
		return Reading{}, fmt.Errorf("BME280: %w: it has lost its settings (%02X %02X %02X), as when its supply fails",
			sensors.ErrNotReady, block[atHumidity], block[atControl], block[atConfig])
	}
	return Decode(block[atData:], d.calibration)
}

// read reads registers from one on.
func (d *Dev) read(register byte, into []byte) error {
	if err := d.c.Tx([]byte{register}, into); err != nil {
		return fmt.Errorf("BME280: %w when read from register %02X: %w", sensors.ErrNoAnswer, register, err)
	}
	return nil
}

// write writes pairs of register and value in one piece (section 6.2.1, from memory).
func (d *Dev) write(pairs ...byte) error {
	if err := d.c.Tx(pairs, nil); err != nil {
		return fmt.Errorf("BME280: %w when written to (% X): %w", sensors.ErrNoAnswer, pairs, err)
	}
	return nil
}
