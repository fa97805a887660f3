package liquid

import (
	"math"
	"testing"
)

// Figures from IEC 60079-20-1 (2010), NFPA 497 (2008) and NIOSH (May 1994).
func TestLimits(t *testing.T) {
	for c, want := range map[Component]float64{Water: 0, Isopropanol: 0.020, Ethanol: 0.031} {
		if got := c.LowerLimit(); got != want {
			t.Errorf("%v: %v, want %v", c, got, want)
		}
	}
	for _, name := range []string{"isopropanol-91", "ethanol-96", "isopropanol-70w"} {
		l := parsed(t, name)
		limits := l.LimitsSource()
		if len(limits) != 4 {
			t.Fatalf("%s has %d limits", name, len(limits))
		}
		for _, limit := range limits {
			if limit.Source == "" || limit.Fraction < l.kind.LowerLimit() {
				t.Errorf("%s: %+v is below the limit that counts, or has no source", name, limit)
			}
		}
		limits[0].Fraction = 1
		if l.kind.LowerLimit() == 1 {
			t.Error("the limits are shared")
		}
	}
}

func TestExposures(t *testing.T) {
	want := map[string]map[string]float64{
		"isopropanol-91":  {"NIOSH REL": 400, "NIOSH STEL": 500, "OSHA PEL": 400, "IDLH": 2000},
		"ethanol-96":      {"NIOSH REL": 1000, "OSHA PEL": 1000, "IDLH": 3300},
		"water-detergent": {},
	}
	for name, figures := range want {
		got := parsed(t, name).Exposures()
		if len(got) != len(figures) {
			t.Errorf("%s: %v", name, got)
		}
		for _, e := range got {
			if e.PPM != figures[e.Name] || e.Averaged == "" || e.Source == "" || e.Date == "" {
				t.Errorf("%s: %+v, want %v", name, e, figures[e.Name])
			}
		}
	}
}

// NIOSH set its immediately dangerous concentrations of both at a tenth of a lower limit, and gives 2.46 and 1.89 mg/m³
// for 1 ppm at 25 °C.
func TestFiguresAgreeWithEachOther(t *testing.T) {
	for name, mg := range map[string]float64{"isopropanol-99": 2.46, "ethanol-96": 1.89} {
		l := parsed(t, name)
		figures, limits := l.Exposures(), l.LimitsSource()
		dangerous, published := figures[len(figures)-1], limits[len(limits)-1]
		if math.Abs(dangerous.PPM*1e-6-published.Fraction/10) > 1e-12 {
			t.Errorf("%s: %v ppm is not a tenth of %v", name, dangerous.PPM, published.Fraction)
		}
		if got := l.kind.MolarMass() * atmosphere / (8.314462618 * 298.15); math.Abs(got/mg-1) > 0.005 {
			t.Errorf("%s: 1 ppm is %.3f mg/m³, want %v", name, got, mg)
		}
	}
}

func TestNeverTogether(t *testing.T) {
	list := NeverTogether()
	seen := map[string]bool{}
	for _, c := range list {
		key := c.One + " and " + c.Other
		if c.One == "" || c.Other == "" || c.Reason == "" || seen[key] {
			t.Errorf("%+v says too little, or the same again", c)
		}
		seen[key] = true
	}
	list[0].Reason = "changed"
	if len(list) < 5 || NeverTogether()[0].Reason == "changed" {
		t.Error("the list is short or shared")
	}
}
