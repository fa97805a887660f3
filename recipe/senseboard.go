package recipe

import (
	"fmt"

	"fullery/recipe/quantity"
)

// senseBoard checks the wiring as a whole: every part has its output, and no wire serves two.
func (b *Bench) senseBoard(top *section) {
	b.senseOutputs(top)
	b.senseLines(top)
	b.senseChips(top)
	b.senseChannels(top)
	b.senseCutOffs(top)
	b.senseRated(top)
}

// senseOutputs checks outputs against parts. An output too many is refused as well as one too few: it would be wired to
// something that this program then never switches off.
func (b *Bench) senseOutputs(top *section) {
	parts := [NumOutputs]string{"pump", "rinse-pump", "press", "pads", "pads", "hub", "fan", "heater", "heater", ""}
	for o := range NumOutputs {
		part, fitted := parts[o], b.Board.Outputs[o].Fitted
		switch there := top.has(part); {
		case o == OutAlive: // belongs to no part
		case fitted && !there:
			top.wrong("outputs."+o.String(), fmt.Sprintf("the output %s has no part: there is no [%s]", o, part),
				fmt.Sprintf("add [%s], or leave the output out", part))
		case there && !fitted && o == OutHeaterEnable:
			top.wrong("outputs", "the heater has no enable line of its own: a switch that fails closed could not be cut off",
				"add [outputs.heater-enable] for a second switch in the heater's supply")
		case there && !fitted && o != OutPadsReverse && !(o == OutPress && !b.Press):
			top.wrong("outputs", fmt.Sprintf("the part [%s] has no output", part), fmt.Sprintf("add [outputs.%s]", o))
		}
	}
}

// senseLines refuses one line in two roles. A name and an offset are compared where the header tells which offset a name
// has; on other boards a line named once and numbered once would only be found by the kernel, which gives it out once.
func (b *Bench) senseLines(top *section) {
	roles := map[string]string{}
	claim := func(l Line, path string) {
		key := l.Name
		if l.Offset >= 0 {
			key = fmt.Sprint("line ", l.Offset)
		}
		if key == "" {
			return
		}
		if other, taken := roles[key]; taken {
			top.wrong(path, fmt.Sprintf("%s is used already, by %s", l, other), "give every role a line of its own")
			return
		}
		roles[key] = path
	}
	for _, bus := range b.Board.Buses {
		data, clock := busLines(b.Board.Header, bus.Adapter)
		roles[fmt.Sprint("line ", data)], roles[fmt.Sprint("line ", clock)] = "buses."+bus.Name, "buses."+bus.Name
	}
	for o := range NumOutputs {
		if w := b.Board.Outputs[o]; w.Fitted {
			claim(w.Line, "outputs."+o.String()+".line")
		}
	}
	for i := range NumSensors {
		if w, path := b.Board.Inputs[i], "sensors."+i.String(); b.Sensors[i].Fitted {
			switch {
			case w.Chip == "" && (i.Contact() || w.Pulses > 0):
				claim(w.Line, path+".line")
			case w.Chip == "hx711":
				claim(w.Data, path+".data")
				claim(w.Clock, path+".clock")
			}
		}
	}
}

// spot is where a chip can be asked: an address on a bus.
type spot struct {
	bus     string
	address int
}

// occupant is the chip at a spot, and whose it was first.
type occupant struct{ chip, of string }

// senseChips refuses two chips on one address, of sensors and of outputs, and two sensors that would be the same reading.
// One chip may serve two sensors with what it measures besides, as humidity and temperature.
func (b *Bench) senseChips(top *section) {
	at := map[spot]occupant{}
	for o := range NumOutputs {
		if w := b.Board.Outputs[o]; w.Drive == DriveChip && w.Address != 0 {
			if where := (spot{w.Bus, w.Address}); at[where].chip == "" {
				at[where] = occupant{chip: w.Chip, of: o.String()}
			}
		}
	}
	readings := map[string]Sensor{}
	for i := range NumSensors {
		w := &b.Board.Inputs[i]
		if w.Chip == "" || w.Address == 0 {
			continue
		}
		path, where := "sensors."+i.String(), spot{w.Bus, w.Address}
		if other := at[where]; other.chip != "" && other.chip != w.Chip {
			top.wrong(path+".address", fmt.Sprintf("0x%02x on %s is the %s of %s already", w.Address, show(w.Bus), other.chip, other.of),
				"give each chip an address of its own, or put one on another bus")
			continue
		}
		reading := fmt.Sprint(where, w.Channel, i.dimension())
		if other, taken := readings[reading]; taken {
			top.wrong(path+".address", fmt.Sprintf("%s and %s would be one and the same reading", other, i),
				"give each its own chip or channel")
			continue
		}
		readings[reading] = i
		if at[where].chip == "" {
			at[where] = occupant{chip: w.Chip, of: i.String()}
		}
	}
	b.senseSerials(top)
}

// senseSerials checks that a serial number belongs to one chip and a chip has one serial number; a number told for one
// role of a chip then holds for its others.
func (b *Bench) senseSerials(top *section) {
	told, owner := map[spot]Sensor{}, map[uint32]Sensor{}
	for i := range NumSensors {
		w := b.Board.Inputs[i]
		if w.Serial == 0 || w.Address == 0 {
			continue
		}
		where, path := spot{w.Bus, w.Address}, "sensors."+i.String()+".serial"
		if other, known := told[where]; known && b.Board.Inputs[other].Serial != w.Serial {
			top.wrong(path, fmt.Sprintf("the chip of %s has another serial number already, for %s", i, other), "write the one that it has")
			continue
		}
		if other, known := owner[w.Serial]; known && (spot{b.Board.Inputs[other].Bus, b.Board.Inputs[other].Address}) != where {
			top.wrong(path, fmt.Sprintf("%s has this serial number already, and is another chip", other), "read each chip's own")
			continue
		}
		told[where], owner[w.Serial] = i, i
	}
	for i := range NumSensors {
		w := &b.Board.Inputs[i]
		if from, known := told[spot{w.Bus, w.Address}]; known && w.Serial == 0 && w.Chip == b.Board.Inputs[from].Chip {
			w.Serial = b.Board.Inputs[from].Serial
		}
	}
}

// senseRated refuses pads that could press harder than their load cell may bear.
func (b *Bench) senseRated(top *section) {
	most := b.Pads.Most * b.Pads.Area
	for _, i := range []Sensor{PadFront, PadBack} {
		if rated := b.Board.Inputs[i].Rated; rated > 0 && most > rated*(1+1e-9) { // a product of decimals is not exact
			top.wrong("sensors."+i.String()+".rated", fmt.Sprintf("the pads may press with %s, more than this load cell may bear",
				quantity.Force.Say(most)), "fit a larger load cell, or lower most in [pads]")
		}
	}
}

// senseChannels refuses one PWM channel in two roles, and two rhythms of one PWM chip on a bus. The channels of a hardware
// PWM are apart, but their period may be shared; what the hardware makes of that is for the driver.
func (b *Bench) senseChannels(top *section) {
	roles, rhythms := map[string]Output{}, map[string]Output{}
	for o := range NumOutputs {
		w, path := b.Board.Outputs[o], "outputs."+o.String()
		chip := w.regulator()
		if chip == "" {
			continue
		}
		key := fmt.Sprint(chip, " channel ", w.Channel)
		if other, taken := roles[key]; taken {
			top.wrong(path+".channel", fmt.Sprintf("%s is used already, by %s", key, other), "give every output a channel of its own")
			continue
		}
		roles[key] = o
		if w.Drive != DriveChip || w.Frequency == 0 {
			continue
		}
		if other, known := rhythms[chip]; known && b.Board.Outputs[other].Frequency != w.Frequency {
			top.wrong(path+".frequency", fmt.Sprintf("%s has one frequency for all its channels, and %s asks for %s", chip, other,
				quantity.Frequency.Say(b.Board.Outputs[other].Frequency)), "write the same")
			continue
		}
		rhythms[chip] = o
	}
}

// regulator names the PWM that an output hangs on: "" for a plain line, or where the file does not tell it rightly.
func (w OutputWiring) regulator() string {
	switch {
	case w.Drive == DrivePWM && w.PWM != "":
		return w.PWM
	case w.Drive == DriveChip && w.Address != 0 && w.Chip != "":
		return fmt.Sprintf("the %s at 0x%02x on %s", w.Chip, w.Address, show(w.Bus))
	}
	return ""
}

// senseCutOffs checks that the heater's second cut-off is a plain line: a PWM or a chip on a bus keeps its last level when
// the program or the bus hangs, and on the same part as the first it would not be a second one at all.
func (b *Bench) senseCutOffs(top *section) {
	if alive := b.Board.Outputs[OutAlive].Drive; alive == DriveChip || alive == DrivePWM {
		top.wrong("outputs.alive.drive", "alive has to be a plain line: a PWM or a chip goes on by itself when the program does not",
			`write drive = "switched", with a line of its own`)
	}
	first, second := b.Board.Outputs[OutHeater], b.Board.Outputs[OutHeaterEnable]
	if second.Drive != DriveChip && second.Drive != DrivePWM {
		return
	}
	said := "heater-enable has to be a plain line: it is the cut-off that works when everything else hangs"
	if part := second.regulator(); part != "" && part == first.regulator() {
		said = fmt.Sprintf("heater and heater-enable both hang on %s: one fault of it could hold both on", part)
	}
	top.wrong("outputs.heater-enable.drive", said, `write drive = "switched", with a line of its own`)
}
