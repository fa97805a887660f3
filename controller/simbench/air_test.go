package simbench

import (
	"math"
	"testing"
)

// Saturation pressures against published values.
func TestSaturationPressures(t *testing.T) {
	for _, c := range []struct {
		of        part
		celsius   float64
		want, tol float64 // Pa, relative
		source    string
	}{
		{water, 5, 872.6, 0.0035, "ASHRAE Handbook Fundamentals 2017, chapter 1, table 3"},
		{water, 25, 3169.7, 0.0035, "ASHRAE Handbook Fundamentals 2017, chapter 1, table 3"},
		{water, 50, 12351.3, 0.0035, "ASHRAE Handbook Fundamentals 2017, chapter 1, table 3"},
		{water, 20, 2339.2, 0.0035, "IAPWS-IF97, computed with the iapws package 1.5.2"},
		{isopropanol, 20, 4400, 0.04, "NIOSH Pocket Guide: 33 mmHg at 68 °F"},
		{isopropanol, 23.8, 5333, 0.055, "CRC Handbook, 44th edition: 40 mmHg at 23.8 °C"},
		{isopropanol, 39.5, 13332, 0.06, "CRC Handbook, 44th edition: 100 mmHg at 39.5 °C"},
		{isopropanol, 20, 4414, 0.0005, "Antoine constants of Poling, 5th edition, computed"},
		{ethanol, 20, 5866, 0.005, "NIOSH Pocket Guide: 44 mmHg at 20 °C"},
		{ethanol, 25, 7876, 0.0005, "Antoine constants of Poling, 5th edition, computed"},
		{ethanol, 78.29, 101325, 0.005, "normal boiling point, CRC Handbook"},
	} {
		got := c.of.saturation(zeroC + c.celsius)
		if math.Abs(got/c.want-1) > c.tol {
			t.Errorf("component %d at %v °C: %.1f Pa, want %.1f within %.2g (%s)", c.of, c.celsius, got, c.want, c.tol, c.source)
		}
	}
}

func TestSaturationNeverOverflows(t *testing.T) {
	for p := range part(numParts) {
		last := 0.0
		for _, k := range []float64{math.Inf(-1), 0, 53.54, 230, zeroC, 300, 350, 1e6, math.Inf(1)} {
			got := p.saturation(k)
			if !(got > 0) || math.IsInf(got, 0) || got < last {
				t.Errorf("component %d at %g K: %g after %g", p, k, got, last)
			}
			last = got
		}
	}
}

// A wet liner in a stream of air settles near the wet bulb of its liquid. Water: the thermodynamic wet bulb of air
// at 20 °C and 50 % is 13.78 °C (psychrolib, after the ASHRAE Handbook). Isopropanol: 4.9 °C at 20 °C, a computed
// value within 1.5 K; no measured one was found.
func TestLinerSettlesNearTheWetBulb(t *testing.T) {
	for _, c := range []struct {
		liquid             string
		humidity, want, by float64
	}{
		{"distilled-water", 0.5, 13.78, 1},
		{"isopropanol-100", 0, 4.9, 1.5},
	} {
		spec := testSpec()
		spec.Room.Air, spec.Room.Humidity = zeroC+20, c.humidity
		spec.Fan.Through = 50e-3 // so much that the cell's air stays like the room's
		a := newAt(t, spec, c.liquid)
		a.Wet(2 * mL)
		a.run(6*60e9, fanOnly)
		if got := a.Truth().LinerTemp - zeroC; math.Abs(got-c.want) > c.by {
			t.Errorf("%s settles at %.2f °C, want %.2f ± %.1f", c.liquid, got, c.want, c.by)
		}
	}
}

// Chilton and Colburn: mass against heat transfer by the two-thirds power of their diffusivities. For water vapour
// in air it is near one (Lewis), for the alcohols well below.
func TestLewisRelation(t *testing.T) {
	if s := substances[water].slip; math.Abs(s-1.1) > 0.03 {
		t.Errorf("water %.3f", s)
	}
	if s := substances[isopropanol].slip; math.Abs(s-0.605) > 0.02 {
		t.Errorf("isopropanol %.3f", s)
	}
}
