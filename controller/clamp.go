package controller

import "fullery/recipe"

// clamp has the last word on every output, straight from this step's readings and without debounce. It only ever
// takes away. Read with DEVELOPERS.md's list of invariants beside it, it is the safety argument:
//
//   - nothing but the fan moves outside running, with the lid not surely closed, with the emergency stop not surely
//     released, in a late step, or when outputs cannot be driven;
//   - a pump needs a dry tray, dose left, and a proven fan if anything in the cycle can burn;
//   - pads need both forces fresh and inside the window;
//   - the heater needs a proven fan, cool air and jacket, and nothing in the cycle that can burn.
func (p *Program) clamp(s *State, v *view, want *Levels) {
	if !p.mayMove(s, v) {
		*want = Levels{Fan: want.Fan}
	}
	p.clampPumps(s, v, want)
	p.clampPads(s, v, want)
	p.clampHeater(s, v, want)
	if s.FanBad {
		want.Fan = 0
	}
}

// mayMove tells whether anything but the fan may be on at all.
func (p *Program) mayMove(s *State, v *view) bool {
	return s.Cycle == Running && v.well(recipe.Lid) && v.well(recipe.EStop) && !s.Late && !v.in.DriveFailed
}

func (p *Program) clampPumps(s *State, v *view, want *Levels) {
	may := v.well(recipe.TrayFloat) && s.PumpRest == 0 && p.doseLeft(s, v) &&
		(!p.flammable || p.fanProven(s, v))
	if !may {
		want.Pump, want.RinsePump = 0, 0
	}
	if v.stage.Do == recipe.Wet && !v.well(recipe.TankFloat) || v.stage.Do == recipe.Rinse && !v.well(recipe.RinseFloat) {
		want.Pump, want.RinsePump = 0, 0
	}
	if s.Drove.Pump > 0 && want.Pump == 0 || s.Drove.RinsePump > 0 && want.RinsePump == 0 {
		s.PumpRest = p.timing.pumpRest
	}
}

func (p *Program) clampPads(s *State, v *view, want *Levels) {
	turnsRound := s.Drove.Pads*want.Pads < 0
	if turnsRound || s.PadsRest > 0 || !p.padsInWindow(v) || !want.Press || !p.pressed(s) {
		want.Pads = 0
	}
	if s.Drove.Pads != 0 && want.Pads == 0 {
		s.PadsRest = p.timing.padsRest
		if !p.padsInWindow(v) { // at the edge of its window a noisy force would start the motor again and again
			s.PadsRest = p.timing.padsMiss
		}
	}
}

func (p *Program) clampHeater(s *State, v *view, want *Levels) {
	may := p.fanProven(s, v) && want.Fan > 0 && !p.flammable &&
		v.value(recipe.Air) < p.airLimit && !(v.value(recipe.Surface) >= p.surfaceLimit) &&
		(!p.bench.Sensors[recipe.Surface].Fitted || v.usable.Has(recipe.Surface))
	if !may {
		want.Heater, want.HeaterEnable = 0, false
	}
	if s.HeaterRest > 0 {
		want.Heater = 0
	}
	if s.Drove.Heater > 0 && want.Heater == 0 {
		s.HeaterRest = p.timing.heaterRest
	}
}
