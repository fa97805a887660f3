package recipe

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"fullery/recipe/quantity"
	"fullery/recipe/tomltree"
)

// wireKeys are all keys of a sensor's wiring.
var wireKeys = []string{"line", "closes-to", "pulses", "chip", "bus", "address", "channel", "data", "clock", "zero", "gain",
	"serial", "rated"}

// wire reads how a sensor is wired; the pull of a contact's line follows from closes-to and cannot be chosen, so that an
// open circuit always reads as trouble. On a simulated bench all such keys are refused.
func (b *Bench) wire(s *section, which Sensor) {
	if b.Simulated {
		s.refuse(wireKeys, "is not for this sensor", `wiring is for kind = "board"; leave it out`)
		return
	}
	w := &b.Board.Inputs[which]
	switch {
	case which.Contact():
		s.refuseAllBut("line", "closes-to")
		w.Line = b.line(s, "line")
		to, _ := s.oneOf("closes-to", "ground", "supply")
		w.ToSupply = to == "supply"
	case which.dimension() == quantity.Turning:
		s.refuseAllBut("line", "pulses")
		w.Line = b.line(s, "line")
		if n, ok := s.whole("pulses", 1, 1000); ok {
			w.Pulses = int(n)
		} else if !s.has("pulses") {
			s.missing("pulses", "2")
		}
	default:
		s.refuseAllBut(wireKeys[3:]...)
		b.wireChip(s, which, w)
	}
}

// refuseAllBut refuses the keys of wiring that this sensor does not have.
func (s *section) refuseAllBut(keys ...string) {
	others := slices.DeleteFunc(slices.Clone(wireKeys), func(key string) bool { return slices.Contains(keys, key) })
	s.refuse(others, "is not for this sensor", "it has "+strings.Join(keys, ", "))
}

// wireChip reads the keys of a sensor that is read through a chip.
func (b *Bench) wireChip(s *section, which Sensor, w *InputWiring) {
	choices := chipNames(which)
	name, ok := s.oneOf("chip", choices...)
	if !ok {
		if !s.has("chip") {
			s.missing("chip", orList(choices))
		}
		s.judged = append(s.judged, wireKeys...) // without the chip nothing can be said about them
		return
	}
	c := chipNamed(name)
	w.Chip = name
	b.wireBus(s, c, w)
	if c.channels == 0 {
		s.refuse([]string{"channel"}, fmt.Sprintf("is not for %s", name), "leave it out")
	} else {
		w.Channel = channel(s, c.channels)
	}
	w.identity(s, c, which)
	if !c.counts {
		s.refuse([]string{"zero", "gain"}, fmt.Sprintf("is not for %s", name), "leave it out; it gives its values itself")
		return
	}
	w.Zero, _ = s.must("zero", anyCounts)
	gain, ok := s.must("gain", gainOf(which))
	if w.Gain = gain; ok && gain == 0 {
		s.wrong("gain", "a gain of nothing gives no reading", "calibrate with a known mass")
	}
}

// identity reads what tells one part from another of its kind: the serial number of a chip that has one, and what the load
// cell of a pad may bear.
func (w *InputWiring) identity(s *section, c chip, which Sensor) {
	switch {
	case !c.serial:
		s.refuse([]string{"serial"}, fmt.Sprintf("is not for %s", c.name), "leave it out; the chip has none that can be read")
	case s.has("serial"):
		w.Serial = serial(s)
	}
	if which != PadFront && which != PadBack {
		s.refuse([]string{"rated"}, "is not for this sensor", "it is for the load cells of pad-front and pad-back")
		return
	}
	w.Rated, _ = s.quantity("rated", ratedForce)
}

// serial reads a serial number of 32 bits. It is a text, so that it can be copied as it is printed; nothing but zeros is
// what a dead bus reads, and no serial number.
func serial(s *section) uint32 {
	text, ok := s.text("serial", "0x0badcafe")
	if !ok {
		return 0
	}
	digits, hex := strings.CutPrefix(text, "0x")
	n, err := strconv.ParseUint(digits, 16, 32)
	if !hex || err != nil || n == 0 {
		s.wrong("serial", fmt.Sprintf("%s is no serial number of such a chip", cut(text)), `write it as it is shown, as in "0x0badcafe"`)
		return 0
	}
	return uint32(n)
}

// gainOf is the range of the counts for one unit of what the sensor measures; negative when the bridge is wired the
// other way round.
func gainOf(which Sensor) span {
	switch which.dimension() {
	case quantity.Force:
		return span{quantity.ForceGain, -1e9, 1e9}
	case quantity.Mass:
		return span{quantity.MassGain, -1e12, 1e12}
	}
	return span{quantity.ShareGain, -1e9, 1e9}
}

// wireBus reads where on a bus a chip is, or which two lines it has of its own.
func (b *Bench) wireBus(s *section, c chip, w *InputWiring) {
	if c.addresses[0] == 0 {
		s.refuse([]string{"bus", "address"}, fmt.Sprintf("is not for %s", c.name), "it has data and clock")
		w.Data, w.Clock = b.line(s, "data"), b.line(s, "clock")
		return
	}
	s.refuse([]string{"data", "clock"}, fmt.Sprintf("is not for %s", c.name), "it has bus and address")
	w.Bus, w.Address = b.onBus(s, c)
}

// onBus reads on which bus a chip is, and at which address. The zero values stand for what is missing or wrong.
func (b *Bench) onBus(s *section, c chip) (bus string, address int) {
	first, last := c.addresses[0], c.addresses[1]
	var known []string
	for _, bus := range b.Board.Buses {
		known = append(known, bus.Name)
	}
	switch name, ok := s.text("bus", "main"); {
	case !s.has("bus"):
		s.missing("bus", `"main", a name below [buses]`)
	case ok && !slices.Contains(known, name):
		s.wrong("bus", fmt.Sprintf("there is no bus %s", cut(name)), fmt.Sprintf("add [buses.%s], or name one that is there", show(name)))
	default:
		bus = name
	}
	n := s.get("address")
	if n == nil {
		s.missing("address", fmt.Sprintf("0x%02x", first))
		return bus, 0
	}
	at, err := strconv.ParseInt(strings.ReplaceAll(n.Text, "_", ""), 0, 32)
	if n.Kind != tomltree.Integer || err != nil || int(at) < first || int(at) > last {
		s.wrong("address", fmt.Sprintf("%s cannot be at %s", c.name, cut(n.Text)), fmt.Sprintf("its addresses are 0x%02x to 0x%02x", first, last))
		return bus, 0
	}
	return bus, int(at)
}
