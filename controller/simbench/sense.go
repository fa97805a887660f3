package simbench

import (
	"math"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/sensors"
)

// sensor is one fitted sensor: how it behaves, and its last conversion.
type sensor struct {
	lag           float64 // share of the way to the true value in one conversion
	noise, drift  float64
	step, perStep float64 // resolution, and one over it
	low, high     float64 // where its chip clips
	exempt        bool    // contacts and speeds: not judged
	plain         bool    // gives the true value as it is, as a contact does

	count   uint32
	state   float64 // the lagged value
	raw     float64
	watch   sensors.Watch
	despike sensors.Despike
	spiky   bool
}

// pace is when a fitted sensor converts. The paces lie side by side, apart from all that only a conversion needs, because
// every tick looks through them.
type pace struct {
	of          recipe.Sensor
	every       time.Duration
	stamp, next time.Duration // of the last and the next conversion
}

const (
	cartridge = 0.12 // kg, of a cartridge in its holder; assumed
	cellRange = 10.0 // N, the least range of a pad's load cell; assumed
	humFan    = 900  // revolutions per second that noise on a tach may count as; no fan here turns so fast
)

// fit prepares every fitted sensor.
func (b *Bench) fit() {
	for s := range recipe.NumSensors {
		spec := b.spec.Sensors[s]
		if !spec.Fitted {
			continue
		}
		b.paces = append(b.paces, pace{of: s, every: max(spec.Every, 0)})
		k := &b.sensors[s]
		*k = sensor{lag: 1, noise: max(spec.Noise, 0), drift: spec.Drift,
			step: max(spec.Step, 0), low: math.Inf(-1), high: math.Inf(1)}
		if k.step > 0 {
			k.perStep = 1 / k.step
		}
		if spec.Lag > 0 {
			k.lag = 1 - math.Exp(-max(spec.Every, mechanical).Seconds()/spec.Lag.Seconds())
		}
		b.limit(s, k)
	}
}

// limit sets what the sensor can honestly say, and whether its noise is lively enough that equal values mean that
// it is stuck.
func (b *Bench) limit(s recipe.Sensor, k *sensor) {
	switch s {
	case recipe.PadFront, recipe.PadBack:
		// Wide enough that pads which press far too hard are still a force, not nonsense.
		most := max(cellRange, 6*b.asked)
		k.watch.Limits = sensors.LoadCell(-most, most)
		k.spiky = true
		k.despike = sensors.Despike{Jump: max(6*k.noise, 0.3*b.asked), Quiet: 8}
	case recipe.Weight:
		k.watch.Limits = sensors.LoadCell(-0.1, 5)
	case recipe.AirIn, recipe.Air, recipe.AirOut, recipe.Surface:
		k.watch.Limits = sensors.Climate(zeroC-40, zeroC+125)
	case recipe.AirInRH, recipe.AirOutRH:
		k.watch.Limits = sensors.Climate(0, 1)
		k.low, k.high = 0, 1
	case recipe.Vapour:
		// A little below nothing is a sensor whose zero has moved; the chip itself shows no less than nothing.
		k.watch.Limits = sensors.Climate(-0.05, 10)
		k.low = 0
	case recipe.PadsSpeed, recipe.HubSpeed, recipe.FanSpeed:
		k.exempt = true
	default:
		k.exempt, k.plain = true, true
	}
	// With less noise than two steps equal values are likely by chance, and without noise a reading at rest is
	// always equal.
	if k.noise < 2*k.step || k.noise == 0 {
		k.watch.Same = 0
	}
}

// converts makes the new values that are due, lets the others grow older, and finds when the next one is due.
func (b *Bench) converts() {
	b.due = math.MaxInt64
	for i := range b.paces {
		p := &b.paces[i]
		if b.now >= p.next {
			if !b.silent(p.of) {
				b.convert(p)
			}
			// It keeps its own pace, unless it was not looked at for longer than that: what was missed is not made up.
			p.next += p.every
			if p.next <= b.now {
				p.next = b.now + p.every
			}
		}
		b.readings[p.of].Age = b.now - p.stamp
		b.due = min(b.due, p.next)
	}
}

// convert makes one new value of a sensor and judges it.
func (b *Bench) convert(p *pace) {
	s := p.of
	k, r := &b.sensors[s], &b.readings[s]
	stamp := b.now
	if k.count > 0 && p.every > 0 && p.next > b.now-p.every {
		stamp = p.next // it converted at its own pace, a little before it is read
	}
	k.count++
	raw := b.truth(s)
	if k.plain && b.armed == 0 { // a contact that nothing disturbs: most of all conversions
		p.stamp, r.Quality, r.Value = stamp, controller.Good, raw
		return
	}
	if !k.plain {
		raw = k.through(raw, b)
	}
	if b.armed != 0 {
		var failed bool
		if raw, failed = b.garble(s, k, raw); failed {
			p.stamp, r.Quality, r.Value = stamp, controller.Failed, 0
			return
		}
	}
	k.raw = raw
	// An impossible value is shown as it came, for the record, except where it is no number: readings must compare.
	if !k.exempt && k.watch.Judge(raw, stamp) >= sensors.OutOfRange {
		p.stamp, r.Quality, r.Value = stamp, controller.Implausible, raw
		if math.IsNaN(raw) {
			r.Value = 0
		}
		return
	}
	fresh := true
	// A jump that is held back leaves the last value with its age: the reading grows old rather than wrong.
	if k.spiky {
		raw, fresh = k.despike.Next(raw)
	}
	if fresh {
		p.stamp = stamp
	}
	r.Quality, r.Value = controller.Good, raw
}

// through takes a true value through the sensor: lag, drift, noise, resolution, the ends of its chip. What counts
// pulses shows no noise at rest.
func (k *sensor) through(v float64, b *Bench) float64 {
	if k.exempt && v == 0 && k.lag == 1 {
		return 0
	}
	// A sensor that has been in the room for hours starts where the room is.
	if k.count == 1 {
		k.state = v
	}
	k.state += (v - k.state) * k.lag
	v = k.state
	if k.drift != 0 {
		v += k.drift * (b.now - b.start).Seconds()
	}
	if k.noise > 0 {
		v += k.noise * b.random.NormFloat64()
	}
	if k.step > 0 {
		v = math.RoundToEven(v*k.perStep) * k.step
	}
	if k.exempt { // what counts pulses counts none backwards
		v = max(v, 0)
	}
	if v < k.low {
		return k.low
	}
	if v > k.high {
		return k.high
	}
	return v
}

// truth returns the true value that a sensor looks at.
func (b *Bench) truth(s recipe.Sensor) float64 {
	switch s {
	case recipe.Lid, recipe.EStop:
		return 1
	case recipe.TrayFloat:
		return contact(b.spec.Tray <= 0 || b.tray.total() < b.spec.Tray)
	case recipe.TankFloat:
		return contact(b.tank > floatLeast*b.spec.Tank.Capacity)
	case recipe.RinseFloat:
		return contact(b.rinseTank > floatLeast*b.spec.RinseTank.Capacity)
	case recipe.PadFront:
		return b.force(b.front)
	case recipe.PadBack:
		return b.force(b.back)
	case recipe.PadsSpeed:
		return math.Abs(b.padSpin) // a tach does not know which way
	case recipe.HubSpeed:
		return b.hub
	case recipe.FanSpeed:
		return b.fan
	}
	return b.airTruth(s)
}

// airTruth is truth for the sensors of air, jacket and weight.
func (b *Bench) airTruth(s recipe.Sensor) float64 {
	switch s {
	case recipe.AirIn:
		return b.airIn()
	case recipe.AirInRH:
		// Air that is warmed before it enters holds the same vapour, which is a smaller share of what it could hold.
		most, _ := water.curve(b.airIn())
		return min(b.vapourIn/most, 1)
	case recipe.Air:
		return b.air
	case recipe.AirOut:
		return b.cell
	case recipe.AirOutRH:
		return b.humidity()
	case recipe.Surface:
		return b.surface()
	case recipe.Vapour:
		return b.flammable()
	case recipe.Weight:
		kg := cartridge
		for i, v := range b.liner() {
			kg += v * substances[i].density
		}
		return kg
	}
	return 0
}

// contact returns a contact's reading: 1 when all is well.
func contact(well bool) float64 {
	if well {
		return 1
	}
	return 0
}
