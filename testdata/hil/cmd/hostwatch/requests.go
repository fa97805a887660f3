package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// requests answers what the guest asks.
//
//	input LINE LEVEL          move an input from outside
//	pulse LINE HZ WIRE LEVEL  give pulses on an input while a wire stands at a level; for LEVEL "duty" the rhythm is HZ
//	                          times the wire's share of 4096
//	still LINE                end that
//	edges [WIRE…]             what the wires did since the last mark, a line each: seconds, wire, level
//	mark                      the same, and set the mark after them
//	now WIRE                  the wire's level
//	look LINE                 the device's own registers: "in" or "out", and the level
type requests struct {
	machine machine
	path    string // of the device, in QEMU's tree
	probe   *probe
	wires   *wires
	since   func() time.Duration
	pulses  map[int]chan struct{} // running rhythms; closing one ends it
}

// answer never fails for what is asked: a wrong request is the guest's to report.
func (r *requests) answer(text string) (string, error) {
	words := strings.Fields(text)
	if len(words) == 0 {
		return "", fmt.Errorf("an empty request")
	}
	switch words[0] {
	case "edges", "mark":
		// Asking for a register first makes sure that all that QEMU has said about wires has been heard.
		if _, err := r.probe.do(fmt.Sprintf("readl 0x%x", r.machine.base)); err != nil {
			return "", err
		}
		if err := r.refresh(); err != nil {
			return "", err
		}
		return r.wires.since(words[0] == "mark", words[1:]...), nil
	}
	if len(words) < 2 {
		return "", fmt.Errorf("%q lacks a line", text)
	}
	if words[0] == "now" {
		level, _ := r.wires.level(words[1])
		return strconv.Itoa(level), nil
	}
	line, err := strconv.Atoi(words[1])
	if err != nil || line < 0 || line > 31 {
		return "", fmt.Errorf("%q is no line", words[1])
	}
	switch {
	case words[0] == "input" && len(words) == 3:
		return "", r.input(line, words[2] == "1")
	case words[0] == "pulse" && len(words) == 5:
		hertz, err := strconv.ParseFloat(words[2], 64)
		if err != nil || hertz <= 0 || hertz > 1000 {
			return "", fmt.Errorf("%q is no rhythm", words[2])
		}
		r.still(line)
		r.pulses[line] = make(chan struct{})
		go r.pulse(line, hertz, words[3], words[4], r.pulses[line])
		return "", nil
	case words[0] == "still":
		r.still(line)
		return "", nil
	case words[0] == "look":
		return r.look(line)
	}
	return "", fmt.Errorf("unknown request %q", text)
}

// refresh reads the lines whose device model keeps silent about some changes: when a line that stands high is given back it
// says nothing, nor when it then comes on again. Where nobody drives a line its resistor does, and there is nothing to note.
func (r *requests) refresh() error {
	if r.machine.inputs == "wire" {
		return nil
	}
	for _, line := range r.wires.lines() {
		state, err := r.look(line)
		if err != nil {
			return err
		}
		if level, ok := strings.CutPrefix(state, "out "); ok {
			high, _ := strconv.Atoi(level) // 0 or 1, by look
			r.wires.note(r.since(), fmt.Sprint("line", line), high)
		}
	}
	return nil
}

func (r *requests) input(line int, high bool) error {
	level := 0
	if high {
		level = 1
	}
	// Noted first: what the guest does in answer must not come before its cause.
	r.wires.note(r.since(), fmt.Sprint("input", line), level)
	_, err := r.probe.do(r.machine.move(r.path, line, high))
	return err
}

func (r *requests) still(line int) {
	if stop := r.pulses[line]; stop != nil {
		close(stop)
		delete(r.pulses, line)
	}
}

// pulse moves an input in a steady rhythm for as long as the wire stands as asked. It does not record its pulses.
func (r *requests) pulse(line int, hertz float64, wire, level string, stop <-chan struct{}) {
	high := false
	for {
		now, changed := r.wires.level(wire)
		rate := hertz
		if level == "duty" {
			rate *= float64(now) / 4096
		} else if strconv.Itoa(now) != level {
			rate = 0
		}
		if rate == 0 {
			select {
			case <-changed:
				continue
			case <-stop:
				return
			}
		}
		select {
		case <-time.After(time.Duration(float64(time.Second) / rate / 2)):
			high = !high
			if _, err := r.probe.do(r.machine.move(r.path, line, high)); err != nil {
				return
			}
		case <-stop:
			return
		}
	}
}

// look reads the device's registers.
func (r *requests) look(line int) (string, error) {
	address, shift, mask := r.machine.direction(line)
	direction, err := r.read(address)
	if err != nil {
		return "", err
	}
	address, at := r.machine.level(line)
	level, err := r.read(address)
	if err != nil {
		return "", err
	}
	word := "in"
	if direction>>shift&uint64(mask) == 1 {
		word = "out"
	}
	return fmt.Sprint(word, " ", level>>at&1), nil
}

func (r *requests) read(address uint64) (uint64, error) {
	text, err := r.probe.do(fmt.Sprintf("readl 0x%x", address))
	if err != nil {
		return 0, err
	}
	return strconv.ParseUint(strings.TrimPrefix(text, "0x"), 16, 64)
}

// keepAwake rings the timer's alarm again when the guest may have slept through it. QEMU's model takes an alarm that is set
// for a moment just past, which a busy computer brings about, for one in an hour; the guest would then never wake. An
// alarm too many does nothing: the kernel looks at its clock.
func (r *requests) keepAwake(stop <-chan struct{}) {
	if r.machine.timer == 0 {
		return
	}
	// Registers of the system timer (peripherals manual, chapter 12); the kernel uses the last of its four alarms.
	const status, clock, alarm, rung = 0x00, 0x04, 0x18, 8
	for {
		select {
		case <-stop:
			return
		case <-time.After(50 * time.Millisecond):
		}
		pending, err := r.read(r.machine.timer + status)
		now, err2 := r.read(r.machine.timer + clock)
		set, err3 := r.read(r.machine.timer + alarm)
		if err != nil || err2 != nil || err3 != nil {
			return
		}
		const late, soon = 10000, 500 // µs
		if pending&rung == 0 && int32(uint32(now)-uint32(set)) > late {
			r.probe.do(fmt.Sprintf("writel 0x%x 0x%x", r.machine.timer+alarm, uint32(now)+soon))
		}
	}
}
