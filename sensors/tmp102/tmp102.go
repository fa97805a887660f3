// Package tmp102 reads the temperature sensors TMP102 (twelve bits) and LM75 (nine bits) over I2C. They convert all the
// time, and a reading is the last conversion, at most 0.2 s old with the TMP102 and 0.3 s with the LM75.
//
// After its supply has failed such a chip reads 0 °C, or anything, until it has converted. It is therefore given settings
// that differ from those it starts with, and each reading is followed by a look whether they are still there. There is no
// checksum: single damaged readings are for spike filters and limits to find.
//
// Pages and tables are those of the data sheets SBOS397 (TMP102) and SNIS153B (LM75). What is marked so is from memory of
// them and wants checking there.
package tmp102

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3"

	"fullery/sensors"
)

// Kind is which chip it is.
type Kind uint8

// The kinds. The zero value is the stricter one: it refuses the other.
const (
	TMP102 Kind = iota
	LM75
)

// String returns the name of the kind.
func (k Kind) String() string {
	if k == LM75 {
		return "LM75"
	}
	return "TMP102"
}

// Registers (SBOS397, pointer register; SNIS153B, page 11).
const (
	temperature = 0
	settings    = 1
)

// plan is what a kind is set to.
type plan struct {
	asleep, awake []byte
	ignore        []byte        // bits of the settings that the chip itself changes
	first         time.Duration // from awake to a temperature that can be believed
}

// TMP102: the first byte is one-shot, two bits of resolution that always read 1, fault queue, polarity, mode, shutdown; the
// second two bits of conversion rate, alert, extended mode (table 7). We ask for 8 conversions a second, where the chip
// starts with 4, and leave everything else off. The first conversion ends after 35 ms at most (from memory); we wait for
// a whole period besides.
var ofTMP102 = plan{
	asleep: []byte{0x61, 0xC0},
	awake:  []byte{0x60, 0xC0},
	ignore: []byte{0x80, 0x20},
	first:  170 * time.Millisecond,
}

// LM75: fault queue in bits 3 and 4, shutdown in bit 0 (page 11). The fault queue is set to 2, where the chip starts with
// 1; nothing is connected to the output that it delays. A conversion takes 100 ms typically, 300 ms at most (the latter
// from memory).
var ofLM75 = plan{
	asleep: []byte{0x09},
	awake:  []byte{0x08},
	ignore: []byte{0},
	first:  350 * time.Millisecond,
}

const (
	beginTries = 5
	settles    = 20 * time.Millisecond // before another try to begin; our choice
)

// Dev is one chip. It is for one goroutine.
type Dev struct {
	c     conn.Conn
	sleep func(time.Duration)
	kind  Kind
	plan  plan
	begun bool // in the known state, and has converted since
}

// New returns the chip of a kind behind a connection; nothing is sent yet. All waiting goes through sleep.
func New(c conn.Conn, k Kind, sleep func(time.Duration)) *Dev {
	d := &Dev{c: c, sleep: sleep, kind: k, plan: ofTMP102}
	if k == LM75 {
		d.plan = ofLM75
	}
	return d
}

// Begin brings the chip from whatever state an earlier program left it in into the known one and waits for its first
// conversion: 0.17 s with the TMP102, 0.35 s with the LM75, some 80 ms more with a chip that refuses. Errors:
// sensors.ErrNoAnswer, and sensors.ErrForeign when the chip does not keep its settings.
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
	// Through sleep, because waking begins a conversion at once; a chip that was left converting every four seconds
	// might otherwise give an old value for as long.
	for _, s := range [][]byte{d.plan.asleep, d.plan.awake} {
		if err := d.set(s); err != nil {
			return err
		}
	}
	got, kept, err := d.kept()
	if err != nil {
		return err
	}
	if !kept {
		return fmt.Errorf("%v: %w: it was set to % X and reads % X; check the address and the part", d.kind, sensors.ErrForeign,
			d.plan.awake, got)
	}
	d.sleep(d.plan.first)
	return nil
}

// Read returns the last conversion. After an error the reading is zero, and the next Read begins anew by itself, which
// takes as long as Begin. Errors: those of Begin and Decode, and sensors.ErrNotReady when the chip has lost its settings,
// as it does when its supply fails.
func (d *Dev) Read() (Reading, error) {
	if !d.begun {
		// A single try: the next call is the next one, so that a dead chip does not hold up the others on its bus.
		if err := d.begin(1); err != nil {
			return Reading{}, err
		}
	}
	r, err := d.measure()
	if err != nil {
		d.begun = false
		return Reading{}, err
	}
	return r, nil
}

func (d *Dev) measure() (Reading, error) {
	// Both bytes always: an LM75 that is read by one can hold the data line down for good (SNIS153B, page 11).
	var b [2]byte
	if err := d.get(temperature, b[:]); err != nil {
		return Reading{}, err
	}
	// Afterwards: settings that are there now were there when the temperature was read.
	got, kept, err := d.kept()
	if err != nil {
		return Reading{}, err
	}
	if !kept {
		return Reading{}, fmt.Errorf("%v: %w: it has lost its settings (% X, and they were % X), as when its supply fails",
			d.kind, sensors.ErrNotReady, got, d.plan.awake)
	}
	return Decode(d.kind, uint16(b[0])<<8|uint16(b[1]))
}

// kept reads the settings back and tells whether they are the ones that were asked for.
func (d *Dev) kept() (got []byte, kept bool, err error) {
	got, kept = make([]byte, len(d.plan.awake)), true
	if err := d.get(settings, got); err != nil {
		return nil, false, err
	}
	for i, want := range d.plan.awake {
		kept = kept && (got[i]^want)&^d.plan.ignore[i] == 0
	}
	return got, kept, nil
}

func (d *Dev) get(register byte, into []byte) error {
	if err := d.c.Tx([]byte{register}, into); err != nil {
		return fmt.Errorf("%v: %w when read from register %d: %w", d.kind, sensors.ErrNoAnswer, register, err)
	}
	return nil
}

func (d *Dev) set(to []byte) error {
	if err := d.c.Tx(append([]byte{settings}, to...), nil); err != nil {
		return fmt.Errorf("%v: %w when set to % X: %w", d.kind, sensors.ErrNoAnswer, to, err)
	}
	return nil
}
