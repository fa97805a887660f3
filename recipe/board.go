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
	OutAlive        // a sign of life: it changes at every tick, so that hardware can cut the loads when that ends
	NumOutputs
)

var outputNames = [NumOutputs]string{
	"pump", "rinse-pump", "press", "pads", "pads-reverse", "hub", "fan", "heater", "heater-enable", "alive",
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

// The drives: how an output is regulated.
const (
	DriveSwitched = "switched" // a line that is on or off
	DriveSlow     = "slow"     // a line that is switched in a slow rhythm, on for a part of each period
	DrivePWM      = "pwm"      // a channel of the board's own hardware PWM
	DriveChip     = "chip"     // a channel of a PWM chip on a bus
)

// OutputWiring is how an output is wired. Which fields count depends on Drive; the others are zero.
type OutputWiring struct {
	Fitted bool
	// Line is what the wire is joined to. With DrivePWM it is the line that the PWM comes out of, and must not be
	// claimed: that would take it from the PWM. With DriveChip there is none.
	Line      Line
	ActiveLow bool    // the load is on at logic low; never with DriveChip
	Drive     string  // one of the drives above
	Pull      string  // the external resistor that rests the wire at off: "up", "down", or "" for none
	PWM       string  // DrivePWM: the device that a PWM chip in /sys/class/pwm points to, as in "fe20c000.pwm"
	Chip      string  // DriveChip: "pca9685"
	Bus       string  // DriveChip: name of the bus
	Address   int     // DriveChip: on the bus
	Channel   int     // DrivePWM and DriveChip: of the chip, from 0
	Frequency float64 // Hz; DrivePWM and DriveChip. All outputs of one PWM chip on a bus have the same

	Period time.Duration // DriveSlow: one rhythm of on and off, at least MinOn + MinOff
	// MinOn and MinOff are the least times on and off, for DriveSlow and DriveSwitched; 0: none. They shape the rhythm
	// that is wished for. They never hold back an off that a guard, a stop or the end of the program asks for.
	MinOn, MinOff time.Duration
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
	Serial   uint32  // serial number that the chip must have, so that swapped roles are seen; 0: not told
	Rated    float64 // N, the most that the load cell of a pad may bear; 0: not told
}
