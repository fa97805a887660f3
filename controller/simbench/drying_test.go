package simbench

import (
	"math"
	"testing"
	"time"

	"fullery/controller"
)

// dryFor dries 2 mL and returns the minutes until 1 % of them is left. The air at the cartridge is held at warm
// (K; 0: not warmed).
func dryFor(t *testing.T, liquid string, warm float64, hours int) float64 {
	t.Helper()
	a := newAt(t, testSpec(), liquid)
	a.Wet(2 * mL)
	a.run(5*time.Second, controller.Levels{Fan: 1})
	began, last := a.now, a.Truth().Liner
	for a.now < began+time.Duration(hours)*time.Hour {
		l := controller.Levels{Fan: 1}
		if warm > 0 && a.Truth().Air < warm {
			l.Heater, l.HeaterEnable = 1, true
		}
		a.run(tick, l)
		left := a.Truth()
		if left.Liner > last {
			t.Fatalf("the liner grew wetter while drying: %g after %g", left.Liner, last)
		}
		if last = left.Liner; left.Left <= 0.01 {
			break
		}
	}
	return (a.now - began).Minutes()
}

// Common practice, no source: about three quarters of an hour after water (in warmed air), about a quarter of an
// hour after isopropanol; within a factor of 1.5.
func TestDryingTimes(t *testing.T) {
	for _, c := range []struct {
		liquid string
		warm   float64
		want   float64
	}{
		{"water-detergent", zeroC + 36, 45},
		{"isopropanol-99", 0, 15},
	} {
		got := dryFor(t, c.liquid, c.warm, 3)
		t.Logf("%s: %.1f min", c.liquid, got)
		if math.Abs(math.Log(got/c.want)) > math.Log(1.5) {
			t.Errorf("%s dries in %.1f min, want %.0f within a factor of 1.5", c.liquid, got, c.want)
		}
	}
}

// In the same cool air water takes several times as long as isopropanol, and a weaker alcohol leaves its water to
// dry: the orders of magnitude follow from the vapour pressures alone.
func TestDryingOrder(t *testing.T) {
	times := map[string]float64{}
	for _, l := range []string{"isopropanol-99", "isopropanol-91", "isopropanol-70", "distilled-water", "ethanol-96"} {
		times[l] = dryFor(t, l, 0, 4)
	}
	t.Logf("minutes at 21 °C and 50 %%: %v", times)
	if !(times["isopropanol-99"] < times["isopropanol-91"] && times["isopropanol-91"] < times["isopropanol-70"] &&
		times["isopropanol-70"] < times["distilled-water"]) {
		t.Errorf("more water must not dry sooner: %v", times)
	}
}

// More stirring, a warmer room or drier air never lengthen a drying.
func TestDryingIsMonotone(t *testing.T) {
	left := func(change func(*controller.Levels, *at)) float64 {
		a := newAt(t, testSpec(), "distilled-water")
		a.Wet(2 * mL)
		l := controller.Levels{Fan: 0.6}
		change(&l, a)
		a.run(20*time.Minute, l)
		return a.Truth().Left
	}
	base := left(func(*controller.Levels, *at) {})
	for what, change := range map[string]func(*controller.Levels, *at){
		"fan":    func(l *controller.Levels, _ *at) { l.Fan = 1 },
		"heater": func(l *controller.Levels, _ *at) { l.Heater, l.HeaterEnable = 0.3, true },
		"humid":  func(_ *controller.Levels, a *at) { a.vapourIn /= 2 },
	} {
		if got := left(change); !(got < base) {
			t.Errorf("%s: %.3f left, without it %.3f", what, got, base)
		}
	}
}

// Below 30 % of what is kept the drying slows down: the last tenth takes longer than the first.
func TestFallingRate(t *testing.T) {
	a := newAt(t, testSpec(), "distilled-water")
	a.Wet(2 * mL)
	until := func(left float64) time.Duration {
		for a.Truth().Left > left {
			a.run(tick, fanOnly)
		}
		return a.now
	}
	high := until(0.9)
	first := until(0.8) - high
	low := until(0.11)
	if last := until(0.01) - low; last < first*3/2 {
		t.Errorf("a tenth early takes %v, the last tenth %v", first, last)
	}
}
