package forecast

import (
	"fmt"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// Peak is the vapour where the air leaves the cell, at its most.
type Peak struct {
	OfLimit float64 // fraction of the lower flammable limit
	At      float64 // s from the start of the cycle
	Stage   int     // in which stage
}

// Duct is the vapour where the air leaves the cell.
type Duct struct {
	Peak
	// Curve is the fraction of the lower flammable limit through the cycle. Where a stage begins or the liner has dried it
	// may leap: then two samples have the same time.
	Curve []Sample
}

// follow adds a part of a drying, from so many seconds on and so long, to the vapour of a stage; passing is what comes
// beside the liner, m³/s, for as long as the drying lasts.
//
// Each step of the curve becomes a span with the mean rate of that step, so that no vapour is lost between them.
func (c *cycle) follow(stage int, flow float64, curve []drying.Point, from, long, passing float64) {
	of, _ := c.fuel()
	start, volume := c.over(), molarVolume(c.bench.Room.Air)
	beside := c.beside(flow, passing)
	done := 0.0
	for i := 1; i < len(curve); i++ {
		a, b := curve[i-1], curve[i]
		t0, t1 := max(a.Seconds, from), min(b.Seconds, from+long)
		if t1 <= t0 {
			continue
		}
		lost := (a.Amounts[of] - b.Amounts[of]) / of.MolarMass() * volume / (b.Seconds - a.Seconds)
		c.spans = append(c.spans, Span{Seconds: t1 - t0, Vapour: max(lost, 0) + passing})
		done += t1 - t0
		for _, p := range [...]drying.Point{a, b} {
			c.seen(stage, start+min(max(p.Seconds, t0), t1)-from, p.OfLimit+beside)
		}
	}
	// The drying was over before the stage: nothing more comes.
	if done < long {
		c.spans = append(c.spans, Span{Seconds: long - done})
	}
}

// beside returns what passing vapour, m³/s, adds to a flow, m³/s, as a fraction of the lower flammable limit.
func (c *cycle) beside(flow, passing float64) float64 {
	of, _ := c.fuel()
	return passing / (flow * of.LowerLimit())
}

// seen notes what the duct holds at a moment.
func (c *cycle) seen(stage int, at, share float64) {
	c.stages[stage].OfLimit = max(c.stages[stage].OfLimit, share)
	if share > c.peak.OfLimit {
		c.peak = Peak{share, at, stage}
	}
}

// over returns how long all spans so far lasted, s.
func (c *cycle) over() (sum float64) {
	for _, s := range c.spans {
		sum += s.Seconds
	}
	return sum
}

// Breathed is what is in the air of the room, ppm by volume.
type Breathed struct {
	Peak    float64
	Quarter float64 // the worst mean over 15 minutes
	Day     float64 // the worst mean over 8 hours
}

// Room is what a cycle leaves in the air of the room, when the duct ends there.
type Room struct {
	Box       Box
	Kelvin    float64 // temperature that the volumes hold for
	Cycle     Breathed
	Cycles    int      // that go into a working day, one after another without a pause
	WorkDay   Breathed // all of those
	Milligram float64  // mg/m³ that 1 ppm is at Kelvin
	Limits    []liquid.Exposure
	Curve     []Sample // ppm, through one cycle into clean air and the hour after it

	day []Span
}

const (
	quarter    = 15 * 60.0
	workingDay = 8 * 3600.0
)

func (c *cycle) box() Box { return Box{c.bench.Room.Volume, c.bench.Room.AirChanges} }

// room follows one cycle, and as many as go into a working day, at least one.
func (c *cycle) room(long float64, limits []liquid.Exposure) Room {
	of, _ := c.fuel()
	r := Room{Box: c.box(), Kelvin: c.bench.Room.Air, Limits: limits, Cycles: 1}
	r.Milligram = MilligramsPerCubicMetre(of, 1, r.Kelvin)
	if long > 0 {
		r.Cycles = max(int(workingDay/long), 1)
	}
	// No pause to change disks: nobody works so, and the air is the worse for it.
	for range r.Cycles {
		r.day = append(r.day, c.spans...)
	}
	air := r.Box.Over(c.spans)
	r.Cycle, r.WorkDay, r.Curve = breathed(air), breathed(r.Box.Over(r.day)), air.curve()
	return r
}

// breathed turns shares into ppm.
func breathed(a Air) Breathed {
	return Breathed{a.Peak() * 1e6, a.WorstMean(quarter) * 1e6, a.WorstMean(workingDay) * 1e6}
}

// heater says why nothing is warmed.
func (c *cycle) heater() string {
	flash := ""
	if k, ok := c.burns.FlashPoint(); ok {
		flash = fmt.Sprintf(" (flash point about %.0f °C)", k-273.15)
	}
	return fmt.Sprintf("The heater is refused: %s burns%s, and hot parts can light its vapour. No recipe can switch this off.",
		c.burns.Title, flash)
}

// assumptions lists what the figures for the vapour assume, one clause each.
func (c *cycle) assumptions() []string {
	list := []string{
		"until it dries, the disk is a fully wet liner with all liquid given so far, at room temperature when a stage begins",
		"what the liner does not keep evaporates from pads and tray while it dries",
		"the duct ends in the room (the bench file cannot say otherwise yet), whose air mixes at once",
	}
	if c.burns.Name != c.dries.Name {
		list = append(list, "all liquid given is "+c.burns.Title+", because some of it may remain on pads and disk")
	}
	return list
}
