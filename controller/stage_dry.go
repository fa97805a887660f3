package controller

import (
	"time"

	"fullery/recipe"
)

const (
	dryDepression = 0.5 // K: a jacket less than this below the air carries no liquid that matters
	wetDepression = 2.0 // K: a jacket that was never this far below the air never showed that it was wet
	dryOfPeak     = 0.1 // and it must have lost nine tenths of what it was below the air
	warmBand      = 0.5 // K about the asked temperature within which the heater is left as it is
)

// dry moves air, warmed if the recipe asks for it, over the disk until it is dry on the best evidence that the bench
// has, or for the recipe's time. The claim always carries its evidence.
func (p *Program) dry(s *State, v *view, want *Levels) Ending {
	p.warm(s, v, want)
	if !v.stage.UntilDry {
		s.Drying.Evidence = ByClock
		return p.lasts(s, v)
	}
	p.feel(s, v)
	if s.Drying.Since >= p.timing.dryFor {
		s.Drying.Evidence = BySurface
		return FoundDry
	}
	if p.onlyClock(s, v) && s.Worked >= v.stage.byClock {
		s.Drying.Evidence = ByClock
		return WorkDone
	}
	return NotEnded
}

// warm asks for the heater below the asked temperature and lets it rest above: a two-point controller with a band,
// which cannot wind up, and whose every switching the heater's rest bounds.
func (p *Program) warm(s *State, v *view, want *Levels) {
	if v.stage.Warm == 0 {
		return
	}
	want.HeaterEnable = true
	air := v.value(recipe.Air)
	on := s.Drove.Heater > 0
	if air < v.stage.Warm-warmBand || on && air < v.stage.Warm {
		want.Heater = 1
	}
}

// feel follows how much colder than the air the jacket is. Evaporation cools it; what is left when the liquid has
// gone is the offset that was read on the dry disk.
func (p *Program) feel(s *State, v *view) {
	d := &s.Drying
	depression := v.value(recipe.Air) - v.value(recipe.Surface) - d.Zero
	if !d.Zeroed || depression != depression {
		d.Since = 0
		return
	}
	part := min(v.dt.Seconds()/p.timing.smooth.Seconds(), 1)
	d.Depression += (depression - d.Depression) * part
	d.Peak = max(d.Peak, d.Depression)
	gone := d.Peak >= wetDepression && d.Depression <= d.DryBelow()
	d.Since = countWhile(gone, d.Since, v.dt, p.timing.dryFor)
}

// DryBelow is how much colder than the air (K) a jacket may still be and count as dry, given the largest depression
// that it has shown.
func (d Drying) DryBelow() float64 {
	if d.Peak <= 0 {
		return dryDepression
	}
	return min(dryDepression, dryOfPeak*d.Peak)
}

// DryFor is how long a jacket must stay within DryBelow of the air.
func (p *Program) DryFor() time.Duration { return p.timing.dryFor }

// onlyClock tells whether nothing but time can end this drying: the bench has no evidence to give, or the jacket
// never showed itself wet, as in very damp air.
func (p *Program) onlyClock(s *State, v *view) bool {
	return v.stage.evidence == ByClock || !s.Drying.Zeroed || s.Drying.Peak < wetDepression
}

// clockFactor is how much longer than its liquid usually takes a disk is dried when only the clock can tell.
const clockFactor = 1.5

// byClock is how long a liquid is dried when only the clock can tell: at the latest a little before the stage's own
// end, which is a guard's business.
func byClock(usual, atMost time.Duration) time.Duration {
	return min(time.Duration(float64(usual)*clockFactor), atMost-atMost/50)
}
