package main

import (
	"encoding/json"
	"os"
	"slices"
	"strings"
	"time"

	"hil/lines"
)

// The statuses of the product's commands.
const (
	done     = 0
	guarded  = 3
	personal = 4
)

// filesInOrder lets the product check the rig's own bench files.
func filesInOrder(r *rig) {
	for _, pair := range [][2]string{{"recipe-wet.toml", "bench-wet.toml"}, {"recipe-warm.toml", "bench-dry.toml"},
		{"recipe-dry.toml", "bench-pi.toml"}} {
		p := r.start("check", "/benches/"+pair[0], "--bench", r.bench(pair[1]))
		status := p.status(20 * time.Second)
		r.check(status == done, "%s on %s: status %d %s", pair[0], pair[1], status, p.said())
	}
}

// simulatedCycle shows that the product's binary works on this processor at all: record, loop and summary.
func simulatedCycle(r *rig) {
	p := r.start("run", "/benches/recipe-wet.toml", "--fast", "--json")
	status := p.status(60 * time.Second)
	r.check(status == done && state(p) == "complete", "status %d, state %q %s", status, state(p), p.errs.String())
}

// summary is what the product prints of a cycle, as far as it is looked at here.
type summary struct {
	State  string
	Guards []struct{ ID string }
}

func summarised(p *product) (s summary) {
	text := p.out.String()
	if at := strings.IndexByte(text, '{'); at >= 0 {
		json.Unmarshal([]byte(text[at:]), &s) // what is no summary has no state, which the checks see
	}
	return s
}

func state(p *product) string { return summarised(p).State }

// cycle starts the cycle of a scenario: the wet one, the warm one or the plain dry one, by its outputs.
func (r *rig) cycle() *product {
	recipe, bench := "recipe-wet.toml", "bench-wet.toml"
	switch {
	case r.chip != chips["virt"]:
		recipe, bench = "recipe-dry.toml", "bench-pi.toml"
	case slices.Contains(r.outputs, dryOutputs[0]):
		recipe, bench = "recipe-warm.toml", "bench-dry.toml"
	}
	return r.start("run", "/benches/"+recipe, "--bench", r.bench(bench), "--json", "--changed-over")
}

// reached waits until an output goes on, for as long as fan, pads and stages before it may take.
func (r *rig) reached(p *product, name string) bool {
	o := r.outputs[slices.IndexFunc(r.outputs, func(o output) bool { return o.name == name })]
	_, came := r.until(o.wire, o.active, 40*time.Second)
	why := ""
	if !came {
		p.finish()
		why = p.said()
	}
	return r.check(came, "%s goes on %s", name, why)
}

// wholeCycle: everything goes on that should, in the right company, and all is off at the end.
func wholeCycle(r *rig) {
	p := r.cycle()
	defer p.sweep()
	status := p.status(90 * time.Second)
	r.check(status == done && state(p) == "complete", "status %d, state %q: %s", status, state(p), p.said())
	// Of an emulated core that shares a computer with others: a bound against folly, and no measure of a real board.
	r.check(p.load() < 0.7, "it took %.0f %% of an emulated core", p.load()*100)
	for _, o := range r.outputs {
		r.check(slices.ContainsFunc(r.activations(r.outputs), func(a string) bool { return strings.HasPrefix(a, o.name+"@") }),
			"%s was on", o.name)
	}
	_, err := r.settled(r.outputs, 0)
	r.check(err == nil, "every output is off at the end (%v)", err)
	on := r.onTime("pump")
	// 6 mL/min for 3 s is about half of each second, by the pump's curve: some 1.5 s, in a slow rhythm.
	r.check(on > 0.8 && on < 2.4, "the pump was on for %.2f s", on)
	r.check(r.onTime("hub") > 0 && r.turnedWithoutPress() == "", "pads turned only while pressed: %s", r.turnedWithoutPress())
}

// onTime is how long an output was on.
func (r *rig) onTime(name string) (total float64) {
	o := r.outputs[slices.IndexFunc(r.outputs, func(o output) bool { return o.name == name })]
	since, active := 0.0, false
	for _, e := range r.edges(o.wire) {
		switch now := o.active(e.level); {
		case now && !active:
			since = e.at
		case !now && active:
			total += e.at - since
		}
		active = o.active(e.level)
	}
	return total
}

// turnedWithoutPress is the first moment at which the pads went on while the press was off, or "".
func (r *rig) turnedWithoutPress() string {
	press := false
	for _, e := range r.edges("pwm1", "pwm2") {
		if e.wire == "pwm2" {
			press = e.level > 0
		} else if e.level > 0 && !press {
			return time.Duration(e.at * float64(time.Second)).String()
		}
	}
	return ""
}

// stopPressed: the lines are claimed, and no output shows as much as a pulse.
func stopPressed(r *rig) {
	r.ask("input 1 1")
	p := r.cycle()
	defer p.sweep()
	time.Sleep(5 * time.Second) // the wet stage would be under way by now
	p.signal(terminated)
	status := p.status(5 * time.Second)
	r.check(status > 0, "it does not complete: status %d %s", status, p.said())
	activations := r.activations(r.outputs)
	r.check(len(activations) == 0, "no output went on: %v", activations)
	var moved []edge
	for _, o := range r.outputs {
		moved = append(moved, r.edges(o.wire)...)
	}
	r.check(len(moved) == 0, "no edge when lines are claimed and given back: %v", moved)
}

// watched: what a person looks at. Every sensor reads, transfers are written down, and no output moves.
func watched(r *rig) {
	bench := r.bench("bench-dry.toml")
	p := r.start("bench", "watch", bench, "--json", "--times", "6")
	defer p.sweep()
	status := p.status(20 * time.Second)
	lines := strings.Split(strings.TrimSpace(p.out.String()), "\n")
	var list []struct{ Sensor, Quality, Trouble string }
	err := json.Unmarshal([]byte(lines[len(lines)-1]), &list)
	r.check(status == done && err == nil && len(list) == 9, "status %d, %d sensors (%v) %s", status, len(list), err, p.errs.String())
	for _, s := range list {
		r.check(s.Quality == "good", "%s is %s %s", s.Sensor, s.Quality, s.Trouble)
	}
	c := r.start("bench", "capture", bench, "/run/bus.jsonl", "--for", "2s")
	defer c.sweep()
	status = c.status(20 * time.Second)
	text, err := os.ReadFile("/run/bus.jsonl")
	r.check(status == done && err == nil && strings.Count(string(text), `"address":"0x44"`) > 3, "status %d, %d bytes (%v) %s", status,
		len(text), err, c.said())
	activations := r.activations(r.outputs)
	r.check(len(activations) == 0, "no output went on: %v", activations)
}

// balanced: the pads are pressed, standing still, and their pressures shown; afterwards they are away again.
func balanced(r *rig) {
	p := r.start("pads", "balance", r.bench("bench-wet.toml"), "--recipe", "/benches/recipe-wet.toml", "--json", "--times", "8")
	defer p.sweep()
	status := p.status(30 * time.Second)
	lines := strings.Split(strings.TrimSpace(p.out.String()), "\n")
	var last struct {
		Front *float64 `json:"front_kpa"`
		Back  *float64 `json:"back_kpa"`
		Good  bool     `json:"good"`
	}
	err := json.Unmarshal([]byte(lines[len(lines)-1]), &last)
	r.check(status == done && err == nil && last.Front != nil && last.Back != nil && last.Good, "status %d: %s %s", status,
		lines[len(lines)-1], p.errs.String())
	r.check(r.onTime("press") > 2 && r.onTime("pads") == 0 && r.onTime("hub") == 0, "pressed for %.1f s, nothing turned", r.onTime("press"))
	_, err = r.settled(r.outputs, 0)
	r.check(err == nil, "every output is off at the end (%v)", err)
}

// warmCycle: fan and both switches of the heater, and the heater never without the fan.
func warmCycle(r *rig) {
	p := r.cycle()
	defer p.sweep()
	if !r.reached(p, "heater-enable") {
		return
	}
	time.Sleep(25 * time.Second) // the stage takes twenty
	_, err := r.settled(r.still(), 0)
	r.check(err == nil, "the heater is off at the end (%v)", err)
	r.check(r.isActive(r.outputs[0]), "the fan cools it")
	status := p.finish()
	r.check(status == done && state(p) == "complete", "status %d, state %q: %s", status, state(p), p.said())
	r.check(r.onTime("heater-enable") > 5 && r.onTime("fan") > r.onTime("heater-enable"), "enable was on for %.1f s, fan %.1f s",
		r.onTime("heater-enable"), r.onTime("fan"))
	_, err = r.settled(r.outputs, 0)
	r.check(err == nil, "every output is off when it has ended (%v)", err)
}

// lineTaken: another program holds the fan's line; the product names it and touches nothing.
func lineTaken(r *rig) {
	chip, err := lines.Chip(r.chip)
	r.need(err)
	l, err := lines.Claim(chip, 5, lines.Output, false)
	r.need(err)
	defer l.Close()
	p := r.cycle()
	defer p.sweep()
	status := p.status(20 * time.Second)
	r.check(status > 0 && strings.Contains(p.said(), `rig`), "status %d, and the holder is named: %s", status, p.said())
	activations := r.activations(r.outputs)
	r.check(len(activations) == 0, "no output went on: %v", activations)
}

// unprovenFan: the model of this board gives no pulses, so the fan stays unproven; the guard ends it, with the heater off
// throughout and the fan off after it.
func unprovenFan(r *rig) {
	p := r.cycle()
	defer p.sweep()
	status := p.status(60 * time.Second)
	r.check(status == guarded && tripped(p, "fan-unproven"), "status %d: %s", status, p.said())
	r.check(r.onTime("fan") > 1 && r.onTime("heater-enable") == 0 && r.onTime("heater") == 0, "fan on %.1f s, heater never: %v",
		r.onTime("fan"), r.activations(r.outputs))
	_, err := r.settled(r.outputs, 2*time.Second)
	r.check(err == nil, "every output is off (%v)", err)
}

func tripped(p *product, guards ...string) bool {
	for _, g := range summarised(p).Guards {
		if slices.Contains(guards, g.ID) {
			return true
		}
	}
	return false
}
