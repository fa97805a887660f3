package controller

// scrub presses the pads to the turning disk and turns them. They turn only once both press as the recipe asks
// (clamp), so the work is counted from there.
func (p *Program) scrub(s *State, v *view, want *Levels) Ending {
	p.turnPads(s, v, want)
	return p.lasts(s, v)
}

// turnPads presses the pads and turns them the way that is due. Between one way and the other they rest, which clamp
// sees to.
func (p *Program) turnPads(s *State, v *view, want *Levels) {
	want.Press = true
	want.Pads = v.stage.Pads
	if v.stage.reversed(s.Worked) {
		want.Pads = -want.Pads
	}
}
