package controller

// rinse runs the rinse pump over the turning disk, with the pads pressed and turning if the recipe asks for them.
func (p *Program) rinse(s *State, v *view, want *Levels) Ending {
	want.RinsePump = v.stage.rinsePump
	if v.stage.Pads > 0 {
		p.turnPads(s, v, want)
	}
	return p.pours(s, v)
}
