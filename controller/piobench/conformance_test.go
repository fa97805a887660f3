package piobench

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"fullery/controller"
	"fullery/controller/benchtest"
	"fullery/recipe"
)

// rig is the fake bench as the conformance suite sees it: by the levels of its wires.
type rig struct {
	*fake
	bench *Bench
}

func (r *rig) Bench() controller.Bench { return r.bench }
func (r *rig) Spec() recipe.Bench      { return r.spec }
func (r *rig) Now() time.Duration      { return time.Since(r.began) }
func (r *rig) Sleep(d time.Duration)   { time.Sleep(d) }
func (r *rig) End()                    {}

// Share looks at lines, and at what was written of the PWM. The heater gets current through both of its switches.
func (r *rig) Share(o recipe.Output) (float64, bool) {
	if o == recipe.OutHeater && !r.kernel.High(label, lineOf[recipe.OutHeaterEnable]) {
		return 0, true
	}
	if offset, ok := lineOf[o]; ok {
		return map[bool]float64{true: 1}[r.kernel.High(label, offset)], true
	}
	share := 0.0
	for _, w := range r.sysfs.Waves() {
		if strings.HasSuffix(w.Channel, map[recipe.Output]string{recipe.OutPads: " 0", recipe.OutHub: " 1"}[o]) {
			share = w.High
		}
	}
	return share, true
}

// contactAt is the line of each contact of the shipped board.
var contactAt = map[recipe.Sensor]int{recipe.Lid: 5, recipe.EStop: 6, recipe.TrayFloat: 19, recipe.TankFloat: 26, recipe.RinseFloat: 20}

func (r *rig) Make(s recipe.Sensor, state benchtest.State) bool {
	if offset, ok := contactAt[s]; ok {
		r.kernel.Drive(label, offset, state == benchtest.Tripped)
		return state == benchtest.Well || state == benchtest.Tripped
	}
	w := r.spec.Board.Inputs[s]
	if w.Chip == "" {
		return state == benchtest.Well
	}
	r.bus.with(func() {
		r.bus.gone[uint16(w.Address)] = state == benchtest.Failing
		r.bus.takes = 300 * time.Microsecond
		if state == benchtest.Hanging {
			r.bus.takes = time.Minute
		}
	})
	return state == benchtest.Well || state == benchtest.Failing || state == benchtest.Hanging
}

// TestConformance: on fake hardware the real bench does what every bench must.
func TestConformance(t *testing.T) {
	for _, c := range benchtest.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				f := newFake(t)
				r := &rig{f, f.open()}
				c.Run(t, r)
				r.bus.with(func() { r.bus.takes = 300 * time.Microsecond })
				_ = r.bench.Close()
				time.Sleep(2 * time.Minute) // let what hangs end
			})
		})
	}
}
