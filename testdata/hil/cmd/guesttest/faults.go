package main

import (
	"slices"
	"syscall"
	"time"
)

// tick is the loop's period. An answer to an input may take one tick until it is seen, and what the virtual machine adds:
// its share of a busy computer and the way of a line over the console, for which we allow two ticks more.
const (
	tick      = 0.05 // s
	allowance = 2 * tick
)

// within is how soon all must be off when the program is gone or hangs, s.
const within = 2.0

// The ways a program ends.
const (
	terminated = syscall.SIGTERM
	killed     = syscall.SIGKILL
	hung       = syscall.SIGSTOP
)

// still is every output but the fan, which may run on after a cycle is held or aborted.
func (r *rig) still() []output {
	return slices.DeleteFunc(slices.Clone(r.outputs), func(o output) bool { return o.name == "fan" })
}

// lidOpened opens the lid from outside while an output is on: all but the fan go off within a tick. Closing it again
// starts nothing.
func lidOpened(during string) func(*rig) {
	return func(r *rig) {
		p := r.cycle()
		defer p.sweep()
		if !r.reached(p, during) {
			return
		}
		r.openLid(r.still())
		r.ask("input 0 0")
		r.ask("mark")
		time.Sleep(time.Second)
		activations := r.activations(r.still())
		r.check(len(activations) == 0, "closing the lid starts nothing: %v", activations)
	}
}

// openLid opens it and times how long the outputs take.
func (r *rig) openLid(outputs []output) {
	r.ask("input 0 1")
	_, err := r.settled(outputs, 2*time.Second)
	if !r.check(err == nil, "an open lid switches off (%v)", err) {
		return
	}
	opened := r.edges("input0")
	took := r.lastOff(outputs) - opened[len(opened)-1].at
	r.check(took < tick+allowance, "within a tick: %.3f s", took)
}

// ended ends or stops the program's own process while an output is on; whoever is left switches off.
func ended(by syscall.Signal, during string) func(*rig) {
	return func(r *rig) {
		p := r.cycle()
		defer p.sweep()
		if !r.reached(p, during) {
			return
		}
		begin := time.Now()
		p.signal(by)
		_, err := r.settled(r.outputs, within*time.Second)
		r.check(err == nil, "every output is off after %v (%v)", time.Since(begin).Round(10*time.Millisecond), err)
		if by == terminated {
			status := p.status(10 * time.Second)
			r.check(status > 0, "it ends by itself and says that the cycle did not complete: status %d %s", status, p.said())
		}
		r.ask("mark")
		time.Sleep(time.Second)
		activations := r.activations(r.outputs)
		r.check(len(activations) == 0, "nothing goes on again: %v", activations)
	}
}

// switchedOff uses the product's own command for it from another process.
func switchedOff(r *rig) {
	p := r.cycle()
	defer p.sweep()
	if !r.reached(p, "pads") {
		return
	}
	off := r.start("off", "--bench", r.bench("bench-wet.toml"))
	defer off.sweep()
	status := off.status(10 * time.Second)
	_, err := r.settled(r.still(), within*time.Second)
	r.check(status == done && err == nil, "status %d: %s (%v)", status, off.said(), err)
}

// spoilt breaks a chip while an output is on: one of the guards trips, and all but the fan go off. A reading serves for some
// seconds, so it takes as long.
func spoilt(address int, fault, during string, guards ...string) func(*rig) {
	return func(r *rig) {
		p := r.cycle()
		defer p.sweep()
		if !r.reached(p, during) {
			return
		}
		r.order("fault 0x%02x %s", address, fault)
		_, err := r.settled(r.still(), 10*time.Second)
		if err == nil { // a heater may be off for a moment: it has to stay so
			time.Sleep(3 * time.Second)
			_, err = r.settled(r.still(), 10*time.Second)
		}
		r.check(err == nil, "it switches off (%v)", err)
		status := p.status(6 * time.Second) // with nobody at a keyboard a cycle that is held is stopped
		if status == -2 {
			status = p.finish()
		}
		r.check(status == guarded && tripped(p, guards...), "status %d, guards %+v, one of %v is right: %s", status,
			summarised(p).Guards, guards, p.errs.String())
	}
}

// slowBus: a chip that needs a second for a transfer holds the bus; the lines must not wait for it.
func slowBus(r *rig) {
	p := r.cycle()
	defer p.sweep()
	if !r.reached(p, "heater-enable") {
		return
	}
	r.order("fault 0x44 slow")
	time.Sleep(1500 * time.Millisecond)
	lines := slices.DeleteFunc(r.still(), func(o output) bool { return o.wire == "pwm0" })
	r.openLid(lines)
	r.order("heal 0x44")
}
