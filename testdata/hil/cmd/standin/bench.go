package main

import (
	"fmt"
	"strings"
	"sync"
	"time"

	"hil/i2c"
	"hil/lines"
)

// bench is a wiring with its lines and its bus open.
type bench struct {
	wiring
	lines    map[string]*lines.Line
	contacts []*lines.Line
	bus      *i2c.Bus
	channels [16][4]byte // as last written

	mu      sync.Mutex
	good    time.Time // when the sensor last gave a reading
	changed time.Time // and when that differed from the one before
}

// open claims all lines of a bench. A line that is taken is told with its holder.
func open(w wiring, active bool) (*bench, error) {
	b := &bench{wiring: w, lines: map[string]*lines.Line{}, good: time.Now(), changed: time.Now()}
	chip, err := lines.Chip(w.chip)
	if err != nil {
		return nil, err
	}
	for _, o := range w.outputs {
		if o.line < 0 {
			continue
		}
		flags := uint64(lines.Output)
		if o.low {
			flags |= lines.ActiveLow
		}
		l, err := lines.Claim(chip, o.line, flags, active)
		if err != nil {
			held, _ := lines.Look(chip, o.line)
			b.close()
			return nil, fmt.Errorf("%s: line %d is held by %q: %w", o.name, o.line, held.Consumer, err)
		}
		b.lines[o.name] = l
	}
	for _, line := range w.contacts {
		l, err := lines.Claim(chip, line, lines.Input, false)
		if err != nil {
			b.close()
			return nil, err
		}
		b.contacts = append(b.contacts, l)
	}
	if b.bus, err = i2c.Open(i2c.Find("tiny-usb")); err != nil {
		return nil, err
	}
	// Awake, registers one after the other: only then do the channels do anything.
	b.bus.Tx(0x40, []byte{0x00, 0x21}, 0)
	return b, nil
}

func (b *bench) close() {
	for _, l := range b.lines {
		l.Close()
	}
	for _, l := range b.contacts {
		l.Close()
	}
}

// drive switches on what is named, and off what is not: the lines first, because the bus may be slow.
func (b *bench) drive(on string) {
	named := map[string]bool{}
	for _, name := range strings.Fields(on) {
		named[name] = true
	}
	for _, o := range b.outputs {
		if l := b.lines[o.name]; l != nil {
			l.Set(named[o.name])
		}
	}
	for _, o := range b.outputs {
		if o.line < 0 {
			b.channel(o.channel, named[o.name])
		}
	}
}

// channel writes a channel fully on or off when it is not so already.
func (b *bench) channel(n int, on bool) {
	register, full := byte(0x06+4*n), [4]byte{0, 0, 0, 0x10}
	if on {
		full = [4]byte{0, 0x10, 0, 0}
	}
	if b.channels[n] == full {
		return
	}
	if _, err := b.bus.Tx(0x40, append([]byte{register}, full[:]...), 0); err == nil {
		b.channels[n] = full
	}
}

// trouble is the guard that trips now, or "".
func (b *bench) trouble() string {
	for i, l := range b.contacts {
		open, err := l.Get()
		if err == nil && !open {
			continue
		}
		return [...]string{"lid-open", "estop", "tray-wet", "tank-low"}[i]
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case b.sensor == 0:
	case time.Since(b.good) > 2500*time.Millisecond: // one transfer a second must be endured
		return "reading-stale"
	case time.Since(b.changed) > 3*time.Second:
		return "reading-implausible"
	}
	return ""
}

// listen reads the bench's sensor beside the loop.
func (b *bench) listen() {
	var last string
	for ; ; time.Sleep(100 * time.Millisecond) {
		text, err := b.read()
		if err != nil {
			continue
		}
		b.mu.Lock()
		b.good = time.Now()
		if text != last {
			b.changed = b.good
		}
		b.mu.Unlock()
		last = text
	}
}

// read asks the sensor for one raw reading.
func (b *bench) read() (string, error) {
	command, wait, length := []byte{0x24, 0x00}, 20*time.Millisecond, 6
	if b.sensor == 0x48 {
		command, wait, length = []byte{1, 0xc3, 0xe3}, 5*time.Millisecond, 2
	}
	if _, err := b.bus.Tx(b.sensor, command, 0); err != nil {
		return "", err
	}
	time.Sleep(wait)
	pointer := []byte{0}
	if b.sensor != 0x48 {
		pointer = nil
	}
	raw, err := b.bus.Tx(b.sensor, pointer, length)
	if err == nil && length == 6 && sum(raw[:2]) != raw[2] {
		err = fmt.Errorf("wrong checksum")
	}
	return fmt.Sprintf("%x", raw), err
}

// sum is the chip's checksum by its definition.
func sum(b []byte) byte {
	c := byte(0xff)
	for _, x := range b {
		c ^= x
		for range 8 {
			c = c<<1 ^ 0x31*(c>>7)
		}
	}
	return c
}
