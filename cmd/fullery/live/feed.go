// Package live shows a running cycle: in a terminal as a picture that follows it, and to pipes and logs as lines. What
// it is shown by the loop it copies at once; everything slow happens on goroutines of its own.
package live

import (
	"sync"
	"time"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/recipe"
)

// Bounds of what a Feed remembers. They are generous for a person and small for a computer.
const (
	mostPoints    = 600
	mostEvents    = 128
	mostStretches = 512
	firstEvery    = time.Second // between two points of the curve, doubled whenever the curve is full
)

// Stamped is an event with its moment in the cycle, holds included.
type Stamped struct {
	At    time.Duration
	Event controller.Event
}

// Picture is what a Feed knows at one moment, for those who draw it.
type Picture struct {
	Ticks     int // steps seen so far; nothing else means anything while it is zero
	At        time.Duration
	State     controller.State
	Readings  controller.Readings
	Levels    controller.Levels
	Stretches []draw.Stretch // what really went by, in order
	Curve     []draw.Point   // of the dry stage that runs or ran last
	Events    []Stamped      // the last ones, oldest first
	Gone      int            // earlier events that the list had no room for
}

// Feed is a controller.Watcher between the loop and those who draw: it copies the newest tick and what a picture
// needs of the past into bounds that never grow. Watch does not allocate and waits for nobody but a reader that copies.
type Feed struct {
	program *controller.Program
	plan    []controller.StagePlan
	done    chan struct{}
	once    sync.Once

	mu        sync.Mutex
	watch     stopwatch
	last      time.Duration
	now       Picture // its slices are the ones below
	stretches []draw.Stretch
	points    []draw.Point
	every     time.Duration // between two points
	next      time.Duration // Worked at which the next point is due
	events    []Stamped     // goes round once it is full
	oldest    int           // where in events the oldest is
}

// NewFeed returns a feed for cycles of a program.
func NewFeed(p *controller.Program) *Feed {
	f := &Feed{
		program: p, done: make(chan struct{}), every: firstEvery,
		stretches: make([]draw.Stretch, 0, mostStretches),
		points:    make([]draw.Point, 0, mostPoints),
		events:    make([]Stamped, 0, mostEvents),
	}
	f.plan = p.Stages()
	return f
}

// Done tells those who draw that nothing more will come. It may be called more than once.
func (f *Feed) Done() { f.once.Do(func() { close(f.done) }) }

// Watch copies one tick.
func (f *Feed) Watch(t *controller.Tick) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.went(t) // before the newest state takes the place of the one that lasted until now
	at := f.watch.at(t)
	if events := t.Outputs.Events.All(); len(events) > 0 {
		for _, ev := range events {
			f.note(at, ev)
		}
	}
	f.follow(t)
	f.now.Ticks++
	f.now.At, f.now.State, f.now.Readings, f.now.Levels = at, t.State, t.Inputs.Readings, t.Outputs.Levels
	f.last = t.Inputs.Now
}

// went adds the time since the last tick to the stretch that it belongs to: what the state was then has lasted.
func (f *Feed) went(t *controller.Tick) {
	dt := t.Inputs.Now - f.last
	if f.now.Ticks == 0 || dt <= 0 {
		return
	}
	s := draw.Stretch{Stage: int(f.now.State.Stage), Length: dt}
	switch f.now.State.Cycle {
	case controller.Running:
	case controller.Holding, controller.Held, controller.Restarting:
		s.Held = true
	default:
		return
	}
	list := f.stretches
	if n := len(list); n > 0 && (list[n-1].Stage == s.Stage && list[n-1].Held == s.Held || n == cap(list)) {
		list[n-1].Length += dt
		return
	}
	f.stretches = append(list, s)
}

// note keeps an event. A cycle that begins forgets the picture of the one before.
func (f *Feed) note(at time.Duration, ev controller.Event) {
	switch {
	case ev.Kind == controller.StateChanged && ev.From == controller.Idle:
		f.stretches = f.stretches[:0]
		f.newCurve()
	case ev.Kind == controller.StageBegun && f.dries(ev.Stage):
		f.newCurve()
	}
	if len(f.events) < cap(f.events) {
		f.events = append(f.events, Stamped{at, ev})
		return
	}
	f.events[f.oldest] = Stamped{at, ev}
	f.oldest = (f.oldest + 1) % len(f.events)
	f.now.Gone++
}

// dries tells whether a stage is one of drying.
func (f *Feed) dries(stage int8) bool {
	return stage >= 0 && int(stage) < len(f.plan) && f.plan[stage].Do == recipe.Dry
}

// follow adds to the curve while the disk dries.
func (f *Feed) follow(t *controller.Tick) {
	s := &t.State
	if s.Cycle != controller.Running || !f.dries(s.Stage) || !s.Drying.Seen.Zeroed(f.plan[s.Stage].Evidence) {
		return
	}
	if n := len(f.points); n > 0 && s.Worked < f.points[n-1].After {
		f.newCurve() // the stage got its time once more
	}
	if s.Worked < f.next {
		return
	}
	if len(f.points) == cap(f.points) {
		f.thin()
		f.next = (s.Worked + f.every - 1) / f.every * f.every
		if s.Worked < f.next {
			return
		}
	}
	f.points = append(f.points, draw.Point{After: s.Worked, Signal: shownSignal(f.plan[s.Stage].Evidence, s)})
	f.next = (s.Worked/f.every + 1) * f.every
}

// thin halves the curve's resolution: every second point goes, and new ones come half as often.
func (f *Feed) thin() {
	half := f.points[:0]
	for i := 0; i < len(f.points); i += 2 {
		half = append(half, f.points[i])
	}
	f.points, f.every = half, 2*f.every
}

// newCurve forgets the points.
func (f *Feed) newCurve() { f.points, f.every, f.next = f.points[:0], firstEvery, 0 }

// Look copies what the feed knows into a picture, using its slices again.
func (f *Feed) Look(into *Picture) {
	f.mu.Lock()
	defer f.mu.Unlock()
	old := *into // for the room that its slices have
	*into = f.now
	into.Stretches = append(old.Stretches[:0], f.stretches...)
	into.Curve = append(old.Curve[:0], f.points...)
	into.Events = append(old.Events[:0], f.events[f.oldest:]...)
	into.Events = append(into.Events, f.events[:f.oldest]...)
}
