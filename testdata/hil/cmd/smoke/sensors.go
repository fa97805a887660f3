package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"hil/bus"
	"hil/i2c"
)

// openBus finds the adapter by its name.
func (t *test) openBus() bool {
	path := i2c.Find("tiny-usb")
	var err error
	if path != "" {
		t.bus, err = i2c.Open(path)
	}
	if !t.Check(path != "" && err == nil, "the kernel's adapter is %q (%v)", path, err) {
		return false
	}
	t.model, err = bus.Dial()
	return t.Check(err == nil, "the model takes orders (%v)", err)
}

// order must succeed, or the checks after it would prove something else.
func (t *test) order(format string, args ...any) {
	if _, err := t.model.Order(format, args...); err != nil {
		t.Check(false, "order: %v", err)
	}
}

// measure runs one measurement of the humidity chip by hand and checks its sums.
func (t *test) measure(address uint16) (celsius, percent float64, err error) {
	if _, err = t.bus.Tx(address, []byte{0x24, 0x00}, 0); err != nil {
		return 0, 0, err
	}
	time.Sleep(20 * time.Millisecond) // the chip needs 15 ms
	b, err := t.bus.Tx(address, nil, 6)
	if err != nil {
		return 0, 0, err
	}
	if sum(b[:2]) != b[2] || sum(b[3:5]) != b[5] {
		return 0, 0, fmt.Errorf("wrong checksum in % x", b)
	}
	word := func(i int) float64 { return float64(int(b[i])<<8|int(b[i+1])) / 65535 }
	return -45 + 175*word(0), 100 * word(3), nil
}

// sum is the checksum again, written another way than in the model: long division of the whole message, most significant
// bit first, the first byte turned over.
func sum(b []byte) byte {
	message := append(append([]byte{}, b...), 0)
	message[0] ^= 0xff
	var rest uint16
	for i := range 8 * len(message) {
		bit := message[i/8] >> (7 - i%8) & 1
		if rest = rest<<1 | uint16(bit); rest&0x100 != 0 {
			rest ^= 0x131
		}
	}
	return byte(rest)
}

func near(got, want, within float64) bool { return math.Abs(got-want) <= within }

// humidity compares raw reads and the kernel's driver with what the model was told.
func (t *test) humidity() {
	for _, v := range [][2]float64{{21.5, 48}, {-7.25, 5}, {60.125, 99}} {
		t.order("set 0x44 celsius %g", v[0])
		t.order("set 0x44 percent %g", v[1])
		if t.mutant {
			t.order("set 0x44 celsius %g", v[0]+0.5)
		}
		c, p, err := t.measure(0x44)
		t.Check(err == nil && near(c, v[0], 0.01) && near(p, v[1], 0.01), "0x44 feels %g °C, %g %%: read %.3f, %.3f (%v)", v[0], v[1], c, p, err)
	}
	t.order("set 0x44 celsius 33.25")
	t.order("set 0x44 percent 61")
	if err := t.bus.Attach("sht3x", 0x44); !t.Check(err == nil, "the kernel's driver takes 0x44 (%v)", err) {
		return
	}
	defer t.bus.Detach(0x44)
	monitor := named("/sys/class/hwmon", "sht3x")
	c, p := number(monitor+"/temp1_input")/1000, number(monitor+"/humidity1_input")/1000
	t.Check(near(c, 33.25, 0.01) && near(p, 61, 0.01), "the kernel's driver reads the same: %.3f °C, %.3f %%", c, p)
}

// voltages does the same for the analogue converter.
func (t *test) voltages() {
	for channel, v := range []float64{0.25, 3.3, 1.234, 4} {
		t.order("set 0x48 volt%d %g", channel, v)
		config := uint16(0x8000 | (4+channel)<<12 | 1<<9 | 1<<8 | 7<<5 | 3)
		_, err := t.bus.Tx(0x48, []byte{1, byte(config >> 8), byte(config)}, 0)
		time.Sleep(5 * time.Millisecond)
		b, err2 := t.bus.Tx(0x48, []byte{0}, 2)
		if !t.Check(err == nil && err2 == nil, "0x48 converts (%v, %v)", err, err2) {
			return
		}
		got := float64(int16(uint16(b[0])<<8|uint16(b[1]))) * 4.096 / 32768
		t.Check(near(got, math.Min(v, 4.095875), 0.0001), "input %d has %g V: read %.4f", channel, v, got)
	}
	if err := t.bus.Attach("ads1115", 0x48); !t.Check(err == nil, "the kernel's driver takes 0x48 (%v)", err) {
		return
	}
	defer t.bus.Detach(0x48)
	device := named("/sys/bus/iio/devices", "ads1")
	for channel, v := range []float64{0.25, 1.75} {
		t.order("set 0x48 volt%d %g", channel, v)
		input := fmt.Sprintf("%s/in_voltage%d_", device, channel)
		got := number(input+"raw") * number(input+"scale") / 1000
		t.Check(near(got, v, 0.001), "the kernel's driver reads input %d with %g V: %.4f", channel, v, got)
	}
}

// named is the folder below a folder whose file name holds the text, or "none".
func named(below, text string) string {
	files, _ := filepath.Glob(below + "/*/name")
	for _, f := range files {
		if b, _ := os.ReadFile(f); strings.HasPrefix(string(b), text) {
			return filepath.Dir(f)
		}
	}
	return "none"
}

// number reads a number from a file; NaN when it cannot, which is near nothing.
func number(path string) float64 {
	b, err := os.ReadFile(path)
	if err != nil {
		return math.NaN()
	}
	x, err := strconv.ParseFloat(strings.TrimSpace(string(b)), 64)
	if err != nil {
		return math.NaN()
	}
	return x
}

// converters reads the chips that have no second reader here.
func (t *test) converters() {
	t.order("set 0x4a celsius -25")
	time.Sleep(300 * time.Millisecond) // it converts four times a second
	b, err := t.bus.Tx(0x4a, []byte{0}, 2)
	// E7 00 for −25 °C: data sheet of the TMP102, table of temperatures.
	t.Check(err == nil && fmt.Sprintf("%x", b) == "e700", "0x4a feels -25 °C: %x (%v)", b, err)
	b, err = t.bus.Tx(0x76, []byte{0xd0}, 1)
	t.Check(err == nil && b[0] == 0x60, "0x76 says what it is: %x (%v)", b, err)
	b, err = t.bus.Tx(0x2a, []byte{0x1f}, 1)
	t.Check(err == nil && b[0]&15 == 15, "0x2a says its revision: %x (%v)", b, err)
	_, err = t.bus.Tx(0x23, nil, 1)
	t.Check(err != nil, "nobody answers at an address without a chip (%v)", err)
}

// faults spoils the bus in every way there is.
func (t *test) faults() {
	for _, fault := range []string{"checksum", "nak", "unplugged"} {
		t.order("fault 0x45 %s", fault)
		_, _, err := t.measure(0x45)
		t.Check(err != nil, "a reading with the fault %q is refused: %v", fault, err)
		t.order("heal 0x45")
		_, _, err = t.measure(0x45)
		t.Check(err == nil, "and healed it is there again (%v)", err)
	}
	t.order("noise 0x45 celsius 0.5")
	first, _, _ := t.measure(0x45)
	t.order("fault 0x45 frozen")
	second, _, _ := t.measure(0x45)
	third, _, err := t.measure(0x45)
	t.Check(err == nil && first == second && second == third, "frozen it says the same for ever: %v %v %v", first, second, third)
	t.order("heal 0x45")
	fourth, _, err := t.measure(0x45)
	t.Check(err == nil && fourth != third, "healed it moves again: %v, %v", third, fourth)
	t.order("set 0x45 celsius 21")
	t.order("fault 0x45 slow")
	begin := time.Now()
	t.bus.Tx(0x45, []byte{0xf3, 0x2d}, 3)
	took := time.Since(begin)
	t.Check(took > time.Second, "a slow chip holds the bus: %v for two messages", took.Round(time.Millisecond))
	t.order("heal 0x45")
}

// channels drives the PWM chip: its outputs are wires that the host sees.
func (t *test) channels() {
	t.edges()
	write := func(b ...byte) {
		if _, err := t.bus.Tx(0x40, b, 0); err != nil {
			t.Check(false, "writing to 0x40: %v", err)
		}
	}
	write(0x00, 0x21)                   // awake, going from one register to the next
	write(0x0a, 0x00, 0x00, 0x00, 0x08) // channel 1: half
	write(0x0e, 0x00, 0x10, 0x00, 0x00) // channel 2: fully on
	write(0xfa, 0x00, 0x00, 0x00, 0x10) // all: fully off
	want := "pwm1 2048, pwm2 4096, pwm1 0, pwm2 0"
	got := t.edges()
	t.Check(got == want, "the channels' wires: %q", got)
}
