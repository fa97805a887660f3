package liquid

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func someComponent(t *rapid.T) Component {
	return Component(rapid.IntRange(0, NumComponents-1).Draw(t, "component"))
}

// someMixture draws amounts that leave components out about as often as not, down to traces.
func someMixture(t *rapid.T) Amounts {
	var a Amounts
	for i := range a {
		if rapid.Bool().Draw(t, "present") {
			a[i] = math.Pow(10, rapid.Float64Range(-14, 1).Draw(t, "log10 of kg"))
		}
	}
	return a
}

func someKelvin(t *rapid.T) float64 {
	return celsius0 + rapid.Float64Range(0, 100).Draw(t, "celsius")
}

func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// Warmer means more vapour, which is cheaper to make and spreads faster, from a lighter liquid that flows more easily.
func TestPureRunsOneWay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, kelvin := someComponent(t), someKelvin(t)
		warmer := kelvin + rapid.Float64Range(0.01, 20).Draw(t, "warmer by")
		if !(c.Saturation(warmer) > c.Saturation(kelvin)) {
			t.Fatalf("%v: pressure falls from %v to %v K", c, kelvin, warmer)
		}
		if !(c.Latent(warmer) < c.Latent(kelvin)) || !(c.Latent(warmer) > 0) {
			t.Fatalf("%v: latent heat rises from %v to %v K", c, kelvin, warmer)
		}
		if !(c.Diffusivity(warmer, 1e5) > c.Diffusivity(kelvin, 1e5)) || !(c.Diffusivity(kelvin, 1.1e5) < c.Diffusivity(kelvin, 1e5)) {
			t.Fatalf("%v: diffusivity runs the wrong way at %v K", c, kelvin)
		}
		if !(c.viscosity(warmer) < c.viscosity(kelvin)) || !(c.tension(warmer) < c.tension(kelvin)) || !(c.tension(warmer) > 0) {
			t.Fatalf("%v: viscosity or tension rises from %v to %v K", c, kelvin, warmer)
		}
	})
}

// Nothing gives NaN, and a pure liquid has an activity coefficient of 1. A trace of one alcohol in the other with a little
// water may lie just below 1, as the pairs with water differ.
func TestMixturesAreFinite(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, kelvin := someMixture(t), someKelvin(t)
		x, sum := a.MoleFractions(), 0.0
		gamma := Activity(x, kelvin)
		for i := range x {
			sum += x[i]
			if !finite(x[i], gamma[i]) || !(gamma[i] > 0.8 && gamma[i] < 50) {
				t.Fatalf("%v of %v: x %v, γ %v", Component(i), a, x, gamma)
			}
			if x[i] > 1-1e-9 && math.Abs(gamma[i]-1) > 1e-6 {
				t.Fatalf("pure %v has γ %v", Component(i), gamma[i])
			}
		}
		if a.Total() > 0 && math.Abs(sum-1) > 1e-12 || a.Total() == 0 && sum != 0 {
			t.Fatalf("mole fractions of %v add up to %v", a, sum)
		}
		density := Density(a, kelvin)
		if a.Total() == 0 && density != 0 || a.Total() > 0 && !(density > 690 && density < 1001) {
			t.Fatalf("density of %v at %v K: %v", a, kelvin, density)
		}
	})
}

// Gibbs and Duhem: along any line of compositions at one temperature, Σ x·d(ln γ) = 0; for pairs and for all three.
func TestGibbsDuhem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := func(name string) float64 {
			if rapid.Bool().Draw(t, name+" present") {
				return rapid.Float64Range(0.01, 1).Draw(t, name)
			}
			return 0
		}
		x := [NumComponents]float64{rapid.Float64Range(0.01, 1).Draw(t, "water"), share("isopropanol"), share("ethanol")}
		all := x[0] + x[1] + x[2]
		kelvin, move := someKelvin(t), someComponent(t)
		for i := range x {
			x[i] /= all
		}
		if x[move] == 0 {
			return
		}
		const step = 1e-5
		less, more := x, x
		less[move] *= 1 - step
		more[move] *= 1 + step
		before, after, sum, size := Activity(less, kelvin), Activity(more, kelvin), 0.0, 0.0
		for i := range x {
			d := x[i] * math.Log(after[i]/before[i])
			sum += d
			size = max(size, math.Abs(d))
		}
		if math.Abs(sum) > 1e-4*size+1e-12 {
			t.Fatalf("x %v at %v K, moving %v: Σ x·d ln γ = %.3g of %.3g", x, kelvin, move, sum, size)
		}
	})
}

// More alcohol by volume is more by mass and lighter, flashes colder, and turns back into the same percentage.
func TestStrengthRunsOneWay(t *testing.T) {
	for _, kind := range []Component{Isopropanol, Ethanol} {
		weaker := parsed(t, "water")
		for percent := 1; percent <= 100; percent++ {
			l, byMass := alcohol(kind, percent, false, []string{""}), alcohol(kind, percent, true, []string{""})
			w, was := l.Composition(), weaker.Composition()
			if !(w[kind] > was[kind]) || !(Density(w, room) < Density(was, room)) || math.Abs(w.Total()-1) > 1e-12 {
				t.Errorf("%s: %v after %v", l.Name, w, was)
			}
			if back := volumeFraction(kind, w[kind]); math.Abs(back-l.Alcohol) > 1e-12 {
				t.Errorf("%s turns back into %v", l.Name, back)
			}
			if byMass.Composition()[kind] != float64(percent)/100 || !(byMass.Alcohol >= l.Alcohol) {
				t.Errorf("%s: %v, %v by volume", byMass.Name, byMass.Composition(), byMass.Alcohol)
			}
			flash, ok := l.FlashPoint()
			if before, had := weaker.FlashPoint(); !ok || had && !(flash < before) {
				t.Errorf("%s flashes at %v after %v", l.Name, flash, before)
			}
			weaker = l
		}
	}
}

// Numbers that are nothing, less than nothing, or far away give a number or NaN, never a panic.
func TestStrangeInput(t *testing.T) {
	strange := []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, 1e-300, 1e300}
	for _, v := range strange {
		for _, c := range []Component{Water, Isopropanol, Ethanol, NumComponents, 255} {
			_, _, _ = c.Saturation(v), c.Latent(v), c.Diffusivity(v, v)
			if c >= NumComponents && (c.String() != "water" || c.LowerLimit() != 0 || c.MolarMass() != Water.MolarMass()) {
				t.Errorf("component %d is not taken as water", uint8(c))
			}
			if p := c.Saturation(v); !math.IsNaN(v) && !(p > 0 && finite(p)) {
				t.Errorf("%v at %v K: %v Pa", c, v, p)
			}
		}
		_ = Density(Amounts{v, 1, v}, v)
		_ = Activity([NumComponents]float64{v, v, v}, v)
		l := parsed(t, "ethanol-50")
		_, _ = l.Viscosity(v), l.SurfaceTension(v)
	}
	if got := (Amounts{-1, 2, 0}); got.Total() != 2 || got.MoleFractions() != [NumComponents]float64{0, 1, 0} {
		t.Errorf("less than nothing counts: %v, %v", got.Total(), got.MoleFractions())
	}
	if got := (Liquid{Alcohol: 0.5}).Composition(); got != (Amounts{Water: 1}) {
		t.Errorf("a liquid that is not parsed: %v", got)
	}
}

// What an integrator calls many thousand times must not allocate.
func TestNoAllocation(t *testing.T) {
	a, kelvin, sum := Amounts{1, 2, 3}, 293.0, 0.0
	l := parsed(t, "isopropanol-91")
	n := testing.AllocsPerRun(100, func() {
		g := Activity(a.MoleFractions(), kelvin)
		for c := range Component(NumComponents) {
			sum += g[c] * (c.Saturation(kelvin) + c.Latent(kelvin) + c.Diffusivity(kelvin, 1e5) + c.HeatCapacity())
		}
		flash, _ := l.FlashPoint()
		sum += Density(a, kelvin) + flash + l.Viscosity(kelvin) + l.SurfaceTension(kelvin)
	})
	if n != 0 || !finite(sum) {
		t.Errorf("%v allocations", n)
	}
}

func BenchmarkStep(b *testing.B) {
	a := Amounts{1e-4, 1e-3, 0}
	for b.Loop() {
		g := Activity(a.MoleFractions(), 290)
		for c := range Component(NumComponents) {
			a[c] += 1e-30 * g[c] * c.Saturation(290) * c.Diffusivity(290, 1e5) * c.Latent(290)
		}
	}
}
