package liquid

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// room is 20 °C in kelvin: percent by volume on a bottle are volumes measured at 20 °C, here as in OIML R 22. Some
// trades use 15.56 or 25 °C, which changes the composition by less than 0.003.
const room = 20 + celsius0

// parseStrength reads the "91" of "isopropanol-91", percent by volume, or the "91w" of "isopropanol-91w", percent by
// mass (weight). Only whole numbers from 1 to 100 in their plain form are taken, so that each has one name.
func parseStrength(s string) (percent int, byMass, ok bool) {
	digits, byMass := strings.CutSuffix(s, "w")
	percent, err := strconv.Atoi(digits)
	ok = err == nil && strconv.Itoa(percent) == digits && percent >= 1 && percent <= 100
	return percent, byMass, ok
}

// alcohol makes the liquid of a strength. By mass, Alcohol is worked out from the densities.
func alcohol(kind Component, percent int, byMass bool, cautions []string) Liquid {
	l := Liquid{
		Name:    fmt.Sprintf("%s-%d", kind, percent),
		Title:   fmt.Sprintf("%s %d %%", kind, percent),
		Alcohol: float64(percent) / 100,
		kind:    kind,
	}
	if byMass {
		l.Name += "w"
		l.Title += " by mass"
		l.byMass = l.Alcohol
		l.Alcohol = volumeFraction(kind, l.byMass)
	}
	l.Flammable = l.Alcohol >= FlammableFrom
	l.UsualDrying = usualDrying(l.Alcohol >= mostlyAlcohol)
	l.Cautions = append([]string(nil), cautions...)
	if !l.Flammable {
		l.Cautions[0] = slowDry
	}
	return l
}

// watered returns an alcohol with water, w of it by mass.
func watered(kind Component, w float64) Amounts {
	a := Amounts{Water: 1 - w}
	a[kind] = w
	return a
}

// volumeFraction turns a fraction of alcohol by mass into volume: the volume that the alcohol would have by itself, of
// the volume of the mixture, both at 20 °C.
func volumeFraction(kind Component, w float64) float64 {
	return w * Density(watered(kind, w), room) / Density(watered(kind, 1), room)
}

// massFraction turns it back by bisection; the volume fraction rises with the mass fraction all the way.
func massFraction(kind Component, volume float64) float64 {
	low, high := 0.0, 1.0
	for range 60 {
		w := (low + high) / 2
		if volumeFraction(kind, w) < volume {
			low = w
		} else {
			high = w
		}
	}
	return high
}

// Turned returns the liquid made of these amounts by now, in any unit of mass: what becomes of an alcohol that stood open to
// damp air. It keeps its name, under which a bench's dryings are learned, and what the name says of fire: the careful
// side. Amounts that are nothing, or negative, change nothing.
func (l Liquid) Turned(a Amounts) Liquid {
	sum := 0.0
	for _, x := range a {
		if !(x >= 0) {
			return l
		}
		sum += x
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		return l
	}
	for i := range a {
		a[i] /= sum
	}
	l.turned = a
	return l
}

// Composition returns what the liquid is made of, as fractions by mass that add up to 1. Percent by volume are turned
// into mass with Density at 20 °C: isopropanol 70 % is 0.628 by mass, 91 % 0.876, ethanol 70 % 0.624. A Liquid that
// does not come from Parse is taken as water, and so is water with detergent.
func (l Liquid) Composition() Amounts {
	switch {
	case l.turned != (Amounts{}):
		return l.turned
	case l.kind == Water:
		return Amounts{Water: 1}
	case l.byMass > 0:
		return watered(l.kind, l.byMass)
	default:
		return watered(l.kind, massFraction(l.kind, l.Alcohol))
	}
}
