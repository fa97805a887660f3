package simbench

import (
	"math"

	"fullery/controller"
	"fullery/recipe"
)

// Fault is one way in which the bench can be told to misbehave. Its ID is that of the guard it must trip, or its
// own.
type Fault struct {
	ID     string
	Trips  controller.Guard // 0: no guard may trip by it alone
	Said   string           // what it does, one line
	Where  string           // the stages in which it can trip its guard
	ByLoop bool             // the loop makes it, not the bench: the bench only tells when it is armed
}

// fault is a fault's place in the table and its bit in Bench.armed.
type fault uint8

const (
	estop fault = iota
	lidOpen
	padLight
	padHeavy
	padsUneven
	padsOn
	padsStalled
	hubSlow
	fanUnproven
	airTooHot
	heaterStuck
	vapourHigh
	vapourRising
	trayWet
	tankLow
	readingStale
	readingImplausible
	stageOvertime
	driveFailing
	readingStuck
	readingGone
	readingImpossible
	readingFailed
	lidWireCut
	fanHumming
	pumpRunsDry
	benchGone
	weakHeater
	noisyForce
	loopLate
	recordFailing
	numFaults
)

// Where a fault can trip its guard.
const (
	everyStage = "wet scrub rinse spin-out soak dry"
	withFan    = "dry; every stage in which the fan runs"
	idleHeater = everyStage + ", once the heater has been off for half a minute"
	withVapour = "dry; every stage with a flammable liquid"
	pressed    = "scrub"
	turning    = "scrub rinse spin-out dry, while the hub turns"
)

var faults = [numFaults]Fault{
	estop:              {"estop", controller.EStopPressed, "the emergency stop is pressed", everyStage, false},
	lidOpen:            {"lid-open", controller.LidOpen, "the lid is opened", everyStage, false},
	padLight:           {"pad-light", controller.PadLight, "both pads press too lightly", pressed, false},
	padHeavy:           {"pad-heavy", controller.PadHeavy, "both pads press too hard", pressed, false},
	padsUneven:         {"pads-uneven", controller.PadsUneven, "the front pad presses harder than the back pad, each within its window", pressed, false},
	padsOn:             {"pads-on", controller.PadsOn, "the press jams: the pads stay on the disk", "wet rinse spin-out soak dry; on a bench with a press", false},
	padsStalled:        {"pads-stalled", controller.PadsStalled, "the pads' motor stands still", pressed, false},
	hubSlow:            {"hub-slow", controller.HubSlow, "the hub turns at a third of its speed", turning, false},
	fanUnproven:        {"fan-unproven", controller.FanUnproven, "the fan stops", withFan, false},
	airTooHot:          {"air-too-hot", controller.AirTooHot, "the jacket is heated from outside; on a bench without a sensor for it, the air drawn in", everyStage, false},
	heaterStuck:        {"heater-stuck", controller.HeaterStuck, "both switches of the heater have failed: three quarters of its power flow although it is off", idleHeater, false},
	vapourHigh:         {"vapour-high", controller.VapourHigh, "vapour in the duct leaps to 40 % of the lower flammable limit", withVapour, false},
	vapourRising:       {"vapour-rising", controller.VapourRising, "vapour in the duct rises to 17 % of the lower flammable limit", withVapour, false},
	trayWet:            {"tray-wet", controller.TrayWet, "the tray's float lifts", everyStage, false},
	tankLow:            {"tank-low", controller.TankLow, "the floats of both tanks fall", "wet rinse", false},
	readingStale:       {"reading-stale", controller.ReadingStale, "no sensor but the emergency stop makes a new value any more", everyStage, false},
	readingImplausible: {"reading-implausible", controller.ReadingImplausible, "the front load cell is saturated, the air at the cartridge reads −144.7 °C", "scrub dry", false},
	stageOvertime:      {"stage-overtime", controller.StageOvertime, "in dry: liquid keeps reaching the liner; in scrub: the pad force flickers out of its window for a tenth of a second again and again", "scrub dry", false},
	driveFailing:       {"drive-failing", controller.DriveFailing, "the outputs do not answer and stay as they were", everyStage, false},
	readingStuck:       {"reading-stuck", controller.ReadingImplausible, "the front load cell gives the same value for ever (order it once the pads press)", pressed, false},
	readingGone:        {"reading-gone", controller.ReadingStale, "the front load cell and the air sensor at the cartridge make no new value", "scrub dry", false},
	readingImpossible:  {"reading-impossible", controller.ReadingImplausible, "forces are no number, humidities 121318 %, temperatures −144.7 °C", "scrub dry", false},
	readingFailed:      {"reading-failed", controller.ReadingStale, "the front load cell and the air sensor at the cartridge cannot be read", "scrub dry", false},
	lidWireCut:         {"lid-wire-cut", controller.LidOpen, "the wire of the lid's contact is cut", everyStage, false},
	fanHumming:         {"fan-humming", controller.FanUnproven, "the fan hums and stands still, its tach counts noise", withFan, false},
	pumpRunsDry:        {"pump-runs-dry", controller.TankLow, "the tank runs empty as soon as the pump draws from it", "wet", false},
	benchGone:          {"bench-gone", controller.EStopPressed, "no reading can be read any more", everyStage, false},
	weakHeater:         {"weak-heater", 0, "the heater gives a third of its power", "dry", false},
	noisyForce:         {"noisy-force", 0, "single spikes on the front load cell, one a second", pressed, false},
	loopLate:           {"loop-late", controller.LoopLate, "a tick of the loop comes too late", everyStage, true},
	recordFailing:      {"record-failing", controller.RecordFailing, "the record cannot be written", everyStage, true},
}

// Faults returns every fault in a fixed order.
func Faults() []Fault { return append([]Fault(nil), faults[:]...) }

// numbered returns a fault's number by its id.
func numbered(id string) (fault, bool) {
	for f := range numFaults {
		if faults[f].ID == id {
			return f, true
		}
	}
	return 0, false
}

// has tells whether a fault is armed.
func (b *Bench) has(f fault) bool { return b.armed&(1<<f) != 0 }

// Arm makes a fault act from now on. It returns whether there is a fault of that id.
func (b *Bench) Arm(id string) bool { return b.set(id, true) }

// Disarm makes a fault no longer act; what it did (a spilt tank) stays done. It returns whether there is a fault of
// that id.
func (b *Bench) Disarm(id string) bool { return b.set(id, false) }

// set arms or disarms a fault by its id.
func (b *Bench) set(id string, on bool) bool {
	f, ok := numbered(id)
	if ok {
		b.arm(f, on)
	}
	return ok
}

// arm arms or disarms a fault, and works out anew what depends on it.
func (b *Bench) arm(f fault, on bool) {
	b.armed &^= 1 << f
	if on {
		b.armed |= 1 << f
	}
	b.setPads()
}

// Armed tells whether a fault acts now. The loop asks it for the faults that it makes itself.
func (b *Bench) Armed(id string) bool {
	if b.armed == 0 {
		return false
	}
	f, ok := numbered(id)
	return ok && b.has(f)
}

// setPads works out each pad's share of the asked force: as set by hand, or as a fault has it. A fault leaves the
// recipe's window by the side it is named for and by no other.
func (b *Bench) setPads() {
	b.front, b.back = b.nominalFront, b.nominalBack
	within, balance := b.pads0.Within, b.pads0.Balance
	switch {
	case b.has(padHeavy):
		b.front = 1.3 * (1 + within)
		b.back = b.front
	case b.has(padLight):
		b.front = b.lightShare()
		b.back = b.front
	case b.has(padsUneven):
		// Half-way between the least that is uneven and the most that is inside the window.
		off := (balance/2 + within) / 2
		b.front, b.back = 1+off, 1-off
	}
}

// lightShare is a share of the asked force that is below the recipe's window.
func (b *Bench) lightShare() float64 { return 0.6 * max(1-b.pads0.Within, 0) }

// silent tells whether a sensor makes no new value because of a fault.
func (b *Bench) silent(s recipe.Sensor) bool {
	return b.armed != 0 && (b.has(readingStale) && s != recipe.EStop || b.has(readingGone) && vital(s))
}

// vital tells whether a sensor is one of those that reading-gone and reading-failed take away: one that a scrub and
// one that a drying needs.
func vital(s recipe.Sensor) bool { return s == recipe.PadFront || s == recipe.Air }

// garble lets the armed faults act on a raw value; failed says that it could not be read at all.
func (b *Bench) garble(s recipe.Sensor, k *sensor, raw float64) (_ float64, failed bool) {
	switch s {
	case recipe.Lid, recipe.EStop, recipe.TrayFloat, recipe.TankFloat, recipe.RinseFloat:
		raw = b.garbleContact(s, raw)
	case recipe.PadFront, recipe.PadBack:
		raw = b.garbleForce(s, k, raw)
	case recipe.FanSpeed:
		// Only while the fan is driven: the noise is that of its current.
		if b.has(fanHumming) && b.levels.Fan > 0 {
			raw = humFan
		}
	case recipe.Vapour:
		// Past the sensor's lag, or the warning at 10 % would come before the abort.
		if b.has(vapourHigh) {
			raw = max(raw, highVapour)
		}
	case recipe.AirInRH, recipe.AirOutRH:
		if b.has(readingImpossible) {
			raw = 1213.18
		}
	case recipe.AirIn, recipe.Air, recipe.AirOut, recipe.Surface:
		if b.has(readingImpossible) || b.has(readingImplausible) && s == recipe.Air {
			raw = zeroC - 144.7
		}
	}
	return raw, b.has(benchGone) || b.has(readingFailed) && vital(s)
}

// garbleContact opens contacts. All of them read 1 when all is well, so a fault and a cut wire look alike.
func (b *Bench) garbleContact(s recipe.Sensor, raw float64) float64 {
	var by uint64
	switch s {
	case recipe.Lid:
		by = 1<<lidOpen | 1<<lidWireCut
	case recipe.EStop:
		by = 1 << estop
	case recipe.TrayFloat:
		by = 1 << trayWet
	case recipe.TankFloat, recipe.RinseFloat:
		by = 1 << tankLow
	}
	if b.armed&by != 0 {
		return 0
	}
	return raw
}

// garbleForce lets the armed faults act on a pad's force. The gravest wins, so that two at once make sense.
func (b *Bench) garbleForce(s recipe.Sensor, k *sensor, raw float64) float64 {
	front := s == recipe.PadFront
	switch {
	case b.has(readingImpossible):
		return math.NaN()
	case b.has(readingImplausible) && front:
		return 1e5
	case b.has(readingStuck) && front:
		return k.raw
	// One conversion in ten, so that the filter for spikes sees a steady signal in between.
	case b.has(noisyForce) && front && k.count%10 == 5:
		return raw + 3*b.asked
	case b.has(stageOvertime) && k.count%2 == 1:
		return raw * b.lightShare() // both pads in step, so that they stay even
	}
	return raw
}
