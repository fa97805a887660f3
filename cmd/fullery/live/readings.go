package live

import (
	"fmt"
	"math"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/recipe"
)

// value is what a sensor reads, or NaN when that is not worth anything.
func (m *model) value(s recipe.Sensor) float64 {
	if v, why := m.judge(s); why == "" {
		return v
	}
	return math.NaN()
}

// judge tells what a sensor reads, or in a word why not.
func (m *model) judge(s recipe.Sensor) (v float64, why string) {
	r, spec := m.now.Readings[s], m.program.Bench().Sensors[s]
	switch {
	case r.Quality == controller.Implausible:
		return 0, "impossible"
	case r.Quality == controller.Absent:
		return 0, "not read"
	case r.Quality != controller.Good:
		return 0, "failed"
	case r.Age > spec.Stale:
		return 0, "too old"
	case math.IsNaN(r.Value) || math.IsInf(r.Value, 0):
		return 0, "impossible"
	default:
		return r.Value, ""
	}
}

// shown is one reading that may matter: its name, how it is written, and when it matters.
type shown struct {
	sensor recipe.Sensor
	name   string
	say    func(v float64) string
	when   func(m *model) bool
}

var readingsShown = []shown{
	{recipe.PadsSpeed, "pads", rpm, func(m *model) bool { return m.now.Levels.Pads != 0 }},
	{recipe.HubSpeed, "hub", rpm, func(m *model) bool { return m.now.Levels.Hub != 0 }},
	{recipe.FanSpeed, "fan", rpm, func(m *model) bool { return m.now.Levels.Fan != 0 }},
	{recipe.Air, "air", degrees, always},
	{recipe.Surface, "jacket", degrees, always},
	{recipe.Vapour, "vapour", limitShare, func(m *model) bool { return m.program.Flammable() }},
}

// always is the when of what matters in every stage.
func always(*model) bool { return true }

// rpm writes a speed; parts that turn the other way say so.
func rpm(v float64) string {
	if v < 0 {
		return fmt.Sprintf("%.0f rpm reversed", -v*60)
	}
	return fmt.Sprintf("%.0f rpm", v*60)
}

// degrees writes a temperature in K, limitShare a fraction of the lower flammable limit.
func degrees(v float64) string    { return fmt.Sprintf("%.1f °C", v-273.15) }
func limitShare(v float64) string { return fmt.Sprintf("%.0f %% of its lower flammable limit", v*100) }

// readings sets the readings that matter now, contacts that read trouble, and the liquid given so far.
func (m *model) readings(width int) []draw.Line {
	if m.now.Ticks == 0 {
		return nil
	}
	sensors := m.program.Bench().Sensors
	var phrases []draw.Line
	for _, r := range readingsShown {
		if !sensors[r.sensor].Fitted || !r.when(m) {
			continue
		}
		l := draw.Say(draw.Quiet, r.name+" ")
		if v, why := m.judge(r.sensor); why != "" {
			l = l.And(draw.Attention, why)
		} else {
			l = l.And(draw.Usual, r.say(v))
		}
		phrases = append(phrases, l)
	}
	for s := recipe.Lid; s <= recipe.RinseFloat; s++ {
		if sensors[s].Fitted && !(m.value(s) >= 0.5) {
			phrases = append(phrases, draw.Say(draw.Attention, contactTrouble[s]))
		}
	}
	if limit := m.program.Recipe().Limits.Liquid; m.program.Recipe().Dose() > 0 {
		phrases = append(phrases, draw.Say(draw.Quiet, "liquid ").
			And(draw.Usual, fmt.Sprintf("%.1f of %s", m.now.State.Dosed*1e6, recipe.SayMillilitres(limit))))
	}
	return draw.Flow(phrases, width)
}

// contactTrouble is what a contact that does not read well may mean.
var contactTrouble = map[recipe.Sensor]string{
	recipe.Lid: "lid not closed", recipe.EStop: "emergency stop", recipe.TrayFloat: "tray wet",
	recipe.TankFloat: "tank low", recipe.RinseFloat: "rinse tank low",
}
