package recipe

// DutyFor returns the duty that gives flow (m³/s) on the pump's measured curve, by linear interpolation between the
// two points around it. ok is false outside the measured range: a pump is not proportional to its power, so a curve
// is never extended (there is no duty below the first point either, other than off).
func (p Pump) DutyFor(flow float64) (duty float64, ok bool) {
	for i := 1; i < len(p.Curve); i++ {
		a, b := p.Curve[i-1], p.Curve[i]
		if flow >= a.Flow && flow <= b.Flow {
			return a.Duty + (flow-a.Flow)/(b.Flow-a.Flow)*(b.Duty-a.Duty), true
		}
	}
	if len(p.Curve) == 1 && flow == p.Curve[0].Flow {
		return p.Curve[0].Duty, true
	}
	return 0, false
}

// FlowAt returns the flow (m³/s) that the measured curve gives at a duty; zero at or below zero, and the nearest end
// outside the measured range.
func (p Pump) FlowAt(duty float64) float64 {
	if duty <= 0 || len(p.Curve) == 0 {
		return 0
	}
	if duty <= p.Curve[0].Duty {
		return p.Curve[0].Flow
	}
	for i := 1; i < len(p.Curve); i++ {
		a, b := p.Curve[i-1], p.Curve[i]
		if duty <= b.Duty {
			return a.Flow + (duty-a.Duty)/(b.Duty-a.Duty)*(b.Flow-a.Flow)
		}
	}
	return p.Curve[len(p.Curve)-1].Flow
}

// Range returns the least and the largest flow (m³/s) that the curve was measured at.
func (p Pump) Range() (least, most float64) {
	if len(p.Curve) == 0 {
		return 0, 0
	}
	return p.Curve[0].Flow, p.Curve[len(p.Curve)-1].Flow
}
