package forecast

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"fullery/recipe/liquid"
)

// row is one row of a table in testdata/forecast, by column.
type row map[string]string

func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %q: %v", column, err)
	}
	return v
}

// table reads testdata/forecast/name. Its source stands in its head.
func table(t *testing.T, name string) (rows []row) {
	t.Helper()
	file, err := os.Open(filepath.Join("..", "..", "testdata", "forecast", name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	reader.LazyQuotes = true
	lines, err := reader.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(lines) < 2 {
		t.Fatalf("%s is empty", name)
	}
	for _, line := range lines[1:] {
		r := row{}
		for i, column := range lines[0] {
			r[column] = line[i]
		}
		rows = append(rows, r)
	}
	return rows
}

// near fails unless got is within a fraction of want.
func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within*math.Abs(want)) {
		t.Errorf("%s: %.6g, want %.6g within %.3g %%", what, got, want, within*100)
	}
}

func substance(t *testing.T, name string) liquid.Component {
	t.Helper()
	for _, c := range []liquid.Component{liquid.Isopropanol, liquid.Ethanol} {
		if c.String() == name {
			return c
		}
	}
	t.Fatalf("no substance %q", name)
	return 0
}

const litre, hourly = 1e-3, 1.0 / 3600

func TestRoomBuildUp(t *testing.T) {
	for _, r := range table(t, "room-buildup.csv") {
		box := Box{Volume: 1, Changes: r.number(t, "changes_per_h") * hourly}
		got := box.After(0, hourly, r.number(t, "minutes")*60)
		if want := r.number(t, "share"); math.Abs(got-want) > 1e-4 {
			t.Errorf("%v: %.5f", r, got)
		}
	}
}

// Half-life at one air change an hour: 0.693 h, 41.6 min, and five of them leave less than 5 % (an industrial hygienist's
// derivation of first-order decay, jayjock-associates, July 2013).
func TestRoomDecay(t *testing.T) {
	box := Box{Volume: 30, Changes: hourly}
	half := box.Fades(1, 0.5)
	near(t, "half-life, min", half/60, 41.6, 0.001)
	near(t, "after one", box.After(1, 0, half), 0.5, 1e-12)
	if left := box.After(1, 0, 5*half); left >= 0.05 {
		t.Errorf("%.4f left after five half-lives", left)
	}
	if box.Fades(1, 2) != 0 || !math.IsInf(Box{Volume: 1}.Fades(2, 1), 1) {
		t.Error("thinning to more takes time, or a sealed room clears")
	}
}

// Benzene at 1 g/min into 6 × 6 × 3 m with 10 m³/min: 0.1 g/m³ in the end, 95 % of it after 10.8·ln 20 = 32.35 min. The
// question was published (brainmass 270790), the answer is its closed form.
func TestRoomSteady(t *testing.T) {
	box := Box{Volume: 108, Changes: 10.0 / 60 / 108}
	near(t, "in the end", box.After(0, 1.0/60, 1e6), 0.100, 1e-9)
	near(t, "after 32.35 min", box.After(0, 1.0/60, 32.35*60), 0.095, 1e-4)
	// 1 g/min of isopropanol vapour into 10 m³/h, at 20 °C: 2401 ppm in the end.
	box = Box{Volume: 30, Changes: 10.0 / 3600 / 30}
	source := VapourVolume(liquid.Isopropanol, 1e-3/60, 293.15)
	near(t, "1 g/min into 10 m³/h, ppm", box.After(0, source, 1e7)*1e6, 2401, 1e-3)
}

func TestDilution(t *testing.T) {
	const pint, foot3, seventy = 0.473176 * litre, 0.0283168, 294.26
	for _, r := range table(t, "dilution.csv") {
		kg := r.number(t, "sg") * 1000 * pint * r.number(t, "pints_per_min") / 60
		source := kg / (r.number(t, "molar_g") * 1e-3) * molarVolume(seventy)
		air := r.number(t, "cfm") * foot3 / 60 / r.number(t, "k")
		got := Box{Volume: 100, Changes: air / 100}.After(0, source, 1e7) * 1e6
		near(t, r["case"], got, r.number(t, "ppm"), 0.005)
	}
}

func TestConversions(t *testing.T) {
	for _, r := range table(t, "conversions.csv") {
		c, k, ppm := substance(t, r["liquid"]), r.number(t, "t_c")+273.15, r.number(t, "ppm")
		got := MilligramsPerCubicMetre(c, ppm, k)
		near(t, r["liquid"], got, r.number(t, "mg_m3"), r.number(t, "within_percent")/100)
		near(t, "and back", PartsPerMillion(c, got, k), ppm, 1e-12)
	}
}

func TestSpills(t *testing.T) {
	l, err := liquid.Parse("isopropanol-100")
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range table(t, "spills.csv") {
		s := Spilt(l, r.number(t, "ml")*1e-6, r.number(t, "litres")*litre, 293.15)
		near(t, "volume", s.PPM/1e4, r.number(t, "volume_percent"), 0.002)
		near(t, "limit", s.OfLimit*100, r.number(t, "percent_lfl"), 0.002)
		if (s.OfLimit >= StopAt) != (r.number(t, "percent_lfl") >= 25) {
			t.Errorf("%v: on the wrong side of 25 %%", r)
		}
	}
	// Water in the bottle does not burn; 1.6 mL of 91 % is less than 1.5 mL of pure.
	weak, err := liquid.Parse("isopropanol-91")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "91 %", Spilt(weak, 1e-6, 0.1, 293.15).OfLimit, 0.91*0.1571, 0.003)
	if s := Spilt(liquid.Liquid{}, 1e-3, 1, 293.15); s.PPM != 0 || s.OfLimit != 0 {
		t.Errorf("water burns: %+v", s)
	}
}

// 25 % and 10 % of the limit in g/m³ at 25 °C, worked out from the figures of NIOSH: 12.3 and 4.9 of isopropanol, 15.5
// and 6.2 of ethanol (there the limit is taken as 3.3 %). A tenth is also NIOSH's immediately dangerous level.
func TestTenthOfLimit(t *testing.T) {
	for _, c := range []struct {
		name           string
		limit          float64
		quarter, tenth float64
	}{{"isopropanol-100", 0.020, 12.3, 4.9}, {"ethanol-100", 0.033, 15.5, 6.2}} {
		l, err := liquid.Parse(c.name)
		if err != nil {
			t.Fatal(err)
		}
		of, _ := (&cycle{burns: l}).fuel()
		near(t, c.name, MilligramsPerCubicMetre(of, StopAt*c.limit*1e6, 298.15)/1e3, c.quarter, 0.01)
		near(t, c.name, MilligramsPerCubicMetre(of, WarnAt*c.limit*1e6, 298.15)/1e3, c.tenth, 0.01)
		for _, e := range l.Exposures() {
			if e.Name == "IDLH" && e.PPM != math.Round(c.limit*WarnAt*1e6) {
				t.Errorf("%s: %v is not a tenth of the limit", c.name, e)
			}
		}
	}
}
