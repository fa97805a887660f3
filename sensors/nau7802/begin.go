package nau7802

import (
	"fmt"

	"fullery/sensors"
)

// begin is the power-up sequence of data sheet section 9.1, and a calibration of every input that is used.
func (d *Dev) begin() error {
	d.begun, d.channel = false, -1
	if err := d.set.check(); err != nil {
		return err
	}
	if err := d.powerUp(); err != nil {
		return err
	}
	if err := d.known(); err != nil {
		return err
	}
	if err := d.setUp(); err != nil {
		return err
	}
	for channel := d.set.inputs() - 1; channel >= 0; channel-- {
		if err := d.calibrate(channel); err != nil {
			return err
		}
	}
	if _, err := d.ready(0); err != nil { // nothing of it was lost on the way
		return err
	}
	d.begun = true
	return nil
}

// powerUp resets all registers and waits until the digital part is up.
func (d *Dev) powerUp() error {
	if err := d.write(regPower, powReset); err != nil {
		return err
	}
	d.sleep(resetTime)
	if err := d.write(regPower, powDigital); err != nil {
		return err
	}
	for range upTries {
		d.sleep(upStep)
		b, err := d.get(regPower, 1)
		if err != nil {
			return err
		}
		if b[0]&powUp != 0 {
			return nil
		}
	}
	return fmt.Errorf("%w: it does not power up", sensors.ErrNotReady)
}

// known asks for the revision, whose lower half is 1111 in all of these chips.
func (d *Dev) known() error {
	b, err := d.get(regRevision, 1)
	if err == nil && b[0]&revisionMask != revisionMask {
		err = fmt.Errorf("%w: its revision code reads 0x%02x, and should end in f", sensors.ErrForeign, b[0])
	}
	return err
}

// setUp writes all settings and starts the conversions.
func (d *Dev) setUp() error {
	quiet := byte(capacitor)
	if d.set.Both {
		quiet = 0
	}
	for _, w := range [][2]byte{
		{regPower, powLDO | powAnalogue | powDigital},
		{regCtrl1, d.set.ctrl1()},
		{regCtrl2, d.set.ctrl2(0)},
		{regADC, choppersOff},
		{regPGAPower, quiet},
	} {
		if err := d.write(w[0], w[1]); err != nil {
			return err
		}
	}
	d.sleep(analogueUp)
	return d.write(regPower, running)
}

// calibrate lets the chip find offset and gain of its own parts for one input (data sheet section 8.6; mode 00, inside).
// The values are kept in the registers of that input. They know nothing of the load cell.
func (d *Dev) calibrate(channel int) error {
	if err := d.write(regCtrl2, d.set.ctrl2(channel)|calibrate); err != nil {
		return err
	}
	for range calTries {
		d.sleep(calStep)
		b, err := d.get(regCtrl2, 1)
		switch {
		case err != nil:
			return err
		case b[0]&calibrate != 0: // still at it
		case b[0]&calFailed != 0:
			return fmt.Errorf("%w: the calibration of its own parts failed at input %d; check supply and wiring",
				sensors.ErrNotReady, channel)
		default:
			return nil
		}
	}
	return fmt.Errorf("%w: the calibration of its own parts does not end", sensors.ErrNotReady)
}
