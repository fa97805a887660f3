// Guesttest starts the product's binary in the guest and holds what it does against what the host sees on the wires. The
// scenarios are a table.
package main

import (
	"os"
	"slices"
	"strings"

	"hil/bus"
	"hil/console"
)

// chips are the labels of the gpiochips.
var chips = map[string]string{"virt": "9030000.pl061", "raspi3b": "pinctrl-bcm2835", "raspi0": "pinctrl-bcm2835"}

func main() {
	guest := os.Getenv("RIG_MACHINE")
	r := &rig{Host: console.Dial(), chip: chips[guest]}
	var err error
	if r.model, err = bus.Dial(); !r.Check(err == nil, "the bus model takes orders (%v)", err) {
		os.Exit(1)
	}
	// Scenarios mostly wait, so those of one kind of guest are dealt to several that run beside each other.
	parts := strings.Split(os.Getenv("RIG_PARTS"), ",")
	for _, s := range scenarios {
		switch {
		case !slices.Contains(s.guests, guest), !slices.Contains(parts, s.part), s.part == "files" && standsIn:
		default:
			r.scenario(s)
		}
	}
	os.Exit(r.Status())
}
