// Package simbench is a bench that is not there: it answers Read and Drive as a machine would, from simple physics of its
// own (pumps, pads, hub, fan, heater, a liner of two faces that takes up liquid and dries) and with faults to order. How
// it dries shares no equation with the estimate of drying times, which is to be judged on it. It is seeded and reads no
// clock, so the same calls give the same readings. Figures marked "assumed" are orders of magnitude, not measured on any
// machine.
package simbench

import (
	"errors"
	"math"
	"math/rand/v2"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// Bench is a simulated bench with one disk on it. It satisfies controller.Bench and is owned by one goroutine.
type Bench struct {
	spec   recipe.Bench
	pads0  recipe.Pads // what the operator set the pads to
	liquid charge      // make-up of what the pump gives, fractions by volume
	rinse  charge

	begun      bool
	closed     bool
	now, start time.Duration
	slow       time.Duration // since heat and liquids last moved
	slowStep   time.Duration
	lag        shares
	levels     controller.Levels

	// Motors (revolutions per second), press (0 away, 1 pressed), pumps (duty), heater (W reaching the air).
	press, padSpin, hub, fan  float64
	contact                   float64 // how far the pads are pressed: 0 away from the disk, 1 fully
	pumpDuty, rinseDuty, heat float64
	asked, front, back        float64 // N asked of each pad; share of it that each gives
	friction                  float64 // share of its speed that the pads' motor loses per share of force
	nominalFront, nominalBack float64
	padHold, linerHold        float64 // m³
	critical                  float64 // share of what a face keeps

	// Liquids, m³.
	tank, rinseTank float64
	pumped, rinsed  float64 // on their way
	pads, tray      charge
	faces           [numFaces]face
	full            float64 // share of what the liner holds at most
	gone            charge  // evaporated
	gained          float64 // taken up from the air
	lost, leaked    float64 // gone from, and come into, the balance by a fault

	// Air: temperatures K, partial pressures Pa. What passes is air, in the jacket it is inside, around it the cell's.
	air, cell, insideT, jacket float64
	hot, surge                 float64 // what faults add: K, fraction of the lower flammable limit
	vapour, inside             [numParts]float64
	vapourIn                   float64

	random   *rand.Rand
	sensors  [recipe.NumSensors]sensor
	paces    []pace
	due      time.Duration // the earliest next conversion
	readings controller.Readings

	armed  uint64
	orders []pending
}

var _ controller.Bench = (*Bench)(nil)

// New returns the bench with the pads set by hand for the recipe, full tanks, a dry disk, and everything off and at
// the temperature of the room. The same bench, recipe and calls give the same readings.
func New(spec recipe.Bench, r recipe.Recipe) *Bench {
	room := spec.Room.Air
	b := &Bench{
		spec: spec, pads0: r.Pads, liquid: makeup(r.Liquid), rinse: makeup(r.Rinse),
		tank: spec.Tank.Capacity, rinseTank: spec.RinseTank.Capacity,
		air: room, cell: room, insideT: room, jacket: room,
		asked:        r.Pads.Pressure * spec.Pads.Area,
		nominalFront: spec.Sim.Front, nominalBack: spec.Sim.Back,
		padHold:  2 * spec.Pads.Area * padDepth,
		critical: spec.Sim.Critical,
		slowStep: unhurried,
		lag:      sharesFor(mechanical),
		random:   rand.New(rand.NewPCG(spec.Sim.Seed, 0x66756c6c657279)),
	}
	if !(b.critical > 0) {
		b.critical = usualCritical
	}
	b.newFaces()
	most, _ := water.curve(room)
	b.vapourIn = spec.Room.Humidity * most
	b.vapour[water], b.inside[water] = b.vapourIn, b.vapourIn
	radius := 2.0 / 3 * math.Sqrt(spec.Pads.Area/math.Pi)
	b.friction = b.asked * spec.Sim.Friction * radius / stall
	if !spec.Press {
		b.press, b.contact = 1, 1
	}
	b.setPads()
	b.fit() // last: it looks at the forces asked
	return b
}

// Wet gives the liner m³ of the recipe's liquid (of water when it has none), for a disk that arrives wet. What the
// liner does not hold is in the tray.
func (b *Bench) Wet(m3 float64) {
	if !(m3 > 0) || math.IsInf(m3, 0) {
		return
	}
	var poured charge
	poured.add(&b.liquid, m3)
	b.soak(&poured, m3)
	b.weighs()
}

// Read advances the bench to now and returns every reading. A sensor makes a new value only at its own pace; in
// between its age grows. The error is not nil only after Close.
func (b *Bench) Read(now time.Duration) (controller.Readings, error) {
	if b.closed {
		return controller.Readings{}, errClosed
	}
	b.advance(now)
	// Values are kept from conversion to conversion; only the age is new every time.
	if b.now >= b.due {
		b.converts()
	} else {
		for i := range b.paces {
			p := &b.paces[i]
			b.readings[p.of].Age = b.now - p.stamp
		}
	}
	return b.readings, nil
}

var (
	errClosed = errors.New("the simulated bench is closed: its outputs are off and stay off")
	errDrive  = errors.New("the outputs of the simulated bench do not answer (fault drive-failing): they stay as they were")
)

// Drive advances the bench to now and asks every actuator for its level. Levels out of range are held to the range,
// those that are no number are off.
func (b *Bench) Drive(now time.Duration, levels controller.Levels) error {
	if b.closed {
		return errClosed
	}
	b.advance(now)
	if b.has(driveFailing) {
		return errDrive
	}
	if levels != b.levels {
		b.levels = b.bounded(levels)
	}
	return nil
}

// bounded holds levels to what the actuators can do.
func (b *Bench) bounded(l controller.Levels) controller.Levels {
	within := func(v *float64, least, most float64) {
		if math.IsNaN(*v) {
			*v = 0
		}
		*v = min(max(*v, least), most)
	}
	within(&l.Pump, 0, 1)
	within(&l.RinsePump, 0, 1)
	within(&l.Fan, 0, 1)
	within(&l.Heater, 0, 1)
	within(&l.Pads, -b.spec.Pads.Fastest, b.spec.Pads.Fastest)
	within(&l.Hub, -b.spec.Hub.Fastest, b.spec.Hub.Fastest)
	return l
}

// Close leaves every output off, whatever happened before. It may be called more than once.
func (b *Bench) Close() error {
	b.closed, b.levels = true, controller.Levels{}
	return nil
}

// Levels returns what the outputs were last driven to.
func (b *Bench) Levels() controller.Levels { return b.levels }

// Asserted returns how many outputs are on: none after Close.
func (b *Bench) Asserted() (n int) {
	l := b.levels
	for _, on := range []bool{l.Pump != 0, l.RinsePump != 0, l.Press, l.Pads != 0, l.Hub != 0, l.Fan != 0,
		l.Heater != 0, l.HeaterEnable} {
		if on {
			n++
		}
	}
	return n
}
