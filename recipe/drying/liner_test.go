package drying

import (
	"math"
	"testing"

	"fullery/recipe/liquid"
)

// The polynomial stands in for the heat of vaporisation wherever the integrator may look.
func TestLatentPolynomial(t *testing.T) {
	for i := range latents {
		s := liquid.Component(i)
		worst := 0.0
		for k := coldest; k <= hottest; k += 0.37 {
			worst = max(worst, math.Abs(latents[i].at(k)/(s.Latent(k)*s.MolarMass())-1))
		}
		if t.Logf("%s: %.1e off", s, worst); worst > 1e-7 {
			t.Errorf("%s: off by %.1e, want 1e-7", s, worst)
		}
	}
}

func TestPolynomialMeetsPolynomials(t *testing.T) {
	p := through(func(k float64) float64 { return 3 - 2*k + 1e-3*k*k*k })
	for _, k := range []float64{coldest, 273.15, hottest} {
		near(t, "a cubic", p.at(k), 3-2*k+1e-3*k*k*k, 1e-12)
	}
}
