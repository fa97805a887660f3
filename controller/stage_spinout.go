package controller

// spinOut turns the disk so that liquid leaves it by its rim, once the pads have had time to come off it: a disk that
// is spun under its pads is scraped.
func (p *Program) spinOut(s *State, v *view, want *Levels) Ending {
	if p.bench.Press && s.AwayFor < p.timing.settle {
		want.Hub = 0
	}
	return p.lasts(s, v)
}
