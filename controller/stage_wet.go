package controller

// wet gives the pads their liquid. With a flammable liquid clamp keeps the pump off until the fan is proven.
func (p *Program) wet(s *State, v *view, want *Levels) Ending {
	want.Pump = v.stage.pump
	return p.pours(s, v)
}
