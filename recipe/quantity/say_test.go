package quantity

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestSay(t *testing.T) {
	tests := []struct {
		dim  Dimension
		si   float64
		want string
	}{
		{Duration, 90, "90 s"}, {Duration, 120, "2 min"}, {Duration, 5400, "90 min"}, {Duration, 86400, "24 h"},
		{Duration, 0.25, "250 ms"}, {Duration, 0, "0 s"}, {Duration, 2.5, "2.5 s"}, {Duration, -90, "-90 s"},
		{Pressure, 2000, "2 kPa"}, {Pressure, 200, "200 Pa"}, {Pressure, 101325, "101.325 kPa"},
		{Temperature, 313.15, "40 °C"}, {Temperature, 0, "-273.15 °C"}, {Volume, 1.2e-5, "12 mL"}, {Volume, 5e-4, "500 mL"},
		{Volume, 30, "30 m³"}, {Volume, 2e-9, "2 µL"}, {Flow, 8e-6 / 60, "8 mL/min"}, {Flow, 2e-3, "120 L/min"},
		{Turning, 1, "60 rpm"}, {Share, 0.25, "25 %"}, {Share, 1.0 / 3, "33.3333 %"}, {Difference, 0.03, "0.03 K"},
		{Force, 0.0098, "9.8 mN"}, {Mass, 0.02, "20 g"}, {Area, 6e-4, "6 cm²"}, {Power, 40, "40 W"},
		{Pressure, math.NaN(), "not a number"}, {Pressure, math.Inf(1), "not a number"}, {numDimensions, 1, "not a number"},
	}
	for _, test := range tests {
		if got := test.dim.Say(test.si); got != test.want {
			t.Errorf("%v of %v is said %q, want %q", test.dim, test.si, got, test.want)
		}
	}
}

// Every dimension's example, and what a message suggests, can be read by the dimension itself.
func TestExamplesAreRight(t *testing.T) {
	seen := map[string]bool{}
	for d := range numDimensions {
		if _, err := d.Parse(d.Example()); err != nil {
			t.Errorf("the example of %v: %v", d, err)
		}
		if _, err := d.Parse("1 " + d.Usual()); err != nil {
			t.Errorf("the usual unit of %v: %v", d, err)
		}
		if d.String() == "" || seen[d.String()] {
			t.Errorf("dimension %d has no name of its own", d)
		}
		seen[d.String()] = true
	}
	if s := numDimensions.String() + numDimensions.Example() + numDimensions.Usual(); s != "an unknown quantity" {
		t.Errorf("a dimension that is none: %q", s)
	}
}

// What is said is read back as the same value, to the six digits that are said.
func TestSayIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Dimension(rapid.IntRange(0, int(numDimensions)-1).Draw(t, "dimension"))
		u := rapid.SampledFrom(kinds[d].units).Draw(t, "unit")
		number := float64(rapid.IntRange(1, 99999).Draw(t, "number")) / 100
		si := number*u.mul/u.div + u.add
		got, err := d.Parse(d.Say(si))
		// Temperatures lose digits to the distance of their zeros.
		if err != nil || math.Abs(got-si) > 2e-5*math.Abs(si-u.add)+1e-5*u.add {
			t.Fatalf("%v %v is said %q and read as %v, %v", si, d, d.Say(si), got, err)
		}
	})
}

func TestFlagValues(t *testing.T) {
	var v VolumeValue
	var f FlowValue
	var r TurningValue
	var s ShareValue
	for _, test := range []struct {
		value interface {
			Set(string) error
			String() string
		}
		text string
	}{{&v, "12 mL"}, {&f, "8 mL/min"}, {&r, "60 rpm"}, {&s, "25 %"}} {
		if err := test.value.Set(test.text); err != nil || test.value.String() != test.text {
			t.Errorf("%q became %q, %v", test.text, test.value, err)
		}
		if err := test.value.Set("1,5 mL"); err == nil || test.value.String() != test.text {
			t.Errorf("a wrong text changed %q to %q, %v", test.text, test.value, err)
		}
	}
	if v != 12e-6 {
		t.Errorf("12 mL is held as %v", float64(v))
	}
}

// No text makes Parse fail otherwise than with a Fault, and what it reads is finite and can be said.
func FuzzQuantity(f *testing.F) {
	for d := range numDimensions {
		f.Add(uint8(d), d.Example())
	}
	for _, text := range []string{"", "1,5 kPa", "1e400 s", "NaN s", "−5 °C", "9999999999999999 kPa", "0.000000000000001 K", "5\u00a0%", "--1 s",
		"1\xff s", "+.5 s", "90 psi", "1 000 s"} {
		f.Add(uint8(Duration), text)
		f.Add(uint8(Pressure), text)
	}
	f.Fuzz(func(t *testing.T, dim uint8, text string) {
		d := Dimension(dim % uint8(numDimensions))
		v, err := d.Parse(text)
		if err != nil {
			if _, ok := err.(Fault); !ok || err.Error() == "" {
				t.Fatalf("%q gives %T %v", text, err, err)
			}
			return
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("%q was read as %v", text, v)
		}
		if strings.ContainsAny(text, ",eE") && d != Counts {
			t.Fatalf("%q was read as %v", text, v)
		}
		if _, err := d.Parse(d.Say(v)); err != nil && math.Abs(v) < 1e9 && v >= 0 {
			t.Fatalf("%q was read as %v and said %q, which cannot be read: %v", text, v, d.Say(v), err)
		}
	})
}
