package controller

// obey carries out the operator's order, or refuses it and says why. An order that has already come true (stop when
// stopped) is taken as done: pressing stop twice must never do more than pressing it once.
func (p *Program) obey(s *State, v *view, ev *Events) {
	order := v.in.Command.Order
	if order == NoOrder || order >= numOrders {
		return
	}
	refusal, cause := p.judge(s, v, order)
	if refusal != NotRefused {
		ev.add(Event{Kind: OrderRefused, Order: order, Refusal: refusal, Guard: cause, From: s.Cycle, Stage: s.Stage})
		return
	}
	ev.add(Event{Kind: OrderTaken, Order: order, From: s.Cycle, Stage: s.Stage})
	p.carryOut(s, v, order, ev)
}

// judge tells whether an order may be carried out now, and otherwise why not and which guard's cause is in its way.
func (p *Program) judge(s *State, v *view, order Order) (Refusal, Guard) {
	switch order {
	case Hold:
		return permitIf(working.has(s.Cycle)), noGuard
	case Stop:
		return permitIf(s.Cycle != Aborting), noGuard
	case Abort:
		return NotRefused, noGuard
	case Start:
		return p.judgeMoving(s, v, Idle, true)
	case Resume:
		return p.judgeMoving(s, v, Held, s.MustLook)
	case ToDry:
		if s.Cycle == Held && p.nextDry(s.Stage) < 0 {
			return NothingToDry, noGuard
		}
		return p.judgeMoving(s, v, Held, s.MustLook)
	case Reset:
		return p.judgeReset(s, v)
	default:
		return WrongState, noGuard
	}
}

func permitIf(ok bool) Refusal {
	if ok {
		return NotRefused
	}
	return WrongState
}

// judgeMoving judges an order that lets something move again: only from one state, only when no cause remains, only
// after the purge that a cut-short cycle owes, and only with a look where one is asked for.
func (p *Program) judgeMoving(s *State, v *view, from CycleState, look bool) (Refusal, Guard) {
	if s.Cycle != from {
		return WrongState, noGuard
	}
	then := *v
	if v.in.Command.Order == ToDry { // what matters is whether the drying could go on
		then.stage = &p.stages[p.nextDry(s.Stage)]
	}
	if g := p.causeRemains(s, &then); g != noGuard {
		return CauseRemains, g
	}
	if s.Cause == CutShort && s.PurgeLeft > 0 {
		return PurgeFirst, CutShort
	}
	if look && !v.in.Command.Looked {
		return LookFirst, s.Cause
	}
	return NotRefused, noGuard
}

// forgives tells whether the very order removes a cause: a resume gives a stage its time once more, and going on to
// drying leaves the stage that ran out of time.
func forgives(order Order, g Guard) bool {
	return g == StageOvertime && (order == Resume || order == ToDry)
}

// judgeReset lets an ended cycle go only when nothing that would abort it is still there.
func (p *Program) judgeReset(s *State, v *view) (Refusal, Guard) {
	if !s.Cycle.Ended() {
		return WrongState, noGuard
	}
	for g := noGuard + 1; g < numGuards; g++ {
		r := &guards[g]
		if (r.response == ToAbort || g == s.Cause && g != StageOvertime && g != CycleOvertime) && p.present(g, s, v) {
			return CauseRemains, g
		}
	}
	if s.MustLook && !v.in.Command.Looked {
		return LookFirst, s.Cause
	}
	return NotRefused, noGuard
}

// carryOut does what an order asks, once it is permitted.
func (p *Program) carryOut(s *State, v *view, order Order, ev *Events) {
	switch order {
	case Start:
		p.begin(s, v, ev)
	case Hold:
		p.leave(s, v, Holding, noGuard, ev)
	case Resume:
		p.restart(s, v, ev)
	case ToDry:
		wasDrying := p.stages[s.Stage].isDry()
		p.endStage(s, CutByOrder, ev)
		p.beginStage(s, v, p.nextDry(s.Stage), ev)
		s.Drying.Broken = wasDrying // part of the drying went before
		p.restart(s, v, ev)
	case Stop:
		p.leave(s, v, Stopping, noGuard, ev)
	case Abort:
		p.leave(s, v, Aborting, noGuard, ev)
	case Reset:
		next := s.afresh()
		next.Tripped, next.Waiting, next.Held, next.Cycle = s.Tripped, s.Waiting, s.Held, s.Cycle
		*s = next
		p.enter(s, Idle, ev)
	case NoOrder, numOrders:
	}
}

// nextDry returns the first dry stage at or after a stage, or -1.
func (p *Program) nextDry(from int8) int8 {
	for i := int(from); i < len(p.stages); i++ {
		if p.stages[i].isDry() {
			return int8(i)
		}
	}
	return -1
}
