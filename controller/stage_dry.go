package controller

import (
	"math"
	"time"

	"fullery/recipe"
	"fullery/recipe/endpoint"
)

// The rule by which the heater warms: proportional to what is missing, and to what was missing for a while. It aims a
// little below what is asked, so that it does not run against the clamp that switches the heater off there. Air that went
// up and down would hide how the jacket's coldness fades.
const (
	warmAim   = 0.5  // K below the asked temperature
	warmGain  = 0.05 // of full power for each K that is missing
	warmReset = 60.0 // s in which a lasting lack adds as much again
)

// dry moves air, warmed if the recipe asks for it, over the disk until it is dry on the best evidence that the bench
// has, or for the recipe's time. The claim always carries its evidence.
func (p *Program) dry(s *State, v *view, want *Levels) Ending {
	p.warm(s, v, want)
	p.feel(s, v)
	if !v.stage.UntilDry {
		s.Drying.Evidence = ByClock
		return p.lasts(s, v)
	}
	if by, dry := p.foundDry(s, v); dry {
		s.Drying.Evidence = by
		return FoundDry
	}
	if p.onlyClock(s, v) && s.Worked >= p.clockEnds(s, v) {
		s.Drying.Evidence = ByClock
		return WorkDone
	}
	return NotEnded
}

// warm asks for as much of the heater as the air needs. What has been added up stays between nothing and full power, so
// that it cannot wind up; air that is not measured is not warmed.
func (p *Program) warm(s *State, v *view, want *Levels) {
	if v.stage.Warm == 0 {
		return
	}
	want.HeaterEnable = true
	missing := v.stage.Warm - warmAim - v.value(recipe.Air)
	if missing != missing {
		return
	}
	s.Warmth = within01(s.Warmth + warmGain/warmReset*missing*v.dt.Seconds())
	want.Heater = within01(warmGain*missing + s.Warmth)
}

func within01(x float64) float64 { return min(max(x, 0), 1) }

// feel shows the end point what the sensors read, once a second while the fan really dries.
func (p *Program) feel(s *State, v *view) {
	d := &s.Drying
	if v.stage.end == nil || !v.stage.working(s, v) {
		return
	}
	if d.Unseen += v.dt; d.Unseen < p.timing.ask {
		return
	}
	v.stage.end.Step(&d.Seen, v.dryness(), d.Unseen.Seconds())
	d.Unseen = 0
}

// dryness is what the end point may look at.
func (v *view) dryness() endpoint.Reading {
	return endpoint.Reading{
		AirIn: v.value(recipe.AirIn), AirInRH: v.value(recipe.AirInRH), Air: v.value(recipe.Air), AirOut: v.value(recipe.AirOut),
		AirOutRH: v.value(recipe.AirOutRH), Surface: v.value(recipe.Surface), Weight: v.value(recipe.Weight), Coast: math.NaN(),
	}
}

// foundDry tells whether the sensors show that the liner is dry, and on which evidence.
func (p *Program) foundDry(s *State, v *view) (Evidence, bool) {
	if v.stage.end == nil {
		return NoEvidence, false
	}
	return v.stage.end.Dry(&s.Drying.Seen)
}

// onlyClock tells whether nothing but time can end this drying: the bench has no evidence to give, or what it has never
// showed the liner wet, as in very damp air.
func (p *Program) onlyClock(s *State, v *view) bool {
	return v.stage.evidence == ByClock || !s.Drying.Seen.By.Proven()
}

// clockEnds is when the clock may end a drying. After a hold the sensors are given a while to show the liner wet again,
// where they can: until then the clock alone seems to be at work.
func (p *Program) clockEnds(s *State, v *view) time.Duration {
	end := v.stage.byClock
	if s.Drying.Broken && v.stage.evidence.Proven() {
		end = max(end, min(s.Drying.Resumed+p.timing.again, v.stage.AtMost-v.stage.AtMost/50))
	}
	return end
}

// Left returns how long the drying that runs will yet take; false when none does, or nothing is known of it.
func (p *Program) Left(s *State) (endpoint.Left, bool) {
	under := s.Cycle == Running || s.Cycle == Held || s.Cycle == Holding || s.Cycle == Restarting
	if p.Kind(s.Stage) != recipe.Dry || !under || p.stages[s.Stage].end == nil {
		return endpoint.Left{}, false
	}
	return p.stages[s.Stage].end.Left(&s.Drying.Seen), true
}
