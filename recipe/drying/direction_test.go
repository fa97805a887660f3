package drying

import (
	"testing"

	"pgregory.net/rapid"
)

func TestMoreFilmDriesFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCase(t)
		faster := c
		faster.Film = min(c.Film*rapid.Float64Range(1.1, 3).Draw(t, "more"), 20)
		slower(t, faster, c)
	})
}

// Half-way it may be the other way round: water that condenses into a cold alcohol film warms it.
func TestDamperAirDriesSlower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCase(t)
		c.Until = min(c.filled().Until, DefaultDry)
		damper := c
		damper.Humidity = c.Humidity + (1-c.Humidity)*rapid.Float64Range(0, 1).Draw(t, "damper")
		slower(t, c, damper)
	})
}

func TestMoreLiquidDriesSlower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyCase(t)
		c.Kept = min(c.Kept, 40e-6)
		more := c
		more.Kept *= rapid.Float64Range(1.1, 2).Draw(t, "more")
		slower(t, c, more)
	})
}

// slower fails unless b takes as long as a or longer, but for the integrator's error.
func slower(t *rapid.T, a, b Case) {
	fast, err := Run(a, Options{})
	if err != nil {
		t.Fatal(err)
	}
	slow, err := Run(b, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if fast.Never && !slow.Never || !slow.Never && slow.Minutes < 0.998*fast.Minutes {
		t.Fatalf("%.3f min (never %v) against %.3f min (never %v)", fast.Minutes, fast.Never, slow.Minutes, slow.Never)
	}
}
