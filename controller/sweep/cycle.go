package sweep

import (
	"context"
	"time"

	"fullery/controller"
	"fullery/controller/simbench"
	"fullery/recipe"
)

// DampFrom is the share of what the liner keeps from which a disk that was called dry is damp.
const DampFrom = 0.02

// Outcome is what one cycle came to.
type Outcome struct {
	Complete bool
	Cause    string  // the guard that cut it short, or what else did
	Unproven bool    // nothing but the clock ended the drying
	Seconds  float64 // running time, that of a cycle cut short included
	Liquid   float64 // m³ that both pumps gave
	Peak     float64 // most vapour in the duct, fraction of the lower flammable limit
	Warmest  float64 // K, warmest air at the cartridge
	Slide    float64 // m that a pad slid on the disk
	Left     float64 // of what the liner keeps, at the end
}

// Run runs one whole cycle with the real controller on one drawn bench. A cycle that is held is cut short: nobody is
// there to resume it.
func Run(c Candidate, spec recipe.Bench) (Outcome, error) {
	bench := simbench.New(spec, c.Recipe)
	if c.Recipe.Dose() == 0 {
		bench.Wet(spec.Sim.Kept) // it arrives wet
	}
	orders := make(chan controller.Command, 1)
	w := &watcher{bench: bench, orders: orders, area: spec.Pads.Area, middle: middle(c.Recipe)}
	loop := controller.Loop{Program: c.Program, Bench: bench, Clock: &controller.FastClock{}, Commands: orders,
		Watchers: []controller.Watcher{w}, Until: over}
	last, err := loop.Run(context.Background(), controller.State{})
	if err != nil {
		return Outcome{}, err
	}
	out := w.seen
	out.Complete = last.Cycle == controller.Complete
	out.Unproven = last.Drying.Evidence == controller.ByClock
	out.Seconds = last.Total.Seconds()
	out.Liquid = last.Dosed
	switch {
	case out.Complete:
	case last.Cycle == controller.Idle:
		out.Cause = "it could not be started"
	default:
		out.Cause = last.Cause.String()
	}
	return out, nil
}

// Spans after which a cycle counts as one that never starts, or never ends. The controller's own limits come long
// before the second.
const (
	patience = time.Minute
	forever  = 100 * time.Hour
)

// over tells when there is nothing more to learn from a cycle.
func over(s controller.State) bool {
	return s.Cycle.Ended() || s.Cycle == controller.Held || s.Last > forever ||
		s.Cycle == controller.Idle && s.Last > patience
}

// watcher starts a cycle and keeps the worst of what nobody could read off a real bench.
type watcher struct {
	bench        *simbench.Bench
	orders       chan controller.Command
	area, middle float64

	last  time.Duration // of the look before
	ticks int
	seen  Outcome
}

// often is how many ticks pass between two looks at the truth: at 20 a second as often as the air of the simulated
// bench moves.
const often = 4

// Watch follows one tick.
func (w *watcher) Watch(t *controller.Tick) {
	now := t.Inputs.Now
	if t.State.Cycle == controller.Idle {
		if len(w.orders) == 0 {
			w.orders <- controller.Command{Order: controller.Start, Looked: true}
		}
		w.last = now
		return
	}
	if w.ticks++; w.ticks%often != 0 && !over(t.State) {
		return
	}
	truth := w.bench.Truth()
	w.seen.Peak = max(w.seen.Peak, truth.Vapour)
	w.seen.Warmest = max(w.seen.Warmest, truth.Air)
	w.seen.Left = truth.Left
	if truth.Front > 0 || truth.Back > 0 {
		w.seen.Slide += slides(w.area, w.middle, truth.PadsSpeed, truth.Hub) * (now - w.last).Seconds()
	}
	w.last = now
}
