package liquid

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// published reads one table of testdata/liquid at the top of the repository; its sources stand in its first lines.
func published(t *testing.T, file string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "liquid", file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil || len(lines) < 2 {
		t.Fatalf("%s: %d lines, %v", file, len(lines), err)
	}
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, cell := range line {
			row[lines[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, row map[string]string, key string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[key], 64)
	if err != nil {
		t.Fatalf("%v: %s: %v", row, key, err)
	}
	return v
}

func component(t *testing.T, row map[string]string) Component {
	t.Helper()
	for c := range Component(NumComponents) {
		if c.String() == row["component"] {
			return c
		}
	}
	t.Fatalf("%v names no component", row)
	return Water
}

func parsed(t *testing.T, name string) Liquid {
	t.Helper()
	l, err := Parse(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// worst keeps the largest difference of a test, to be shown with -v.
type worst struct{ by float64 }

func (w *worst) near(t *testing.T, row map[string]string, got, want, within float64) {
	t.Helper()
	off := got - want
	if math.Abs(off) > math.Abs(w.by) {
		w.by = off
	}
	if !(math.Abs(off) <= within) {
		t.Errorf("%v: got %.6g, want %.6g, off by %.3g, allowed are %.3g", row, got, want, off, within)
	}
}

func TestSaturationAsPublished(t *testing.T) {
	for _, row := range published(t, "saturation.csv") {
		var w worst
		want := number(t, row, "pa")
		w.near(t, row, component(t, row).Saturation(number(t, row, "t_c")+celsius0), want,
			want*number(t, row, "within_percent")/100)
		t.Logf("%s %s °C (%s): %+.3f %%", row["component"], row["t_c"], row["source"], 100*w.by/want)
	}
}

// IAPWS R7-97, table 35: pressures in Pa at 300, 500 and 600 K. From memory; an independent program gives the same.
func TestRegion4CheckValues(t *testing.T) {
	for kelvin, want := range map[float64]float64{300: 3536.58941, 500: 2638897.76, 600: 12344314.6} {
		if got := Water.Saturation(kelvin); math.Abs(got/want-1) > 1e-8 {
			t.Errorf("at %v K: %.9g Pa, want %.9g", kelvin, got, want)
		}
	}
}

// A second formulation, Sonntag (1990), at every tenth of a kelvin from 0 to 60 °C. Its coefficients are from memory; a slip
// in them would not agree anywhere.
func TestWaterAgainstSonntag(t *testing.T) {
	for tenths := range 601 {
		kelvin := celsius0 + float64(tenths)/10
		want := 100 * math.Exp(-6096.9385/kelvin+16.635794-2.711193e-2*kelvin+1.673952e-5*kelvin*kelvin+2.433502*math.Log(kelvin))
		if got := Water.Saturation(kelvin); math.Abs(got/want-1) > 5e-4 {
			t.Fatalf("at %.2f K: %.6g Pa, Sonntag %.6g", kelvin, got, want)
		}
	}
}

func TestPureAsPublished(t *testing.T) {
	of := map[string]func(c Component, kelvin float64) float64{
		"latent":    func(c Component, k float64) float64 { return c.Latent(k) / 1e3 },
		"density":   func(c Component, k float64) float64 { return Density(watered(c, 1), k) },
		"viscosity": func(c Component, k float64) float64 { return c.viscosity(k) * 1e3 },
		"tension":   func(c Component, k float64) float64 { return c.tension(k) * 1e3 },
		"heat":      func(c Component, k float64) float64 { return c.HeatCapacity() * c.MolarMass() },
		"vapour":    func(c Component, k float64) float64 { return c.VapourHeatCapacity() * c.MolarMass() },
		"molar":     func(c Component, k float64) float64 { return c.MolarMass() * 1e3 },
	}
	for _, row := range published(t, "pure.csv") {
		var w worst
		want := number(t, row, "value")
		c := component(t, row)
		w.near(t, row, of[row["property"]](c, number(t, row, "t_c")+celsius0), want, want*number(t, row, "within_percent")/100)
		t.Logf("%s %s %s °C (%s): %+.3f %%", c, row["property"], row["t_c"], row["source"], 100*w.by/want)
	}
}

func TestDiffusivityAsPublished(t *testing.T) {
	for _, row := range published(t, "diffusivity.csv") {
		var w worst
		want := number(t, row, "m2_s")
		w.near(t, row, component(t, row).Diffusivity(number(t, row, "t_c")+celsius0, atmosphere), want,
			want*number(t, row, "within_percent")/100)
		t.Logf("%s (%s): %+.1f %%", row["component"], row["source"], 100*w.by/want)
	}
	// From memory, so only loosely: Perry and Lugg for isopropanol, 0.0818 cm²/s at 0 °C and 0.1013 at 25 °C.
	for celsius, want := range map[float64]float64{0: 0.0818e-4, 25: 0.1013e-4} {
		if got := Isopropanol.Diffusivity(celsius+celsius0, atmosphere); math.Abs(got/want-1) > 0.15 {
			t.Errorf("isopropanol at %v °C: %.3g m²/s, remembered %.3g", celsius, got, want)
		}
	}
}

// Geankoplis, example 6.2-5: n-butanol in air, 273 and 298.9 K at 1 atm, 273 K at 2 atm.
func TestFullerWorkedExample(t *testing.T) {
	for _, e := range []struct{ kelvin, atm, want float64 }{{273, 1, 7.70e-6}, {298.9, 1, 9.02e-6}, {273, 2, 3.85e-6}} {
		got := fuller(0.0741, 4*16.5+10*1.98+5.48, e.kelvin, e.atm*atmosphere)
		if math.Abs(got/e.want-1) > 0.005 {
			t.Errorf("%v K, %v atm: %.4g m²/s, want %.4g", e.kelvin, e.atm, got, e.want)
		}
	}
}
