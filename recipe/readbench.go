package recipe

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"fullery/recipe/quantity"
	"fullery/recipe/tomltree"
)

// ReadBench reads a bench file and checks its syntax and its sense. file is the name that messages show. With errors
// among the problems the bench is incomplete and must not be driven; with warnings only it may.
func ReadBench(file string, data []byte) (Bench, Problems) {
	b := Bench{Name: nameOf(file), Text: string(data)}
	root, problems := tomltree.Parse(file, data)
	if root == nil {
		b.places = places{"": Place{File: file, Line: 1, Column: 1}}
		return b, problems
	}
	read, top := newReader(file, root)
	b.places = read.places
	if root.Get("stage") != nil && root.Get("kind") == nil {
		read.add(root.Get("stage").Key, false, "this is a recipe, not a bench file", "give it as the recipe")
		return b, read.problems
	}
	if !b.kind(top) {
		return b, read.problems.Sorted()
	}
	b.parts(top)
	b.air(top)
	b.wiring(top)
	b.sensors(top)
	top.done()
	b.sense(top)
	return b, read.problems.Sorted()
}

// kind reads what decides about all other keys. Without it the rest is not read: every second key would be wrong.
func (b *Bench) kind(s *section) bool {
	if !s.has("kind") {
		s.missing("kind", `"simulated" or "board"`)
		return false
	}
	kind, ok := s.oneOf("kind", "simulated", "board")
	b.Simulated = kind == "simulated"
	title, told := s.text("title", "The bench by the window")
	if b.Title = title; told && strings.TrimSpace(title) == "" {
		s.wrong("title", "the title is empty", "say in one line which bench this is")
	} else if !s.has("title") {
		s.missing("title", strconv.Quote("The bench by the window"))
	}
	return ok
}

// parts reads the parts that wet, work and turn. A bench may lack any of them but the tray: what it cannot do is then a
// matter of the recipe, and told when the two are brought together.
func (b *Bench) parts(top *section) {
	b.Tank.Capacity = holds(top.table("tank"))
	b.RinseTank.Capacity = holds(top.table("rinse-tank"))
	tray := top.table("tray")
	if b.Tray = holds(tray); !tray.there() && !top.has("tray") {
		top.missingTable("tray", "holds")
	}
	b.Pump.Curve = curve(top.table("pump"))
	b.RinsePump.Curve = curve(top.table("rinse-pump"))
	pads := top.table("pads")
	b.Pads.Area, _ = pads.must("area", padArea)
	b.Pads.Fastest, _ = pads.must("fastest", padSpeed)
	b.Pads.Most, _ = pads.must("most", padPressure)
	pads.done()
	press := top.table("press")
	b.Press = press.there() && press.flag("fitted", true)
	press.done()
	hub := top.table("hub")
	b.Hub.Fastest, _ = hub.must("fastest", hubSpeed)
	hub.done()
	b.simulation(top)
}

// holds reads a table with the volume of a container.
func holds(s *section) float64 {
	v, _ := s.must("holds", tankHolds)
	s.done()
	return v
}

// air reads the room, the fan and the heater.
func (b *Bench) air(top *section) {
	room := top.table("room")
	b.Room.Volume, _ = room.must("volume", roomVolume)
	b.Room.AirChanges, _ = room.must("air-changes", airChanges)
	b.Room.Air, _ = room.must("air", roomAir)
	b.Room.Humidity, _ = room.must("humidity", anyShare)
	room.done()
	if !room.there() && !top.has("room") {
		top.missingTable("room", "volume, air-changes, air and humidity")
	}
	fan := top.table("fan")
	b.Fan.Fastest, _ = fan.must("fastest", fanSpeed)
	b.Fan.Least, _ = fan.must("least", anyShare)
	b.Fan.Through, _ = fan.must("through", through)
	b.Fan.Stirring, _ = fan.must("stirring", stirring)
	b.Fan.DuctArea, _ = fan.must("duct-area", ductArea)
	fan.done()
	heater := top.table("heater")
	b.Heater.Power, _ = heater.must("power", heaterPower)
	b.Heater.AirLimit, _ = heater.quantity("air-limit", airLimit)
	b.Heater.SurfaceLimit, _ = heater.quantity("surface-limit", jacketLimit)
	if heater.there() && !heater.has("air-limit") {
		b.Heater.AirLimit = defaultAirLimit
	}
	if heater.there() && !heater.has("surface-limit") {
		b.Heater.SurfaceLimit = max(defaultSurfaceLimit, b.Heater.AirLimit)
	}
	if b.Heater.SurfaceLimit < b.Heater.AirLimit {
		heater.wrong("surface-limit", fmt.Sprintf("the jacket may reach %s, less than the air that may be asked (%s)",
			SayTemperature(b.Heater.SurfaceLimit), SayTemperature(b.Heater.AirLimit)), "raise surface-limit or lower air-limit")
	}
	heater.done()
}

// The limits of a heater whose file gives none, in K. 40 °C is what salvage guidance for wet media leaves room for; the
// jacket may be a little warmer than the air asked for, because the heater's own radiation reaches it.
const (
	defaultAirLimit     = 40 + celsius
	defaultSurfaceLimit = 45 + celsius
)

// curve reads a pump's measured points; a pump is not proportional to its power, so a single figure is not taken.
// The form is [["20 %", "2 mL/min"], …], rising in both.
func curve(s *section) []PumpPoint {
	defer s.done()
	n := s.get("curve")
	if n == nil {
		if s.there() {
			s.missing("curve", `[["20 %", "2 mL/min"], ["100 %", "12 mL/min"]]`)
		}
		return nil
	}
	if n.Kind != tomltree.List {
		s.mistyped("curve", n, "a list of points", `[["20 %", "2 mL/min"], ["100 %", "12 mL/min"]]`)
		return nil
	}
	var points []PumpPoint
	for i, item := range n.Items {
		p, ok := s.point(item)
		if !ok {
			continue
		}
		if last := len(points) - 1; i > 0 && last >= 0 && (p.Duty <= points[last].Duty || p.Flow <= points[last].Flow) {
			s.add(item.Place, false, fmt.Sprintf("the curve does not rise here: %s at %s after %s at %s", SayFlow(p.Flow),
				SayShare(p.Duty), SayFlow(points[last].Flow), SayShare(points[last].Duty)), "both columns must rise from point to point")
			continue
		}
		points = append(points, p)
	}
	if len(n.Items) < 2 {
		s.wrong("curve", "a curve needs at least two points", "measure the flow at the least and the full duty, and between")
	}
	return points
}

// curveDuty begins above zero: a pump at no power gives nothing, and that is no measurement.
var curveDuty = span{quantity.Share, 0.01, 1}

// point reads one point of a curve.
func (s *section) point(n *tomltree.Node) (p PumpPoint, ok bool) {
	if n.Kind != tomltree.List || len(n.Items) != 2 {
		s.add(n.Place, false, "a point of the curve is a duty and a flow", `write ["20 %", "2 mL/min"]`)
		return p, false
	}
	duty, ok1 := s.measure("duty", n.Items[0], curveDuty)
	rate, ok2 := s.measure("flow", n.Items[1], flow)
	return PumpPoint{Duty: duty, Flow: rate}, ok1 && ok2
}

// What a simulated bench has when its file gives none: faces a little unlike, as no jacket lies true in its stream of air,
// and the critical content that is usual for fabrics. Both are assumed.
const (
	defaultUneven   = 0.10
	defaultCritical = 0.30
)

// simulation reads [sim], which only a simulated bench has. Front and back are 1 unless told: other values make a bench
// whose pads press unevenly, for trying out the guards.
func (b *Bench) simulation(top *section) {
	s := top.table("sim")
	if !b.Simulated {
		if s.there() {
			s.add(s.node.Key, false, "[sim] is for a simulated bench", `leave it out, or write kind = "simulated"`)
		}
		return
	}
	if !s.there() && !top.has("sim") {
		top.missingTable("sim", "kept, film and friction")
	}
	if n, ok := s.whole("seed", 0, math.MaxInt64); ok {
		b.Sim.Seed = uint64(n)
	}
	b.Sim.Kept, _ = s.must("kept", keptLiquid)
	b.Sim.Film, _ = s.must("film", filmConduct)
	b.Sim.Friction, _ = s.must("friction", friction)
	for _, key := range []struct {
		name  string
		is    *float64
		usual float64
		span  span
	}{
		{"front", &b.Sim.Front, 1, pressShare}, {"back", &b.Sim.Back, 1, pressShare},
		{"uneven", &b.Sim.Uneven, defaultUneven, unevenness}, {"critical", &b.Sim.Critical, defaultCritical, critical},
	} {
		*key.is = key.usual
		if v, ok := s.quantity(key.name, key.span); ok {
			*key.is = v
		}
	}
	s.done()
}

// sense checks what only shows when the bench is looked at as a whole. A part counts as there when its table is, even
// with mistakes in it, so that one mistake does not raise complaints about others.
func (b *Bench) sense(top *section) {
	for _, need := range [][2]string{{"pump", "tank"}, {"rinse-pump", "rinse-tank"}, {"heater", "fan"}, {"press", "pads"}} {
		if top.has(need[0]) && !top.has(need[1]) {
			top.wrong(need[0], fmt.Sprintf("the bench has [%s] but no [%s]", need[0], need[1]), fmt.Sprintf("add [%s]", need[1]))
		}
	}
	b.senseSensors(top)
	if !b.Simulated {
		b.senseBoard(top)
	}
}
