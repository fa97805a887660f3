package recipe

import (
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

// reserved tells why a line of the 40-pin header must not be used, or "". The serial console talks on its lines while
// the board starts, long before this program can hold them still. (Lines from memory, verify as above.)
func reserved(header string, offset int) string {
	if header == header40 && (offset == 14 || offset == 15) {
		return "it is a line of the UART, which the serial console uses while the board starts"
	}
	return ""
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
}

var (
	airs     = []Sensor{AirIn, Air, AirOut, Surface}
	moist    = []Sensor{AirIn, Air, AirOut, Surface, AirInRH, AirOutRH}
	strained = []Sensor{PadFront, PadBack, Weight}
	analog   = []Sensor{PadFront, PadBack, Weight, Vapour}
)

// chips are the parts that sensors are read through. Addresses from memory, verify on the data sheets.
var chips = []chip{
	{"sht3x", "humidity and temperature", [2]int{0x44, 0x45}, 0, moist, false},
	{"tmp102", "temperature", [2]int{0x48, 0x4b}, 0, airs, false},
	{"ads1115", "four analogue inputs", [2]int{0x48, 0x4b}, 4, analog, true},
	{"nau7802", "bridge converter on the bus", [2]int{0x2a, 0x2a}, 2, strained, true},
	{"hx711", "bridge converter with two wires of its own", [2]int{}, 0, strained, true},
}

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
