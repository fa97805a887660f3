package quantity

import (
	"math"
	"testing"
)

// The definitions: SI Brochure, 9th edition (2019), table 8 (1 min = 60 s, 1 h = 3600 s, 1 L = 1 dm³), section 2.3.4
// (t/°C = T/K − 273.15). Conversion factors of other units: NIST Special Publication 811 (2008), appendix B.8.
func TestDefinitions(t *testing.T) {
	tests := []struct {
		dim  Dimension
		text string
		want float64
	}{
		{Duration, "1 min", 60}, {Duration, "1 h", 3600}, {Duration, "24 h", 86400}, {Duration, "250 ms", 0.25},
		{Volume, "1 L", 1e-3}, {Volume, "1 mL", 1e-6}, {Volume, "1 µL", 1e-9}, {Volume, "30 m³", 30}, {Volume, "2 uL", 2e-9},
		{Volume, "500 ml", 5e-4}, {Volume, "2 l", 2e-3},
		{Flow, "1 L/s", 1e-3}, {Flow, "60 mL/min", 1e-6}, {Flow, "6 L/min", 1e-4}, {Flow, "3.6 m³/h", 1e-3}, {Flow, "1 m3/s", 1},
		{Area, "1 cm²", 1e-4}, {Area, "1 mm2", 1e-6}, {Area, "1 m2", 1}, {Area, "6 cm2", 6e-4},
		{Pressure, "1 kPa", 1000}, {Pressure, "101325 Pa", 101325}, {Pressure, "101.325 kPa", 101325},
		{Temperature, "0 °C", 273.15}, {Temperature, "273.15 K", 273.15}, {Temperature, "-273.15 °C", 0},
		{Temperature, "40 °C", 313.15}, {Temperature, "21C", 294.15},
		{Difference, "0.03 K", 0.03}, {Difference, "30 mK", 0.03},
		{Turning, "60 rpm", 1}, {Turning, "300 rpm", 5}, {Turning, "1 rpm", 1.0 / 60},
		{Share, "100 %", 1}, {Share, "55%", 0.55}, {Share, "0.5 %", 0.005},
		{Force, "1 N", 1}, {Force, "980.665 mN", 0.980665}, {Mass, "1 kg", 1}, {Mass, "50 mg", 50e-6}, {Mass, "453.59237 g", 0.45359237},
		{Speed, "2 m/s", 2}, {Speed, "50 cm/s", 0.5}, {Power, "40 W", 40}, {Power, "1 kW", 1000},
		{Conductance, "0.15 W/K", 0.15}, {Renewal, "1 1/h", 1.0 / 3600}, {Renewal, "0.5 1/h", 0.5 / 3600},
		{Frequency, "25 kHz", 25e3}, {Frequency, "1 Hz", 1},
		{Counts, "-84000 counts", -84000}, {ForceGain, "8000 counts/N", 8000}, {MassGain, "400 counts/g", 400e3},
		{MassGain, "5 counts/kg", 5}, {ShareGain, "160 counts/%", 16000},
		{ForceDrift, "3.6 N/h", 1e-3}, {MassDrift, "3.6 g/h", 1e-6}, {HeatDrift, "3.6 K/h", 1e-3}, {TurningDrift, "60 rpm/h", 1.0 / 3600},
		{ShareDrift, "36 %/h", 1e-4},
		{Pressure, "2\u00a0kPa", 2000}, {Pressure, "2\u202fkPa", 2000}, {Pressure, "+2 kPa", 2000}, {Pressure, "2kPa", 2000},
		{Pressure, "007 kPa", 7000}, {Duration, "-5 s", -5},
	}
	for _, test := range tests {
		got, err := test.dim.Parse(test.text)
		if err != nil || math.Abs(got-test.want) > 1e-12*math.Abs(test.want)+1e-300 {
			t.Errorf("%q as %v = %v, %v; want %v", test.text, test.dim, got, err, test.want)
		}
	}
}

// The factors that our hints state: NIST SP 811, appendix B.8 (psi, mmHg conventional, gf, lbf, fl oz US, in², lb; CFM
// from ft³), and exactly by definition bar, atm.
func TestHintsStateTheRightFactors(t *testing.T) {
	tests := []struct {
		unit, hint string
		stated, si float64
	}{
		{"psi", "write kPa (1 psi is 6.895 kPa)", 6.895e3, 6894.757},
		{"bar", "write kPa (1 bar is 100 kPa)", 100e3, 100e3},
		{"mmHg", "write kPa (1 mmHg is 0.1333 kPa)", 0.1333e3, 133.3224},
		{"atm", "write kPa (1 atm is 101.325 kPa)", 101.325e3, 101325},
		{"gf", "write N (1 gf is 0.009807 N)", 0.009807, 9.80665e-3},
		{"lbf", "write N (1 lbf is 4.448 N)", 4.448, 4.448222},
		{"kgf", "write N (1 kgf is 9.807 N)", 9.807, 9.80665},
		{"oz", "write mL (1 US fluid ounce is 29.57 mL)", 29.57e-6, 2.957353e-5},
		{"CFM", "write L/s (1 CFM is 0.4719 L/s)", 0.4719e-3, 4.719474e-4},
		{"in²", "write cm² (1 in² is 6.452 cm²)", 6.452e-4, 6.4516e-4},
		{"lb", "write g (1 lb is 453.6 g)", 0.4536, 0.45359237},
	}
	for _, test := range tests {
		if foreign[test.unit] != test.hint {
			t.Errorf("the hint for %s is %q, want %q", test.unit, foreign[test.unit], test.hint)
		}
		if math.Abs(test.stated-test.si) > 5e-4*test.si {
			t.Errorf("%s: stated %v, by definition %v", test.unit, test.stated, test.si)
		}
	}
}

func TestRefusals(t *testing.T) {
	tests := []struct {
		dim  Dimension
		text string
		want string
	}{
		{Duration, "90 psi", `"90 psi" is not a time: psi does not measure that; write s, ms, min or h, as in "90 s"`},
		{Duration, "10 m", `"10 m" is not a time; m is metre; write min`},
		{Duration, "10m", `"10m" is not a time; m is metre; write min`},
		{Duration, "10", `"10" has no unit; a unit is needed: write "10 s"`},
		{Duration, "", `"" is no quantity; write it like "90 s"`},
		{Duration, "  ", `"  " is no quantity; write it like "90 s"`},
		{Duration, "1h30", `"1h30" mixes units; write one number with one unit, as in "90 min"`},
		{Duration, "1h 30min", `"1h 30min" mixes units; write one number with one unit, as in "90 min"`},
		{Duration, "1:30", `"1:30" mixes units; write one number with one unit, as in "90 min"`},
		{Duration, "ninety s", `"ninety s" does not begin with a number; write it like "90 s"`},
		{Duration, "90 seconds", `"90 seconds" is not a time; write s`},
		{Duration, "1e400 s", `"1e400 s" has an exponent; write the number in full, with another unit if it is long`},
		{Duration, "1E+4 s", `"1E+4 s" has an exponent; write the number in full, with another unit if it is long`},
		{Duration, "NaN s", `"NaN s" does not begin with a number; write it like "90 s"`},
		{Duration, "inf s", `"inf s" does not begin with a number; write it like "90 s"`},
		{Duration, "-inf s", `"-inf s" does not begin with a number; write it like "90 s"`},
		{Duration, "12345678901234567 s", `"12345678901234567 s" has more than 16 digits; write fewer`},
		{Duration, "1_000 s", `"1_000 s" has something between its digits; write the digits without gaps`},
		{Duration, "1 000 s", `"1 000 s" has something between its digits; write the digits without gaps`},
		{Duration, "--5 s", `"--5 s" has more than one sign; write it like "90 s"`},
		{Duration, "−5 s", `"−5 s" begins with a typographic minus; write the minus as -`},
		{Duration, "5  s", `"5  s" has more than one space; write one space between the number and the unit`},
		{Duration, "5 s ", `"5 s " has more than one space; write one space between the number and the unit`},
		{Duration, " 5 s", `" 5 s" does not begin with a number; write it like "90 s"`},
		{Duration, "5\ts", `"5\ts" has more than one space; write one space between the number and the unit`},
		{Duration, ".5 s", `".5 s" is not a number with a unit; write it like "90 s"`},
		{Duration, "5. s", `"5. s" is not a number with a unit; write it like "90 s"`},
		{Duration, "1.2.3 s", `"1.2.3 s" is not a number with a unit; write it like "90 s"`},
		{Duration, "0x10 s", `"0x10 s" mixes units; write one number with one unit, as in "90 min"`},
		{Duration, "½ h", `"½ h" does not begin with a number; write it like "90 s"`},
		{Pressure, "1,5 kPa", `"1,5 kPa" has a decimal comma; write 1.5, not 1,5`},
		{Pressure, "173,900 Pa", `"173,900 Pa" has a decimal comma; write 173.900, not 173,900`},
		{Pressure, "2 psi", `"2 psi" is not a pressure; write kPa (1 psi is 6.895 kPa)`},
		{Pressure, "2 kpa", `"2 kpa" is not a pressure; the P is a capital: write kPa`},
		{Pressure, "2 N", `"2 N" is not a pressure: N is a unit of force; write kPa or Pa, as in "2 kPa"`},
		{Pressure, "2 furlong", `"2 furlong" is not a pressure: the unit "furlong" is not known; write kPa or Pa, as in "2 kPa"`},
		{Pressure, "9999999999 kPa", `"9999999999kPa" is out of any range: maximum value is 9.223GPa`},
		{Temperature, "50 °F", `"50 °F" is not a temperature; write °C: subtract 32 and divide by 1.8`},
		{Temperature, "50 F", `"50 F" is not a temperature; write °C: subtract 32 and divide by 1.8`},
		{Temperature, "-300 °C", `"-300°C" is out of any range: minimum value is -273.15°C`},
		{Difference, "0.1 °C", `"0.1 °C" is not a difference of temperatures; a difference is in kelvin: write "0.1 K"`},
		{Turning, "60 Hz", `"60 Hz" is not a speed of turning: Hz is a unit of frequency; write rpm, as in "60 rpm"`},
		{Turning, "60 RPM", `"60 RPM" is not a speed of turning; write rpm`},
		{Share, "55 percent", `"55 percent" is not a share; write %`},
		{Share, "0.55", `"0.55" has no unit; a unit is needed: write "0.55 %"`},
		{Flow, "8 mL/m", `"8 mL/m" is not a flow; m is metre; write mL/min`},
		{Flow, "8 mL", `"8 mL" is not a flow: mL is a unit of volume; write mL/min, L/min, L/s, m³/h or m³/s, as in "8 mL/min"`},
		{Renewal, "1 /h", `"1 /h" is not air changes in a time; write 1/h`},
		{Force, "100 gf", `"100 gf" is not a force; write N (1 gf is 0.009807 N)`},
		{numDimensions, "1 s", `an unknown dimension was asked for`},
	}
	for _, test := range tests {
		v, err := test.dim.Parse(test.text)
		if err == nil {
			t.Errorf("%q was read as %v", test.text, v)
			continue
		}
		if err.Error() != test.want {
			t.Errorf("%q:\n got %s\nwant %s", test.text, err, test.want)
		}
		if _, ok := err.(Fault); !ok {
			t.Errorf("%q gives a %T, not a Fault", test.text, err)
		}
	}
}
