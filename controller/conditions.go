package controller

import (
	"math"
	"time"

	"fullery/recipe"
)

// The causes that the guards watch for. Each is a plain question to what one step sees; none has a memory of its own.
// A comparison with a reading that is not usable is false (its value is NaN): that a needed reading is not usable is
// the business of readingStale and readingImplausible, and of clamp.

const (
	fanTurnsLeast = 0.30 // of the asked speed: a tach below it does not prove a fan
	fanTurnsMost  = 1.30 // of full speed: a tach above it counts noise
	stalledBelow  = 0.50 // of the asked speed of the pads
	slowBelow     = 0.70 // of the asked speed of the hub
	hotMargin     = 3.0  // K above the bench's air limit
	stuckRise     = 5.0  // K that the air may warm while the heater is off
	doseSlack     = time.Second
	vapourStop    = 0.25 // of the lower flammable limit: stopping (NFPA 86 and dip-tank rules keep below 25 %)
	vapourWarn    = 0.10 // of the lower flammable limit: warning
)

const airSensor = recipe.Air

// present asks whether a guard's cause is there now. It is a switch and not a column of the table, because a call
// through a table would move the step's values to the heap.
func (p *Program) present(g Guard, s *State, v *view) bool {
	switch g {
	case EStopPressed:
		return p.estopPressed(s, v)
	case LidOpen:
		return p.lidOpen(s, v)
	case DriveFailing:
		return p.driveFailing(s, v)
	case FanUnproven:
		return p.fanUnproven(s, v)
	case AirTooHot:
		return p.airTooHot(s, v)
	case HeaterStuck:
		return p.heaterStuck(s, v)
	case VapourHigh:
		return p.vapourHigh(s, v)
	case TrayWet:
		return p.trayWet(s, v)
	case DoseOver:
		return p.doseOver(s, v)
	case PadLight:
		return p.padLight(s, v)
	case PadHeavy:
		return p.padHeavy(s, v)
	case PadsUneven:
		return p.padsUneven(s, v)
	case PadsOn:
		return p.padsOn(s, v)
	case PadsStalled:
		return p.padsStalled(s, v)
	case HubSlow:
		return p.hubSlow(s, v)
	case TankLow:
		return p.tankLow(s, v)
	case ReadingStale:
		return p.readingStale(s, v)
	case ReadingImplausible:
		return p.readingImplausible(s, v)
	case LoopLate:
		return p.loopLate(s, v)
	case RecordFailing:
		return p.recordFailing(s, v)
	case StageOvertime:
		return p.stageOvertime(s, v)
	case CycleOvertime:
		return p.cycleOvertime(s, v)
	case VapourRising:
		return p.vapourRising(s, v)
	default: // CutShort is found by whoever opens the record, not by a step
		return false
	}
}

// estopPressed is the one contact whose silence counts as trouble at once: a wire that is cut or a reading that is
// lost is a pressed button.
func (p *Program) estopPressed(_ *State, v *view) bool { return !v.well(recipe.EStop) }

func (p *Program) lidOpen(_ *State, v *view) bool { return v.tripped(recipe.Lid) }

func (p *Program) trayWet(_ *State, v *view) bool { return v.tripped(recipe.TrayFloat) }

func (p *Program) driveFailing(_ *State, v *view) bool { return v.in.DriveFailed }

func (p *Program) recordFailing(_ *State, v *view) bool { return v.in.RecordFailing }

func (p *Program) loopLate(s *State, _ *view) bool { return s.Late }

// fanTurns tells whether the tach agrees with what was asked of the fan.
func (p *Program) fanTurns(s *State, v *view) bool {
	turns, full := v.value(recipe.FanSpeed), p.bench.Fan.Fastest
	return turns >= fanTurnsLeast*s.Drove.Fan*full && turns <= fanTurnsMost*full && turns > 0
}

// fanProven tells whether the fan surely moves air now.
func (p *Program) fanProven(s *State, _ *view) bool { return s.FanProof >= p.timing.proof }

// doubtFor is how many spin-up times a fan may be asked without once being proven: a tach that comes and goes proves
// nothing, and never stays away long enough to be seen standing.
const doubtFor = 3

func (p *Program) fanUnproven(s *State, v *view) bool {
	stands := s.FanAsked >= p.timing.spinUp && !p.fanTurns(s, v)
	return s.Drove.Fan > 0 && (stands || s.FanDoubt >= doubtFor*p.timing.spinUp)
}

func (p *Program) airTooHot(_ *State, v *view) bool {
	return v.value(recipe.Air) > p.airLimit+hotMargin || v.value(recipe.Surface) > p.surfaceLimit
}

// heaterStuck: the air warms while the heater is off. A switch that welds while it is on warms nothing further; it is
// seen by air that a turning fan has not cooled to the room's in the time that a heater takes for that.
func (p *Program) heaterStuck(s *State, v *view) bool {
	air, room := v.value(recipe.Air), v.value(recipe.AirIn)
	roomIsWarm := air <= room+stuckRise // a room may warm by itself in a morning
	warms := s.AirLow > 0 && s.HeaterOff >= p.timing.stuck && air > s.AirLow+stuckRise && !roomIsWarm
	stays := s.Heated && s.HeaterOff >= p.timing.cool*9/10 && p.fanProven(s, v) && air > room+stuckRise
	return p.bench.Heater.Power > 0 && (warms || stays)
}

func (p *Program) vapourHigh(_ *State, v *view) bool { return v.value(recipe.Vapour) >= vapourStop }

func (p *Program) vapourRising(_ *State, v *view) bool { return v.value(recipe.Vapour) >= vapourWarn }

// doseLeft tells whether this stage's flow fits under the recipe's limit until the next step, however late it may
// come without counting as late. A nanolitre is for the rounding of sums.
func (p *Program) doseLeft(s *State, v *view) bool {
	const nanolitre = 1e-12 // m³
	return s.Dosed+v.stage.Flow*p.timing.late.Seconds() <= p.doseLimit+nanolitre
}

// doseOver: the dose is used up and the stage still wants more than late ticks can explain.
func (p *Program) doseOver(s *State, v *view) bool {
	return !p.doseLeft(s, v) && v.stage.For-s.Worked > doseSlack
}

// pressed tells whether the pads have had time to press.
func (p *Program) pressed(s *State) bool { return s.Drove.Press && s.PressedFor >= p.timing.settle }

func (p *Program) padLight(s *State, v *view) bool {
	return p.pressed(s) &&
		(v.value(recipe.PadFront) < p.forceLow || v.value(recipe.PadBack) < p.forceLow)
}

func (p *Program) padHeavy(s *State, v *view) bool {
	return s.Drove.Press && (v.value(recipe.PadFront) > p.forceHigh || v.value(recipe.PadBack) > p.forceHigh)
}

func (p *Program) padsUneven(s *State, v *view) bool {
	front, back := v.value(recipe.PadFront), v.value(recipe.PadBack)
	return p.pressed(s) && math.Abs(front-back) > p.balance*(front+back)/2
}

// padsOn: a press that was let go long enough ago still holds a pad on the disk. A bench without a press has its pads
// on the disk always, and Fit says so.
func (p *Program) padsOn(s *State, v *view) bool {
	const light = 0.2 // N, more than the drift of a load cell that carries nothing
	most := max(p.forceLow/2, light)
	return p.bench.Press && s.AwayFor >= p.timing.settle &&
		(v.value(recipe.PadFront) > most || v.value(recipe.PadBack) > most)
}

// padsInWindow tells whether both pads surely press as the recipe asks.
func (p *Program) padsInWindow(v *view) bool {
	front, back := v.value(recipe.PadFront), v.value(recipe.PadBack)
	return front >= p.forceLow && front <= p.forceHigh && back >= p.forceLow && back <= p.forceHigh
}

func (p *Program) padsStalled(s *State, v *view) bool {
	return s.PadsFor >= p.timing.padsSpin &&
		math.Abs(v.value(recipe.PadsSpeed)) < stalledBelow*math.Abs(s.Drove.Pads)
}

func (p *Program) hubSlow(s *State, v *view) bool {
	return s.HubFor >= p.timing.hubSpin && math.Abs(v.value(recipe.HubSpeed)) < slowBelow*s.Drove.Hub
}

func (p *Program) tankLow(_ *State, v *view) bool {
	return v.stage.Do == recipe.Wet && v.tripped(recipe.TankFloat) ||
		v.stage.Do == recipe.Rinse && v.tripped(recipe.RinseFloat)
}

func (p *Program) readingStale(_ *State, v *view) bool { return v.stage.needs&v.stale != 0 }

func (p *Program) readingImplausible(_ *State, v *view) bool { return v.stage.needs&v.implausible != 0 }

func (p *Program) stageOvertime(s *State, v *view) bool { return s.InStage >= v.stage.AtMost }

func (p *Program) cycleOvertime(s *State, _ *view) bool { return s.Total >= p.recipe.Limits.Time }
