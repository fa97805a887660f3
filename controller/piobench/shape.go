package piobench

import (
	"math"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// duties is how much of each output is asked for or driven: 0 off, 1 on, between them a share of the time.
type duties [recipe.NumOutputs]float64

const (
	steps    = 200                    // of a duty: finer ones would only fill the bus, as a heater that is regulated asks for another at every tick
	turnover = 500 * time.Millisecond // pads stand so long before their direction is switched: a motor reversed in full run draws twice its stall current
	kickFor  = time.Second            // a fan below full speed begins with so long of full: it may hum at less without starting (from memory)
)

// asked turns levels into the duty of each output. Speeds are taken to go with the duty; whether they do, the speed sensors
// tell the controller. A level that is no number is off.
func asked(l *controller.Levels, b *recipe.Bench) (d duties) {
	share := func(speed, fastest float64) float64 {
		if !(fastest > 0) {
			return 0
		}
		return within01(math.Abs(speed) / fastest)
	}
	d[recipe.OutPump], d[recipe.OutRinsePump] = within01(l.Pump), within01(l.RinsePump)
	d[recipe.OutPads], d[recipe.OutHub] = share(l.Pads, b.Pads.Fastest), share(max(l.Hub, 0), b.Hub.Fastest)
	d[recipe.OutFan], d[recipe.OutHeater] = within01(l.Fan), within01(l.Heater)
	if l.Press {
		d[recipe.OutPress] = 1
	}
	if l.Pads < 0 {
		d[recipe.OutPadsReverse] = 1
	}
	if l.HeaterEnable {
		d[recipe.OutHeaterEnable] = 1
	}
	return d
}

// within01 holds x to 0 to 1; what is no number is nothing.
func within01(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	return min(x, 1)
}

// shaper makes of what is asked what the wires do: slow rhythms, least times off, starts one after another, no reversing
// in full run. Off is never delayed: a duty of nothing is off in the same tick. It remembers only what it has driven.
type shaper struct {
	bench     *recipe.Bench
	wires     [recipe.NumOutputs]wire
	placed    bool          // a load was switched on before,
	last      time.Duration // then
	backwards bool          // the pads were driven so last
}

// wire is what one output did.
type wire struct {
	on     bool
	since  time.Duration // of the last change; meaningless before the first
	moved  bool          // it has changed at all
	begun  time.Duration // of the window of a slow rhythm
	onFor  time.Duration // in that window
	carry  time.Duration // asked for and too short to give, for the next window
	cycles bool          // a window is running
}

// shape returns what to drive now. Time must not run backwards; if it does, nothing new is switched on until it has caught
// up.
func (s *shaper) shape(now time.Duration, ask duties) (out duties) {
	s.reverse(now, &ask)
	// In this order: the fan before all, so that air moves before anything evaporates or heats.
	for _, o := range [...]recipe.Output{recipe.OutFan, recipe.OutHeaterEnable, recipe.OutPadsReverse, recipe.OutPress,
		recipe.OutHub, recipe.OutPads, recipe.OutPump, recipe.OutRinsePump, recipe.OutHeater} {
		out[o] = s.output(now, o, ask[o])
	}
	return out
}

// reverse lets the pads stand for a while before they are driven the other way, and switches their direction a tick before
// they get power again.
func (s *shaper) reverse(now time.Duration, ask *duties) {
	pads, way := &s.wires[recipe.OutPads], &s.wires[recipe.OutPadsReverse]
	if ask[recipe.OutPads] == 0 {
		return
	}
	backwards := ask[recipe.OutPadsReverse] > 0
	switch stood := !pads.on && (!pads.moved || now-pads.since >= turnover); {
	case backwards != s.backwards && !stood: // the direction stays until they stand
		ask[recipe.OutPads], ask[recipe.OutPadsReverse] = 0, 0
		if way.on {
			ask[recipe.OutPadsReverse] = 1
		}
	case backwards != way.on:
		ask[recipe.OutPads] = 0
	default:
		s.backwards = backwards
	}
}

// load tells whether switching an output on draws a load's starting current.
func load(o recipe.Output) bool { return o != recipe.OutHeaterEnable && o != recipe.OutPadsReverse }

// output shapes one output.
func (s *shaper) output(now time.Duration, o recipe.Output, ask float64) float64 {
	w, wiring := &s.wires[o], &s.bench.Board.Outputs[o]
	if !wiring.Fitted {
		return 0
	}
	if ask <= 0 {
		w.turn(now, false)
		w.cycles, w.carry = false, 0
		return 0
	}
	on := true
	if wiring.Drive == recipe.DriveSlow {
		on = w.rhythm(now, wiring, ask)
	}
	if on && !w.on && !s.mayStart(now, o) {
		on = false
	}
	if on && !w.on && load(o) {
		s.placed, s.last = true, now
	}
	w.turn(now, on)
	switch {
	case !on:
		return 0
	case wiring.Drive == recipe.DriveSwitched, wiring.Drive == recipe.DriveSlow:
		return 1
	case o == recipe.OutFan && now-w.since < kickFor:
		return 1
	}
	return max(math.Round(ask*steps), 1) / steps
}

// mayStart tells whether an output that is off may be switched on: it has rested for its least time, and no other load
// was switched on just now.
func (s *shaper) mayStart(now time.Duration, o recipe.Output) bool {
	w := &s.wires[o]
	if w.moved && now-w.since < s.bench.Board.Outputs[o].MinOff {
		return false
	}
	return !load(o) || !s.placed || now-s.last >= s.bench.Board.Stagger
}

// turn notes a change.
func (w *wire) turn(now time.Duration, on bool) {
	if on != w.on {
		w.on, w.since, w.moved = on, now, true
	}
}

// rhythm tells whether a slow output is in the part of its window in which it is on. A part too short to be given is
// carried into the next window; one that would leave too short a rest becomes the whole window.
func (w *wire) rhythm(now time.Duration, wiring *recipe.OutputWiring, ask float64) bool {
	if !w.cycles || now-w.begun >= wiring.Period || now < w.begun {
		if w.cycles && now-w.begun < 2*wiring.Period {
			w.begun += wiring.Period
		} else {
			w.begun = now
		}
		w.cycles = true
		want := time.Duration(ask*float64(wiring.Period)) + w.carry
		switch {
		case want < wiring.MinOn:
			w.onFor, w.carry = 0, want
		case want > wiring.Period-wiring.MinOff:
			w.onFor, w.carry = wiring.Period, min(max(want-wiring.Period, -wiring.Period), wiring.Period)
		default:
			w.onFor, w.carry = want, 0
		}
	}
	return now-w.begun < w.onFor
}
