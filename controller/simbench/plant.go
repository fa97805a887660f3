package simbench

import (
	"math"
	"time"
)

const (
	mechanical = 50 * time.Millisecond  // the longest step of motors, press and pumps
	unhurried  = 500 * time.Millisecond // the step of heat and liquids
	pressTime  = 500 * time.Millisecond
	touch      = 0.8  // share of the press's travel at which the pads touch the disk
	stall      = 0.1  // N·m at which the pads' motor stands; assumed
	wetDrag    = 0.02 // share of its speed that the hub loses to a full liner; assumed
	padDrag    = 0.02 // share of its speed that the hub loses to pressed pads; assumed
	slowHub    = 0.3  // share of the asked speed that a slow hub reaches
	stuckHeat  = 0.75 // share of its power that a heater whose switches both failed gives, assumed
	weakHeat   = 0.3  // share of its power that a weak heater gives
)

// Time constants of the actuators, s.
const (
	pumpLag   = 0.15
	padsLag   = 0.3
	hubLag    = 0.25
	fanLag    = 0.5 // the fan is up after about three of these
	fanCoast  = 1.0
	heaterLag = 60.0
	hubCoast  = 0.8 // of a hub that is not driven, with a dry liner; assumed
	wetCoast  = 1.0 // what a full liner adds to the drag that brings it to rest, of that of a dry one; assumed
)

// shares are how far each first-order lag goes in one mechanical step; kept, because steps are nearly always alike.
type shares struct {
	step                              time.Duration
	seconds                           float64
	pump, pads, hub, fan, coast, heat float64
}

func sharesFor(step time.Duration) shares {
	of := func(lag float64) float64 { return 1 - math.Exp(-step.Seconds()/lag) }
	return shares{step, step.Seconds(), of(pumpLag), of(padsLag), of(hubLag), of(fanLag), of(fanCoast), of(heaterLag)}
}

// advance brings the plant to now. Time that runs backwards does not move it.
func (b *Bench) advance(now time.Duration) {
	if !b.begun {
		b.begun, b.now, b.start = true, now, now
	}
	for b.now < now {
		step := min(now-b.now, mechanical)
		b.now += step
		b.turns(step)
		for b.slow += step; b.slow >= b.slowStep; b.slow -= b.slowStep {
			b.settles(b.slowStep.Seconds())
		}
	}
	b.expire()
}

// settles advances liquids and heat by s seconds.
func (b *Bench) settles(s float64) {
	b.wets(s)
	b.breathes(s)
	b.weighs()
}

// turns advances everything that moves by one mechanical step.
func (b *Bench) turns(step time.Duration) {
	if step != b.lag.step {
		b.lag = sharesFor(step)
	}
	b.presses(step)
	b.pumps(b.lag.seconds)

	// Friction slows the pads' motor in proportion to the force on it, down to a standstill: at half the stall torque
	// a direct-current motor has half its speed.
	touching := b.contact
	pads := b.levels.Pads * max(1-touching*b.friction*(b.front+b.back), 0)
	hub := b.levels.Hub * (1 - wetDrag*b.full - padDrag*touching)
	// Below its least a fan hums without turning, however long one waits.
	fan, fanShare := b.levels.Fan*b.spec.Fan.Fastest, b.lag.fan
	if b.levels.Fan < b.spec.Fan.Least {
		fan = 0
	}
	heat := 0.0
	if b.levels.HeaterEnable {
		heat = b.levels.Heater * b.spec.Heater.Power
	}
	if b.armed != 0 {
		b.hinder(&pads, &hub, &fan, &heat)
	}
	if fan < b.fan {
		fanShare = b.lag.coast
	}
	approach(&b.padSpin, pads, b.lag.pads)
	if hub == 0 {
		b.coasts()
	} else {
		approach(&b.hub, hub, b.lag.hub)
	}
	approach(&b.fan, fan, fanShare)
	approach(&b.heat, heat, b.lag.heat)
}

// coasts lets a hub that is not driven run down: the sooner the more liquid the liner holds, whose drag adds to that of
// the bearing and of the dry liner.
func (b *Bench) coasts() {
	if b.hub != 0 {
		approach(&b.hub, 0, 1-math.Exp(-b.lag.seconds*(1+wetCoast*b.full)/hubCoast))
	}
}

// approach moves a first-order lag by a share of its way. It arrives in the end: what only ever came nearer to zero would
// become a number so small that the processor is slow with it.
func approach(x *float64, to, share float64) {
	const arrived = 1e-9
	way := to - *x
	if way < arrived && way > -arrived {
		*x = to
		return
	}
	*x += way * share
}

// hinder lets the armed faults act on what the actuators would reach.
func (b *Bench) hinder(pads, hub, fan, heat *float64) {
	if b.has(padsStalled) {
		*pads = 0
	}
	if b.has(hubSlow) {
		*hub *= slowHub
	}
	if b.has(fanUnproven) || b.has(fanHumming) {
		*fan = 0
	}
	if b.has(weakHeater) {
		*heat *= weakHeat
	}
	// Whatever both lines say: that is the fault.
	if b.has(heaterStuck) {
		*heat = max(*heat, stuckHeat*b.spec.Heater.Power)
	}
}

// presses moves the press actuator and finds how far the pads are pressed; pads without one rest on the disk always.
func (b *Bench) presses(step time.Duration) {
	way, end := float64(step)/float64(pressTime), 1.0
	if !b.levels.Press && b.spec.Press && !b.has(padsOn) {
		way, end = -way, 0
	}
	if b.press == end {
		return
	}
	b.press = min(max(b.press+way, 0), 1)
	b.contact = max(b.press-touch, 0) / (1 - touch)
}

// fanShare returns the fan's speed as a share of its fastest.
func (b *Bench) fanShare() float64 {
	if b.spec.Fan.Fastest <= 0 {
		return 0
	}
	return b.fan / b.spec.Fan.Fastest
}

// pumps draws from the tanks for s seconds.
func (b *Bench) pumps(s float64) {
	if b.has(pumpRunsDry) && b.levels.Pump > 0 {
		// Kept in the balance, as everything that a fault takes away.
		b.lost += b.tank
		b.tank = 0
	}
	approach(&b.pumpDuty, b.levels.Pump, b.lag.pump)
	approach(&b.rinseDuty, b.levels.RinsePump, b.lag.pump)
	// A pump that spins down stops giving; below this the curve's first point would let it run for ever.
	if b.pumpDuty > 0.5*b.levels.Pump && b.levels.Pump > 0 {
		v := min(b.spec.Pump.FlowAt(b.pumpDuty)*s, b.tank)
		b.tank -= v
		b.pumped += v
	}
	if b.rinseDuty > 0.5*b.levels.RinsePump && b.levels.RinsePump > 0 {
		v := min(b.spec.RinsePump.FlowAt(b.rinseDuty)*s, b.rinseTank)
		b.rinseTank -= v
		b.rinsed += v
	}
}
