package recipe

import "fmt"

// What is known of how chips leave their lines. The first was seen on the kernel's own drivers, on emulated boards: some
// drivers keep the level when the program is gone, others turn the line into an input. The others are from memory.
const (
	keepsLevel = "most boards keep the last level, some turn the line into an input, which "
	keepsDuty  = " goes on at its last duty, against which no resistor helps"
)

// outputStates tells how the wire of an output is from the first power to the end of the program.
func (b *Board) outputStates(o Output, wire *Wire) {
	w := b.Outputs[o]
	off, on := w.levels()
	wire.PowerOff = WireState{"off", fmt.Sprintf("only your pull-%s holds it", off)}
	if w.Pull == "" {
		wire.PowerOff = WireState{"not held", "nothing holds it unless the driver stage has a resistor of its own"}
		wire.warn(fmt.Sprintf("nothing holds it at off while the board has no power, nor after a crash: fit about 4.7 kΩ to %s and write "+
			`rests = "off by pull-%s"`, rail(off), off))
	}
	wire.Idle = WireState{"off", "the program drives it " + offLevel(off)}
	switch w.Drive {
	case DriveChip:
		wire.Boot = WireState{"may be on", "off from power-on, as the chip drives it low; but when only the board starts anew, the chip" + keepsDuty}
		wire.Idle.Why = "the chip drives it low"
		wire.Crash = WireState{"may be on", "the chip" + keepsDuty}
		wire.warn("the chip keeps its last duty when the program is gone: only something that writes to it, or that cuts the supply of the load, ends it")
	case DrivePWM:
		wire.Boot = b.boot(w)
		wire.Idle.Why = "the PWM runs at a duty of nothing"
		wire.Crash = WireState{"may be on", "the PWM" + keepsDuty}
		wire.warn("the PWM keeps its last duty when the program is gone: only something that writes to it, or that cuts the supply of the load, ends it")
		if !reachesPWM(b.Header, b.Chip, w.Line.Offset) {
			wire.warn("the hardware PWM does not come out at this line, as far as is known")
		}
	default:
		wire.Boot = b.boot(w)
		wire.Crash = WireState{"may be on", keepsLevel + "rests off only by the external resistor"}
		if w.Pull == "" {
			wire.Crash.Why = keepsLevel + "then rests off only by the board's own weak pull"
		}
	}
	if w.Pull == off && defaultPull(b.Header, w.Line.Offset) == on {
		wire.warn("the board pulls this line to on until the program starts: make your resistor at most about 5 kΩ, or take another line")
	}
	switch o {
	case OutHeater:
		wire.warn("add a thermal fuse that opens by itself; let someone who is qualified wire the heater")
	case OutHeaterEnable:
		wire.warn("its switch is in series with the heater's first one, and another kind of part, so that both do not fail alike")
	case OutAlive:
		wire.aliveStates()
	}
}

// aliveStates tells of the sign of life: what hangs on it is held on only while the wire changes.
func (w *Wire) aliveStates() {
	w.Active = "" // neither level switches anything on
	w.Idle = WireState{"changes", "at every tick of the loop, twenty times a second, while its outputs can be driven"}
	w.Crash = WireState{"stands still", "at one level or the other: what hangs on its changing drops out"}
	w.warn("lead it to a part that drops out by itself when the changing stops, at either level, such as a watchdog relay or a charge " +
		"pump before a relay, which holds the supply of the loads; try it by pulling the wire out while nothing is wet")
	w.warn("whether a fan that clears vapour hangs on it as well is for someone who is qualified to decide")
}

// boot tells what holds a line until the program has it. A file without errors never has a line here that would be on.
func (b *Board) boot(w OutputWiring) WireState {
	off, on := w.levels()
	switch defaultPull(b.Header, w.Line.Offset) {
	case on:
		return WireState{"off", fmt.Sprintf("only your pull-%s holds it, against the board's own pull-%s", off, on)}
	case off:
		if w.Pull == "" {
			return WireState{"off", fmt.Sprintf("the board's own weak pull-%s holds it", off)}
		}
		return WireState{"off", fmt.Sprintf("the board's own pull-%s and yours hold it", off)}
	}
	return WireState{"off", fmt.Sprintf("only your pull-%s holds it; how the board pulls is not known", off)}
}

// offLevel is the level to which a pull takes a wire.
func offLevel(pull string) string {
	if pull == "up" {
		return "high"
	}
	return "low"
}

// rail is what the resistor of a pull is joined to.
func rail(pull string) string {
	if pull == "up" {
		return "3.3 V"
	}
	return "ground"
}

// unread tells that nobody looks at the wire; nothing runs then that it would have to stop.
func (w *Wire) unread() {
	w.PowerOff = WireState{"not read", "the board drives nothing"}
	w.Boot = WireState{"not read", "no program is there yet"}
	w.Crash = WireState{"not read", "no program is there any more: nothing that this wire tells stops a load"}
}

// contactStates tells how a contact reads. It is closed while all is well, and its line is pulled to the other level.
func (w *Wire) contactStates(i Sensor, in InputWiring) {
	w.Active, w.Pull = "low", "up, by the program"
	if in.ToSupply {
		w.Active, w.Pull = "high", "down, by the program"
	}
	w.Idle = WireState{w.Active, "closed, all is well; a broken wire reads the other level, which is trouble"}
	if i == EStop {
		w.warn("this wire only tells: the button's main contact has to cut the loads' supply by itself, without any program")
	}
}

// chipStates tells how a sensor behind a chip is.
func (w *Wire) chipStates() {
	w.Idle = WireState{"is asked", "a chip that does not answer, or answers wrongly, is no reading and never a number"}
}

func (w *Wire) warn(text string) { w.Warnings = append(w.Warnings, text) }
