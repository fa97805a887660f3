package live

import (
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// stopwatch counts the time of a cycle, holds included, by the loop's own clock: from the tick in which it leaves
// idle, or from the first tick when it was already under way.
type stopwatch struct {
	begun bool
	from  time.Duration
}

// at returns the moment of a tick in its cycle.
func (w *stopwatch) at(t *controller.Tick) time.Duration {
	if !w.begun {
		w.begun, w.from = true, t.Inputs.Now
	}
	for _, ev := range t.Outputs.Events.All() {
		if ev.Kind == controller.StateChanged && ev.From == controller.Idle {
			w.from = t.Inputs.Now
		}
	}
	return t.Inputs.Now - w.from
}

// clock writes a length of time as h:mm:ss.
func clock(d time.Duration) string { return recipe.SayTime(d.Truncate(time.Second)) }
