package simbench

import (
	"math"
	"testing"
	"time"

	"fullery/controller"
	"fullery/controller/benchtest"
	"fullery/recipe"
)

// simRig is a simulated bench for the conformance suite. Its time is what the calls say.
type simRig struct {
	bench *Bench
	now   time.Duration
}

func newSimRig() benchtest.Rig { return &simRig{bench: New(testSpec(), testRecipe("isopropanol-91"))} }

func (r *simRig) Bench() controller.Bench { return r.bench }
func (r *simRig) Spec() recipe.Bench      { return r.bench.spec }
func (r *simRig) Now() time.Duration      { return r.now }
func (r *simRig) Sleep(d time.Duration)   { r.now += d }
func (r *simRig) End()                    {}

// Share looks at what the actuators do, past what was asked where they show it by themselves.
func (r *simRig) Share(o recipe.Output) (share float64, seen bool) {
	l := r.bench.Levels()
	switch o {
	case recipe.OutPump:
		return l.Pump, true
	case recipe.OutRinsePump:
		return l.RinsePump, true
	case recipe.OutPress:
		return map[bool]float64{true: 1}[l.Press], true
	case recipe.OutPads:
		return math.Abs(l.Pads) / r.bench.spec.Pads.Fastest, true
	case recipe.OutHub:
		return max(l.Hub, 0) / r.bench.spec.Hub.Fastest, true
	case recipe.OutFan:
		return l.Fan, true
	case recipe.OutHeater:
		if !l.HeaterEnable {
			return 0, true
		}
		return l.Heater, true
	}
	return 0, false
}

// simFaults are the faults that put sensors into a state.
var simFaults = map[benchtest.State]map[recipe.Sensor]string{
	benchtest.Tripped: {recipe.EStop: "estop", recipe.Lid: "lid-open", recipe.TrayFloat: "tray-wet",
		recipe.TankFloat: "tank-low", recipe.RinseFloat: "tank-low"},
	benchtest.Failing: {recipe.PadFront: "reading-failed", recipe.Air: "reading-failed"},
	benchtest.Silent:  {recipe.PadFront: "reading-gone", recipe.Air: "reading-gone"},
}

func (r *simRig) Make(s recipe.Sensor, state benchtest.State) bool {
	for _, of := range simFaults {
		if of[s] != "" {
			r.bench.Disarm(of[s])
		}
	}
	if state == benchtest.Well {
		return true
	}
	return r.bench.Arm(simFaults[state][s])
}

func TestConformance(t *testing.T) {
	for _, c := range benchtest.Cases() {
		t.Run(c.Name, func(t *testing.T) { c.Run(t, newSimRig()) })
	}
}

// The suite as a program runs it finds what the tests find.
func TestConformanceAsAProgram(t *testing.T) {
	findings := benchtest.Program(func() (benchtest.Rig, error) { return newSimRig(), nil })
	if len(findings) != len(benchtest.Cases()) {
		t.Errorf("%d findings for %d cases", len(findings), len(benchtest.Cases()))
	}
	for _, f := range findings {
		if len(f.Failed) > 0 {
			t.Errorf("%s: %v", f.Name, f.Failed)
		}
	}
}
