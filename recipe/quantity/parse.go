package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"periph.io/x/conn/v3/physic"
)

// Fault is why a text is not a quantity of the dimension asked for.
type Fault struct {
	Said string // what is wrong
	Hint string // what would be right
}

// Error returns both as one line.
func (f Fault) Error() string {
	if f.Hint == "" {
		return f.Said
	}
	return f.Said + "; " + f.Hint
}

// longest is the most characters a number may have. More digits than a float64 can tell apart are a slip.
const longest = 16

// Parse reads a quantity and returns it in the SI unit of the dimension. The result is always a finite number. A
// wrong text gives a Fault. Whether the value makes sense is for the caller: negative ones are read.
func (d Dimension) Parse(text string) (float64, error) {
	if d >= numDimensions {
		return 0, Fault{"an unknown dimension was asked for", ""}
	}
	number, name, fault := split(text, d)
	if fault != nil {
		return 0, *fault
	}
	u, ok := d.unit(name)
	if !ok {
		return 0, d.wrongUnit(text, number, name)
	}
	if u.physic != nil {
		return u.physic(number + u.name)
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return 0, Fault{fmt.Sprintf("%s is not a number", quote(text)), d.hint()}
	}
	if u.div == 1 {
		return v*u.mul + u.add, nil
	}
	return v * u.mul / u.div, nil
}

func (d Dimension) hint() string { return "write it like " + strconv.Quote(kinds[d].example) }

// split takes a text apart into number and unit and refuses what only looks like a number.
func split(text string, d Dimension) (number, name string, f *Fault) {
	fault := func(said, hint string) (string, string, *Fault) {
		return "", "", &Fault{quote(text) + " " + said, hint}
	}
	rest := strings.TrimLeft(text, "+-")
	digits := 0
	for digits < len(rest) && (rest[digits] == '.' || rest[digits] >= '0' && rest[digits] <= '9') {
		digits++
	}
	number, name = text[:len(text)-len(rest)+digits], rest[digits:]
	bare := rest[:digits]
	switch {
	case strings.TrimSpace(text) == "":
		return fault("is no quantity", d.hint())
	case strings.HasPrefix(text, "−"):
		return fault("begins with a typographic minus", "write the minus as -")
	case digits == 0:
		return fault("does not begin with a number", d.hint())
	case len(text)-len(rest) > 1:
		return fault("has more than one sign", d.hint())
	case strings.HasPrefix(name, ",") && len(name) > 1 && isDigit(name[1]):
		return fault("has a decimal comma", fmt.Sprintf("write %s, not %s", bare+"."+lead(name[1:]), bare+","+lead(name[1:])))
	case strings.Count(bare, ".") > 1 || bare[0] == '.' || bare[digits-1] == '.':
		return fault("is not a number with a unit", d.hint())
	case len(bare) > longest:
		return fault(fmt.Sprintf("has more than %d digits", longest), "write fewer")
	}
	return splitUnit(text, number, name, d)
}

// splitUnit looks at what follows the number.
func splitUnit(text, number, name string, d Dimension) (string, string, *Fault) {
	fault := func(said, hint string) (string, string, *Fault) {
		return "", "", &Fault{quote(text) + " " + said, hint}
	}
	for _, space := range []string{" ", "\u00a0", "\u202f"} { // a plain, a no-break or a narrow space, once
		if cut, ok := strings.CutPrefix(name, space); ok {
			name = cut
			break
		}
	}
	switch {
	case name == "":
		return fault("has no unit", fmt.Sprintf("a unit is needed: write %q", number+" "+d.Usual()))
	case (name[0] == 'e' || name[0] == 'E') && len(name) > 1 && (isDigit(name[1]) || name[1] == '-' || name[1] == '+'):
		return fault("has an exponent", "write the number in full, with another unit if it is long")
	case name != strings.TrimSpace(name):
		return fault("has more than one space", "write one space between the number and the unit")
	case isDigit(name[0]) && !strings.HasPrefix(name, "1/") || name[0] == '_' || name[0] == '\'':
		return fault("has something between its digits", "write the digits without gaps")
	case strings.ContainsAny(name, "0123456789") && d == Duration:
		return fault("mixes units", `write one number with one unit, as in "90 min"`)
	}
	return number, name, nil
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// lead returns the digits that a text begins with.
func lead(text string) string {
	return text[:len(text)-len(strings.TrimLeft(text, "0123456789"))]
}

// quote shows a person's text in a message, cut when it is long.
func quote(text string) string {
	if r := []rune(text); len(r) > 40 {
		text = string(r[:40]) + "…"
	}
	return strconv.Quote(text)
}

// foreign are units that people write for a dimension, and what to write instead. Conversions: 1 psi = 6.894757 kPa,
// 1 mmHg = 133.3224 Pa, 1 atm = 101.325 kPa, 1 lbf = 4.448222 N, 1 gf = 9.80665 mN, 1 fl oz (US) = 29.57353 mL, 1 CFM =
// 0.4719474 L/s (NIST SP 811, appendix B).
var foreign = map[string]string{
	"m": "m is metre; write min", "sec": "write s", "secs": "write s", "second": "write s", "seconds": "write s",
	"mins": "write min", "minute": "write min", "minutes": "write min", "hr": "write h", "hrs": "write h",
	"hour": "write h", "hours": "write h", "S": "S is siemens; write s",
	"psi": "write kPa (1 psi is 6.895 kPa)", "bar": "write kPa (1 bar is 100 kPa)", "mbar": "write kPa (1 mbar is 0.1 kPa)",
	"hPa": "write kPa (1 hPa is 0.1 kPa)", "mmHg": "write kPa (1 mmHg is 0.1333 kPa)", "atm": "write kPa (1 atm is 101.325 kPa)",
	"kpa": "the P is a capital: write kPa", "KPa": "the k is small: write kPa", "pa": "the P is a capital: write Pa",
	"°F": "write °C: subtract 32 and divide by 1.8", "F": "write °C: subtract 32 and divide by 1.8",
	"degC": "write °C", "deg C": "write °C", "° C": "write °C", "º C": "write °C", "ºC": "write °C", "°": "write °C", "Celsius": "write °C",
	"cc": "write mL", "ccm": "write mL",
	"cm³": "write mL", "oz": "write mL (1 US fluid ounce is 29.57 mL)",
	"mL/m": "m is metre; write mL/min", "L/m": "m is metre; write L/min",

	"CFM": "write L/s (1 CFM is 0.4719 L/s)", "cfm": "write L/s (1 CFM is 0.4719 L/s)",
	"RPM": "write rpm", "r/min": "write rpm", "U/min": "write rpm", "1/min": "write rpm",
	"percent": "write %", "%rH": "write %", "%RH": "write %", "% RH": "write %",
	"gf": "write N (1 gf is 0.009807 N)", "lbf": "write N (1 lbf is 4.448 N)", "kgf": "write N (1 kgf is 9.807 N)",
	"in²": "write cm² (1 in² is 6.452 cm²)", "lb": "write g (1 lb is 453.6 g)", "w": "write W",
	"/h": "write 1/h", "ACH": "write 1/h", "per hour": "write 1/h",
}

// wrongUnit says what is wrong with a unit: of another dimension, of another system, or unknown.
func (d Dimension) wrongUnit(text, number, name string) error {
	said := fmt.Sprintf("%s is not %s", quote(text), d)
	like := fmt.Sprintf("write %s, as in %q", d.choice(), kinds[d].example)
	for other := range numDimensions {
		if _, ok := other.unit(name); ok && other != d {
			if d == Difference && other == Temperature {
				return Fault{said, fmt.Sprintf("a difference is in kelvin: write %q", number+" K")}
			}
			if name == "m" {
				break
			}
			return Fault{said + ": " + name + " is a unit of " + strings.TrimPrefix(strings.TrimPrefix(other.String(), "a "), "an "), like}
		}
	}
	if instead, ok := foreign[name]; ok && d.takes(instead) {
		return Fault{said, instead}
	}
	if _, ok := foreign[name]; ok {
		return Fault{said + ": " + name + " does not measure that", like}
	}
	return Fault{said + ": the unit " + quote(name) + " is not known", like}
}

// takes tells whether a hint leads to a unit of this dimension, so that "90 psi" for a time is not told "write kPa".
func (d Dimension) takes(instead string) bool {
	_, after, _ := strings.Cut(instead, "write ")
	name, _, _ := strings.Cut(strings.TrimRight(after, ":"), " ")
	_, ok := d.unit(strings.TrimRight(name, ":"))
	return ok
}

// The units that periph knows are read by periph, so that a bench driver and a file agree to the last digit. Its
// integers end near 9.2e9 of the unit, which is the only thing it can still complain of here.

func pascals(s string) (float64, error) {
	var v physic.Pressure
	return scaled(s, v.Set(s), func() float64 { return float64(v) / float64(physic.Pascal) })
}

func newtons(s string) (float64, error) {
	var v physic.Force
	return scaled(s, v.Set(s), func() float64 { return float64(v) / float64(physic.Newton) })
}

func kilograms(s string) (float64, error) {
	var v physic.Mass
	return scaled(s, v.Set(s), func() float64 { return float64(v) / float64(physic.KiloGram) })
}

func kelvins(s string) (float64, error) {
	var v physic.Temperature
	return scaled(s, v.Set(s), func() float64 { return float64(v) / float64(physic.Kelvin) })
}

func watts(s string) (float64, error) {
	var v physic.Power
	return scaled(s, v.Set(s), func() float64 { return float64(v) / float64(physic.Watt) })
}

func hertz(s string) (float64, error) {
	var v physic.Frequency
	return scaled(s, v.Set(s), func() float64 { return float64(v) / float64(physic.Hertz) })
}

func scaled(s string, err error, value func() float64) (float64, error) {
	if err != nil {
		return 0, Fault{fmt.Sprintf("%s is out of any range: %v", quote(s), err), ""}
	}
	if v := value(); !math.IsNaN(v) && !math.IsInf(v, 0) {
		return v, nil
	}
	return 0, Fault{quote(s) + " is no number", ""}
}
