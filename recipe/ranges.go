package recipe

import "fullery/recipe/quantity"

// span is a dimension with the range that a key allows, in SI units, both ends allowed.
type span struct {
	dim         quantity.Dimension
	least, most float64
}

// String writes the range for a message: "0.2 kPa to 10 kPa".
func (r span) String() string { return r.dim.Say(r.least) + " to " + r.dim.Say(r.most) }

// example is a quantity within the range, for hints.
func (r span) example() string {
	if v, err := r.dim.Parse(r.dim.Example()); err == nil && v >= r.least && v <= r.most {
		return r.dim.Example()
	}
	return r.dim.Say(r.least)
}

const (
	rpm     = 1.0 / 60
	mL      = 1e-6
	mLmin   = 1e-6 / 60
	hour    = 3600.0
	celsius = 273.15
)

// The ranges of a recipe. Where no standard gives a figure the ends are a matter of sense: wide enough for any bench
// that can be built for these disks, narrow enough to catch a slip of the unit.
var (
	// From memory, not measured: a drive's own pressure pad presses with the order of a kilopascal. Ten times that
	// scrapes, a tenth does not touch evenly.
	padPressure = span{quantity.Pressure, 200, 10e3}
	tolerance   = span{quantity.Share, 0.01, 0.50}
	doseLimit   = span{quantity.Volume, 0.1 * mL, 5000 * mL}
	// Nothing on a bench is timed below a tenth of a second: the loop itself has a tick of a twentieth.
	anyTime  = span{quantity.Duration, 0.1, 24 * hour}
	flow     = span{quantity.Flow, 0.1 * mLmin, 1000 * mLmin}
	padSpeed = span{quantity.Turning, 1 * rpm, 600 * rpm}
	// A drive turns a 90 mm disk at 300 rpm, at most at 600; a disk is not made for more.
	hubSpeed  = span{quantity.Turning, 1 * rpm, 600 * rpm}
	spinTime  = span{quantity.Duration, 0.1, 600}
	turnRound = span{quantity.Duration, 2, 24 * hour}
	fanShare  = span{quantity.Share, 0.01, 1}
	// The media standards end at about 51.5 °C in use; below 10 °C nothing is warmed.
	warmth = span{quantity.Temperature, 10 + celsius, 50 + celsius}
)

// padPressureHigh is where a pad pressure is still taken but warned about, in Pa.
const padPressureHigh = 5e3

// The ranges of a bench file.
var (
	roomVolume  = span{quantity.Volume, 1, 100e3}
	airChanges  = span{quantity.Renewal, 0, 100 / hour}
	roomAir     = span{quantity.Temperature, 0 + celsius, 45 + celsius}
	anyShare    = span{quantity.Share, 0, 1}
	tankHolds   = span{quantity.Volume, 1 * mL, 50e3 * mL}
	padArea     = span{quantity.Area, 0.1e-4, 100e-4}
	fanSpeed    = span{quantity.Turning, 60 * rpm, 30e3 * rpm}
	through     = span{quantity.Flow, 0.01e-3, 0.1}
	stirring    = span{quantity.Speed, 0.05, 30}
	ductArea    = span{quantity.Area, 0.5e-4, 0.1}
	heaterPower = span{quantity.Power, 1, 1000}
	airLimit    = span{quantity.Temperature, 20 + celsius, 50 + celsius}
	jacketLimit = span{quantity.Temperature, 20 + celsius, 50 + celsius}
	staleAfter  = span{quantity.Duration, 0.05, 60}
	madeEvery   = span{quantity.Duration, 0.01, 30}
	sensorLag   = span{quantity.Duration, 0, 600}
	keptLiquid  = span{quantity.Volume, 0, 20 * mL}
	filmConduct = span{quantity.Conductance, 0.001, 10}
	friction    = span{quantity.Share, 0, 2}
	pressShare  = span{quantity.Share, 0, 3}
	unevenness  = span{quantity.Share, 0, 0.60}
	critical    = span{quantity.Share, 0.10, 0.60}
)
