package controller

import (
	"strings"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/drying"

	"github.com/google/go-cmp/cmp"
)

// names lists a set's sensors.
func (set SensorSet) names() string {
	var list []string
	for s := range recipe.NumSensors {
		if set.Has(s) {
			list = append(list, s.String())
		}
	}
	return strings.Join(list, " ")
}

// TestWhatEachStageNeeds: the sensors without which a stage is held, by what it does and by what the bench has.
func TestWhatEachStageNeeds(t *testing.T) {
	always := sensors(recipe.Lid, recipe.EStop, recipe.TrayFloat)
	forces := sensors(recipe.PadFront, recipe.PadBack)
	hub, fan := sensors(recipe.HubSpeed), sensors(recipe.FanSpeed)
	still := recipe.Stage{Do: recipe.Dry, Fan: 1, UntilDry: true, AtMost: 90 * time.Minute}
	warm := still
	warm.Warm = celsius0 + 36
	timed := recipe.Stage{Do: recipe.Dry, Fan: 1, For: 20 * time.Minute}
	soak := recipe.Stage{Do: recipe.Soak, For: time.Minute}
	for _, c := range []struct {
		name   string
		liquid string
		stage  int
		do     recipe.Stage // in its place, if it does anything
		bench  func(*recipe.Bench)
		force  float64 // Pa, in place of 2 kPa when it is not 0
		want   SensorSet
	}{
		{"wet", "", 0, recipe.Stage{}, nil, 0, sensors(recipe.TankFloat)},
		{"soak, still", "", 1, soak, nil, 0, 0},
		{"soak, turning", "", 1, recipe.Stage{}, nil, 0, hub | forces},
		{"scrub", "", 2, recipe.Stage{}, nil, 0, hub | forces | sensors(recipe.PadsSpeed)},
		{"rinse", "", 3, recipe.Stage{}, nil, 0, hub | forces | sensors(recipe.RinseFloat)},
		{"spin-out", "", 4, recipe.Stage{}, nil, 0, hub | forces},
		{"spin-out, no press", "", 4, recipe.Stage{}, func(b *recipe.Bench) { b.Press = false }, 0, hub},
		{"spin-out, pads never pressed", "", 4, recipe.Stage{}, nil, -1, hub},
		{"dry by the jacket", "", 5, still, nil, 0, fan | sensors(recipe.Air, recipe.Surface)},
		{"dry by the jacket, only the air entering", "", 5, still, without(recipe.Air), 0, fan | sensors(recipe.AirIn, recipe.Surface)},
		{"dry by the jacket, warmed", "", 5, warm, nil, 0, fan | sensors(recipe.Air, recipe.Surface)},
		{"dry by weight", "", 5, still, with(recipe.Weight), 0, fan | sensors(recipe.Weight)},
		{"dry by weight, warmed", "", 5, warm, with(recipe.Weight), 0, fan | sensors(recipe.Weight, recipe.Air, recipe.Surface)},
		{"dry by weight, warmed, no jacket sensor", "", 5, warm, func(b *recipe.Bench) {
			with(recipe.Weight)(b)
			without(recipe.Surface)(b)
		}, 0, fan | sensors(recipe.Weight, recipe.Air)},
		{"dry by the air", "", 5, still, func(b *recipe.Bench) {
			without(recipe.Surface)(b)
			b.Fan.Through = 0.5e-3
		}, 0, fan | sensors(recipe.Air, recipe.AirOut)},
		{"dry for a time", "", 5, timed, nil, 0, fan},
		{"wet with alcohol", "isopropanol-91", 0, recipe.Stage{}, nil, 0, sensors(recipe.TankFloat, recipe.Vapour) | fan},
		{"wet with alcohol, no vapour sensor", "isopropanol-91", 0, recipe.Stage{}, without(recipe.Vapour), 0, sensors(recipe.TankFloat) | fan},
	} {
		r, b := testRecipe("water-detergent"), testBench()
		if c.liquid != "" {
			r = testRecipe(c.liquid)
		}
		if c.bench != nil {
			c.bench(&b)
		}
		if c.do.Do != recipe.NoStage {
			r.Stages[c.stage] = c.do
		} else if c.stage != 5 {
			r.Stages[5].Warm = 0
		}
		if c.force < 0 {
			r.Pads, r.Stages = recipe.Pads{}, append(r.Stages[:2:2], r.Stages[3:]...)
			c.stage--
		}
		p := mustCompile(t, r, b)
		if got := p.stages[c.stage].needs; got != always|c.want {
			t.Errorf("%s: needs %s\nwant %s", c.name, got.names(), (always | c.want).names())
		}
	}
	b := testBench()
	b.Sensors[recipe.PadFront].Fitted = false
	r := testRecipe("water-detergent")
	r.Stages = append(r.Stages[:2:2], r.Stages[3:]...)
	if got := mustCompile(t, r, b).stages[1].needs; got != always|hub|sensors(recipe.PadBack) {
		t.Errorf("one force sensor only: needs %s", got.names())
	}
}

// TestHottestAir: a bench may allow less than 50 °C at the cartridge, never more; one without a heater is held to 50 °C.
func TestHottestAir(t *testing.T) {
	const never = 323.15
	for _, c := range []struct{ power, air, surface, wantAir, wantSurface float64 }{
		{40, celsius0 + 40, celsius0 + 45, celsius0 + 40, celsius0 + 45}, {40, 400, 400, never, never}, {0, 0, 0, never, never},
	} {
		b := testBench()
		b.Heater = recipe.Heater{Power: c.power, AirLimit: c.air, SurfaceLimit: c.surface}
		p := mustCompile(t, testRecipe("isopropanol-91"), b)
		if p.airLimit != c.wantAir || p.surfaceLimit != c.wantSurface {
			t.Errorf("%+v: limits %g and %g", c, p.airLimit, p.surfaceLimit)
		}
	}
}

// TestArrivesWet: a recipe that wets, with either pump, dries a disk that it has seen dry; any other does not.
func TestArrivesWet(t *testing.T) {
	stages := testRecipe("water-detergent").Stages
	for _, c := range []struct {
		name string
		list []recipe.Stage
		want bool
	}{
		{"wets", []recipe.Stage{stages[0], stages[5]}, false}, {"rinses", []recipe.Stage{stages[3], stages[5]}, false},
		{"dries only", stages[5:], true}, {"spins out and dries", stages[4:], true},
	} {
		r := testRecipe("water-detergent")
		r.Stages = c.list
		p := mustCompile(t, r, testBench())
		if p.arrives != c.want || (p.stages[len(c.list)-1].evidence == ByClock) != c.want {
			t.Errorf("%s: arrives wet is %v, dry by %s", c.name, p.arrives, p.stages[len(c.list)-1].evidence)
		}
	}
}

// TestLastDrying: what is read of the dry disk is for the last drying, whatever comes after it.
func TestLastDrying(t *testing.T) {
	r := testRecipe("water-detergent")
	r.Stages = append(r.Stages, r.Stages[1])
	p := mustCompile(t, r, testBench())
	if p.lastEnd() != p.stages[5].end || p.ReadsDry(&State{}) == 0 {
		t.Errorf("the last drying is taken to be stage %d", p.lastDry)
	}
	r.Stages = []recipe.Stage{r.Stages[5], r.Stages[0]}
	if p := mustCompile(t, r, testBench()); p.lastEnd() == nil || p.lastEnd() != p.stages[0].end {
		t.Error("a drying that comes first has no end")
	}
	if noDryProgram(t).lastEnd() != nil {
		t.Error("an end of a drying that is not there")
	}
}

// TestPassesAreCounted over the repeated block; what comes from the first drying on is once.
func TestPassesAreCounted(t *testing.T) {
	r := testRecipe("water-detergent")
	r.Repeat, r.Limits.Liquid, r.Stages = 3, 40*mL, append(r.Stages[:1:1], r.Stages[4:]...)
	r.Stages = append(r.Stages, recipe.Stage{Do: recipe.Soak, For: time.Second})
	var got []int
	for _, plan := range mustCompile(t, r, testBench()).Stages() {
		got = append(got, plan.Pass)
	}
	if diff := cmp.Diff([]int{1, 1, 2, 2, 3, 3, 1, 1}, got); diff != "" {
		t.Error(diff)
	}
	r.Stages = r.Stages[2:]
	for _, plan := range mustCompile(t, r, testBench()).Stages() {
		if plan.Pass != 1 {
			t.Errorf("a stage that is not repeated is in pass %d", plan.Pass)
		}
	}
}

// TestGraceOfATimedStage: a minute beyond its work where the recipe says nothing, and what it says where it does.
func TestGraceOfATimedStage(t *testing.T) {
	r := testRecipe("water-detergent")
	r.Stages[1].AtMost = 11 * time.Second
	p := mustCompile(t, r, testBench())
	if p.stages[0].AtMost != 90*time.Second || p.stages[1].AtMost != 11*time.Second {
		t.Errorf("at most %v and %v", p.stages[0].AtMost, p.stages[1].AtMost)
	}
}

// TestDryingWithoutAnEstimate: in air in which nothing dries the clock ends a drying after half as long again as is
// usual (common practice, no source: 45 min after water, 15 after isopropanol), and a little before the stage's own end.
func TestDryingWithoutAnEstimate(t *testing.T) {
	for _, c := range []struct {
		liquid, rinse string
		atMost, want  time.Duration
	}{
		{"water-detergent", "", 300 * time.Minute, 67*time.Minute + 30*time.Second},
		{"isopropanol-99", "distilled-water", 300 * time.Minute, 67*time.Minute + 30*time.Second},
		{"water-detergent", "", 50 * time.Minute, 49 * time.Minute},
	} {
		r, b := testRecipe(c.liquid), testBench()
		r.Rinse, r.Stages[5].Warm, r.Stages[5].AtMost = c.rinse, 0, c.atMost
		b.Room.Humidity = 1
		st := mustCompile(t, r, b).stages[5]
		if st.end == nil || !st.end.Expected.Never {
			t.Fatalf("%+v: the air is too dry for the test", c)
		}
		if st.evidence != ByClock || st.byClock != c.want || st.planned != c.want {
			t.Errorf("%+v: by %s after %v, planned %v", c, st.evidence, st.byClock, st.planned)
		}
	}
	for name, want := range map[string]time.Duration{"water": 45 * time.Minute, "isopropanol-91": 15 * time.Minute, "brush cleaner": 45 * time.Minute, "": 45 * time.Minute} {
		if got := usualDrying(recipe.Recipe{Liquid: name}); got != want {
			t.Errorf("%q usually dries in %v, want %v", name, got, want)
		}
		if got := usualDrying(recipe.Recipe{Liquid: "water", Rinse: name}); got != want {
			t.Errorf("rinsed with %q it usually dries in %v, want %v", name, got, want)
		}
	}
}

// TestDryingThatThePhysicsCannotWorkWith: of a bench whose room is as cold as no room is nothing is foreseen, and the
// usual time has to do.
func TestDryingThatThePhysicsCannotWorkWith(t *testing.T) {
	r, b := testRecipe("water-detergent"), testBench()
	r.Stages[5].Warm, r.Stages[5].AtMost, b.Room.Air = 0, 300*time.Minute, 100
	st := mustCompile(t, r, b).stages[5]
	if st.end != nil || st.evidence != ByClock || st.byClock != 67*time.Minute+30*time.Second {
		t.Errorf("by %s after %v; foreseen: %v", st.evidence, st.byClock, st.end != nil)
	}
}

// TestClockIsByTheEstimate where there is one, to the second, though it proves nothing.
func TestClockIsByTheEstimate(t *testing.T) {
	p := onlyClockProgram(t)
	st := p.stages[len(p.stages)-1]
	want := min(seconds(st.end.ByClock()), st.AtMost-st.AtMost/50)
	if st.byClock != want || st.planned != want || want%time.Second != 0 || want < 30*time.Minute {
		t.Errorf("by the clock after %v, planned %v, want %v", st.byClock, st.planned, want)
	}
	for s, want := range map[float64]time.Duration{0: 0, 0.49: 0, 0.51: time.Second, 61.2: 61 * time.Second, -2.6: -3 * time.Second} {
		if got := seconds(s); got != want {
			t.Errorf("%g s is taken for %v, want %v", s, got, want)
		}
	}
}

// TestWhatWasLearnedCounts: a bench that is known to dry in half the time is planned so.
func TestWhatWasLearnedCounts(t *testing.T) {
	r, b := mustRead(t, fitText, unwarmed...), testBench()
	planned := func(belief drying.Belief) time.Duration {
		p, err := CompileKnowing(r, b, belief)
		if err != nil {
			t.Fatal(err)
		}
		return p.stages[len(p.stages)-1].planned
	}
	usual := planned(drying.Belief{})
	quick := planned(drying.Belief{Mean: []float64{0.7}, Cov: [][]float64{{0.01}}, Jitter: 0.1})
	if ratio := quick.Minutes() / usual.Minutes(); ratio < 0.4 || ratio > 0.7 {
		t.Errorf("usually %v, known %v", usual, quick)
	}
}

// TestPressureWindowOfNoPads: a bench that has none has no window.
func TestPressureWindowOfNoPads(t *testing.T) {
	b, r := testBench(), testRecipe("water-detergent")
	b.Pads, b.Press = recipe.PadPair{}, false
	r.Pads, r.Stages = recipe.Pads{}, r.Stages[:2]
	if least, most := mustCompile(t, r, b).PressureWindow(); least != 0 || most != 0 {
		t.Errorf("from %g to %g Pa", least, most)
	}
}

// fitMore are what a bench does badly, or not at all, that a file cannot be written for.
var fitMore = []fitCase{
	{name: "no stages", recipe: func(r *recipe.Recipe) { r.Stages = nil }, want: []string{`test.toml:1:1: this recipe has no stages; add a [[stage]]`}},
	{name: "no tach, and an alcohol in stages without a fan", edits: append([]string{"water-detergent", "isopropanol-91"}, unwarmed...),
		recipe: func(r *recipe.Recipe) { r.Stages[3].Fan = 0 }, bench: without(recipe.FanSpeed),
		want: []string{"test.toml:3:10: " + blind("fan-speed", "fan")}},
	{name: "spun under its pads", edits: []string{"do = \"dry\"", "do = \"spin-out\"\nhub = \"60 rpm\"\nfor = \"9 s\"\n[[stage]]\ndo = \"dry\""},
		bench: func(b *recipe.Bench) { b.Press = false }, want: []string{
			`test.toml:29:7: warning: this bench cannot take its pads off the disk, and the disk would be spun under them; ` +
				`turn slowly, or fit a press that takes the pads off`}},
	{name: "spun after its pads were taken off", edits: []string{"do = \"dry\"", "do = \"spin-out\"\nhub = \"60 rpm\"\nfor = \"9 s\"\n[[stage]]\ndo = \"dry\""}},
	{name: "reverse without pads", recipe: func(r *recipe.Recipe) { r.Stages[0].Reverse = time.Second },
		bench: func(b *recipe.Bench) { b.Simulated = false }},
	{name: "a short drying", edits: []string{"until = \"dry\"\nat-most = \"90 min\"", "for = \"44 min\""}, want: []string{
		`test.toml:31:7: warning: distilled water usually takes about 0:45:00 to dry (common practice), and this drying ends after 0:44:00; ` +
			`let it end with until = "dry", or take longer`}},
	{name: "a drying of the usual time", edits: []string{"until = \"dry\"\nat-most = \"90 min\"", "for = \"45 min\""}},
	{name: "a short drying of nobody knows what", text: dryText, edits: []string{"until = \"dry\"\nat-most = \"90 min\"", "for = \"1 min\""}},
	{name: "neither fan nor tach, and an alcohol", edits: append([]string{"water-detergent", "isopropanol-91"}, unwarmed...),
		bench: func(b *recipe.Bench) { b.Fan = recipe.Fan{}; without(recipe.FanSpeed)(b) }, recipe: func(r *recipe.Recipe) {
			r.Stages = r.Stages[:3]
		}, want: []string{`test.toml:3:10: a flammable liquid needs a fan that carries its vapour away; use water, or a bench with a fan`}},
	{name: "spun beside pads that never press", recipe: func(r *recipe.Recipe) {
		r.Pads, r.Stages = recipe.Pads{}, []recipe.Stage{r.Stages[0], {Do: recipe.SpinOut, Hub: 1, For: time.Second}, r.Stages[3]}
	}, bench: func(b *recipe.Bench) { b.Press = false }},
	{name: "a room that physics cannot work with", edits: unwarmed, bench: func(b *recipe.Bench) { b.Room.Air = 100 },
		want: []string{"test.toml:30:9: " + cannotTellWarning}},
}

const cannotTellWarning = "warning: nothing on this bench can tell when this disk is dry: the clock will end the drying, unproven; " +
	"mend what the estimate cannot work with: room air of -173.1 °C cannot be used; give 0 °C to 50 °C"

// TestTankJustLargeEnough: what the stages give may be all that a tank holds.
func TestTankJustLargeEnough(t *testing.T) {
	r, b := mustRead(t, fitText), testBench()
	b.Tank.Capacity, b.RinseTank.Capacity = mustCompile(t, r, b).doses()
	if found := Fit(r, b); len(found) != 0 || b.Tank.Capacity > 3.1*mL || b.RinseTank.Capacity > 5.1*mL {
		t.Errorf("tanks of %g and %g m³: %v", b.Tank.Capacity, b.RinseTank.Capacity, found)
	}
}

// TestFitMore is TestFit for what it leaves out.
func TestFitMore(t *testing.T) {
	for _, c := range fitMore {
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
		var got []string
		for _, p := range Fit(r, b) {
			got = append(got, p.String())
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s:\n%s", c.name, diff)
		}
	}
}

// TestDampRoomIsWarnedOf: where nothing will dry, that is said, with why.
func TestDampRoomIsWarnedOf(t *testing.T) {
	b := testBench()
	b.Room.Humidity = 1
	found := Fit(mustRead(t, fitText, unwarmed...), b)
	if len(found) != 1 || !found[0].Warning || !strings.Contains(found[0].String(), "it will not get dry: ") {
		t.Errorf("%v", found)
	}
	wet := mustRead(t, dryText)
	if found := Fit(wet, b); len(found) != 1 || !strings.Contains(found[0].String(), "never read dry") {
		t.Errorf("%v", found)
	}
}

// TestWarnedOfEachDrying: of two dryings each is warned of by itself.
func TestWarnedOfEachDrying(t *testing.T) {
	b := testBench()
	without(recipe.Surface, recipe.AirOut)(&b)
	r := mustRead(t, fitText, unwarmed...)
	r.Repeat, r.Stages = 2, append(r.Stages, r.Stages[3])
	found := Fit(r, b)
	if len(found) != 2 {
		t.Errorf("%v", found)
	}
}
