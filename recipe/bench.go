package recipe

import "time"

// Bench is what one machine is made of, as its bench file tells. All quantities are SI (m³, m³/s, m, m², Pa, K, W,
// fractions of one); speeds are revolutions per second.
type Bench struct {
	Name      string // file name without folder and ending
	Text      string // the file as read
	Title     string
	Simulated bool // kind = "simulated"; otherwise kind = "board"

	// PadsAndBathHeld is the liquid that pads and bath held last, from the record: "" when nothing flammable can be
	// on them. It is not a key of the file.
	PadsAndBathHeld string

	Room      Room
	Tank      Tank
	RinseTank Tank
	Tray      float64 // m³ the tray holds before its float lifts
	Pump      Pump
	RinsePump Pump
	Pads      PadPair
	Press     bool // the pads are brought to the disk by an actuator and rest away from it
	Hub       Spindle
	Fan       Fan
	Heater    Heater
	Sensors   [NumSensors]SensorSpec
	Sim       Sim
	Board     Board

	places places // where the keys stand in the file
}

// Room is the air around the bench.
type Room struct {
	Volume     float64 // m³
	AirChanges float64 // per second
	Air        float64 // K
	Humidity   float64 // relative, 0 to 1
}

// Tank is a container that a pump draws from. Capacity zero: the bench has none.
type Tank struct {
	Capacity float64 // m³
}

// Pump is a pump's measured curve, rising in both columns. No points: the bench has no such pump.
type Pump struct {
	Curve []PumpPoint
}

// PumpPoint is one measured point of a pump's curve.
type PumpPoint struct {
	Duty float64 // fraction of full
	Flow float64 // m³/s
}

// PadPair is the two pads.
type PadPair struct {
	Area    float64 // m², each
	Fastest float64 // revolutions per second
	Most    float64 // Pa, what the pads and the disk may bear
}

// Spindle is a turning part. Fastest zero: the bench has none.
type Spindle struct {
	Fastest float64 // revolutions per second
}

// Fan is the fan that stirs and renews the air of the drying cell.
type Fan struct {
	Fastest  float64 // revolutions per second at full speed
	Least    float64 // fraction of full below which it does not turn reliably
	Through  float64 // m³/s leaving by the duct at full speed
	Stirring float64 // m/s over the cartridge at full speed
	DuctArea float64 // m²
}

// Heater warms the air before the cartridge. Power zero: the bench has none.
type Heater struct {
	Power        float64 // W
	AirLimit     float64 // K, the most that may be asked at the cartridge (at most 50 °C)
	SurfaceLimit float64 // K, the most that the jacket may reach
}

// Sensor is one reading that a bench can give.
type Sensor uint8

// The sensors. Contacts read 1 when all is well and 0 when not, so that a broken wire reads as trouble.
const (
	Lid        Sensor = iota // contact: 1 lid closed
	EStop                    // contact: 1 emergency stop released
	TrayFloat                // contact: 1 tray dry
	TankFloat                // contact: 1 liquid enough in the tank
	RinseFloat               // contact: 1 liquid enough in the rinse tank
	PadFront                 // N, force of the front pad
	PadBack                  // N, force of the back pad
	PadsSpeed                // revolutions per second
	HubSpeed                 // revolutions per second
	FanSpeed                 // revolutions per second
	AirIn                    // K, air entering
	AirInRH                  // relative humidity of the air entering, 0 to 1
	Air                      // K, air at the cartridge
	AirOut                   // K, air leaving
	AirOutRH                 // relative humidity of the air leaving, 0 to 1
	Surface                  // K, jacket of the cartridge
	Vapour                   // fraction of the lower flammable limit in the duct
	Weight                   // kg, cartridge in its holder
	NumSensors
)

var sensorNames = [NumSensors]string{
	"lid", "emergency-stop", "tray-float", "tank-float", "rinse-float", "pad-front", "pad-back", "pads-speed",
	"hub-speed", "fan-speed", "air-in", "air-in-humidity", "air", "air-out", "air-out-humidity", "surface", "vapour",
	"weight",
}

// String returns the sensor's name in a bench file and on screens.
func (s Sensor) String() string {
	if s < NumSensors {
		return sensorNames[s]
	}
	return "unknown sensor"
}

// SensorSpec tells whether a bench has a sensor and how it behaves. Noise, Lag, Drift and Step are used by the
// simulated bench; Stale by the controller on every bench.
type SensorSpec struct {
	Fitted bool
	Stale  time.Duration // a reading older than this is not used
	Every  time.Duration // how often a new reading is made
	Noise  float64       // standard deviation, in the sensor's SI unit
	Lag    time.Duration // first-order lag
	Drift  float64       // per second, in the sensor's SI unit
	Step   float64       // resolution, in the sensor's SI unit; 0: continuous
}

// Sim is what only a simulated bench needs: the things that nobody can read off a real one.
type Sim struct {
	Seed     uint64
	Kept     float64 // m³ of liquid that the liner keeps after spin-out
	Film     float64 // W/K, film conductance h·A of both faces of the liner together, at full stirring
	Friction float64 // coefficient of friction, pad on disk
	Front    float64 // front pad force as a fraction of what the recipe asks
	Back     float64 // back pad force as a fraction of what the recipe asks
	Uneven   float64 // how much more the liner's front face is exposed than its back face, of their mean
	Critical float64 // share of what the liner keeps below which it dries more slowly; 0 stands for 0.3
}
