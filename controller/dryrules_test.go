package controller

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"
	"fullery/recipe/endpoint"
)

// warmed runs the heater's rule once, at an air temperature, with dt since the last.
func warmed(warm, air, added float64, dt time.Duration) (Levels, float64) {
	s, want := State{Warmth: added}, Levels{}
	v := question{stage: stage{Stage: recipe.Stage{Warm: warm}}, read: readsAs{recipe.Air: air}}.view()
	if v.dt = dt; air == 0 {
		v.usable = 0
	}
	(&Program{}).warm(&s, v, &want)
	return want, s.Warmth
}

// TestHeaterRule: a twentieth of full power for each kelvin that is missing to half a kelvin below what is asked, and the
// same again for each minute that it goes on missing, both between nothing and full power.
func TestHeaterRule(t *testing.T) {
	for _, c := range []struct {
		name                string
		warm, air, added    float64
		dt                  time.Duration
		power, then, enable float64
	}{
		{"not asked", 0, 290, 0.3, time.Second, 0, 0.3, 0},
		{"four missing", 310, 305.5, 0, 0, 0.2, 0, 1},
		{"four missing for a minute", 310, 305.5, 0, time.Minute, 0.4, 0.2, 1},
		{"four missing for a minute, some added", 310, 305.5, 0.1, time.Minute, 0.5, 0.3, 1},
		{"far too cold", 310, 280, 0.9, time.Minute, 1, 1, 1},
		{"too warm", 310, 311.5, 0.5, time.Minute, 0.3, 0.4, 1},
		{"much too warm", 310, 320, 0.2, time.Minute, 0, 0, 1},
		{"not measured", 310, 0, 0.3, time.Minute, 0, 0.3, 1},
	} {
		l, then := warmed(c.warm, c.air, c.added, c.dt)
		near := math.Abs(l.Heater-c.power) < 1e-9 && math.Abs(then-c.then) < 1e-9 // false of what is no number
		if !near || l.HeaterEnable != (c.enable == 1) {
			t.Errorf("%s: %+v with %g added up, want %g with %g", c.name, l, then, c.power, c.then)
		}
	}
}

// TestEachReadingInItsPlace: what the end point is shown as the air entering is the air entering, and so on.
func TestEachReadingInItsPlace(t *testing.T) {
	v := question{read: readsAs{recipe.AirIn: 1, recipe.AirInRH: 2, recipe.Air: 3, recipe.AirOut: 4, recipe.AirOutRH: 5,
		recipe.Surface: 6, recipe.Weight: 7}}.view()
	got := v.dryness()
	if !math.IsNaN(got.Coast) {
		t.Error("a hub coasted that nobody let go")
	}
	if got.Coast = 8; got != (endpoint.Reading{AirIn: 1, AirInRH: 2, Air: 3, AirOut: 4, AirOutRH: 5, Surface: 6, Weight: 7, Coast: 8}) {
		t.Errorf("%+v", got)
	}
}

// dryingAt is a state in the dry stage of the test recipe, in which the fan really dries.
func dryingAt(t *testing.T) (*Program, State, *view) {
	t.Helper()
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	s := State{Cycle: Running, Stage: 5, Drove: Levels{Fan: 1}, FanProof: p.timing.proof}
	v := question{read: readsAs{recipe.AirIn: 294, recipe.Air: 300, recipe.Surface: 295, recipe.AirOut: 297}}.view()
	v.stage = &p.stages[5]
	return p, s, v
}

// TestDryingIsFeltOnceASecond, with the time since the last look, while the fan really dries.
func TestDryingIsFeltOnceASecond(t *testing.T) {
	p, s, v := dryingAt(t)
	s.Drying.Unseen, v.dt = 900*time.Millisecond, 50*time.Millisecond
	if p.feel(&s, v); s.Drying.Seen.Elapsed != 0 || s.Drying.Unseen != 950*time.Millisecond {
		t.Errorf("too soon: %+v", s.Drying)
	}
	if p.feel(&s, v); s.Drying.Seen.Elapsed != 1 || s.Drying.Unseen != 0 {
		t.Errorf("in time: elapsed %g, unseen %v", s.Drying.Seen.Elapsed, s.Drying.Unseen)
	}
	if s.FanProof, v.dt = 0, time.Second; true {
		p.feel(&s, v)
	}
	if s.Drying.Seen.Elapsed != 1 || s.Drying.Unseen != 0 {
		t.Errorf("without a proven fan: %+v", s.Drying)
	}
	s.FanProof, v.stage = p.timing.proof, &stage{Stage: recipe.Stage{Do: recipe.Dry}}
	if p.feel(&s, v); s.Drying.Unseen != 0 {
		t.Error("felt for a plan that is not there")
	}
	if by, dry := p.foundDry(&s, v); by != NoEvidence || dry {
		t.Errorf("found dry by %s without a plan", by)
	}
}

// TestWhatEndsADrying: the sensors; the clock only where nothing else can, and exactly when its time is over.
func TestWhatEndsADrying(t *testing.T) {
	for _, c := range []struct {
		name     string
		evidence Evidence
		by       Evidence
		worked   time.Duration
		want     Ending
	}{
		{"clock, in time", ByClock, NoEvidence, time.Hour, WorkDone}, {"clock, too soon", ByClock, NoEvidence, time.Hour - 1, NotEnded},
		{"clock, though something is at work", ByClock, BySurface, time.Hour, WorkDone},
		{"surface at work", BySurface, BySurface, 2 * time.Hour, NotEnded}, {"surface that never showed it wet", BySurface, NoEvidence, time.Hour, WorkDone},
	} {
		p, s, v := dryingAt(t)
		st := *v.stage
		st.evidence, st.byClock = c.evidence, time.Hour
		v.stage = &st
		s.Worked, s.Drying.Seen.By = c.worked, c.by
		got := p.dry(&s, v, &Levels{})
		if by := map[bool]Evidence{true: ByClock, false: NoEvidence}[c.want == WorkDone]; got != c.want || s.Drying.Evidence != by {
			t.Errorf("%s: %s by %s, want %s", c.name, got, s.Drying.Evidence, c.want)
		}
	}
}

// TestClockGivesSensorsTimeAfterAHold: ten minutes where the bench has evidence to give, but never past what leaves the
// stage's longest time to the guard.
func TestClockGivesSensorsTimeAfterAHold(t *testing.T) {
	const min = time.Minute
	for _, c := range []struct {
		evidence        Evidence
		broken          bool
		resumed, atMost time.Duration
		want            time.Duration
	}{
		{BySurface, true, 25 * min, 100 * min, 35 * min}, {BySurface, true, 15 * min, 100 * min, 30 * min},
		{BySurface, true, 95 * min, 100 * min, 98 * min}, {BySurface, false, 25 * min, 100 * min, 30 * min},
		{ByClock, true, 25 * min, 100 * min, 30 * min},
	} {
		p, s, v := dryingAt(t)
		v.stage = &stage{Stage: recipe.Stage{AtMost: c.atMost}, evidence: c.evidence, byClock: 30 * min}
		s.Drying.Broken, s.Drying.Resumed = c.broken, c.resumed
		if got := p.clockEnds(&s, v); got != c.want {
			t.Errorf("%+v: the clock may end it at %v", c, got)
		}
	}
}

// TestLeftIsToldOfADryingUnderWay: running, or held on the way; not of another stage, before or after, or where nothing
// is known.
func TestLeftIsToldOfADryingUnderWay(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	for c := range numStates {
		for _, stage := range []int8{4, 5} {
			left, ok := p.Left(&State{Cycle: c, Stage: stage})
			want := stage == 5 && states(Running, Holding, Held, Restarting).has(c)
			if ok != want || (left.Median > 0) != want {
				t.Errorf("%s in stage %d: %v, %v", c, stage, left, ok)
			}
		}
	}
	if _, ok := p.Left(&State{Cycle: Running, Stage: 99}); ok {
		t.Error("told of a stage that is not there")
	}
	p.stages[5].end = nil
	if _, ok := p.Left(&State{Cycle: Running, Stage: 5}); ok {
		t.Error("told of a drying of which nothing is known")
	}
}

// TestDryDiskIsReadBeforeTheStart: while the bench waits, its sensors are read once a second, what is still to read is
// told and comes to nothing; and where nothing will need it, nothing is asked.
func TestDryDiskIsReadBeforeTheStart(t *testing.T) {
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	u := newPuppet(p)
	u.tick()
	whole := p.ReadsDry(&u.s)
	if whole < 10*time.Second || u.s.Drying.Seen.Tracks[BySurface-1].Read != 0 {
		t.Fatalf("%v to read before anything is read", whole)
	}
	for range 19 {
		u.tick()
	}
	if !u.s.Drying.Seen.Nothing() {
		t.Error("read before a second was over")
	}
	if u.tick(); p.ReadsDry(&u.s) != whole-time.Second || u.s.Drying.Unseen != 0 {
		t.Errorf("after a second %v are left of %v, unseen %v", p.ReadsDry(&u.s), whole, u.s.Drying.Unseen)
	}
	u.until(t, "read", func() bool { return p.ReadsDry(&u.s) == 0 })
	if u.s.Last > 2*whole {
		t.Errorf("read for %v, told %v", u.s.Last, whole)
	}
	for _, c := range []struct {
		name string
		p    *Program
		s    State
	}{
		{"running", p, State{Cycle: Running}},
		{"arrives wet", mustCompile(t, mustRead(t, dryText), testBench()), State{}},
		{"no drying", noDryProgram(t), State{}},
		{"only the clock", onlyClockProgram(t), State{}},
	} {
		s := c.s
		if left := c.p.ReadsDry(&s); left != 0 {
			t.Errorf("%s: %v to read", c.name, left)
		}
	}
}

func noDryProgram(t *testing.T) *Program {
	t.Helper()
	r := testRecipe("water-detergent")
	r.Stages = r.Stages[:3]
	return mustCompile(t, r, testBench())
}

func onlyClockProgram(t *testing.T) *Program {
	t.Helper()
	b := testBench()
	without(recipe.Surface, recipe.AirOut)(&b)
	return mustCompile(t, mustRead(t, fitText, unwarmed...), b)
}

// TestWetDiskIsNeverZeroed: neither while the bench waits nor at the start, if the disk arrives wet; nor where the recipe
// dries nothing.
func TestWetDiskIsNeverZeroed(t *testing.T) {
	for name, p := range map[string]*Program{
		"arrives wet": mustCompile(t, mustRead(t, dryText), testBench()), "no drying": noDryProgram(t),
	} {
		u := newPuppet(p)
		for range 100 {
			u.tick()
		}
		u.s.Drying.Seen.Tracks[BySurface-1] = endpoint.Track{Zero: 0.1, Read: 9} // of another program
		v, ev := question{}.view(), Events{}
		if unseen := u.s.Drying.Unseen; unseen != 0 {
			t.Errorf("%s: read while it waited", name)
		}
		if p.zero(&u.s, v, &ev); u.s.Drying.Seen != (endpoint.State{}) || len(ev.All()) != 0 {
			t.Errorf("%s: %+v", name, u.s.Drying.Seen)
		}
	}
}

// TestZeroOfTheDryDisk: what was read of it is kept, or one reading taken when none was; an offset of more than 0.3 K is
// not a sensor's, is forgotten, and is told if dryness was to rest on it.
func TestZeroOfTheDryDisk(t *testing.T) {
	track := func(zero float64) endpoint.Track { return endpoint.Track{Zero: zero, Read: 5} }
	for _, c := range []struct {
		name         string
		surface, air endpoint.Track
		wantS, wantA endpoint.Track
		told         float64
	}{
		{"both well", track(0.3), track(-0.3), track(0.3), track(-0.3), 0},
		{"jacket cold", track(0.31), track(0.1), endpoint.Track{}, track(0.1), 0.31},
		{"jacket warm", track(-0.31), track(0.1), endpoint.Track{}, track(0.1), -0.31},
		{"air off, which nothing rests on", track(0.1), track(0.4), track(0.1), endpoint.Track{}, 0},
		{"never read", endpoint.Track{Zero: 9}, track(0.1), endpoint.Track{Zero: 9}, track(0.1), 0},
	} {
		p := mustCompile(t, testRecipe("water-detergent"), testBench())
		s, ev := State{}, Events{}
		seen := &s.Drying.Seen
		seen.Tracks[BySurface-1], seen.Tracks[ByAir-1] = c.surface, c.air
		seen.Elapsed = 9
		now := question{read: readsAs{recipe.AirIn: 294, recipe.Air: 294, recipe.Surface: 293.8, recipe.AirOut: 293.8}}.view()
		p.zero(&s, now, &ev) // what is read at the start itself is of no account, when something was read before
		if seen.Tracks[BySurface-1] != c.wantS || seen.Tracks[ByAir-1] != c.wantA || seen.Elapsed != 0 {
			t.Errorf("%s: %+v", c.name, seen)
		}
		want := 0
		if c.told != 0 {
			want = 1
		}
		if list := ev.All(); len(list) != want || want == 1 && list[0] != (Event{Kind: ZeroRefused, Value: c.told, Evidence: BySurface}) {
			t.Errorf("%s: told %+v", c.name, list)
		}
	}
	p := mustCompile(t, testRecipe("water-detergent"), testBench())
	s := State{}
	v := question{read: readsAs{recipe.AirIn: 294, recipe.Air: 294, recipe.Surface: 293.9, recipe.AirOut: 294}}.view()
	p.zero(&s, v, &Events{})
	if got := s.Drying.Seen.Tracks[BySurface-1]; math.Abs(got.Zero-0.1) > 1e-9 || got.Read != 1 {
		t.Errorf("started at once: %+v", got)
	}
}
