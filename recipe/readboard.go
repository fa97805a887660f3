package recipe

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"fullery/recipe/quantity"
	"fullery/recipe/tomltree"
)

var (
	staggerTime   = span{quantity.Duration, 0, 5}
	slowPeriod    = span{quantity.Duration, 1, 60}
	leastTime     = span{quantity.Duration, 0, 30}
	pwmFrequency  = span{quantity.Frequency, 10, 100e3}
	chipFrequency = span{quantity.Frequency, 24, 1526} // 25 MHz / 4096 / (256 … 4), from memory
	anyCounts     = span{quantity.Counts, -1 << 24, 1 << 24}
	ratedForce    = span{quantity.Force, 0.5, 1000}
)

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
