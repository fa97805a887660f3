// Package forecast says what one recipe will do on one bench before anything is wetted: how long it takes, how near the
// vapour in the duct comes to burning, what people in the room would breathe, and what it would take to keep either
// below a chosen figure.
//
// Everything is an estimate from the bench file and the physics of package drying. Where something is not known the
// forecast assumes what makes more vapour, and says so: Assumptions lists it. It never calls anything harmless. The
// safety data sheet, local rules and qualified people come first.
//
// All quantities are SI and at one atmosphere; the package is pure: no clock, no file, no state but the arguments.
package forecast

import (
	"cmp"
	"fmt"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// Fractions of the lower flammable limit that the vapour in the duct is held against. See the sources.
const (
	WarnAt = 0.10
	StopAt = 0.25
)

// Where the two figures come from. Local rules may ask for less.
const (
	StopSource = "NFPA 86 (oven exhaust), WAC 296-835-11010 (dip tanks)"
	WarnSource = "OSHA's hazardous atmosphere, NIOSH's IDLH of both alcohols"
)

// Ask is what is to be foreseen. The recipe and the bench must have been read without errors.
type Ask struct {
	Recipe recipe.Recipe
	Bench  recipe.Bench
	Belief drying.Belief // what logged dryings taught of this bench; the zero value is the prior
	// ByClock is how long a drying until dry lasts where nothing but the clock can end it; 0: it ends when dry.
	ByClock time.Duration
	Duct    float64 // fraction of the lower flammable limit to stay below in the duct: 0.01 to 0.25; 0 is WarnAt
	PPM     float64 // to stay below in the room, 15 minute mean: 1 to 100 000; 0 is the lowest published figure
}

// Forecast is what comes of a cycle.
type Forecast struct {
	Stages []Stage       // in the order in which they run
	Total  drying.Spread // minutes, median and 80 % interval
	Dry    *Dry          // nil without a dry stage
	Vapour *Vapour       // nil when nothing that burns is used
}

// Stage is what comes of one stage.
type Stage struct {
	Seconds drying.Spread
	OfLimit float64 // fraction of the lower flammable limit in the duct, at most
}

// Vapour is where the vapour of a cycle goes.
type Vapour struct {
	Liquid      liquid.Liquid // whose vapour it is
	Limit       liquid.Limit  // the lowest published
	Duct        Duct
	Room        Room
	Spill       Spill
	Need        Need
	Flows       []Flow   // through-flow against time and vapour
	Heater      string   // why nothing is warmed, one sentence
	Assumptions []string // one clause each
}

// Of computes the forecast. The error is one sentence that says what cannot be used.
func Of(a Ask) (Forecast, error) {
	c, err := newCycle(a)
	if err != nil {
		return Forecast{}, err
	}
	f := Forecast{Stages: c.stages, Dry: c.dry}
	for _, s := range c.stages {
		f.Total.Median += s.Seconds.Median / 60
		f.Total.Low += s.Seconds.Low / 60
		f.Total.High += s.Seconds.High / 60
	}
	c.noteTimes(f.Total)
	if !c.burning {
		return f, nil
	}
	ppm := a.PPM
	exposures := c.burns.Exposures()
	if ppm == 0 {
		ppm = lowest(exposures)
	}
	asked := cmp.Or(a.Duct, WarnAt)
	v := &Vapour{Liquid: c.burns, Limit: c.burns.LimitsSource()[0], Duct: Duct{Peak: c.peak}, Spill: c.spill(ppm)}
	if v.Duct.Curve, err = c.duct(); err != nil {
		return Forecast{}, err
	}
	v.Room = c.room(f.Total.Median*60, exposures)
	v.Need = Need{Duct: asked, PPM: ppm}
	v.Need.Through, v.Need.ThroughOK = throughFor(a, asked)
	v.Need.Changes, v.Need.ChangesOK = changesFor(v.Room.day, c.bench.Room.Volume, ppm)
	v.Flows = flows(a, asked)
	v.Heater, v.Assumptions = c.heater(), c.assumptions()
	f.Vapour = v
	return f, nil
}

// lowest is the figure that is kept when nobody names one; among those that liquid lists, which are not all there are.
func lowest(list []liquid.Exposure) float64 {
	least := list[0].PPM
	for _, e := range list {
		least = min(least, e.PPM)
	}
	return least
}

// check refuses what the forecast cannot work with. It is written so that NaN is outside of every range.
func (a Ask) check(burning bool) error {
	room := a.Bench.Room
	switch {
	case !(room.Volume > 0 && room.Volume < 1e9):
		return fmt.Errorf("a room of %.4g m³ cannot be used; give the volume of the room in the bench file", room.Volume)
	case !(room.AirChanges >= 0 && room.AirChanges < 1):
		return fmt.Errorf("%.4g air changes an hour cannot be used; give 0 to 100 in the bench file", room.AirChanges*3600)
	case a.Duct != 0 && !(a.Duct >= 0.01 && a.Duct <= StopAt):
		return fmt.Errorf("%.4g %% of the lower flammable limit cannot be asked for; give 1 %% to 25 %%, where the bench stops",
			a.Duct*100)
	case a.PPM != 0 && !(a.PPM >= 1 && a.PPM <= 1e5):
		return fmt.Errorf("%.4g ppm in the room cannot be asked for; give 1 ppm to 100000 ppm", a.PPM)
	case burning && !(a.Bench.Fan.Through > 0 && a.Bench.Fan.Through <= mostThrough):
		return fmt.Errorf("a fan that carries away %.4g L/s cannot be used with a liquid that burns; give the fan's through-flow "+
			"in the bench file", a.Bench.Fan.Through*1e3)
	}
	return nil
}
