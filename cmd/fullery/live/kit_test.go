package live

import (
	"context"
	"math"
	"testing"
	"time"

	"go.uber.org/goleak"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipes"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// program compiles a shipped recipe for the shipped simulated bench.
func program(t testing.TB, name string) *controller.Program {
	t.Helper()
	r, err := recipes.Recipe(name)
	if err != nil {
		t.Fatal(err)
	}
	b, err := recipes.Bench(recipes.DefaultBench)
	if err != nil {
		t.Fatal(err)
	}
	p, err := controller.Compile(r, b)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// bench is a bench without physics: every reading follows the outputs at once. The jacket is cold for 12 min of
// drying, then its coldness fades as that of a liner does which dries. A test may twist single readings.
type bench struct {
	p     *controller.Program
	drove controller.Levels
	blown time.Duration // how long the fan has blown at full speed
	last  time.Duration
	twist func(now time.Duration, r *controller.Readings)
}

func (b *bench) Read(now time.Duration) (controller.Readings, error) {
	spec := b.p.Bench()
	force, cold := 0.0, 0.0
	if b.drove.Press {
		force = b.p.Recipe().Pads.Pressure * spec.Pads.Area
	}
	if b.drove.Fan == 1 {
		b.blown += now - b.last
		cold = 5 * math.Exp(-max(b.blown-12*time.Minute, 0).Seconds()/240)
	}
	b.last = now
	values := [recipe.NumSensors]float64{
		recipe.Lid: 1, recipe.EStop: 1, recipe.TrayFloat: 1, recipe.TankFloat: 1, recipe.RinseFloat: 1,
		recipe.PadFront: force, recipe.PadBack: force * 1.02,
		recipe.PadsSpeed: b.drove.Pads, recipe.HubSpeed: b.drove.Hub, recipe.FanSpeed: b.drove.Fan * spec.Fan.Fastest,
		recipe.AirIn: 294, recipe.Air: 294, recipe.AirOut: 293, recipe.AirInRH: 0.5, recipe.AirOutRH: 0.6,
		recipe.Surface: 294 - cold, recipe.Vapour: 0.01,
	}
	var r controller.Readings
	for s, x := range values {
		if spec.Sensors[s].Fitted {
			r[s] = controller.Reading{Value: x, Quality: controller.Good}
		}
	}
	if b.twist != nil {
		b.twist(now, &r)
	}
	return r, nil
}

func (b *bench) Drive(_ time.Duration, l controller.Levels) error { b.drove = l; return nil }
func (b *bench) Close() error                                     { b.drove = controller.Levels{}; return nil }

// rig is a bench that a test moves by hand, tick by tick.
type rig struct {
	b        *bench
	p        *controller.Program
	tick     controller.Tick
	watchers []controller.Watcher
}

func newRig(p *controller.Program, w ...controller.Watcher) *rig {
	return &rig{b: &bench{p: p}, p: p, watchers: w}
}

// step moves on by one tick with an order.
func (r *rig) step(c controller.Command) {
	in := controller.Inputs{Now: r.tick.Inputs.Now, Command: c}
	if r.tick.State.Ticking {
		in.Now += r.p.Tick()
	}
	in.Readings, _ = r.b.Read(in.Now)
	r.tick.Inputs = in
	r.tick.State, r.tick.Outputs = r.p.Step(r.tick.State, in)
	_ = r.b.Drive(in.Now, r.tick.Outputs.Levels)
	for _, w := range r.watchers {
		w.Watch(&r.tick)
	}
}

func (r *rig) order(o controller.Order) { r.step(controller.Command{Order: o, Looked: true}) }

// until moves on until something holds; four hours of bench time without it fail the test.
func (r *rig) until(t testing.TB, what string, done func(s *controller.State) bool) {
	t.Helper()
	for end := r.tick.Inputs.Now + 4*time.Hour; !done(&r.tick.State); r.step(controller.Command{}) {
		if r.tick.Inputs.Now > end {
			t.Fatalf("never came to %s: %s in stage %d", what, r.tick.State.Cycle, r.tick.State.Stage)
		}
	}
}

// into begins a cycle and moves on until a stage of a kind has done some work.
func (r *rig) into(t testing.TB, kind recipe.Kind, worked time.Duration) {
	t.Helper()
	r.step(controller.Command{})
	r.order(controller.Start)
	r.until(t, kind.String(), func(s *controller.State) bool {
		return s.Cycle == controller.Running && r.p.Stages()[s.Stage].Do == kind && s.Worked >= worked
	})
}

func (r *rig) become(t testing.TB, c controller.CycleState) {
	t.Helper()
	r.until(t, c.String(), func(s *controller.State) bool { return s.Cycle == c })
}

// runFast runs a whole cycle in a loop as fast as it goes.
func runFast(ctx context.Context, t testing.TB, p *controller.Program, b *bench, room func() bool, w ...controller.Watcher) controller.State {
	t.Helper()
	orders := make(chan controller.Command, 1)
	orders <- controller.Command{Order: controller.Start, Looked: true}
	loop := controller.Loop{
		Program: p, Bench: b, Clock: &controller.FastClock{Room: room}, Commands: orders, Watchers: w,
		Until: func(s controller.State) bool { return s.Cycle.Ended() },
	}
	s, err := loop.Run(ctx, controller.State{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}
