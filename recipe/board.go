package recipe

import "time"

// Board is the wiring of a real bench, as its file declares it. The file is checked for what can be seen without the
// hardware; whether the chips answer is for the driver.
type Board struct {
	Chip    string        // label of the gpiochip, never its number: numbers change from one kernel to the next
	Header  string        // "40-pin" when the chip's lines are those of the common 40-pin header; "" otherwise
	Stagger time.Duration // least time between two loads being switched on, so that the supply does not dip
	Buses   []Bus
	Outputs [NumOutputs]OutputWiring
	Inputs  [NumSensors]InputWiring
}

// Bus is an I²C bus, found by the name of its adapter.
type Bus struct {
	Name    string // what the sensors of the file call it
	Adapter string // as in /sys/class/i2c-adapter/*/name
}

// Output is one switched or regulated wire of a real bench.
type Output uint8

// The outputs.
const (
	OutPump Output = iota
	OutRinsePump
	OutPress
	OutPads
	OutPadsReverse
	OutHub
	OutFan
	OutHeater
	OutHeaterEnable // the second switch in the heater's supply, released only by its own line
	NumOutputs
)

var outputNames = [NumOutputs]string{
	"pump", "rinse-pump", "press", "pads", "pads-reverse", "hub", "fan", "heater", "heater-enable",
}

// String returns the output's name in a bench file.
func (o Output) String() string {
	if o < NumOutputs {
		return outputNames[o]
	}
	return "unknown output"
}

// Line is one line of the gpiochip, by name or by offset.
type Line struct {
	Name   string // "" when the file gives the offset
	Offset int    // -1 when the file gives a name whose offset is not known
}

// OutputWiring is how an output is wired.
type OutputWiring struct {
	Fitted    bool
	Line      Line
	ActiveLow bool          // the load is on at logic low
	Drive     string        // "switched", "pwm" (a hardware PWM channel) or "slow" (switched in a slow rhythm)
	Pull      string        // the external resistor that rests the wire at off: "up", "down", or "" for none
	PWM       string        // device path of the PWM chip; drive = "pwm"
	Channel   int           // channel of the PWM chip; drive = "pwm"
	Frequency float64       // Hz; drive = "pwm"
	Period    time.Duration // one rhythm of on and off; drive = "slow"
}

// InputWiring is how a sensor is wired.
type InputWiring struct {
	Line     Line    // contacts and pulses
	ToSupply bool    // contact: the closed contact joins the line to the supply and not to ground
	Pulses   int     // pulses in one turn
	Chip     string  // "" for a line
	Bus      string  // name of the bus
	Address  int     // on the bus
	Channel  int     // of the chip
	Data     Line    // of a bridge converter with two wires of its own
	Clock    Line    // likewise
	Zero     float64 // counts at nothing
	Gain     float64 // counts per SI unit
}
