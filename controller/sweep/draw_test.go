package sweep

import (
	"math"
	"strings"
	"testing"

	"fullery/recipe/drying"
)

// learned is a belief whose two figures hang together, as after logs of one liquid.
var learned = drying.Belief{Liquids: []string{"isopropanol-91"}, Mean: []float64{math.Log(1.3), math.Log(1.6e-6)},
	Cov: [][]float64{{0.04, 0.018}, {0.018, 0.0225}}, Jitter: 0.05}

// The draws have the means, the widths and the covariance that are believed, and one drying's scatter on the exposure.
func TestDrawsFollowTheBelief(t *testing.T) {
	r, b := shipped(t, "isopropanol-91"), bench(t, "simulated")
	d := Draws{learned, 3}
	const n = 20000
	var x, y, xx, yy, xy float64
	for i := range n {
		spec, err := d.Bench(b, r, i)
		if err != nil {
			t.Fatal(err)
		}
		u, v := math.Log(spec.Sim.Film/b.Sim.Film), math.Log(spec.Sim.Kept)
		x, y, xx, yy, xy = x+u, y+v, xx+u*u, yy+v*v, xy+u*v
	}
	x, y = x/n, y/n
	got := []float64{x, y, xx/n - x*x, yy/n - y*y, xy/n - x*y}
	want := []float64{learned.Mean[0], learned.Mean[1], 0.04 + 0.05*0.05, 0.0225, 0.018}
	for i, tolerance := range []float64{0.006, 0.005, 0.002, 0.001, 0.001} { // four standard errors of 20 000
		if math.Abs(got[i]-want[i]) > tolerance {
			t.Errorf("figure %d: %.4f, want %.4f", i, got[i], want[i])
		}
	}
}

// A draw depends on seed and number alone; another recipe meets the same chance, and the bench file stays as it was.
func TestDrawsAreCommon(t *testing.T) {
	r, b := shipped(t, "isopropanol-91"), bench(t, "simulated")
	seen := map[float64]bool{}
	for i := range 50 {
		one, err := Draws{drying.Prior(), 1}.Bench(b, r, i)
		if err != nil {
			t.Fatal(err)
		}
		again, _ := Draws{drying.Belief{}, 1}.Bench(b, r, i)
		water, _ := Draws{drying.Prior(), 1}.Bench(b, shipped(t, "water-detergent"), i)
		other, _ := Draws{drying.Prior(), 2}.Bench(b, r, i)
		if one.Sim != again.Sim || one.Sim != water.Sim || one.Sim == other.Sim || seen[one.Sim.Film] {
			t.Errorf("draw %d: %+v, %+v, %+v, %+v", i, one.Sim, again.Sim, water.Sim, other.Sim)
		}
		seen[one.Sim.Film] = true
		one.Sim = b.Sim
		if one.Fan != b.Fan || one.Room != b.Room || one.Sensors != b.Sensors {
			t.Error("more than [sim] was drawn")
		}
	}
	// What was learned of one liquid moves that liquid.
	spec, _ := Draws{learned, 1}.Bench(b, r, 7)
	other, _ := Draws{learned, 1}.Bench(b, shipped(t, "isopropanol-99"), 7)
	if spec.Sim.Kept == other.Sim.Kept || spec.Sim.Film != other.Sim.Film {
		t.Errorf("%+v, %+v", spec.Sim, other.Sim)
	}
}

// A real bench's file has no [sim]: the same is assumed as in the forecast, and a draw can be run.
func TestDrawsOfARealBench(t *testing.T) {
	b := bench(t, "board")
	spec, err := Draws{drying.Belief{Mean: []float64{0}, Cov: [][]float64{{1e-12}}, Jitter: 1e-9}, 1}.Bench(b, read(t, quickText), 0)
	if err != nil || math.Abs(spec.Sim.Film-0.3) > 1e-6 || spec.Sim.Friction != 0.3 || spec.Sim.Front != 1 || spec.Sim.Back != 1 {
		t.Fatalf("%+v, %v", spec.Sim, err)
	}
	out, err := Run(only(t, read(t, quickText), b, Own(read(t, quickText))), spec)
	if err != nil || !out.Complete {
		t.Errorf("%+v, %v", out, err)
	}
}

// However wide a belief, a drawn bench is one that the simulation was made for; what cannot be drawn is told.
func TestDrawsStayInRange(t *testing.T) {
	r, b := read(t, quickText), bench(t, "simulated")
	wild := drying.Belief{Liquids: []string{r.Liquid}, Mean: []float64{0, -13}, Cov: [][]float64{{90, 0}, {0, 90}}, Jitter: 2}
	for i := range 200 {
		spec, err := Draws{wild, 1}.Bench(b, r, i)
		if s := spec.Sim; err != nil || !(s.Film >= leastFilm && s.Film <= mostFilm && s.Kept >= leastKept && s.Kept <= mostKept) {
			t.Fatalf("%+v, %v", s, err)
		}
	}
	b.Sim.Film = 0
	if _, err := (Draws{Seed: 1}).Bench(b, r, 0); err == nil || !strings.Contains(err.Error(), "0 W/K") {
		t.Errorf("a bench without a film: %v", err)
	}
	r.Liquid = "lemonade"
	if _, err := (Draws{Seed: 1}).Bench(bench(t, "simulated"), r, 0); err == nil {
		t.Error("lemonade was taken")
	}
}
