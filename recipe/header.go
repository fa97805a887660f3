package recipe

// HeaderPins is how many pins the common header has.
const HeaderPins = 40

// headerLines is what each pin of the 40-pin header carries, pin 1 first: the offset of a line, or one of the two below.
// From memory; verify on the manual of your board before you solder.
var headerLines = [HeaderPins]int{
	volts3, volts5,
	2, volts5,
	3, ground,
	4, 14,
	ground, 15,
	17, 18,
	27, ground,
	22, 23,
	volts3, 24,
	10, ground,
	9, 25,
	11, 8,
	ground, 7,
	0, 1,
	5, ground,
	6, 12,
	13, ground,
	19, 16,
	26, 20,
	ground, 21,
}

// What a pin carries that is no line.
const (
	ground = -1 - iota
	volts3
	volts5
)

// HeaderPin returns the pin of the 40-pin header that carries a line, 1 to 40, or 0 for a line that is not on it. From
// memory.
func HeaderPin(offset int) int {
	for i, line := range headerLines {
		if offset >= 0 && line == offset {
			return i + 1
		}
	}
	return 0
}

// HeaderCarries returns what a pin of the 40-pin header carries, 1 to 40: the offset of its line, or -1 and the name of
// the supply ("3.3 V", "5 V", "ground"). Other pins carry -1 and "". From memory.
func HeaderCarries(pin int) (offset int, supply string) {
	if pin < 1 || pin > HeaderPins {
		return -1, ""
	}
	switch line := headerLines[pin-1]; line {
	case ground:
		return -1, "ground"
	case volts3:
		return -1, "3.3 V"
	case volts5:
		return -1, "5 V"
	default:
		return line, ""
	}
}
