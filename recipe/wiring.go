package recipe

// Wire is one wire of a bench: from a pin of the board, or a channel of a chip, to a part.
type Wire struct {
	Role  string    // the output or sensor as in the bench file; "main data" and the like for what has no name there
	Group WireGroup // the part of the bench that it belongs to
	Use   WireUse   // what it is for; gives its colour

	Pin     int    // of the 40-pin header, from memory; 0 when it is on none or nothing is known
	Line    Line   // Offset -1 and no name for a channel of a chip on a bus
	PWM     string // device of the hardware PWM that comes out at the line
	Chip    string // "" for a line
	Bus     string // name of the bus that the chip is on
	Address int    // on the bus; 0 for none
	Channel int    // of the PWM or the chip; -1 where there is nothing to choose

	Out    bool   // the board drives the wire
	Both   bool   // both ends drive it in turn
	Active string // level at which a load is on or a contact closed: "high", "low"; "" where that means nothing
	Pull   string // what holds the wire when nobody drives it, in words; "" for nothing that is known

	PowerOff WireState // the board has no power, its loads may have
	Boot     WireState // from power until the program has its lines
	Idle     WireState // the program runs, and no cycle does
	Crash    WireState // the program was killed or hangs
	Warnings []string
}

// WireState is how a wire is at some time.
type WireState struct {
	Is  string // a word or two: "off", "may be on"
	Why string // why that is so
}

// WireUse is what a wire is for.
type WireUse uint8

// The uses of a wire.
const (
	Switches WireUse = iota // it switches or regulates a load
	Tells                   // the board reads it
	Carries                 // it belongs to a bus or a converter, and carries what they say
)

// wireUses are the uses in words, each with its colour. Three colours that differ for everyone, and in grey by their names.
var wireUses = [...]struct{ words, colour string }{
	{"switches a load", "orange"}, {"is read", "blue"}, {"carries data", "grey"},
}

// String returns the use in words.
func (u WireUse) String() string { return wireUses[min(int(u), len(wireUses)-1)].words }

// Colour returns the colour of the use in a drawing, which is also a suggestion for the wire itself: "orange", "blue" or
// "grey".
func (u WireUse) Colour() string { return wireUses[min(int(u), len(wireUses)-1)].colour }

// WireGroup is the part of the bench that a wire belongs to.
type WireGroup uint8

// The groups, in the order of the table.
const (
	GroupGuard WireGroup = iota
	GroupLiquid
	GroupTurning
	GroupAir
	GroupBus
)

var wireGroups = [...]string{"Lid and stop", "Liquid", "Pads and hub", "Air and heat", "Bus"}

// String returns the group's name.
func (g WireGroup) String() string { return wireGroups[min(int(g), len(wireGroups)-1)] }

// Wiring lists the wires of a real bench, group by group, the loads of each group before what is read. A simulated bench
// has none. The bench must have been read without errors.
func Wiring(b Bench) []Wire {
	var all []Wire
	for o := range NumOutputs {
		if b.Board.Outputs[o].Fitted {
			all = append(all, b.Board.outputWire(o))
		}
	}
	for i := range NumSensors {
		if !b.Simulated && b.Sensors[i].Fitted {
			all = append(all, b.Board.inputWires(i)...)
		}
	}
	for _, bus := range b.Board.Buses {
		all = append(all, b.Board.busWires(bus)...)
	}
	var sorted []Wire
	for g := GroupGuard; g <= GroupBus; g++ {
		for _, w := range all {
			if w.Group == g {
				sorted = append(sorted, w)
			}
		}
	}
	return sorted
}

var outputGroups = [NumOutputs]WireGroup{
	OutPump: GroupLiquid, OutRinsePump: GroupLiquid, OutPress: GroupTurning, OutPads: GroupTurning, OutPadsReverse: GroupTurning,
	OutHub: GroupTurning, OutFan: GroupAir, OutHeater: GroupAir, OutHeaterEnable: GroupAir, OutAlive: GroupGuard,
}

// group is the part of the bench that a sensor belongs to.
func (s Sensor) group() WireGroup {
	switch s {
	case Lid, EStop:
		return GroupGuard
	case TrayFloat, TankFloat, RinseFloat:
		return GroupLiquid
	case PadFront, PadBack, PadsSpeed, HubSpeed, Weight:
		return GroupTurning
	}
	return GroupAir
}

// pin is the pin of the board's header that carries a line, or 0.
func (b *Board) pin(l Line) int {
	if b.Header != header40 {
		return 0
	}
	return HeaderPin(l.Offset)
}

func (b *Board) outputWire(o Output) Wire {
	w := b.Outputs[o]
	wire := Wire{Role: o.String(), Group: outputGroups[o], Use: Switches, Out: true, Pin: b.pin(w.Line), Line: w.Line, PWM: w.PWM,
		Chip: w.Chip, Bus: w.Bus, Address: w.Address, Channel: -1, Active: "high"}
	if w.ActiveLow {
		wire.Active = "low"
	}
	if w.Drive == DrivePWM || w.Drive == DriveChip {
		wire.Channel = w.Channel
	}
	if w.Pull != "" {
		wire.Pull = w.Pull + ", your resistor"
	}
	b.outputStates(o, &wire)
	return wire
}

// inputWires are the wires that a sensor is read through: one, or two for a converter with wires of its own.
func (b *Board) inputWires(i Sensor) []Wire {
	in := b.Inputs[i]
	wire := Wire{Role: i.String(), Group: i.group(), Use: Tells, Line: Line{Offset: -1}, Chip: in.Chip, Bus: in.Bus,
		Address: in.Address, Channel: -1}
	wire.unread()
	switch {
	case in.Chip == "hx711":
		return b.bridgeWires(i, in, wire)
	case in.Chip != "":
		wire.chipStates()
		if chipNamed(in.Chip).channels > 0 {
			wire.Channel = in.Channel
		}
	case i.Contact():
		wire.Line, wire.Pin = in.Line, b.pin(in.Line)
		wire.contactStates(i, in)
	default:
		wire.Line, wire.Pin = in.Line, b.pin(in.Line)
		wire.Pull = "up, fit about 10 kΩ to 3.3 V"
		wire.Idle = WireState{"still", "it changes with every pulse as soon as the part turns"}
	}
	return []Wire{wire}
}

// bridgeWires are the two wires of a bridge converter that is on no bus.
func (b *Board) bridgeWires(i Sensor, in InputWiring, wire Wire) []Wire {
	data, clock := wire, wire
	data.Role, data.Line, data.Pin = i.String()+" data", in.Data, b.pin(in.Data)
	data.Idle = WireState{"changes", "low when a conversion is ready; a wire that is off reads the same for ever and is refused"}
	clock.Role, clock.Line, clock.Pin = i.String()+" clock", in.Clock, b.pin(in.Clock)
	clock.Use, clock.Out = Carries, true
	clock.Idle = WireState{"low", "with pulses while a conversion is read"}
	clock.Crash = WireState{"any level", "held high the converter sleeps; no load hangs on it"}
	return []Wire{data, clock}
}

// busWires are the two wires of a bus.
func (b *Board) busWires(bus Bus) []Wire {
	data, clock := busLines(b.Header, bus.Adapter)
	wire := Wire{Group: GroupBus, Use: Carries, Bus: bus.Name, Channel: -1, Both: true, Pull: "up, on the board or the chips' boards",
		Idle: WireState{"changes", "with every reading"}}
	wire.unread()
	wire.Crash = WireState{"rests high", "unless a chip was cut off in the middle of a word and holds it low"}
	lines := []Wire{wire, wire}
	for n, offset := range []int{data, clock} {
		w := &lines[n]
		w.Role, w.Line = bus.Name+[]string{" data", " clock"}[n], Line{Offset: offset}
		w.Pin = b.pin(w.Line)
		if w.Pin == 0 {
			w.Warnings = append(w.Warnings, "which pins this adapter has is not known here: look them up in the manual of the board")
		}
	}
	lines[1].Both, lines[1].Out = false, true
	return lines
}
