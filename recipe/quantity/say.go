package quantity

import (
	"math"
	"strconv"
	"strings"
)

// ascending lists, for the dimensions that have a unit for every size, the units from the smallest up.
var ascending = map[Dimension][]string{
	Volume:    {"µL", "mL", "L", "m³"},
	Flow:      {"mL/min", "L/min"},
	Area:      {"mm²", "cm²", "m²"},
	Pressure:  {"Pa", "kPa"},
	Force:     {"mN", "N"},
	Mass:      {"mg", "g", "kg"},
	Duration:  {"ms", "s", "min", "h"},
	Frequency: {"Hz", "kHz"},
	Power:     {"W", "kW"},
}

// Say writes an SI value with the unit that keeps its number short, to six significant digits: "2 kPa", "90 s". What
// is not finite is said as such. Parse reads the text back, rounded alike.
func (d Dimension) Say(si float64) string {
	if d >= numDimensions || math.IsNaN(si) || math.IsInf(si, 0) {
		return "not a number"
	}
	best := kinds[d].units[0]
	names := ascending[d]
	for i, name := range names {
		u, _ := d.unit(name)
		n := math.Abs(u.from(si))
		// A time goes to a larger unit only when it is whole there: "90 s", not "1.5 min".
		if i == 0 || n >= 1 && (d != Duration || name == "s" || n == math.Trunc(n)) {
			best = u
		}
	}
	if si == 0 {
		best = kinds[d].units[0]
	}
	return short(best.from(si)) + " " + best.name
}

// from turns an SI value into this unit.
func (u unit) from(si float64) float64 {
	return (si - u.add) * u.div / u.mul
}

// short writes a number with six significant digits and no exponent.
func short(v float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 5, 64), 64)
	if err != nil || rounded == 0 {
		return "0"
	}
	return strings.TrimSuffix(strconv.FormatFloat(rounded, 'f', -1, 64), ".0")
}
