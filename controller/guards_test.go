package controller

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"
)

// guardCase makes one guard trip: in a stage, by a twist of the readings.
type guardCase struct {
	guard   Guard
	liquid  string
	stage   recipe.Kind
	twist   func(*puppet, *Inputs)
	bench   func(*recipe.Bench)
	recipe  func(*recipe.Recipe)
	prepare func(*puppet)
}

func set(s recipe.Sensor, x float64) func(*puppet, *Inputs) {
	return func(_ *puppet, in *Inputs) { in.Readings[s].Value = x }
}

func scale(s recipe.Sensor, by float64) func(*puppet, *Inputs) {
	return func(_ *puppet, in *Inputs) { in.Readings[s].Value *= by }
}

// guardCases has at least one case for every guard that a reading, the loop or the record can trip.
var guardCases = []guardCase{
	{guard: EStopPressed, stage: recipe.Scrub, twist: set(recipe.EStop, 0)},
	{guard: EStopPressed, stage: recipe.Wet, twist: func(_ *puppet, in *Inputs) { in.Readings[recipe.EStop] = Reading{} }},
	{guard: LidOpen, stage: recipe.Scrub, twist: set(recipe.Lid, 0)},
	{guard: LidOpen, stage: recipe.Dry, twist: set(recipe.Lid, 0)},
	{guard: DriveFailing, stage: recipe.Wet, twist: func(_ *puppet, in *Inputs) { in.DriveFailed = true }},
	{guard: FanUnproven, stage: recipe.Dry, twist: set(recipe.FanSpeed, 0)},
	{guard: FanUnproven, stage: recipe.Dry, twist: set(recipe.FanSpeed, 900)}, // a tach that counts noise proves nothing
	{guard: FanUnproven, liquid: "isopropanol-91", stage: recipe.Wet, twist: set(recipe.FanSpeed, 0)},
	{guard: AirTooHot, stage: recipe.Dry, twist: set(recipe.Air, celsius0+44)},
	{guard: AirTooHot, stage: recipe.Dry, twist: set(recipe.Surface, celsius0+46)},
	{guard: HeaterStuck, stage: recipe.SpinOut, twist: func(u *puppet, in *Inputs) {
		in.Readings[recipe.Air].Value = celsius0 + 27
	}},
	{guard: VapourHigh, liquid: "isopropanol-91", stage: recipe.Wet, twist: set(recipe.Vapour, 0.25)},
	{guard: VapourRising, liquid: "isopropanol-91", stage: recipe.Dry, twist: set(recipe.Vapour, 0.12)},
	{guard: TrayWet, stage: recipe.Rinse, twist: set(recipe.TrayFloat, 0)},
	{guard: DoseOver, stage: recipe.Wet, prepare: func(u *puppet) { u.s.Dosed = 20 * mL }, twist: func(*puppet, *Inputs) {}},
	{guard: PadLight, stage: recipe.Scrub, twist: scale(recipe.PadFront, 0.7)},
	{guard: PadLight, stage: recipe.Scrub, twist: scale(recipe.PadBack, 0)},
	{guard: PadHeavy, stage: recipe.Scrub, twist: scale(recipe.PadBack, 1.3)},
	{guard: PadsUneven, stage: recipe.Scrub, twist: func(_ *puppet, in *Inputs) {
		in.Readings[recipe.PadFront].Value *= 1.12
		in.Readings[recipe.PadBack].Value *= 0.9
	}},
	{guard: PadsOn, stage: recipe.SpinOut, twist: set(recipe.PadBack, 1)},
	{guard: PadsStalled, stage: recipe.Scrub, twist: scale(recipe.PadsSpeed, 0.4)},
	{guard: HubSlow, stage: recipe.Scrub, twist: scale(recipe.HubSpeed, 0.6)},
	{guard: HubSlow, stage: recipe.SpinOut, twist: scale(recipe.HubSpeed, 0)},
	{guard: TankLow, stage: recipe.Wet, twist: set(recipe.TankFloat, 0)},
	{guard: TankLow, stage: recipe.Rinse, twist: set(recipe.RinseFloat, 0)},
	{guard: ReadingStale, stage: recipe.Scrub, twist: func(_ *puppet, in *Inputs) {
		in.Readings[recipe.PadBack].Age = 1001 * time.Millisecond
	}},
	{guard: ReadingStale, stage: recipe.Dry, twist: func(_ *puppet, in *Inputs) {
		in.Readings[recipe.Surface].Quality = Failed
	}},
	{guard: ReadingStale, stage: recipe.Wet, twist: func(_ *puppet, in *Inputs) { in.Readings[recipe.Lid] = Reading{} }},
	{guard: ReadingImplausible, stage: recipe.Scrub, twist: func(_ *puppet, in *Inputs) {
		in.Readings[recipe.PadFront].Quality = Implausible
	}},
	{guard: ReadingImplausible, stage: recipe.Wet, twist: set(recipe.Lid, 0.69)}, // found by FuzzStep
	{guard: ReadingImplausible, stage: recipe.Dry, twist: set(recipe.Air, math.NaN())},
	{guard: ReadingImplausible, stage: recipe.Dry, twist: set(recipe.Air, celsius0-144.7)},
	{guard: ReadingImplausible, stage: recipe.Scrub, twist: set(recipe.PadFront, math.Inf(1))},
	{guard: LoopLate, stage: recipe.Scrub, twist: func(_ *puppet, in *Inputs) { in.Now += 210 * time.Millisecond }},
	{guard: RecordFailing, stage: recipe.Scrub, twist: func(_ *puppet, in *Inputs) { in.RecordFailing = true }},
	{guard: StageOvertime, stage: recipe.Dry, twist: func(u *puppet, in *Inputs) {
		in.Readings[recipe.Surface].Value = in.Readings[recipe.Air].Value - 5
	}},
	{guard: CycleOvertime, stage: recipe.Dry, recipe: func(r *recipe.Recipe) { r.Limits.Time = 10 * time.Minute },
		twist: func(u *puppet, in *Inputs) { in.Readings[recipe.Surface].Value = in.Readings[recipe.Air].Value - 5 }},
}

func (c guardCase) puppet(t *testing.T) *puppet {
	t.Helper()
	liquid := c.liquid
	if liquid == "" {
		liquid = "water-detergent"
	}
	r, b := testRecipe(liquid), testBench()
	if c.recipe != nil {
		c.recipe(&r)
	}
	if c.bench != nil {
		c.bench(&b)
	}
	u := newPuppet(mustCompile(t, r, b))
	u.toStage(t, c.stage)
	u.until(t, "its speed", func() bool { return u.s.InStage > 6*time.Second }) // past every spin-up
	if c.prepare != nil {
		c.prepare(u)
	}
	return u
}

func (c guardCase) name() string { return c.guard.String() + "@" + c.stage.String() }

// TestEveryGuardTrips: each guard trips on its cause, after its debounce and no later than a tick more, answers as
// the table says, and keeps every invariant on the way.
func TestEveryGuardTrips(t *testing.T) {
	for _, c := range guardCases {
		t.Run(c.name(), func(t *testing.T) {
			u := c.puppet(t)
			rule := guards[c.guard]
			since := u.s.Last
			u.twist = func(in *Inputs) { c.twist(u, in) }
			for !has(u.history, GuardTripped, c.guard) {
				before := u.s
				u.tick()
				if said := (edge{u.p, before, u.in, u.s, u.out}).broken(); said != "" {
					t.Fatal(said)
				}
				if u.s.Last-since > 2*time.Hour {
					t.Fatal("never tripped")
				}
			}
			waits := c.guard == StageOvertime || c.guard == CycleOvertime || c.guard == HeaterStuck
			if took := u.s.Last - since; !waits && took > rule.debounce+6*u.p.timing.tick {
				t.Errorf("tripped after %v, debounce is %v", took, rule.debounce)
			}
			want := map[Response]CycleState{Warn: Running, ToHold: Holding, ToAbort: Aborting}[rule.response]
			if u.s.Cycle != want {
				t.Errorf("the cycle is %s, want %s", u.s.Cycle, want)
			}
			if rule.response != Warn && u.s.Cause != c.guard {
				t.Errorf("cause is %s, want %s", u.s.Cause, c.guard)
			}
		})
	}
}

// TestGuardsCoverEveryGuard: no guard is without a case above. CutShort is made by Interrupted.
func TestGuardsCoverEveryGuard(t *testing.T) {
	tried := GuardSet(0)
	for _, c := range guardCases {
		tried.put(c.guard)
	}
	tried.put(CutShort)
	for g := noGuard + 1; g < numGuards; g++ {
		if !tried.Has(g) {
			t.Errorf("no case makes %s trip", g)
		}
	}
}

// TestOutputsGoAtOnce: whatever a guard's debounce, what its cause makes dangerous is off in the very step that sees
// the cause.
func TestOutputsGoAtOnce(t *testing.T) {
	off := map[Guard]func(Levels) bool{
		EStopPressed:       func(l Levels) bool { l.Fan = 0; return l == Levels{} },
		LidOpen:            func(l Levels) bool { l.Fan = 0; return l == Levels{} },
		DriveFailing:       func(l Levels) bool { l.Fan = 0; return l == Levels{} },
		LoopLate:           func(l Levels) bool { l.Fan = 0; return l == Levels{} },
		FanUnproven:        func(l Levels) bool { return l.Heater == 0 && !l.HeaterEnable },
		AirTooHot:          func(l Levels) bool { return l.Heater == 0 && !l.HeaterEnable },
		TrayWet:            func(l Levels) bool { return l.Pump == 0 && l.RinsePump == 0 },
		TankLow:            func(l Levels) bool { return l.Pump == 0 && l.RinsePump == 0 },
		DoseOver:           func(l Levels) bool { return l.Pump == 0 && l.RinsePump == 0 },
		PadLight:           func(l Levels) bool { return l.Pads == 0 },
		PadHeavy:           func(l Levels) bool { return l.Pads == 0 },
		ReadingStale:       func(l Levels) bool { return l.Pads == 0 && l.Pump == 0 && l.Heater == 0 },
		ReadingImplausible: func(l Levels) bool { return l.Pads == 0 && l.Pump == 0 && l.Heater == 0 },
	}
	for _, c := range guardCases {
		gone := off[c.guard]
		if gone == nil {
			continue
		}
		t.Run(c.name(), func(t *testing.T) {
			u := c.puppet(t)
			u.twist = func(in *Inputs) { c.twist(u, in) }
			u.tick()
			if !gone(u.out.Levels) {
				t.Errorf("still asked in the step that saw the cause: %+v", u.out.Levels)
			}
		})
	}
}

// TestQuietWithoutCause: a whole cycle on a bench where all is well trips nothing and completes.
func TestQuietWithoutCause(t *testing.T) {
	for _, liquid := range []string{"water-detergent", "isopropanol-91"} {
		u := newPuppet(mustCompile(t, testRecipe(liquid), testBench()))
		u.dryOut()
		u.tick()
		u.order(Start)
		u.until(t, "complete", func() bool { return u.s.Cycle == Complete })
		for _, ev := range u.history {
			if ev.Kind == GuardTripped {
				t.Errorf("%s: %s tripped in stage %d", liquid, ev.Guard, ev.Stage)
			}
		}
		if u.s.Drying.Evidence != BySurface {
			t.Errorf("%s: dry by %q, want surface", liquid, u.s.Drying.Evidence)
		}
	}
}

// TestEdgeOfThreshold: just inside every threshold a guard stays quiet.
func TestEdgeOfThreshold(t *testing.T) {
	quiet := []guardCase{
		{guard: VapourHigh, liquid: "isopropanol-91", stage: recipe.Wet, twist: set(recipe.Vapour, 0.2499)},
		{guard: VapourRising, liquid: "isopropanol-91", stage: recipe.Dry, twist: set(recipe.Vapour, 0.0999)},
		{guard: PadLight, stage: recipe.Scrub, twist: func(_ *puppet, in *Inputs) {
			in.Readings[recipe.PadFront].Value *= 0.751
			in.Readings[recipe.PadBack].Value *= 0.751
		}},
		{guard: PadsUneven, stage: recipe.Scrub, twist: scale(recipe.PadFront, 1.149)},
		{guard: PadsOn, stage: recipe.SpinOut, twist: set(recipe.PadBack, 0.44)},
		{guard: PadsStalled, stage: recipe.Scrub, twist: scale(recipe.PadsSpeed, 0.501)},
		{guard: HubSlow, stage: recipe.Scrub, twist: scale(recipe.HubSpeed, 0.701)},
		{guard: FanUnproven, stage: recipe.Dry, twist: scale(recipe.FanSpeed, 0.31)},
		{guard: FanUnproven, stage: recipe.Dry, twist: scale(recipe.FanSpeed, 1.29)},
		{guard: AirTooHot, stage: recipe.Dry, twist: set(recipe.Air, celsius0+42.9)},
		{guard: HeaterStuck, stage: recipe.SpinOut, twist: set(recipe.Air, celsius0+25.9)},
		{guard: LoopLate, stage: recipe.Scrub, twist: func(_ *puppet, in *Inputs) { in.Now += 199 * time.Millisecond }},
		{guard: ReadingStale, stage: recipe.Scrub, twist: func(_ *puppet, in *Inputs) {
			in.Readings[recipe.PadBack].Age = time.Second
		}},
	}
	for _, c := range quiet {
		t.Run(c.name(), func(t *testing.T) {
			u := c.puppet(t)
			u.twist = func(in *Inputs) { c.twist(u, in) }
			for range 5 * 20 {
				u.tick()
			}
			if has(u.history, GuardTripped, c.guard) {
				t.Errorf("%s tripped inside its threshold", c.guard)
			}
		})
	}
}

// TestBlipsDoNotTrip: a cause shorter than its debounce stops what it must and holds nothing.
func TestBlipsDoNotTrip(t *testing.T) {
	for _, c := range guardCases {
		if guards[c.guard].debounce < 200*time.Millisecond {
			continue
		}
		t.Run(c.name(), func(t *testing.T) {
			u := c.puppet(t)
			u.twist = func(in *Inputs) { c.twist(u, in) }
			u.tick()
			u.twist = nil
			for range 3 * 20 {
				u.tick()
			}
			if has(u.history, GuardTripped, c.guard) {
				t.Errorf("%s tripped on a blip of one tick", c.guard)
			}
		})
	}
}
