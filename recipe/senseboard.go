package recipe

import "fmt"

// senseBoard checks the wiring as a whole: every part has its output, and no wire serves two.
func (b *Bench) senseBoard(top *section) {
	b.senseOutputs(top)
	b.senseLines(top)
	b.senseChips(top)
	b.sensePWM(top)
}

// senseOutputs checks outputs against parts. An output too many is refused as well as one too few: it would be wired to
// something that this program then never switches off.
func (b *Bench) senseOutputs(top *section) {
	parts := [NumOutputs]string{"pump", "rinse-pump", "press", "pads", "pads", "hub", "fan", "heater", "heater"}
	for o := range NumOutputs {
		part, fitted := parts[o], b.Board.Outputs[o].Fitted
		switch there := top.has(part); {
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

// senseChips refuses two chips on one address, and two sensors that would be the same reading. One chip may serve two
// sensors with what it measures besides, as humidity and temperature.
func (b *Bench) senseChips(top *section) {
	type spot struct {
		bus     string
		address int
	}
	first := map[spot]Sensor{}
	readings := map[string]Sensor{}
	for i := range NumSensors {
		w := b.Board.Inputs[i]
		if w.Chip == "" || w.Address == 0 {
			continue
		}
		path, at := "sensors."+i.String(), spot{w.Bus, w.Address}
		if other, taken := first[at]; taken && b.Board.Inputs[other].Chip != w.Chip {
			top.wrong(path+".address", fmt.Sprintf("0x%02x on %s is the %s of %s already", w.Address, show(w.Bus),
				b.Board.Inputs[other].Chip, other), "give each chip an address of its own, or put one on another bus")
			continue
		}
		first[at] = i
		reading := fmt.Sprint(at, w.Channel, i.dimension())
		if other, taken := readings[reading]; taken {
			top.wrong(path+".address", fmt.Sprintf("%s and %s would be one and the same reading", other, i),
				"give each its own chip or channel")
			continue
		}
		readings[reading] = i
	}
}

// sensePWM refuses one PWM channel in two roles. The channels of one chip are apart, but their period may be shared; what
// the hardware makes of that is for the driver.
func (b *Bench) sensePWM(top *section) {
	roles := map[string]Output{}
	for o := range NumOutputs {
		w := b.Board.Outputs[o]
		if w.Drive != "pwm" {
			continue
		}
		key := fmt.Sprint(w.PWM, " channel ", w.Channel)
		if other, taken := roles[key]; taken {
			top.wrong("outputs."+o.String()+".channel", fmt.Sprintf("%s is used already, by %s", key, other),
				"give every output a channel of its own")
			continue
		}
		roles[key] = o
	}
}
