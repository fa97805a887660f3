// Package quantity turns texts such as "1.5 kPa" into SI numbers and back.
//
// A quantity is a plain decimal number, at most one space, and a unit of the dimension that is asked for. What else
// is common in programs is refused with a hint: a number without unit, a decimal comma, an exponent, a unit of another
// dimension or of another system of units. Nothing is guessed.
package quantity

import "strings"

// Dimension is a kind of quantity. Each has one SI unit that is used inside.
type Dimension uint8

// The dimensions.
const (
	Volume       Dimension = iota // m³
	Flow                          // m³/s
	Area                          // m²
	Pressure                      // Pa
	Force                         // N
	Mass                          // kg
	Temperature                   // K, from absolute zero
	Difference                    // K, between two temperatures
	Duration                      // s
	Turning                       // revolutions per second
	Share                         // a fraction of one
	Speed                         // m/s
	Power                         // W
	Conductance                   // W/K
	Renewal                       // air changes per second
	Frequency                     // Hz
	Counts                        // counts of a converter
	ForceGain                     // counts per newton
	MassGain                      // counts per kilogram
	ShareGain                     // counts for the whole, i.e. for 100 %
	ForceDrift                    // N/s
	MassDrift                     // kg/s
	HeatDrift                     // K/s
	TurningDrift                  // revolutions per second, per second
	ShareDrift                    // fraction per second
	numDimensions
)

// unit is one unit of a dimension: SI = number · mul / div + add. The two factors are whole numbers wherever the
// definition allows, so that a conversion rounds once only.
type unit struct {
	name          string
	mul, div, add float64
	physic        func(string) (float64, error) // periph's own reading, where periph knows the unit
}

// kindOf is what a dimension is called, an example of it, and its units, the usual one first.
type kindOf struct {
	name, example string
	units         []unit
}

// The factors are exact by definition: SI Brochure, 9th edition (2019), table 8 (min, h, litre, and °C in section
// 2.3.4), and 1 rpm = 1/60 revolution per second.
var kinds = [numDimensions]kindOf{
	Volume: {"a volume", "12 mL", []unit{
		{"mL", 1, 1e6, 0, nil}, {"µL", 1, 1e9, 0, nil}, {"L", 1, 1e3, 0, nil}, {"m³", 1, 1, 0, nil}}},
	Flow: {"a flow", "8 mL/min", []unit{
		{"mL/min", 1, 60e6, 0, nil}, {"L/min", 1, 60e3, 0, nil}, {"L/s", 1, 1e3, 0, nil}, {"m³/h", 1, 3600, 0, nil},
		{"m³/s", 1, 1, 0, nil}}},
	Area: {"an area", "6 cm²", []unit{
		{"cm²", 1, 1e4, 0, nil}, {"mm²", 1, 1e6, 0, nil}, {"m²", 1, 1, 0, nil}}},
	Pressure: {"a pressure", "2 kPa", []unit{
		{"kPa", 1e3, 1, 0, pascals}, {"Pa", 1, 1, 0, pascals}}},
	Force: {"a force", "0.1 N", []unit{
		{"N", 1, 1, 0, newtons}, {"mN", 1, 1e3, 0, newtons}}},
	Mass: {"a mass", "20 g", []unit{
		{"g", 1, 1e3, 0, kilograms}, {"mg", 1, 1e6, 0, kilograms}, {"kg", 1, 1, 0, kilograms}}},
	Temperature: {"a temperature", "36 °C", []unit{
		{"°C", 1, 1, 273.15, kelvins}, {"K", 1, 1, 0, kelvins}}},
	Difference: {"a difference of temperatures", "0.1 K", []unit{
		{"K", 1, 1, 0, nil}, {"mK", 1, 1e3, 0, nil}}},
	Duration: {"a time", "90 s", []unit{
		{"s", 1, 1, 0, nil}, {"ms", 1, 1e3, 0, nil}, {"min", 60, 1, 0, nil}, {"h", 3600, 1, 0, nil}}},
	Turning: {"a speed of turning", "60 rpm", []unit{
		{"rpm", 1, 60, 0, nil}}},
	Share: {"a share", "25 %", []unit{
		{"%", 1, 100, 0, nil}}},
	Speed: {"a speed", "2 m/s", []unit{
		{"m/s", 1, 1, 0, nil}, {"cm/s", 1, 100, 0, nil}}},
	Power: {"a power", "40 W", []unit{
		{"W", 1, 1, 0, watts}, {"kW", 1e3, 1, 0, watts}}},
	Conductance: {"a heat conductance", "0.15 W/K", []unit{
		{"W/K", 1, 1, 0, nil}}},
	Renewal: {"air changes in a time", "1 1/h", []unit{
		{"1/h", 1, 3600, 0, nil}}},
	Frequency: {"a frequency", "25 kHz", []unit{
		{"kHz", 1e3, 1, 0, hertz}, {"Hz", 1, 1, 0, hertz}}},
	Counts: {"counts of a converter", "84000 counts", []unit{
		{"counts", 1, 1, 0, nil}}},
	ForceGain: {"counts for a force", "41000 counts/N", []unit{
		{"counts/N", 1, 1, 0, nil}}},
	MassGain: {"counts for a mass", "400 counts/g", []unit{
		{"counts/g", 1e3, 1, 0, nil}, {"counts/kg", 1, 1, 0, nil}}},
	ShareGain: {"counts for a share", "160 counts/%", []unit{
		{"counts/%", 100, 1, 0, nil}}},
	ForceDrift: {"a drift of force", "0.01 N/h", []unit{
		{"N/h", 1, 3600, 0, nil}}},
	MassDrift: {"a drift of mass", "0.1 g/h", []unit{
		{"g/h", 1, 3600e3, 0, nil}}},
	HeatDrift: {"a drift of temperature", "0.1 K/h", []unit{
		{"K/h", 1, 3600, 0, nil}}},
	TurningDrift: {"a drift of turning", "1 rpm/h", []unit{
		{"rpm/h", 1, 60 * 3600, 0, nil}}},
	ShareDrift: {"a drift of a share", "0.5 %/h", []unit{
		{"%/h", 1, 100 * 3600, 0, nil}}},
}

// String returns the dimension's name with its article: "a pressure".
func (d Dimension) String() string {
	if d < numDimensions {
		return kinds[d].name
	}
	return "an unknown quantity"
}

// Example returns a quantity of this dimension as it is written: "2 kPa".
func (d Dimension) Example() string {
	if d < numDimensions {
		return kinds[d].example
	}
	return ""
}

// Usual returns the unit that a person would take first: "kPa".
func (d Dimension) Usual() string {
	if d < numDimensions {
		return kinds[d].units[0].name
	}
	return ""
}

// unit returns the unit of that name.
func (d Dimension) unit(name string) (unit, bool) {
	name = spelling(name)
	for _, u := range kinds[d].units {
		if u.name == name {
			return u, true
		}
	}
	return unit{}, false
}

// choice lists the units for a message: "ms, s, min or h".
func (d Dimension) choice() string {
	var names []string
	for _, u := range kinds[d].units {
		names = append(names, u.name)
	}
	last := len(names) - 1
	if last == 0 {
		return names[0]
	}
	return strings.Join(names[:last], ", ") + " or " + names[last]
}

// spellings are the accepted ways of typing a unit besides the usual one: keyboards lack µ, °, ² and ³, Unicode has the
// µ twice, and the litre may be a small letter (SI Brochure, table 8, note f).
var spellings = map[string]string{
	"C": "°C", "℃": "°C", "uL": "µL", "μL": "µL", "ul": "µL", "µl": "µL", "μl": "µL", "ml": "mL", "l": "L",
	"ml/min": "mL/min", "l/min": "L/min", "l/s": "L/s", "cm2": "cm²", "mm2": "mm²", "m2": "m²", "m3": "m³",
	"m3/h": "m³/h", "m3/s": "m³/s",
}

func spelling(name string) string {
	if usual, ok := spellings[name]; ok {
		return usual
	}
	return name
}
