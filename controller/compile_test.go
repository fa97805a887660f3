package controller

import (
	"errors"
	"strings"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/endpoint"

	"github.com/google/go-cmp/cmp"
)

// fitText is a recipe that the test bench can run. The places in the cases below are lines and columns of it.
const fitText = `title = "Test"
media = ["90 mm"]
liquid = "water-detergent"
rinse = "distilled-water"
repeat = 1
[pads]
pressure = "2 kPa"
within = "25 %"
balance = "15 %"
[limits]
liquid = "20 mL"
time = "300 min"
[[stage]]
do = "wet"
flow = "6 mL/min"
for = "30 s"
[[stage]]
do = "scrub"
pads = "60 rpm"
hub = "20 rpm"
for = "40 s"
[[stage]]
do = "rinse"
flow = "10 mL/min"
hub = "20 rpm"
for = "30 s"
[[stage]]
do = "dry"
fan = "100 %"
warm = "36 °C"
until = "dry"
at-most = "90 min"
`

// dryText is a recipe for a disk that arrives wet.
const dryText = `title = "Dry"
media = ["90 mm"]
[limits]
time = "300 min"
[[stage]]
do = "dry"
fan = "100 %"
until = "dry"
at-most = "90 min"
`

// mustRead reads a recipe after edits ("old", "new", …) to its text, each of which must find something.
func mustRead(t testing.TB, text string, edits ...string) recipe.Recipe {
	t.Helper()
	for i := 0; i+1 < len(edits); i += 2 {
		if !strings.Contains(text, edits[i]) {
			t.Fatalf("%q is not in the recipe", edits[i])
		}
		text = strings.Replace(text, edits[i], edits[i+1], 1)
	}
	r, problems := recipe.Read("test.toml", []byte(text))
	if bad := problems.Errors(); len(bad) > 0 {
		t.Fatal(bad)
	}
	return r
}

// fitCase is one thing that the bench cannot do, and every line that must be said about it. What the file's own
// checks would refuse first is asked by changing the recipe after reading.
type fitCase struct {
	name   string
	text   string // fitText if empty
	edits  []string
	recipe func(*recipe.Recipe)
	bench  func(*recipe.Bench)
	want   []string
}

func without(list ...recipe.Sensor) func(*recipe.Bench) {
	return func(b *recipe.Bench) {
		for _, s := range list {
			b.Sensors[s].Fitted = false
		}
	}
}

func with(s recipe.Sensor) func(*recipe.Bench) {
	return func(b *recipe.Bench) { b.Sensors[s].Fitted = true }
}

// unwarmed takes the heater out of fitText.
var unwarmed = []string{"warm = \"36 °C\"\n", ""}

const (
	wetWarning = `warning: a disk that arrives wet was never read dry, so that nothing can tell when it is: the clock will end the drying, unproven; ` +
		`a disk that is wetted on the bench is read dry before`
	byClockWarning = `warning: nothing on this bench can tell when this disk is dry: the clock will end the drying, unproven; ` +
		`a surface sensor, read on the dry disk before wetting, could tell`
	noVapourWarning = `warning: vapour is not measured on this bench; only the proven fan stands against it; ` +
		`a vapour sensor in the duct would let the bench stop by itself`
)

func blind(sensor, part string) string {
	return "this bench has no " + sensor + " sensor, without which nothing would notice a failing " + part +
		"; fit it and name it in the bench file as [sensors." + sensor + "]"
}

func burnt(what string) string {
	return "the heater is never used with a flammable liquid: " + what + "; dry unwarmed, or change pads and bath to water first"
}

var fitCases = []fitCase{
	{name: "all is well"},
	{name: "no pump", bench: func(b *recipe.Bench) { b.Pump.Curve = nil }, want: []string{
		`test.toml:15:8: this bench has no pump; leave the stage out, or use a bench that has one`}},
	{name: "no rinse pump", bench: func(b *recipe.Bench) { b.RinsePump.Curve = nil }, want: []string{
		`test.toml:24:8: this bench has no rinse pump; leave the stage out, or use a bench that has one`}},
	{name: "pump above its curve", edits: []string{"6 mL/min", "12.1 mL/min"}, want: []string{
		`test.toml:15:8: the pump was never measured at 12.1 mL/min, and a pump is not proportional to its power; ` +
			`ask for 2 mL/min to 12 mL/min, or measure the pump there`}},
	{name: "pump below its curve", edits: []string{"6 mL/min", "1.9 mL/min"}, want: []string{
		`test.toml:15:8: the pump was never measured at 1.9 mL/min, and a pump is not proportional to its power; ` +
			`ask for 2 mL/min to 12 mL/min, or measure the pump there`}},
	{name: "rinse pump below its curve", edits: []string{"10 mL/min", "4 mL/min"}, want: []string{
		`test.toml:24:8: the rinse pump was never measured at 4 mL/min, and a pump is not proportional to its power; ` +
			`ask for 5 mL/min to 40 mL/min, or measure the pump there`}},
	{name: "at both ends of the curve", edits: []string{"6 mL/min", "12 mL/min", "10 mL/min", "5 mL/min"}},

	{name: "pads that turn one way only", edits: []string{"for = \"40 s\"", "for = \"40 s\"\nreverse = \"15 s\""},
		bench: func(b *recipe.Bench) { b.Simulated = false }, want: []string{
			`test.toml:22:11: the pads of this bench turn one way only; leave it out, or fit a driver that turns both ways and name it in ` +
				`the bench file as [outputs.pads-reverse]`}},
	{name: "pads that turn both ways", edits: []string{"for = \"40 s\"", "for = \"40 s\"\nreverse = \"15 s\""},
		bench: func(b *recipe.Bench) { b.Simulated, b.Board.Outputs[recipe.OutPadsReverse].Fitted = false, true }},
	{name: "pads too fast", edits: []string{"60 rpm", "121 rpm"}, want: []string{
		`test.toml:19:8: 121 rpm is faster than the pads of this bench can turn; ask for 120 rpm at most`}},
	{name: "pads at their fastest", edits: []string{"60 rpm", "120 rpm"}},
	{name: "no pads", bench: func(b *recipe.Bench) { b.Pads = recipe.PadPair{} }, want: []string{
		`test.toml:19:8: this bench has no pads to turn; leave it out, or use a bench that has one`}},
	{name: "hub too fast", edits: []string{"20 rpm", "301 rpm"}, want: []string{
		`test.toml:20:7: 301 rpm is faster than the hub of this bench can turn; ask for 300 rpm at most`}},
	{name: "no hub", bench: func(b *recipe.Bench) { b.Hub = recipe.Spindle{} }, want: []string{
		`test.toml:20:7: this bench has no hub to turn; leave it out, or use a bench that has one`,
		`test.toml:25:7: this bench has no hub to turn; leave it out, or use a bench that has one`}},
	{name: "pad pressure", bench: func(b *recipe.Bench) { b.Pads.Most = 2499 }, want: []string{
		`test.toml:7:12: 2 kPa and what it may be above it is more than the 2.5 kPa that pads and disk of this bench may bear; ` +
			`ask for less, or allow less above it with "within"`}},
	{name: "pad pressure at its end", bench: func(b *recipe.Bench) { b.Pads.Most = 2500 }},

	{name: "no front force", bench: without(recipe.PadFront), want: []string{"test.toml:19:8: " + blind("pad-front", "pads")}},
	{name: "no back force", bench: without(recipe.PadBack), want: []string{"test.toml:19:8: " + blind("pad-back", "pads")}},
	{name: "no pads' speed", bench: without(recipe.PadsSpeed), want: []string{"test.toml:19:8: " + blind("pads-speed", "pads")}},
	{name: "no hub's speed", bench: without(recipe.HubSpeed), want: []string{
		"test.toml:20:7: " + blind("hub-speed", "hub"), "test.toml:25:7: " + blind("hub-speed", "hub")}},
	{name: "no fan's speed", bench: without(recipe.FanSpeed), want: []string{
		"test.toml:29:7: " + blind("fan-speed", "fan"), "test.toml:30:8: " + blind("fan-speed", "heater")}},
	{name: "no air sensor", bench: without(recipe.Air), want: []string{
		"test.toml:30:8: " + blind("air", "heater"), "test.toml:31:9: " + byClockWarning}},
	{name: "no surface sensor, little air instead", edits: unwarmed, bench: func(b *recipe.Bench) {
		b.Sensors[recipe.Surface].Fitted = false
		b.Fan.Through = 0.5e-3
	}},
	{name: "no surface sensor and none of the air leaving", bench: without(recipe.Surface, recipe.AirOut), want: []string{"test.toml:31:9: " + byClockWarning}},
	{name: "arrives wet", text: dryText, want: []string{"test.toml:8:9: " + wetWarning}},

	{name: "fan too slow", edits: []string{"100 %", "29 %"}, want: []string{
		`test.toml:29:7: at 29 % the fan of this bench does not turn reliably; ask for 30 % at least`}},
	{name: "fan at its slowest", edits: []string{"100 %", "30 %"}},
	{name: "no fan", bench: func(b *recipe.Bench) { b.Fan = recipe.Fan{} }, want: []string{
		`test.toml:29:7: this bench has no fan; use a bench that has one`}},
	{name: "no fan and a flammable liquid", edits: append([]string{"water-detergent", "isopropanol-91"}, unwarmed...),
		bench: func(b *recipe.Bench) { b.Fan = recipe.Fan{} }, want: []string{
			`test.toml:3:10: a flammable liquid needs a fan that carries its vapour away; use water, or a bench with a fan`,
			`test.toml:29:7: this bench has no fan; use a bench that has one`}},
	{name: "no vapour sensor", edits: append([]string{"water-detergent", "isopropanol-91"}, unwarmed...),
		bench: without(recipe.Vapour), want: []string{"test.toml:3:10: " + noVapourWarning}},
	{name: "no vapour sensor and none needed", bench: without(recipe.Vapour)},

	{name: "no heater", bench: func(b *recipe.Bench) { b.Heater = recipe.Heater{} }, want: []string{
		`test.toml:30:8: this bench has no heater; leave "warm" out`}},
	{name: "no heater and none asked", edits: unwarmed, bench: func(b *recipe.Bench) { b.Heater = recipe.Heater{} }},
	{name: "warmer than the bench allows", edits: []string{"36 °C", "41 °C"}, want: []string{
		`test.toml:30:8: 41 °C is more than this bench allows at the cartridge; ask for 40 °C at most`}},
	{name: "as warm as the bench allows", edits: []string{"36 °C", "40 °C"}},
	{name: "warmer than media bear, whatever the bench claims",
		recipe: func(r *recipe.Recipe) { r.Stages[3].Warm = celsius0 + 50.1 },
		bench:  func(b *recipe.Bench) { b.Heater.AirLimit = celsius0 + 60 }, want: []string{
			`test.toml:30:8: 50.1 °C is more than this bench allows at the cartridge; ask for 50 °C at most`}},
	{name: "50 °C on such a bench", edits: []string{"36 °C", "50 °C"},
		bench: func(b *recipe.Bench) { b.Heater.AirLimit = celsius0 + 60 }},
	{name: "warmed still air", recipe: func(r *recipe.Recipe) { r.Stages[3].Fan = 0 }, want: []string{
		`test.toml:30:8: the heater works only in moving air; give the stage a fan`}},
	{name: "warm with a flammable liquid", recipe: func(r *recipe.Recipe) { r.Liquid = "ethanol-96" }, want: []string{
		"test.toml:30:8: " + burnt("this recipe uses ethanol-96")}},
	{name: "warm after a flammable liquid", bench: func(b *recipe.Bench) { b.PadsAndBathHeld = "isopropanol-91" }, want: []string{
		"test.toml:30:8: " + burnt("pads and bath of this bench held isopropanol-91 last")}},
	{name: "warm after nobody knows what", bench: func(b *recipe.Bench) { b.PadsAndBathHeld = "brush cleaner" }, want: []string{
		"test.toml:30:8: " + burnt("pads and bath of this bench held brush cleaner last")}},
	{name: "warm with a flammable liquid after water", recipe: func(r *recipe.Recipe) { r.Liquid = "ethanol-96" },
		bench: func(b *recipe.Bench) { b.PadsAndBathHeld = "water" }, want: []string{
			"test.toml:30:8: " + burnt("this recipe uses ethanol-96")}},
	{name: "warm after water", bench: func(b *recipe.Bench) { b.PadsAndBathHeld = "distilled-water" }},
	{name: "warm with too weak an alcohol to burn", edits: []string{"water-detergent", "isopropanol-2"}},
	{name: "an unknown liquid", recipe: func(r *recipe.Recipe) { r.Liquid = "brush cleaner" }, want: []string{
		`test.toml:3:10: "brush cleaner" is not a known liquid`, "test.toml:30:8: " + burnt("this recipe uses brush cleaner")}},
	{name: "a flammable rinse", recipe: func(r *recipe.Recipe) { r.Rinse = "isopropanol-99" }, want: []string{
		"test.toml:30:8: " + burnt("this recipe uses isopropanol-99")}},

	{name: "tray too small", bench: func(b *recipe.Bench) { b.Tray = 19 * mL }, want: []string{
		`test.toml:11:10: the cycle may give 20 mL and the tray of this bench holds 19 mL; ask for less, or fit a larger tray`}},
	{name: "tray just large enough", bench: func(b *recipe.Bench) { b.Tray = 20 * mL }},
	{name: "tank too small", edits: []string{"repeat = 1", "repeat = 2"},
		bench: func(b *recipe.Bench) { b.Tank.Capacity = 5 * mL }, want: []string{
			`test.toml:11:10: the stages give 6 mL and the tank of this bench holds 5 mL; ask for less, or fit a larger one`}},
	{name: "rinse tank too small", edits: []string{"repeat = 1", "repeat = 2"},
		bench: func(b *recipe.Bench) { b.RinseTank.Capacity = 9 * mL }, want: []string{
			`test.toml:11:10: the stages give 10 mL and the rinse tank of this bench holds 9 mL; ask for less, or fit a larger one`}},
	{name: "too many stages", recipe: func(r *recipe.Recipe) { r.Repeat = 34 }, want: []string{
		`test.toml:5:10: repeated, this makes 103 stages; a cycle has 100 stages at most`}},
	{name: "as many stages as there may be", recipe: func(r *recipe.Recipe) { r.Repeat = 33 }},
}

// TestFit: each thing that a bench cannot do is refused with its own sentence at its own place, what it only does
// badly is a warning, and at the very limit nothing is said.
func TestFit(t *testing.T) {
	for _, c := range fitCases {
		t.Run(c.name, func(t *testing.T) {
			text := c.text
			if text == "" {
				text = fitText
			}
			r, b := mustRead(t, text, c.edits...), testBench()
			if c.recipe != nil {
				c.recipe(&r)
			}
			if c.bench != nil {
				c.bench(&b)
			}
			found := Fit(r, b)
			var got []string
			for _, p := range found {
				got = append(got, p.String())
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Error(diff)
			}
			p, err := Compile(r, b)
			var problems recipe.Problems
			switch errors.As(err, &problems); {
			case (p == nil) != (err != nil), (err == nil) != (len(found.Errors()) == 0), len(problems) != len(found.Errors()):
				t.Errorf("Compile gives %v, %v; Fit %v", p, err, found)
			}
		})
	}
}

// TestCompileSaysEachOnce: the error of Compile is what Fit says, in the order of the file and each thing once.
func TestCompileSaysEachOnce(t *testing.T) {
	scrub := "[[stage]]\ndo = \"scrub\"\npads = \"60 rpm\"\nhub = \"20 rpm\"\nfor = \"40 s\"\n"
	r, b := mustRead(t, fitText, scrub, scrub+scrub), testBench()
	b.Pads.Most = 2000
	b.Tray = 1 * mL
	_, err := Compile(r, b)
	if diff := cmp.Diff(Fit(r, b).Errors().Error(), err.Error()); diff != "" {
		t.Error(diff)
	}
}

// TestCompileResolves: flows become duties on the measured curve, pressures become forces, and the fan runs in every
// stage of a cycle in which something can burn.
func TestCompileResolves(t *testing.T) {
	r := mustRead(t, fitText, append([]string{"hub = \"20 rpm\"", "hub = \"20 rpm\"\nfan = \"50 %\""}, unwarmed...)...)
	for liquid, fans := range map[string][]float64{"water-detergent": {0, 0.5, 0, 1}, "isopropanol-91": {1, 0.5, 1, 1}} {
		r.Liquid = liquid
		p := mustCompile(t, r, testBench())
		near := func(what string, got, want float64) {
			t.Helper()
			if diff := got - want; diff < -1e-9 || diff > 1e-9 {
				t.Errorf("%s: %s is %v, want %v", liquid, what, got, want)
			}
		}
		near("duty of the pump", p.stages[0].pump, 0.52) // 0.2 + (6 - 2)/(12 - 2) · 0.8
		near("duty of the rinse pump", p.stages[2].rinsePump, 0.2+5.0/35*0.8)
		for i := range p.stages {
			near("fan", p.stages[i].Fan, fans[i])
			if i != 0 && p.stages[i].pump != 0 || i != 2 && p.stages[i].rinsePump != 0 {
				t.Errorf("%s: stage %d pumps", liquid, i)
			}
		}
		near("least force", p.forceLow, 0.9) // 2 kPa · 0.75 · 6 cm²
		near("largest force", p.forceHigh, 1.5)
		least, most := p.PressureWindow()
		near("least pressure", least, 1500)
		near("largest pressure", most, 2500)
		if p.Flammable() != (liquid != "water-detergent") {
			t.Errorf("%s: flammable is %v", liquid, p.Flammable())
		}
	}
}

// TestHeldLiquidCounts: what pads and bath held makes a cycle of water one with the fan always on.
func TestHeldLiquidCounts(t *testing.T) {
	b := testBench()
	for held, want := range map[string]bool{"": false, "water": false, "isopropanol-91": true, "isopropanol-2": false, "brush cleaner": true} {
		b.PadsAndBathHeld = held
		p := mustCompile(t, mustRead(t, fitText, unwarmed...), b)
		if p.Flammable() != want || (p.stages[0].Fan > 0) != want {
			t.Errorf("%q: flammable %v, fan %v", held, p.Flammable(), p.stages[0].Fan)
		}
	}
}

// TestProgramIsImmutable: whatever becomes of the recipe and the bench that a program was compiled from, and of what it
// gave out, it stays as it was.
func TestProgramIsImmutable(t *testing.T) {
	r, b := mustRead(t, fitText), testBench()
	p := mustCompile(t, r, b)
	plans, stages := p.Stages(), append([]stage(nil), p.stages...)
	spoil := func(r recipe.Recipe, b recipe.Bench) {
		r.Stages[0], r.Media[0], b.Pump.Curve[0].Flow = recipe.Stage{}, "", 1
	}
	spoil(r, b)
	p.Stages()[0] = StagePlan{}
	if diff := cmp.Diff(plans, p.Stages(), cmp.Comparer(func(a, b *endpoint.Plan) bool { return a == b })); diff != "" {
		t.Errorf("the plan changed:\n%s", diff)
	}
	for i := range stages {
		if p.stages[i] != stages[i] {
			t.Errorf("stage %d, which is run, changed", i)
		}
	}
	if p.Recipe().Stages[0].Do != recipe.Wet || p.Recipe().Media[0] != "90 mm" {
		t.Errorf("the program's recipe changed: it shares its stages and media with the one given")
	}
	if p.Bench().Pump.Curve[0].Flow == 1 {
		t.Errorf("the program's bench changed: it shares its pump curve with the one given")
	}
}

// TestStagesPlan: the plan has every stage in the order in which it runs, with its pass, and what it may take.
func TestStagesPlan(t *testing.T) {
	p := mustCompile(t, mustRead(t, fitText, "repeat = 1", "repeat = 2", "for = \"40 s\"", "for = \"40 s\"\nat-most = \"2 min\""), testBench())
	s := time.Second
	block := func(pass int) []StagePlan {
		return []StagePlan{
			{Do: recipe.Wet, Pass: pass, Planned: 30 * s, AtMost: 90 * s, Liquid: 3 * mL},
			{Do: recipe.Scrub, Pass: pass, Planned: 40 * s, AtMost: 120 * s},
			{Do: recipe.Rinse, Pass: pass, Planned: 30 * s, AtMost: 90 * s, Liquid: 5 * mL},
		}
	}
	want := append(append(block(1), block(2)...), StagePlan{Do: recipe.Dry, Pass: 1,
		AtMost: 90 * time.Minute, Evidence: BySurface, Fan: 1})
	near := cmp.Comparer(func(a, b float64) bool { return a-b < 1e-12 && b-a < 1e-12 })
	got := p.Stages()
	if dry := &got[len(got)-1]; dry.End == nil || dry.Planned != seconds(dry.End.Expected.Minutes.Median*60) {
		t.Errorf("the drying is planned for %v, which is not what is expected", dry.Planned)
	} else {
		dry.End, dry.Planned = nil, 0
	}
	if diff := cmp.Diff(want, got, near); diff != "" {
		t.Error(diff)
	}
	for i := range want {
		if p.Kind(int8(i)) != want[i].Do {
			t.Errorf("stage %d is %s", i, p.Kind(int8(i)))
		}
	}
	if p.Kind(-1) != recipe.NoStage || p.Kind(int8(len(want))) != recipe.NoStage {
		t.Error("a stage where there is none")
	}
}
