package benchtest

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// plain is the least bench that does what every bench must, with one fault at will. What is on is what was driven last.
type plain struct {
	fault  string
	now    time.Duration
	levels controller.Levels
	closed bool
	state  State
	stamp  time.Duration
}

var errClosed = errors.New("closed")

func (p *plain) Read(now time.Duration) (r controller.Readings, err error) {
	if p.closed && p.fault != "reads after Close" {
		return r, errClosed
	}
	if p.state == Hanging && p.fault == "waits for a sensor" {
		p.now += time.Second
	}
	if p.state == Well || p.fault == "keeps the age" || p.state == Failing {
		p.stamp = p.now
	}
	r[recipe.Lid] = controller.Reading{Value: 1, Quality: controller.Good}
	if p.state == Tripped && p.fault != "does not see the lid" {
		r[recipe.Lid].Value = 0
	}
	r[recipe.Air] = controller.Reading{Value: 293, Age: max(now-p.stamp, 0), Quality: controller.Good}
	if p.fault == "a negative age" {
		r[recipe.Air].Age = now - p.stamp
	}
	if p.state == Failing && p.fault != "hides an error" {
		r[recipe.Air] = controller.Reading{Quality: controller.Failed}
	}
	switch p.fault {
	case "no number":
		r[recipe.Air].Value = math.NaN()
	case "a contact in between":
		r[recipe.Lid].Value = 0.5
	case "a reading from nowhere":
		r[recipe.Weight] = controller.Reading{Value: 1, Quality: controller.Good}
	case "a dead sensor":
		r[recipe.Air] = controller.Reading{}
	}
	return r, nil
}

func (p *plain) Drive(now time.Duration, l controller.Levels) error {
	if p.closed {
		if p.fault == "drives after Close" {
			p.levels = l
		}
		if p.fault == "silent after Close" {
			return nil
		}
		return errClosed
	}
	whole := l
	for _, v := range []*float64{&l.Pump, &l.RinsePump, &l.Pads, &l.Hub, &l.Fan, &l.Heater} {
		if !(*v > 0) {
			*v = 0
		}
	}
	switch p.fault {
	case "nonsense is on":
		if math.IsNaN(whole.Pump) {
			l.Pump = 1
		}
	case "less than nothing is on":
		l.Pump = math.Abs(l.Pump)
		if whole.Pump < 0 {
			l.Pump = 1
		}
	case "a slow off":
		if l.Pump == 0 && p.levels.Pump > 0 && p.levels.Pump > 0.5 {
			l.Pump = 0.4
		}
	case "forgets the fan":
		l.Fan = 0
	case "heats by one line":
		l.HeaterEnable = l.HeaterEnable || l.Heater > 0
	}
	p.levels = l
	return nil
}

func (p *plain) Close() error {
	switch {
	case p.fault == "Close twice is an error" && p.closed:
		return errClosed
	case p.fault != "stays on after Close":
		p.levels = controller.Levels{}
	}
	p.closed = true
	return nil
}

// plainRig is a rig around it.
type plainRig struct{ p *plain }

func (r plainRig) Bench() controller.Bench { return r.p }
func (r plainRig) Now() time.Duration      { return r.p.now }
func (r plainRig) Sleep(d time.Duration)   { r.p.now += d }
func (r plainRig) End()                    {}

func (r plainRig) Spec() recipe.Bench {
	spec := recipe.Bench{Pump: recipe.Pump{Curve: make([]recipe.PumpPoint, 2)}, Fan: recipe.Fan{Fastest: 50},
		Heater: recipe.Heater{Power: 40}}
	for _, s := range []recipe.Sensor{recipe.Lid, recipe.Air} {
		spec.Sensors[s] = recipe.SensorSpec{Fitted: true, Every: 100 * time.Millisecond, Stale: time.Second}
	}
	return spec
}

func (r plainRig) Share(o recipe.Output) (float64, bool) {
	l := r.p.levels
	if r.p.fault == "on at first" && r.p.now == 0 {
		l.Pump = 1
	}
	switch o {
	case recipe.OutPump:
		return l.Pump, true
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

func (r plainRig) Make(s recipe.Sensor, state State) bool {
	if (s == recipe.Lid) != (state == Tripped || state == Well) && state != Well {
		return false
	}
	r.p.state = state
	return true
}

// run runs the suite on a bench with a fault.
func run(fault string) (failed []string) {
	for _, f := range Program(func() (Rig, error) { return plainRig{&plain{fault: fault}}, nil }) {
		if len(f.Failed) > 0 {
			failed = append(failed, f.Name)
		}
	}
	return failed
}

func TestAGoodBenchPasses(t *testing.T) {
	if failed := run(""); len(failed) > 0 {
		t.Errorf("%q", failed)
	}
}

// Every fault is caught by the case that is meant for it.
func TestEveryFaultIsCaught(t *testing.T) {
	for fault, by := range map[string]string{
		"on at first":             "every output is off after opening",
		"forgets the fan":         "outputs follow what is driven",
		"a slow off":              "levels of nothing switch everything off in the same call",
		"heats by one line":       "the heater needs both its lines",
		"nonsense is on":          "levels that are no numbers are off",
		"less than nothing is on": "levels that are no numbers are off",
		"stays on after Close":    "Close leaves every output off, twice",
		"Close twice is an error": "Close leaves every output off, twice",
		"drives after Close":      "Read and Drive after Close are errors",
		"silent after Close":      "Read and Drive after Close are errors",
		"reads after Close":       "Read and Drive after Close are errors",
		"a dead sensor":           "healthy sensors give good readings",
		"no number":               "healthy sensors give good readings",
		"a contact in between":    "healthy sensors give good readings",
		"a reading from nowhere":  "a sensor that is not fitted is absent",
		"does not see the lid":    "a contact that opens is seen in the next tick",
		"hides an error":          "a sensor that cannot be read is not good, and comes back",
		"keeps the age":           "a sensor that makes no new value grows old",
		"waits for a sensor":      "a sensor that hangs makes no tick wait",
		"a negative age":          "time that runs backwards makes no age negative",
	} {
		if failed := run(fault); !slices.Contains(failed, by) {
			t.Errorf("a bench that %s is not caught by %q, but by %q", fault, by, failed)
		}
	}
}

// A rig that cannot be opened is a failure of every case, not a pass.
func TestABenchThatDoesNotOpen(t *testing.T) {
	for _, f := range Program(func() (Rig, error) { return nil, fmt.Errorf("no board") }) {
		if len(f.Failed) != 1 {
			t.Errorf("%+v", f)
		}
	}
}

func TestStatesHaveWords(t *testing.T) {
	seen := map[string]bool{}
	for s := Well; s <= Hanging+1; s++ {
		if w := s.String(); w == "" || seen[w] {
			t.Errorf("state %d: %q", s, w)
		} else {
			seen[w] = true
		}
	}
}
