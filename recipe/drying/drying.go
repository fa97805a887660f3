// Package drying computes how a wet liner dries in moving air: how long it takes, how cold it gets, what vapour leaves.
//
// The model is the constant-rate and falling-rate drying of the textbooks, done for several components at once. The
// liner has one temperature and one amount of each component. Heat reaches it through a film of conductance h·A; vapour
// leaves through the same film with the mass conductance that the analogy of Chilton and Colburn gives, corrected for
// the flow which the vapour itself makes (Stefan; for heat, Ackermann). The air in the cell is well mixed: what passes
// leaves with all that the liner gave it, in vapour and in cold. Water may go the other way, from damp air into a cold
// alcohol film.
//
// Left out: heat by radiation and through the jacket, liquid that moves inside the liner, two faces that differ, a
// detergent that stays behind, freezing. Two figures of a real bench stand for much of that, what the liner keeps and
// how exposed it is: Belief holds what is known of them, Estimate uses it, Fit learns it from logged dryings.
//
// Everything is in SI units and pure: no clock, no file, no state but the arguments.
package drying

import (
	"fmt"
	"math"

	"fullery/recipe/liquid"
)

const (
	zeroC       = 273.15
	gas         = 8.314462618 // J/(mol K), exact by the definition of the SI
	Atmosphere  = 101325.0    // Pa, what Case.Pressure 0 stands for
	DefaultDry  = 0.01        // what Case.Until 0 stands for
	roughest    = 1e-2        // the largest tolerance
	DefaultKept = 2e-6        // m³ that a liner keeps when nothing better is known; assumed, like the simulated bench
)

// Case is one drying to be computed.
type Case struct {
	Liquid   liquid.Liquid
	Kept     float64 // m³ of liquid in the liner at the start: above 0, to 100 mL
	Air      float64 // K, of the room: 0 to 50 °C. Liner and liquid start at it.
	Humidity float64 // relative, of the room: 0 to 1
	Warm     float64 // K, of the air once warmed, up to 70 °C; 0 unwarmed. Warming keeps the humidity ratio.
	Film     float64 // W/K, film conductance h·A of both faces of the liner together: 0.001 to 20
	Flow     float64 // m³/s of room air that pass through the cell: 0 to 1
	Until    float64 // fraction of the kept mass, all components together, that counts as dry: 0.001 to 0.5; 0 is 0.01
	Pressure float64 // Pa: 60 to 110 kPa; 0 is Atmosphere
}

// Options are what rarely changes. The zero value is the default of every one.
type Options struct {
	Critical  float64 // fraction of the kept mass below which mass transfer falls in proportion to what is left; 0 is 0.3
	Solid     float64 // J/K of liner, disk and jacket; 0 is 10: 8 g of polyester at 1.2 J/(g K), assumed
	Horizon   float64 // s after which a drying counts as one that never ends; 0 is seven days
	Tolerance float64 // relative error asked of a step, 1e-9 to 1e-2; 0 is 3e-4, which keeps minutes within 0.5 %
	Curve     bool    // keep the curve: the only thing in a Run that takes memory

	noUptake bool // water is not let into the liner: to see what the uptake cost
}

func (o Options) filled() Options {
	o.Critical = orElse(o.Critical, 0.3)
	o.Solid = orElse(o.Solid, 10)
	o.Horizon = orElse(o.Horizon, 7*24*3600)
	o.Tolerance = orElse(o.Tolerance, 3e-4)
	return o
}

// rougher returns filled options that ask so many times less of a step.
func (o Options) rougher(times float64) Options {
	o.Tolerance = min(times*o.Tolerance, roughest)
	return o
}

func (c Case) filled() Case {
	c.Until = orElse(c.Until, DefaultDry)
	c.Pressure = orElse(c.Pressure, Atmosphere)
	return c
}

func orElse(x, usual float64) float64 {
	if x == 0 {
		return usual
	}
	return x
}

// bound is the range of one quantity, and how a person writes it.
type bound struct {
	name          string
	least, most   float64
	say           func(float64) string
	allowed, hint string
}

func celsius(k float64) string { return fmt.Sprintf("%.4g °C", k-zeroC) }
func percent(x float64) string { return fmt.Sprintf("%.4g %%", 100*x) }
func litres(x float64) string  { return fmt.Sprintf("%.4g L/s", 1e3*x) }
func watts(x float64) string   { return fmt.Sprintf("%.4g W/K", x) }
func joules(x float64) string  { return fmt.Sprintf("%.4g J/K", x) }
func pascals(x float64) string { return fmt.Sprintf("%.4g kPa", x/1e3) }
func seconds(x float64) string { return fmt.Sprintf("%.4g s", x) }
func plain(x float64) string   { return fmt.Sprintf("%.4g", x) }

func volume(x float64) string {
	if math.Abs(x) >= 1e-3 {
		return fmt.Sprintf("%.4g L", 1e3*x)
	}
	return fmt.Sprintf("%.4g mL", 1e6*x)
}

var (
	keptBound = bound{"liquid kept in the liner", 1e-9, 1e-4, volume, "0.001 mL to 100 mL",
		"a liner keeps a few millilitres"}
	airBound   = bound{"room air", zeroC, zeroC + 50, celsius, "0 °C to 50 °C", ""}
	humidBound = bound{"relative humidity", 0, 1, percent, "0 % to 100 %", ""}
	filmBound  = bound{"film conductance", 1e-3, 20, watts, "0.001 W/K to 20 W/K", ""}
	flowBound  = bound{"air flow", 0, 1, litres, "0 L/s to 1000 L/s", ""}
	untilBound = bound{"fraction that counts as dry", 1e-3, 0.5, percent, "0.1 % to 50 %", ""}
	pressBound = bound{"air pressure", 60e3, 110e3, pascals, "60 kPa to 110 kPa", ""}
)

// holds is written so that NaN is outside of every range.
func (b bound) holds(x float64) error {
	if x >= b.least && x <= b.most {
		return nil
	}
	if b.hint != "" {
		return fmt.Errorf("%s of %s cannot be used: %s; give %s", b.name, b.say(x), b.hint, b.allowed)
	}
	return fmt.Errorf("%s of %s cannot be used; give %s", b.name, b.say(x), b.allowed)
}

// Check returns what is wrong with the case, one sentence for the first thing found, or nil.
func (c Case) Check() error {
	if err := keptBound.holds(c.Kept); err != nil {
		return err
	}
	return c.checkAround()
}

// checkAround is Check but for what the liner keeps.
func (c Case) checkAround() error {
	c = c.filled()
	if c.Liquid.Name == "" {
		return fmt.Errorf("no liquid is named; give one, as in \"isopropanol-91\"")
	}
	for _, q := range []struct {
		of    bound
		value float64
	}{
		{airBound, c.Air}, {humidBound, c.Humidity}, {filmBound, c.Film}, {flowBound, c.Flow}, {untilBound, c.Until},
		{pressBound, c.Pressure},
	} {
		if err := q.of.holds(q.value); err != nil {
			return err
		}
	}
	switch {
	case c.Warm == 0:
	case !(c.Warm >= c.Air):
		return fmt.Errorf("warmed air of %s is colder than the room air of %s; leave it out when nothing warms the air",
			celsius(c.Warm), celsius(c.Air))
	case c.Warm > zeroC+70:
		return fmt.Errorf("warmed air of %s cannot be used; give no more than 70 °C, where the model ends", celsius(c.Warm))
	}
	return nil
}

func (o Options) check() error {
	for _, q := range []struct {
		of    bound
		value float64
	}{
		{bound{"critical content", 0, 1, percent, "0 % to 100 %", ""}, o.Critical},
		{bound{"heat capacity of the solid", 0.1, 1e4, joules, "0.1 J/K to 10 kJ/K", ""}, o.Solid},
		{bound{"horizon", 1, 1e8, seconds, "1 s to 1e8 s", ""}, o.Horizon},
		{bound{"tolerance", 1e-9, roughest, plain, "1e-9 to 0.01", ""}, o.Tolerance},
	} {
		if err := q.of.holds(q.value); err != nil {
			return err
		}
	}
	return nil
}
