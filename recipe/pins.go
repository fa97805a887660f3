package recipe

import (
	"fmt"
	"strconv"
	"strings"
)

// defaultPull is what pulls a line of the common 40-pin header before any program has set it: "up" or "down". From
// memory, verify on the data sheet of the SoC: GPIO0 to GPIO8 are pulled up, GPIO9 to GPIO27 down. "" where nothing
// is known.
func defaultPull(header string, offset int) string {
	switch {
	case header != header40 || offset < 0 || offset > 27:
		return ""
	case offset <= 8:
		return "up"
	}
	return "down"
}

const header40 = "40-pin"

// reserved tells why a line of the 40-pin header must not be used, or "". The board itself talks on these lines while it
// starts, long before this program can hold them still. (Lines from memory, verify as above.)
func reserved(header string, offset int) string {
	switch {
	case header != header40:
	case offset == 14 || offset == 15:
		return "it is a line of the UART, which the serial console uses while the board starts"
	case offset == 0 || offset == 1:
		return "the board looks for the memory of an extension board on it while it starts"
	}
	return ""
}

// busLines returns the data and clock lines of a bus whose adapter is known, or -1: the usual one of the common boards,
// whose registers are at …804000, is on GPIO2 and GPIO3. (From memory, verify as above.)
func busLines(header, adapter string) (data, clock int) {
	if header == header40 && strings.Contains(adapter, "804000") {
		return 2, 3
	}
	return -1, -1
}

// headerOffset returns the offset of a line named in the manner of the 40-pin header ("GPIO17"), or -1.
func headerOffset(header, name string) int {
	digits, ok := strings.CutPrefix(name, "GPIO")
	if !ok || header != header40 {
		return -1
	}
	n, err := strconv.Atoi(digits)
	if err != nil || n < 0 || n > 27 || strconv.Itoa(n) != digits {
		return -1
	}
	return n
}

// chip is what a bench file may connect.
type chip struct {
	name      string
	about     string
	addresses [2]int // first and last on the bus; 0, 0: not on a bus
	channels  int    // analogue inputs to choose from; 0: none
	reads     []Sensor
	counts    bool // gives counts that need zero and gain
	serial    bool // has a serial number that can be read
}

var (
	airs     = []Sensor{AirIn, Air, AirOut, Surface}
	moist    = []Sensor{AirIn, Air, AirOut, Surface, AirInRH, AirOutRH}
	strained = []Sensor{PadFront, PadBack, Weight}
	analog   = []Sensor{PadFront, PadBack, Weight, Vapour}
)

// chips are the parts that sensors are read through. Addresses, and which chip has a serial number, from memory; verify
// on the data sheets.
var chips = []chip{
	{name: "sht3x", about: "humidity and temperature", addresses: [2]int{0x44, 0x45}, reads: moist, serial: true},
	{name: "sht4x", about: "humidity and temperature", addresses: [2]int{0x44, 0x46}, reads: moist, serial: true},
	{name: "bme280", about: "humidity, temperature and pressure", addresses: [2]int{0x76, 0x77}, reads: moist},
	{name: "tmp102", about: "temperature", addresses: [2]int{0x48, 0x4b}, reads: airs},
	{name: "lm75", about: "temperature", addresses: [2]int{0x48, 0x4f}, reads: airs},
	{name: "ads1115", about: "four analogue inputs", addresses: [2]int{0x48, 0x4b}, channels: 4, reads: analog, counts: true},
	{name: "nau7802", about: "bridge converter on the bus", addresses: [2]int{0x2a, 0x2a}, channels: 2, reads: strained, counts: true},
	{name: "hx711", about: "bridge converter with two wires of its own", reads: strained, counts: true},
}

// pca9685 is the PWM chip that outputs may be driven through. From memory, verify on the data sheet: it has 16 channels;
// from power-on it drives them all low until it is told otherwise; one prescaler serves them all. Its addresses end
// before 0x70 here, because at 0x70 all such chips answer at once and beyond that some addresses are reserved.
var pca9685 = chip{name: "pca9685", about: "PWM in 16 channels", addresses: [2]int{0x40, 0x6f}, channels: 16}

// chipNames lists the chips that can read a sensor.
func chipNames(which Sensor) []string {
	var names []string
	for _, c := range chips {
		for _, s := range c.reads {
			if s == which {
				names = append(names, c.name)
			}
		}
	}
	return names
}

func chipNamed(name string) chip {
	for _, c := range chips {
		if c.name == name {
			return c
		}
	}
	return chip{}
}

// fansPWM tells why a PWM channel must not be used, or "". The RP1's second PWM, whose registers are at 0x1f0009c000,
// turns the computer's own cooling fan with its channel 3. (From memory and from public device trees; verify on yours.)
func fansPWM(label, device string, channel int) string {
	switch {
	case strings.Contains(strings.ToLower(device), "fan"):
		return fmt.Sprintf("%s is a cooling fan's", cut(device))
	case label == "pinctrl-rp1" && strings.Contains(strings.ToLower(device), "9c000") && channel == 3:
		return fmt.Sprintf("channel 3 of %s turns the computer's own cooling fan", cut(device))
	}
	return ""
}

// reachesPWM tells whether the hardware PWM of a known chip comes out at a line of its header; true where nothing is
// known. From memory, verify on the data sheet of the SoC.
func reachesPWM(header, label string, offset int) bool {
	known := strings.HasPrefix(label, "pinctrl-bcm2") || label == "pinctrl-rp1"
	return header != header40 || !known || offset < 0 || offset == 12 || offset == 13 || offset == 18 || offset == 19
}
