package controller

// soak lets the liquid work while everything rests, or the hub turns slowly if the recipe asks for it.
func (p *Program) soak(s *State, v *view, _ *Levels) Ending { return p.lasts(s, v) }
