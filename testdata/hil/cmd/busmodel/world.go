package main

import (
	"fmt"
	"strconv"
	"strings"
	"sync"
	"time"

	"hil/chips"
)

// target is one chip on the bus, with what is wrong with it and what it feels.
type target struct {
	chip   chips.Chip
	feels  map[string]feeling
	frozen bool // its measurements stay as they are, to the last bit
	absent bool // off the bus
	busy   bool // it acknowledges no read
	slow   time.Duration
}

// feeling is one quantity of one chip over time.
type feeling struct {
	value, noise float64
	from         float64 // a ramp runs from here to value
	begin, end   time.Duration
	link         *link
	held         *float64 // while the chip is frozen
}

// link makes a quantity follow a channel of the PWM chip: off and on are the values at nothing and at full.
type link struct {
	channel int
	off, on float64
}

// world is the bus as a whole. Its methods may be called from several goroutines.
type world struct {
	mu      sync.Mutex
	now     func() time.Duration
	targets map[uint16]*target
	pwm     *chips.PCA9685
	dice    uint64
	count   map[uint16]int // transfers of each address
}

// newWorld has the chips of the bench, all well.
func newWorld(now func() time.Duration, wire func(channel, level int)) *world {
	w := &world{now: now, targets: map[uint16]*target{}, dice: 1, count: map[uint16]int{}}
	w.pwm = &chips.PCA9685{Notify: wire}
	for address, chip := range map[uint16]chips.Chip{
		0x2a: &chips.NAU7802{Sense: w.sense(0x2a)},
		0x40: w.pwm,
		0x44: &chips.SHT3x{Sense: w.sense(0x44), Serial: 0x0badcafe},
		0x45: &chips.SHT3x{Sense: w.sense(0x45), Serial: 0x0badbeef},
		0x48: &chips.ADS1115{Sense: w.sense(0x48)},
		0x4a: &chips.TMP102{Sense: w.sense(0x4a)},
		0x4b: &chips.TMP102{Sense: w.sense(0x4b)},
		0x76: &chips.BME280{Sense: w.sense(0x76)},
	} {
		t := &target{chip: chip, feels: map[string]feeling{}}
		for _, q := range chip.Quantities() {
			t.feels[q] = feeling{value: usual[q], from: usual[q]}
		}
		w.targets[address] = t
		chip.Power()
	}
	return w
}

// usual is what the chips feel in a quiet room.
var usual = map[string]float64{"celsius": 21, "percent": 50, "pascal": 101325}

// sense is how the chip at an address feels the world; called with the lock held.
func (w *world) sense(address uint16) chips.Sense {
	return func(quantity string, now time.Duration) float64 {
		t := w.targets[address]
		f := t.feels[quantity]
		if t.frozen && f.held != nil {
			return *f.held
		}
		v := f.at(now)
		if f.link != nil {
			v = f.link.off + (f.link.on-f.link.off)*float64(w.pwm.Level(f.link.channel))/4096
		}
		w.dice ^= w.dice << 13
		w.dice ^= w.dice >> 7
		w.dice ^= w.dice << 17
		v += f.noise * (float64(w.dice>>11)/(1<<52) - 1)
		f.held = &v
		t.feels[quantity] = f
		return v
	}
}

func (f feeling) at(now time.Duration) float64 {
	if now >= f.end {
		return f.value
	}
	return f.from + (f.value-f.from)*float64(now-f.begin)/float64(f.end-f.begin)
}

// transfer is one message on the bus; false is what nobody acknowledges.
func (w *world) transfer(address uint16, read bool, n int, data []byte) ([]byte, bool) {
	w.mu.Lock()
	t := w.targets[address]
	w.count[address]++
	if t != nil && t.slow > 0 {
		w.mu.Unlock()
		time.Sleep(t.slow)
		w.mu.Lock()
	}
	defer w.mu.Unlock()
	switch {
	case t == nil || t.absent || read && t.busy:
		return nil, false
	case read:
		return t.chip.Read(n, w.now())
	}
	return nil, t.chip.Write(data, w.now())
}

// order changes the world by one line:
//
//	set ADDRESS QUANTITY VALUE             from now on, without noise or link
//	ramp ADDRESS QUANTITY FROM TO SECONDS  evenly, beginning now
//	noise ADDRESS QUANTITY AMPLITUDE       evenly spread to both sides
//	link ADDRESS QUANTITY CHANNEL OFF ON   follow a channel of the PWM chip
//	fault ADDRESS nak|checksum|frozen|unplugged|slow
//	heal ADDRESS                           all faults gone; what was unplugged has lost its registers
//	count ADDRESS                          how many transfers there were
func (w *world) order(line string) (string, error) {
	words := strings.Fields(line)
	if len(words) < 2 {
		return "", fmt.Errorf("%q is no order", line)
	}
	address, err := strconv.ParseUint(words[1], 0, 7)
	w.mu.Lock()
	defer w.mu.Unlock()
	t := w.targets[uint16(address)]
	if err != nil || t == nil {
		return "", fmt.Errorf("no chip at %q", words[1])
	}
	switch words[0] {
	case "fault":
		return "", t.spoil(strings.Join(words[2:], " "))
	case "heal":
		t.heal()
		return "", nil
	case "count":
		return strconv.Itoa(w.count[uint16(address)]), nil
	}
	if len(words) < 4 {
		return "", fmt.Errorf("%q lacks something", line)
	}
	f, ok := t.feels[words[2]]
	if !ok {
		return "", fmt.Errorf("the chip at %s does not feel %q", words[1], words[2])
	}
	var numbers []float64
	for _, word := range words[3:] {
		x, err := strconv.ParseFloat(word, 64)
		if err != nil {
			return "", fmt.Errorf("%q is no number", word)
		}
		numbers = append(numbers, x)
	}
	if f, err = f.changed(words[0], numbers, w.now()); err == nil {
		t.feels[words[2]] = f
	}
	return "", err
}

// changed is the quantity after an order.
func (f feeling) changed(verb string, x []float64, now time.Duration) (feeling, error) {
	switch {
	case verb == "set" && len(x) == 1:
		return feeling{value: x[0], held: f.held}, nil
	case verb == "ramp" && len(x) == 3:
		return feeling{value: x[1], from: x[0], begin: now, end: now + time.Duration(x[2]*float64(time.Second)),
			noise: f.noise, held: f.held}, nil
	case verb == "noise" && len(x) == 1:
		f.noise = x[0]
		return f, nil
	case verb == "link" && len(x) == 3 && x[0] >= 0 && x[0] < 16:
		f.link = &link{int(x[0]), x[1], x[2]}
		return f, nil
	}
	return f, fmt.Errorf("no order %q with %d numbers", verb, len(x))
}

func (t *target) spoil(fault string) error {
	switch fault {
	case "nak":
		t.busy = true
	case "checksum":
		c, ok := t.chip.(chips.Checked)
		if !ok {
			return fmt.Errorf("this chip has no checksums")
		}
		c.Corrupt(true)
	case "frozen":
		t.frozen = true
	case "unplugged":
		t.absent = true
	case "slow":
		t.slow = time.Second
	default:
		return fmt.Errorf("no fault %q", fault)
	}
	return nil
}

func (t *target) heal() {
	if t.absent {
		t.chip.Power()
	}
	t.frozen, t.absent, t.busy, t.slow = false, false, false, 0
	if c, ok := t.chip.(chips.Checked); ok {
		c.Corrupt(false)
	}
}
