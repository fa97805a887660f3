package controller

// spinOut turns the disk so that liquid leaves it by its rim. The hub is asked for by work.
func (p *Program) spinOut(s *State, v *view, _ *Levels) Ending { return p.lasts(s, v) }
