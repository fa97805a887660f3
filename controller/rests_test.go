package controller

import (
	"testing"
	"time"

	"fullery/recipe"
)

// moment makes the step of clampMoment at hand: what is remembered and what is read when all is well.
func (m clampMoment) moment(t testing.TB, bench func(*recipe.Bench)) (*Program, State, Inputs) {
	t.Helper()
	b := testBench()
	if bench != nil {
		bench(&b)
	}
	u := newPuppet(mustCompile(t, testRecipe(m.liquid), b))
	for i := range u.p.stages {
		if u.p.stages[i].Do == m.stage {
			u.s.Stage = int8(i)
		}
	}
	u.s.Cycle, u.s.Ticking, u.s.Last = Running, true, time.Minute
	u.s.Drove = Levels{Press: true, Fan: 1}
	u.s.FanAsked, u.s.FanProof, u.s.PressedFor = time.Minute, time.Minute, time.Minute
	in := Inputs{Now: time.Minute + u.p.timing.tick}
	u.well(&in)
	return u.p, u.s, in
}

// clampCase is a wish at a moment that one thing makes other than well, and what clamp leaves of it.
type clampCase struct {
	name  string
	at    clampMoment
	bench func(*recipe.Bench)
	make  func(*State, *Inputs)
	wish  Levels
	want  Levels
	rest  State // which rests have begun
}

func (c clampCase) check(t *testing.T) {
	t.Helper()
	p, s, in := c.at.moment(t, c.bench)
	if c.make != nil {
		c.make(&s, &in)
	}
	v := p.see(&s, &in)
	got := c.wish
	if p.clamp(&s, &v, &got); got != c.want {
		t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
	}
	if s.PumpRest != c.rest.PumpRest || s.PadsRest != c.rest.PadsRest || s.HeaterRest != c.rest.HeaterRest {
		t.Errorf("%s: rests of %v, %v, %v (pumps, pads, heater), want %v, %v, %v", c.name, s.PumpRest, s.PadsRest, s.HeaterRest,
			c.rest.PumpRest, c.rest.PadsRest, c.rest.HeaterRest)
	}
}

// TestNothingMovesButTheFan outside running, in a late step, and when outputs cannot be driven.
func TestNothingMovesButTheFan(t *testing.T) {
	wish, fan := Levels{Press: true, Pads: 1, Hub: 1, Fan: 0.5}, Levels{Fan: 0.5}
	at := clampMoment{"water-detergent", recipe.Scrub}
	for _, c := range []clampCase{
		{name: "all well", at: at, wish: wish, want: wish},
		{name: "late", at: at, make: func(s *State, _ *Inputs) { s.Late = true }, wish: wish, want: fan},
		{name: "not driven", at: at, make: func(_ *State, in *Inputs) { in.DriveFailed = true }, wish: wish, want: fan},
		{name: "held", at: at, make: func(s *State, _ *Inputs) { s.Cycle = Held }, wish: wish, want: fan},
		{name: "fan bad", at: at, make: func(s *State, _ *Inputs) { s.FanBad = true }, wish: fan},
	} {
		c.check(t)
	}
}

// TestPumpsRest: a pump that is switched off, the other included, rests a second before it goes on again.
func TestPumpsRest(t *testing.T) {
	wet, rinse := clampMoment{"water-detergent", recipe.Wet}, clampMoment{"water-detergent", recipe.Rinse}
	resting := State{PumpRest: usualTiming.pumpRest}
	drove := func(l Levels) func(*State, *Inputs) { return func(s *State, _ *Inputs) { s.Drove = l } }
	for _, c := range []clampCase{
		{name: "goes on", at: wet, make: drove(Levels{Pump: 1}), wish: Levels{Pump: 1}, want: Levels{Pump: 1}},
		{name: "off", at: wet, make: drove(Levels{Pump: 1}), rest: resting},
		{name: "rinse off", at: rinse, make: drove(Levels{RinsePump: 1}), rest: resting},
		{name: "was off", at: wet},
		{name: "rests", at: wet, make: func(s *State, _ *Inputs) { s.PumpRest = 1 }, wish: Levels{Pump: 1}, rest: State{PumpRest: 1}},
		{name: "no dose left", at: wet, make: func(s *State, _ *Inputs) { s.Dosed = 20 * mL }, wish: Levels{Pump: 1}},
		{name: "tank low", at: wet, make: func(s *State, in *Inputs) {
			s.Drove.Pump, in.Readings[recipe.TankFloat].Value = 1, 0
		}, wish: Levels{Pump: 1}, rest: resting},
	} {
		c.check(t)
	}
}

// TestPadsRest: pads rest half a second before they turn again, either way, and longer after a force left its window.
func TestPadsRest(t *testing.T) {
	at := clampMoment{"water-detergent", recipe.Scrub}
	pads := func(x float64) Levels { return Levels{Press: true, Pads: x} }
	short, long := State{PadsRest: usualTiming.padsRest}, State{PadsRest: usualTiming.padsMiss}
	drove := func(x float64) func(*State, *Inputs) { return func(s *State, _ *Inputs) { s.Drove.Pads = x } }
	for _, c := range []clampCase{
		{name: "start", at: at, wish: pads(1), want: pads(1)},
		{name: "go on", at: at, make: drove(-1), wish: pads(-1), want: pads(-1)},
		{name: "turn round", at: at, make: drove(1), wish: pads(-1), want: pads(0), rest: short},
		{name: "turn round back", at: at, make: drove(-1), wish: pads(1), want: pads(0), rest: short},
		{name: "off", at: at, make: drove(1), wish: pads(0), want: pads(0), rest: short},
		{name: "rests", at: at, make: func(s *State, _ *Inputs) { s.PadsRest = 1 }, wish: pads(1), want: pads(0), rest: State{PadsRest: 1}},
		{name: "not to press", at: at, wish: Levels{Pads: 1}},
		{name: "too light", at: at, make: func(s *State, in *Inputs) {
			s.Drove.Pads, in.Readings[recipe.PadBack].Value = 1, 0.1
		}, wish: pads(1), want: pads(0), rest: long},
		{name: "too light before they turned", at: at, make: func(_ *State, in *Inputs) {
			in.Readings[recipe.PadBack].Value = 0.1
		}, wish: pads(1), want: pads(0)},
	} {
		c.check(t)
	}
}

// TestHeaterNeedsMovingCoolAir: off with the fan not asked, or the air exactly at its limit, or the jacket; and off for
// five seconds once it was switched off. A bench without a surface sensor may warm by its air alone.
func TestHeaterNeedsMovingCoolAir(t *testing.T) {
	at := clampMoment{"water-detergent", recipe.Dry}
	warm := Levels{Fan: 1, Heater: 0.6, HeaterEnable: true}
	read := func(sensor recipe.Sensor, x float64) func(*State, *Inputs) {
		return func(_ *State, in *Inputs) { in.Readings[sensor].Value = x }
	}
	b := testBench()
	air, jacket := b.Heater.AirLimit, b.Heater.SurfaceLimit
	resting := State{HeaterRest: usualTiming.heaterRest}
	for _, c := range []clampCase{
		{name: "all well", at: at, wish: warm, want: warm},
		{name: "fan not asked", at: at, wish: Levels{Heater: 0.6, HeaterEnable: true}},
		{name: "air just below", at: at, make: read(recipe.Air, air-0.01), wish: warm, want: warm},
		{name: "air at its limit", at: at, make: read(recipe.Air, air), wish: warm, want: Levels{Fan: 1}},
		{name: "jacket at its limit", at: at, make: read(recipe.Surface, jacket), wish: warm, want: Levels{Fan: 1}},
		{name: "no jacket sensor", at: at, bench: without(recipe.Surface), wish: warm, want: warm},
		{name: "rests", at: at, make: func(s *State, _ *Inputs) { s.HeaterRest = 1 }, wish: warm,
			want: Levels{Fan: 1, HeaterEnable: true}, rest: State{HeaterRest: 1}},
		{name: "off", at: at, make: func(s *State, _ *Inputs) { s.Drove.Heater = 1 }, wish: Levels{Fan: 1}, want: Levels{Fan: 1}, rest: resting},
		{name: "stays on", at: at, make: func(s *State, _ *Inputs) { s.Drove.Heater = 1 }, wish: warm, want: warm},
		{name: "was off", at: at, wish: Levels{Fan: 1}, want: Levels{Fan: 1}},
	} {
		c.check(t)
	}
}
