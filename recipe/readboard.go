package recipe

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"fullery/recipe/quantity"
	"fullery/recipe/tomltree"
)

var (
	staggerTime  = span{quantity.Duration, 0, 5}
	slowPeriod   = span{quantity.Duration, 1, 60}
	pwmFrequency = span{quantity.Frequency, 10, 100e3}
	anyCounts    = span{quantity.Counts, -1 << 24, 1 << 24}
)

// switchedOnly are the outputs that know only on and off.
var switchedOnly = map[Output]bool{OutPress: true, OutPadsReverse: true, OutHeaterEnable: true}

// wiring reads [board], [buses.NAME] and [outputs.NAME].
func (b *Bench) wiring(top *section) {
	board, buses, outputs := top.table("board"), top.table("buses"), top.table("outputs")
	if b.Simulated {
		for _, s := range []*section{board, buses, outputs} {
			if s.there() {
				s.add(s.node.Key, false, fmt.Sprintf("[%s] is for a real bench", s.path), `leave it out, or write kind = "board"`)
			}
		}
		return
	}
	b.board(board, top)
	b.buses(buses)
	for o := range NumOutputs {
		if s := outputs.table(o.String()); s.there() {
			b.Board.Outputs[o] = b.output(s, o)
		}
	}
	outputs.done()
}

// board reads what all wires share.
func (b *Bench) board(s, top *section) {
	if !s.there() {
		if !top.has("board") {
			top.missingTable("board", "chip and header")
		}
		return
	}
	if b.Board.Chip, _ = s.text("chip", "pinctrl-bcm2711"); !s.has("chip") {
		s.missing("chip", `"pinctrl-bcm2711"`)
	}
	if strings.HasPrefix(b.Board.Chip, "gpiochip") || strings.HasPrefix(b.Board.Chip, "/dev/") {
		s.wrong("chip", fmt.Sprintf("%s is a number that may change with every kernel", cut(b.Board.Chip)),
			"write the chip's label, as gpiodetect shows it in brackets")
	}
	header, ok := s.oneOf("header", header40, "other")
	if !s.has("header") {
		s.missing("header", `"40-pin", or "other" for a board whose lines rest unknown`)
	}
	if ok && header == header40 {
		b.Board.Header = header
	}
	b.Board.Stagger = 300 * time.Millisecond
	if v, ok := s.time("stagger", staggerTime); ok {
		b.Board.Stagger = v
	}
	s.done()
}

// buses reads the [buses.NAME] tables; names are free.
func (b *Bench) buses(s *section) {
	if !s.there() {
		return
	}
	for _, name := range s.node.Names {
		bus := s.table(name)
		if !bus.there() {
			continue
		}
		adapter, ok := bus.text("adapter", "bcm2835 (i2c@7e804000)")
		if !bus.has("adapter") {
			bus.missing("adapter", `the adapter's name in /sys/class/i2c-adapter/*/name`)
		}
		for _, other := range b.Board.Buses {
			if ok && other.Adapter == adapter {
				bus.wrong("adapter", fmt.Sprintf("the buses %s and %s are one adapter", show(other.Name), show(name)), "name it once")
			}
		}
		b.Board.Buses = append(b.Board.Buses, Bus{Name: name, Adapter: adapter})
		bus.done()
	}
}

// line reads a line of the gpiochip by name or offset and refuses what must not be used.
func (b *Bench) line(s *section, key string) Line {
	n := s.get(key)
	l := Line{Offset: -1}
	switch {
	case n == nil:
		s.missing(key, `"GPIO17", or its offset as a number`)
		return l
	case n.Kind == tomltree.Text && strings.TrimSpace(n.Text) != "":
		l.Name = n.Text
		l.Offset = headerOffset(b.Board.Header, n.Text)
		if b.Board.Header == header40 && l.Offset < 0 {
			s.wrong(key, fmt.Sprintf("the header has no line %s", cut(n.Text)), `its lines are "GPIO0" to "GPIO27"`)
		}
	case n.Kind == tomltree.Integer:
		offset, _ := s.whole(key, 0, 511)
		l.Offset = int(offset)
	default:
		s.mistyped(key, n, "a line", `"GPIO17", or its offset as a number`)
		return l
	}
	if why := reserved(b.Board.Header, l.Offset); why != "" {
		s.wrong(key, fmt.Sprintf("%s cannot be used: %s", l, why), "take another line")
	}
	return l
}

// String returns the line as a person would name it.
func (l Line) String() string {
	if l.Name != "" {
		return l.Name
	}
	return "line " + strconv.Itoa(l.Offset)
}

// output reads one [outputs.NAME].
func (b *Bench) output(s *section, which Output) OutputWiring {
	w := OutputWiring{Fitted: true, Line: b.line(s, "line")}
	active, ok := s.oneOf("active", "high", "low")
	if !s.has("active") {
		s.missing("active", `"high", or "low" where the load is on at logic low`)
	}
	w.ActiveLow = active == "low"
	rests, _ := s.oneOf("rests", "off by pull-down", "off by pull-up")
	w.Pull = strings.TrimPrefix(rests, "off by pull-")
	if ok {
		b.rest(s, w)
	}
	if drive, told := s.oneOf("drive", "switched", "pwm", "slow"); told {
		w.Drive = drive
	} else if !s.has("drive") {
		s.missing("drive", `"switched", "pwm" or "slow"`)
	}
	if switchedOnly[which] && w.Drive != "" && w.Drive != "switched" {
		s.wrong("drive", fmt.Sprintf("%s knows only on and off", which), `write drive = "switched"`)
	}
	w.rhythm(s)
	s.done()
	return w
}

// rest checks that the wire is off before this program runs and after it is gone: it works out at which level the load
// is on, and what holds the wire at the other one.
func (b *Bench) rest(s *section, w OutputWiring) {
	off, on := "down", "up"
	if w.ActiveLow {
		off, on = on, off
	}
	pull := defaultPull(b.Board.Header, w.Line.Offset)
	declare := fmt.Sprintf(`fit an external pull-%s and write rests = "off by pull-%s", or take a line that rests at off`, off, off)
	switch {
	case w.Pull == on:
		s.wrong("rests", fmt.Sprintf("a pull-%s would switch this output on: it is on at %s", on, level(on)), declare)
	case w.Pull == off && pull == on:
		s.warn("line", fmt.Sprintf("%s is pulled %s, which is on, until the program starts; only your external resistor holds it",
			w.Line, on), "make that resistor at most a tenth of the chip's own (about 5 kΩ), or take another line")
	case w.Pull == "" && pull == on:
		s.wrong("line", fmt.Sprintf("%s is pulled %s before the program starts, and this output is on at %s", w.Line, on, level(on)),
			declare)
	case w.Pull == "" && pull == "":
		s.wrong("line", fmt.Sprintf("nothing is known about how %s rests before the program starts", w.Line),
			fmt.Sprintf(`fit an external pull-%s and write rests = "off by pull-%s"`, off, off))
	}
}

func level(pull string) string {
	if pull == "up" {
		return "logic high"
	}
	return "logic low"
}

// rhythm reads what the drive needs besides the line. A PWM chip is named by its device for the same reason as the
// gpiochip by its label: on one system the next number drives the computer's own cooling fan.
func (w *OutputWiring) rhythm(s *section) {
	keys := map[string][]string{"pwm": {"pwm", "channel", "frequency"}, "slow": {"period"}}
	for drive, names := range keys {
		if drive != w.Drive {
			s.refuse(names, fmt.Sprintf("is for drive = %q", drive), "leave it out")
		}
	}
	switch w.Drive {
	case "pwm":
		if w.PWM, _ = s.text("pwm", "fe20c000.pwm"); !s.has("pwm") {
			s.missing("pwm", `the device that /sys/class/pwm/pwmchip* points to, as in "fe20c000.pwm"`)
		}
		if strings.HasPrefix(w.PWM, "pwmchip") {
			s.wrong("pwm", fmt.Sprintf("%s is a number that may change with every kernel", cut(w.PWM)), "write the device it points to")
		}
		if n, ok := s.whole("channel", 0, 15); ok {
			w.Channel = int(n)
		} else if !s.has("channel") {
			s.missing("channel", "0")
		}
		w.Frequency, _ = s.must("frequency", pwmFrequency)
	case "slow":
		v, _ := s.must("period", slowPeriod)
		w.Period = toDuration(v)
	}
}

// wireKeys are all keys of a sensor's wiring.
var wireKeys = []string{"line", "closes-to", "pulses", "chip", "bus", "address", "channel", "data", "clock", "zero", "gain"}

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
	} else if n, ok := s.whole("channel", 0, int64(c.channels)-1); ok {
		w.Channel = int(n)
	} else if !s.has("channel") {
		s.missing("channel", "0")
	}
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
	first, last := c.addresses[0], c.addresses[1]
	if first == 0 {
		s.refuse([]string{"bus", "address"}, fmt.Sprintf("is not for %s", c.name), "it has data and clock")
		w.Data, w.Clock = b.line(s, "data"), b.line(s, "clock")
		return
	}
	s.refuse([]string{"data", "clock"}, fmt.Sprintf("is not for %s", c.name), "it has bus and address")
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
		w.Bus = name
	}
	n := s.get("address")
	if n == nil {
		s.missing("address", fmt.Sprintf("0x%02x", first))
		return
	}
	at, err := strconv.ParseInt(strings.ReplaceAll(n.Text, "_", ""), 0, 32)
	if n.Kind != tomltree.Integer || err != nil || int(at) < first || int(at) > last {
		s.wrong("address", fmt.Sprintf("%s cannot be at %s", c.name, cut(n.Text)), fmt.Sprintf("its addresses are 0x%02x to 0x%02x", first, last))
		return
	}
	w.Address = int(at)
}
