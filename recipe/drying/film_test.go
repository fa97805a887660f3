package drying

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestStretch(t *testing.T) {
	about(t, "at zero", stretch(0), 1, 0)
	for _, x := range []float64{-800, -30, -3, -0.5, -0.4999, -1e-3, 1e-3, 0.3, 0.4999, 0.5, 3, 30, 800} {
		want := x / math.Expm1(x)
		if got := stretch(x); math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("stretch(%g) = %.12g, want %.12g", x, got, want)
		}
	}
	if stretch(1e4) != 0 || stretch(-1e4) != 1e4 {
		t.Error("the ends are wrong")
	}
}

// The slope against central differences, on both sides of where the series ends.
func TestStretching(t *testing.T) {
	for _, x := range []float64{-800, -30, -3, -0.5, -0.4999, -0.1, 0, 1e-3, 0.3, 0.4999, 0.5, 3, 30} {
		const h = 1e-4
		want := (stretch(x+h) - stretch(x-h)) / (2 * h)
		if got := stretching(x, stretch(x)); math.Abs(got-want) > 2e-7 {
			t.Errorf("the slope at %g is %.10g, want %.10g", x, got, want)
		}
	}
	if stretching(0, 1) != -0.5 || stretching(1e4, 0) != 0 {
		t.Error("the middle or the end is wrong")
	}
}

func TestAirDiffusivity(t *testing.T) {
	// Table A.4 of Incropera: 22.5e-6 m²/s at 300 K and 1 atm (from memory).
	near(t, "at 300 K", airDiffusivity(300, Atmosphere), 22.5e-6, 0.02)
	near(t, "at half the pressure", airDiffusivity(300, Atmosphere/2), 2*airDiffusivity(300, Atmosphere), 1e-12)
}

// One component, with the cell's air known afterwards, must satisfy the closed form of the Stefan tube.
func TestExchangeOfOneComponent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kappa := math.Exp(rapid.Float64Range(-12, 1).Draw(t, "ln kappa"))
		surface := rapid.Float64Range(0, 0.9).Draw(t, "surface")
		air := passing{moles: math.Exp(rapid.Float64Range(-12, 5).Draw(t, "ln air"))}
		air.ratio[0] = rapid.Float64Range(0, 0.5).Draw(t, "ratio")
		flux, out := air.exchange(&[n]float64{kappa}, &[n]float64{surface})
		cell := (air.moles*air.ratio[0] + flux[0]) / out
		want := kappa * (math.Log1p(-cell) - math.Log1p(-surface))
		if math.Abs(flux[0]-want) > 1e-7*(math.Abs(want)+kappa*surface) {
			t.Fatalf("flux %.9g, closed form %.9g, cell %.6g", flux[0], want, cell)
		}
		if (cell-surface)*flux[0] > 1e-15 {
			t.Fatalf("flux %g against its difference: %g over the surface, %g in the cell", flux[0], surface, cell)
		}
	})
}

// Several components: each flux must be what film theory gives for the sum of all of them.
func TestExchangeOfSeveral(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var kappa, y [n]float64
		air := passing{moles: math.Exp(rapid.Float64Range(-10, 3).Draw(t, "ln air"))}
		for i := range kappa {
			kappa[i] = math.Exp(rapid.Float64Range(-10, -2).Draw(t, "ln kappa"))
			y[i] = rapid.Float64Range(0, 0.3).Draw(t, "y")
		}
		air.ratio[0] = rapid.Float64Range(0, 0.2).Draw(t, "ratio")
		flux, out := air.exchange(&kappa, &y)
		sum := flux[0] + flux[1] + flux[2]
		if math.Abs(out-air.moles*(1+air.ratio[0])-sum) > 1e-9*out {
			t.Fatalf("what leaves, %g, is not what came and what was given off, %g", out, sum)
		}
		for i := range flux {
			cell := (air.moles*air.ratio[i] + flux[i]) / out
			e := math.Expm1(sum / kappa[i])
			want := kappa[i] * (y[i] - cell)
			if math.Abs(sum/kappa[i]) > 1e-6 {
				want = sum * (y[i]*(e+1) - cell) / e
			}
			if math.Abs(flux[i]-want) > 1e-6*kappa[i] {
				t.Fatalf("component %d: %.9g, film theory %.9g", i, flux[i], want)
			}
		}
	})
}

// Newton stops early, because what is left is of the square of its last move. Here it goes on to the end, by bisection.
func TestExchangeStopsLateEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var kappa, y [n]float64
		air := passing{moles: math.Exp(rapid.Float64Range(-9, -1).Draw(t, "ln air"))}
		for i := range kappa {
			kappa[i] = math.Exp(rapid.Float64Range(-8, -4).Draw(t, "ln kappa"))
			y[i] = rapid.Float64Range(0, 0.1).Draw(t, "y")
		}
		air.ratio[0] = rapid.Float64Range(0, 0.1).Draw(t, "ratio")
		flux, _ := air.exchange(&kappa, &y)
		in, low, high := air.moles*(1+air.damp()), -1.0, 1.0
		var want [n]float64
		for range 100 {
			mid, sum := (low+high)/2, 0.0
			for i := range want {
				want[i], _ = air.film(kappa[i], y[i], air.moles*air.ratio[i], in, mid)
				sum += want[i]
			}
			if sum > mid {
				low = mid
			} else {
				high = mid
			}
		}
		for i := range want {
			if math.Abs(flux[i]-want[i]) > 1e-9*(math.Abs(want[0])+math.Abs(want[1])+math.Abs(want[2])) {
				t.Fatalf("component %d: %.12g, in the end %.12g", i, flux[i], want[i])
			}
		}
	})
}

// The cell's energy: what the passing air brings, less what the liner draws, plus what its vapour brings, is nothing.
func TestCellBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCase(t).filled()
		l := set(c, c.Liquid.Composition(), Options{}.filled())
		k := c.Air + rapid.Float64Range(-20, 5).Draw(t, "liner")
		f := l.flows(c.Liquid.Composition(), k)
		if c.Flow == 0 {
			return
		}
		carried := 0.0
		for i, v := range f.flux {
			carried += v * l.vapour[i]
		}
		left := l.air.heat*(l.air.k-f.cell) + carried*(k-f.cell) - f.heat
		if scale := l.air.heat + l.film; math.Abs(left) > 1e-9*scale*100 {
			t.Fatalf("%g W are unaccounted for", left)
		}
		if f.cell < min(k, l.air.k)-1e-9 || f.cell > max(k, l.air.k)+1e-9 {
			t.Fatalf("the cell's air, %g K, is not between liner %g and what comes in %g", f.cell, k, l.air.k)
		}
	})
}
