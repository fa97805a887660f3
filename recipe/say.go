package recipe

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"fullery/recipe/quantity"
)

// SayMillilitres writes a volume in m³ as millilitres to a hundredth: "12 mL", "0.25 mL".
func SayMillilitres(v float64) string { return rounded(v*1e6, 2) + " mL" }

// SayFlow writes a flow in m³/s as millilitres a minute to a hundredth: "8 mL/min".
func SayFlow(v float64) string { return rounded(v*60e6, 2) + " mL/min" }

// SayPressure writes a pressure in Pa as kilopascals to a hundredth: "2 kPa".
func SayPressure(v float64) string { return rounded(v/1e3, 2) + " kPa" }

// SayTurning writes revolutions per second as revolutions a minute to a tenth: "60 rpm".
func SayTurning(v float64) string { return rounded(v*60, 1) + " rpm" }

// SayTemperature writes a temperature in K as degrees Celsius to a tenth: "36 °C".
func SayTemperature(v float64) string { return rounded(v-celsius, 1) + " °C" }

// SayShare writes a fraction as percent to a tenth: "25 %".
func SayShare(v float64) string { return rounded(v*100, 1) + " %" }

// SayForce writes a force in N to a thousandth: "0.9 N".
func SayForce(v float64) string { return rounded(v, 3) + " N" }

// SayTime writes a time as hours, minutes and seconds: "0:01:30". Tenths are told only where there are any: "0:00:02.5".
func SayTime(d time.Duration) string {
	sign := ""
	if d < 0 {
		sign, d = "-", -max(d, -math.MaxInt64)
	}
	tenths := int64(d) / int64(time.Second/10)
	if rest := int64(d) % int64(time.Second/10); rest >= int64(time.Second/20) {
		tenths++
	}
	s := tenths / 10
	text := fmt.Sprintf("%s%d:%02d:%02d", sign, s/3600, s/60%60, s%60)
	if t := tenths % 10; t > 0 {
		text += fmt.Sprintf(".%d", t)
	}
	return text
}

// Say writes what a sensor reads (in its SI unit) with the unit of its kind: "0.9 N", "21.3 °C"; a contact is "well"
// or "tripped".
func (s Sensor) Say(v float64) string {
	if s.Contact() {
		if v >= 0.5 {
			return "well"
		}
		return "tripped"
	}
	switch s.dimension() {
	case quantity.Force:
		return SayForce(v)
	case quantity.Turning:
		return SayTurning(v)
	case quantity.Temperature:
		return SayTemperature(v)
	case quantity.Mass:
		return rounded(v*1e3, 2) + " g"
	}
	return SayShare(v)
}

// Messages, screens and reports all write numbers through these, so that one value looks the same everywhere and no
// locale can put a comma in it.

// rounded writes a number with at most so many decimals, without trailing zeros.
func rounded(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "unknown"
	}
	scale := math.Pow(10, float64(decimals))
	r := math.Round(v*scale) / scale
	if math.IsInf(r, 0) {
		r = v
	}
	return strconv.FormatFloat(r+0, 'f', -1, 64) // + 0 turns a rounded -0.001 into 0, not -0
}
