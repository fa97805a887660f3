package main

import (
	"fmt"
	"slices"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/recipe"
)

// picture draws the wiring: the pins of the header, or where that is not known the lines that are used.
func (t wiringTable) picture() draw.WiringPlot {
	p := draw.WiringPlot{Title: t.bench.Title + ": wiring", Board: t.bench.Board.Chip, Notes: t.notes(),
		Subtitle: "Pins as seen from above, pin 1 at the top left. Low-voltage control wires only: the loads hang on their driver stages, " +
			"and those on supplies of their own."}
	at := map[int]int{}
	if t.bench.Board.Header != "" {
		p.Board = "40-pin header"
		p.Pins = headerPins()
		for pin := 1; pin <= recipe.HeaderPins; pin++ {
			if offset, _ := recipe.HeaderCarries(pin); offset >= 0 {
				at[offset] = pin - 1
			}
		}
	} else { // only the lines that are used are drawn, one below another
		p.Subtitle = strings.TrimPrefix(p.Subtitle, "Pins as seen from above, pin 1 at the top left. ")
	}
	for _, w := range t.wires {
		if w.Address != 0 || w.Line.Name == "" && w.Line.Offset < 0 {
			continue
		}
		pin, known := at[w.Line.Offset]
		if !known || w.Line.Offset < 0 {
			pin, p.Pins = len(p.Pins), append(p.Pins, draw.WiringPin{Carries: w.Line.String()})
		}
		p.Wires = append(p.Wires, draw.WiringWire{Pin: pin, Group: w.Group.String(), Role: w.Role, About: besideWords(w), Class: wireClass(w)})
	}
	p.Chips = t.chips()
	return p
}

// headerPins are the pins of the 40-pin header.
func headerPins() (pins []draw.WiringPin) {
	for pin := 1; pin <= recipe.HeaderPins; pin++ {
		offset, supply := recipe.HeaderCarries(pin)
		if supply == "" {
			supply = fmt.Sprintf("GPIO%d", offset)
		}
		pins = append(pins, draw.WiringPin{Number: fmt.Sprint(pin), Carries: supply})
	}
	return pins
}

// wireClass is the look of a wire. It follows from the use alone, so that the drawing and the table have one colour.
func wireClass(w recipe.Wire) string {
	switch w.Use {
	case recipe.Switches:
		return "load"
	case recipe.Tells:
		return "read"
	}
	return "data"
}

// besideWords are the few words that fit beside a role.
func besideWords(w recipe.Wire) string {
	resistor := map[string]string{"down": ", R to ground", "up": ", R to 3.3 V"}
	held, _, _ := strings.Cut(w.Pull, ",")
	switch {
	case w.Use == recipe.Switches && w.Pull == "":
		return "on at " + w.Active + ", no resistor"
	case w.Use == recipe.Switches:
		return "on at " + w.Active + resistor[held]
	case w.Active != "":
		return w.Active + " when closed"
	case w.Chip != "":
		return w.Chip
	case w.Bus != "":
		return "bus " + w.Bus
	}
	return "pulses" + resistor[held]
}

// chips are the chips on the buses, each with the roles that hang on it.
func (t wiringTable) chips() (chips []draw.WiringChip) {
	for _, w := range t.wires {
		if w.Address == 0 {
			continue
		}
		name := fmt.Sprintf("On bus %s at 0x%02x, %s", w.Bus, w.Address, w.Chip)
		i := slices.IndexFunc(chips, func(c draw.WiringChip) bool { return c.Name == name })
		if i < 0 {
			i, chips = len(chips), append(chips, draw.WiringChip{Name: name})
		} else {
			chips[i].Parts += ", "
		}
		chips[i].Parts += w.Role
		if w.Channel >= 0 {
			chips[i].Parts += fmt.Sprintf(" (channel %d)", w.Channel)
		}
		chips[i].Loads = chips[i].Loads || w.Use == recipe.Switches
	}
	slices.SortStableFunc(chips, func(a, b draw.WiringChip) int { return strings.Compare(a.Name, b.Name) })
	return chips
}
