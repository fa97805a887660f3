package simbench

import (
	"math"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

var fanOnly = controller.Levels{Fan: 1}

func near(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if !(math.Abs(got-want) <= by) {
		t.Errorf("%s is %g, want %g ± %g", what, got, want, by)
	}
}

// quiet is the test bench without noise, lag and resolution.
func quiet() recipe.Bench {
	spec := testSpec()
	for s := range spec.Sensors {
		k := &spec.Sensors[s]
		k.Noise, k.Lag, k.Step, k.Drift = 0, 0, 0, 0
	}
	return spec
}

func TestPumpFollowsItsCurveFromTankToPadsToTray(t *testing.T) {
	a := newAt(t, quiet(), "water")
	duty, _ := a.spec.Pump.DutyFor(6 * mL * perMin)
	a.run(time.Minute, controller.Levels{Pump: duty})
	is := a.Truth()
	near(t, "what left the tank", 500*mL-is.Tank, 6*mL, 0.1*mL)
	near(t, "pads", is.Pads, a.padHold, 0.2*mL)
	near(t, "liner, below what it holds", is.Liner, ontoDisk*(6*mL-a.padHold), 0.12*mL)
	a.run(5*time.Second, controller.Levels{})
	left := a.Truth().Tank
	a.run(time.Minute, controller.Levels{})
	if a.Truth().Tank != left {
		t.Error("a pump that is off still gives")
	}
}

func TestFloats(t *testing.T) {
	spec := quiet()
	spec.Tank.Capacity, spec.RinseTank.Capacity, spec.Tray = 20*mL, 12*mL, 15*mL
	a := newAt(t, spec, "water")
	for _, s := range []recipe.Sensor{recipe.TankFloat, recipe.RinseFloat, recipe.TrayFloat, recipe.Lid, recipe.EStop} {
		near(t, s.String(), a.value(s), 1, 0)
	}
	a.run(40*time.Second, controller.Levels{RinsePump: 1})
	near(t, "rinse float of an empty tank", a.value(recipe.RinseFloat), 0, 0)
	near(t, "rinse tank", a.Truth().RinseTank, 0, 0)
	near(t, "tray float below its capacity", a.value(recipe.TrayFloat), 1, 0)
	a.run(2*time.Minute, controller.Levels{Pump: 1})
	near(t, "tank float", a.value(recipe.TankFloat), 0, 0)
	near(t, "tray float of a full tray", a.value(recipe.TrayFloat), 0, 0)
}

func TestPadsPressAsTheyWereSet(t *testing.T) {
	a := newAt(t, quiet(), "water")
	press := controller.Levels{Press: true}
	near(t, "force away from the disk", a.value(recipe.PadFront), 0, 0)
	a.run(300*time.Millisecond, press)
	near(t, "force on the way", a.Truth().Front, 0, 0)
	a.run(time.Second, press)
	near(t, "front", a.value(recipe.PadFront), 2000*6e-4*1.03, 1e-9)
	near(t, "back", a.value(recipe.PadBack), 2000*6e-4*0.98, 1e-9)
	a.run(time.Second, controller.Levels{})
	near(t, "front, released", a.value(recipe.PadFront), 0, 1e-9)

	spec := quiet()
	spec.Press = false
	near(t, "front of pads that rest on the disk", newAt(t, spec, "water").value(recipe.PadFront), 1.236, 1e-9)
}

func TestMotors(t *testing.T) {
	a := newAt(t, quiet(), "water")
	a.run(300*time.Millisecond, controller.Levels{Pads: 1, Hub: 5})
	near(t, "pads after one time constant", a.Truth().PadsSpeed, 1-math.Exp(-1), 0.02)
	a.run(3*time.Second, controller.Levels{Pads: -1, Hub: 5})
	near(t, "pads backwards: a tach does not know which way", a.value(recipe.PadsSpeed), 1, 0.01)
	near(t, "hub, nothing dragging", a.value(recipe.HubSpeed), 5, 0.01)
	a.Wet(2 * mL)
	a.run(3*time.Second, controller.Levels{Pads: 1, Hub: 1, Press: true})
	if v := a.value(recipe.PadsSpeed); v > 0.98 || v < 0.9 {
		t.Errorf("pads with friction turn at %g", v)
	}
	if v := a.value(recipe.HubSpeed); v > 0.98 || v < 0.9 {
		t.Errorf("hub with a wet liner and pads turns at %g", v)
	}

	spec := quiet()
	spec.Sim.Friction = 20
	stuck := newAt(t, spec, "water")
	stuck.run(5*time.Second, controller.Levels{Pads: 1, Press: true})
	near(t, "pads with more friction than their motor can overcome", stuck.value(recipe.PadsSpeed), 0, 1e-3)
}

// A hub that is let go runs down by itself, with a wet liner sooner; it brakes when it is driven more slowly.
func TestHubCoasts(t *testing.T) {
	falls := func(wet float64) time.Duration {
		spec := quiet()
		spec.Sim.Film = 0
		a := newAt(t, spec, "water")
		a.Wet(wet)
		a.run(3*time.Second, controller.Levels{Hub: 1})
		from, start := a.Truth().Hub, a.now
		for a.Truth().Hub > from/math.E {
			a.run(tick, controller.Levels{})
		}
		took := a.now - start
		a.run(3*time.Second-took, controller.Levels{})
		if left := a.Truth().Hub / from; left > 0.03 {
			t.Errorf("three seconds after it was let go the hub has %.3f of its speed", left)
		}
		a.run(time.Minute, controller.Levels{})
		near(t, "hub at rest", a.Truth().Hub, 0, 0)
		return took
	}
	none, half, full := falls(0), falls(1.3*mL), falls(5*mL)
	near(t, "time constant with a dry liner, s", none.Seconds(), hubCoast, 0.051)
	near(t, "time constant with a full liner, s", full.Seconds(), hubCoast/(1+wetCoast), 0.051)
	if !(full < half && half < none) {
		t.Errorf("coasts %v dry, %v half full, %v full", none, half, full)
	}
	a := newAt(t, quiet(), "water")
	a.run(3*time.Second, controller.Levels{Hub: 5})
	a.run(time.Second, controller.Levels{Hub: 1})
	near(t, "hub driven more slowly for a second", a.Truth().Hub, 1, 0.1)
}

func TestFan(t *testing.T) {
	a := newAt(t, quiet(), "water")
	a.run(3*time.Second, controller.Levels{Fan: 0.29})
	near(t, "fan below what it starts at", a.value(recipe.FanSpeed), 0, 0)
	a.run(1500*time.Millisecond, controller.Levels{Fan: 0.6})
	near(t, "fan after its spin-up", a.value(recipe.FanSpeed), 30, 2)
	a.run(time.Second, controller.Levels{})
	if v := a.value(recipe.FanSpeed); v < 5 || v > 20 {
		t.Errorf("a fan that coasts turns at %g", v)
	}
}

func TestHeaterWarmsWithALagAndOnlyWithBothLines(t *testing.T) {
	a := newAt(t, quiet(), "water")
	a.run(3*time.Minute, controller.Levels{Fan: 1, Heater: 1})
	near(t, "air with the second line off", a.value(recipe.Air), zeroC+21, 1e-6)
	a.run(time.Minute, controller.Levels{Fan: 1, Heater: 1, HeaterEnable: true})
	near(t, "heat after a minute", a.Truth().Heat, 80*(1-math.Exp(-1)), 0.5)
	a.run(10*time.Minute, controller.Levels{Fan: 1, Heater: 1, HeaterEnable: true})
	carry := 2.01e-3 * airRhoCp
	near(t, "air at last", a.value(recipe.Air), zeroC+21+80/(carry+airLoss), 0.1)
	near(t, "air leaving a dry disk", a.value(recipe.AirOut), a.value(recipe.Air), 0.1)
	// The wall of the jacket loses a little to the room, so a zero that was read on an unwarmed disk is a little off.
	if d := a.value(recipe.Air) - a.value(recipe.Surface); d < 0.1 || d > 0.6 {
		t.Errorf("the jacket of a dry disk is %.2f K colder than its warm air", d)
	}
}

func TestSpinOutLeavesWhatTheLinerKeeps(t *testing.T) {
	spec := quiet()
	spec.Sim.Film = 0 // nothing dries meanwhile
	a := newAt(t, spec, "water")
	a.Wet(5 * mL)
	near(t, "liner of a drenched disk", a.Truth().Liner, linerMost*2*mL, 1e-12)
	a.run(time.Minute, controller.Levels{Hub: 5})
	near(t, "liner after the spin-out", a.Truth().Left, 1, 0.01)
}

func TestRinseReplacesTheLiquid(t *testing.T) {
	a := newAt(t, quiet(), "isopropanol-91")
	a.Wet(2 * mL)
	a.run(time.Minute, controller.Levels{RinsePump: 1})
	if l := a.liner(); l[isopropanol] > 0.01*l.total() {
		t.Errorf("the liner still holds %g m³ of alcohol in %g", l[isopropanol], l.total())
	}
}

func TestWetTakesNoNonsense(t *testing.T) {
	a := newAt(t, quiet(), "water")
	for _, v := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		a.Wet(v)
	}
	near(t, "liner", a.Truth().Liner, 0, 0)
}
