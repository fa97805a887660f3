package simbench

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"fullery/controller"
	"fullery/recipe"
)

// The campaign: whole cycles of the real controller, each on a bench, with a liquid and in a room that are drawn at random
// and that the controller does not know. What it calls dry is held against what is really left in the liner.
//
//	go test ./controller/simbench -run TestDryIsDry -v -dryings 100000
var dryings = flag.Int("dryings", 600, "cycles of the drying campaign")

const (
	mayBeLeft    = 0.02 // of the liquid, in what is called dry on evidence
	isDry        = 0.01 // of the liquid: the true end of a drying
	oneIn        = 10_000
	mostOverrun  = 0.10 // of the true drying time, median
	campaignTick = 200 * time.Millisecond
)

// dried is what came of one cycle of the campaign.
type dried struct {
	seed     uint64
	evidence controller.Evidence
	liquid   string
	left     float64          // share of the liquid when the drying ended
	took     time.Duration    // until it ended
	truly    time.Duration    // until isDry was left
	inside   [2]int           // of the estimates of the minutes left: how many of how many held the truth
	cause    controller.Guard // that ended it otherwise
}

func (d dried) overrun() float64 { return d.took.Seconds()/d.truly.Seconds() - 1 }

// TestDryIsDry runs the campaign. Budget: of what is called dry on evidence, less than one in ten thousand with more than
// 2 % of the liquid left; the median drying no more than a tenth longer than it takes until 1 % is left. And about as many
// of the minutes left as their interval says hold the truth.
func TestDryIsDry(t *testing.T) {
	all := campaign(*dryings)
	by := map[controller.Evidence][]dried{}
	wrong, proven := 0, 0
	for _, d := range all {
		if d.evidence == controller.NoEvidence {
			t.Logf("seed %d, %s: ended by %s", d.seed, d.liquid, d.cause)
		}
		by[d.evidence] = append(by[d.evidence], d)
		if !d.evidence.Proven() {
			continue
		}
		proven++
		if d.left > mayBeLeft {
			wrong++
			t.Logf("seed %d, %s, by %s: called dry with %.2f %% left after %v, truly dry after %v", d.seed, d.liquid, d.evidence,
				d.left*100, d.took, d.truly)
		}
	}
	for e := controller.NoEvidence; e <= controller.ByClock; e++ {
		if len(by[e]) > 0 {
			t.Log(summary(e, by[e]))
		}
	}
	if wrong*oneIn > proven {
		t.Errorf("%d of %d were called dry with more than 2 %% left", wrong, proven)
	}
	if proven < len(all)/2 {
		t.Errorf("only %d of %d dryings ended on evidence: the campaign no longer tests it", proven, len(all))
	}
	for _, l := range campaignLiquids {
		for e := controller.ByWeight; e <= controller.ByAir; e++ {
			list := slices.DeleteFunc(slices.Clone(by[e]), func(d dried) bool { return d.liquid != l })
			if len(list) > 0 {
				t.Log(l, summary(e, list))
			}
		}
	}
	var over []float64
	for _, d := range all {
		if d.evidence.Proven() {
			over = append(over, d.overrun())
		}
	}
	in, of := 0, 0
	for _, d := range all {
		if d.evidence.Proven() {
			in, of = in+d.inside[0], of+d.inside[1]
		}
	}
	t.Logf("minutes left: %d of %d within their 80 %% interval", in, of)
	if share := float64(in) / float64(of); !(share > 0.76 && share < 0.92) {
		t.Errorf("the interval of the minutes left, which is to hold 80 %% of the truth, holds %.0f %%", share*100)
	}
	if m := quantile(over, 0.5); !(m < mostOverrun) {
		t.Errorf("the median drying took %.1f %% longer than it had to", m*100)
	}
}

// summary says in a line what came of the dryings by one evidence.
func summary(e controller.Evidence, list []dried) string {
	var over, left []float64
	in, of, wet := 0, 0, 0
	for _, d := range list {
		over, left = append(over, d.overrun()*100), append(left, d.left*100)
		in, of = in+d.inside[0], of+d.inside[1]
		if d.left > mayBeLeft {
			wet++
		}
	}
	word := e.String()
	if word == "" {
		word = "no end"
	}
	return fmt.Sprintf("%-8s %6d cycles; more than 2 %% left: %d; left: median %.2f %%, most %.2f %%; overrun: median %.1f %%, "+
		"80 %% between %.1f %% and %.1f %%; minutes left: %.0f %% of %d within their interval", word, len(list), wet,
		quantile(left, 0.5), quantile(left, 1), quantile(over, 0.5), quantile(over, 0.1), quantile(over, 0.9),
		100*float64(in)/max(float64(of), 1), of)
}

func quantile(list []float64, q float64) float64 {
	if len(list) == 0 {
		return math.NaN()
	}
	list = slices.Clone(list)
	slices.Sort(list)
	return list[int(q*float64(len(list)-1)+0.5)]
}

// campaign runs n cycles on every core.
func campaign(n int) []dried {
	all := make([]dried, n)
	var wg sync.WaitGroup
	for worker := range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := worker; i < n; i += runtime.GOMAXPROCS(0) {
				all[i] = drawn(uint64(i))
			}
		})
	}
	wg.Wait()
	return all
}

// drawn runs one cycle of the campaign.
func drawn(seed uint64) dried {
	p, r, really := drawCase(seed)
	return runDrying(p, New(really, r), seed, r.Liquid)
}

// drawCase draws a program, the recipe that it runs, and the bench as it really is.
func drawCase(seed uint64) (*controller.Program, recipe.Recipe, recipe.Bench) {
	random := rand.New(rand.NewPCG(seed, 0x647279696e67))
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	around := func(width float64) float64 { return math.Exp(width * random.NormFloat64()) }

	r := campaignRecipe(campaignLiquids[random.IntN(len(campaignLiquids))])
	warmed := r.Liquid == "water-detergent"
	if warmed {
		r.Stages[len(r.Stages)-1].Warm = zeroC + 36
	}

	told := campaignBench(random, between) // what the controller is told of the bench; it has read the room's air
	p, err := controller.Compile(r, told)
	if err != nil {
		panic(err)
	}
	really := told // and how it really is
	really.Room.Humidity = min(max(told.Room.Humidity+between(-0.1, 0.1), 0.2), 0.75)
	really.Sim.Seed = seed
	really.Sim.Kept *= around(0.2)
	really.Sim.Film *= around(0.2)
	really.Sim.Uneven = between(0, 0.3)
	really.Sim.Critical = between(0.15, 0.45)
	really.Sim.Front, really.Sim.Back = between(0.95, 1.05), between(0.95, 1.05)
	really.Fan.Through *= around(0.1)
	return p, r, really
}

var campaignLiquids = []string{"water-detergent", "distilled-water", "isopropanol-99", "isopropanol-91", "isopropanol-70", "ethanol-96"}

// campaignRecipe wets, scrubs, spins out and dries.
func campaignRecipe(liquid string) recipe.Recipe {
	r := testRecipe(liquid)
	r.Rinse = ""
	r.Limits = recipe.Limits{Liquid: 20 * mL, Time: 40 * time.Hour}
	second := time.Second
	r.Stages = []recipe.Stage{
		{Do: recipe.Wet, Flow: 10 * mL * perMin, For: 40 * second, AtMost: 100 * second},
		{Do: recipe.Scrub, Pads: 1, Hub: 0.3, For: 60 * second, AtMost: 120 * second},
		{Do: recipe.SpinOut, Hub: 5, For: 40 * second, AtMost: 100 * second},
		{Do: recipe.Dry, Fan: 1, Hub: 0.3, UntilDry: true, AtMost: 20 * time.Hour},
	}
	return r
}

// campaignBench draws which evidence a bench can give and how well.
func campaignBench(random *rand.Rand, between func(low, high float64) float64) recipe.Bench {
	b := testSpec()
	b.Room.Air, b.Room.Humidity = zeroC+between(16, 27), between(0.25, 0.7)
	heat := func(lag float64) recipe.SensorSpec {
		return recipe.SensorSpec{Fitted: true, Stale: 3 * time.Second, Every: 500 * time.Millisecond, Noise: between(0.02, 0.06),
			Step: 0.01, Lag: time.Duration(between(2, lag) * float64(time.Second)), Drift: between(-0.03, 0.03) / 3600}
	}
	b.Sensors[recipe.Air], b.Sensors[recipe.AirIn] = heat(8), heat(8)
	b.Sensors[recipe.Surface], b.Sensors[recipe.AirOut], b.Sensors[recipe.Weight] = recipe.SensorSpec{}, recipe.SensorSpec{}, recipe.SensorSpec{}
	b.Sensors[recipe.AirInRH], b.Sensors[recipe.AirOutRH] = recipe.SensorSpec{}, recipe.SensorSpec{}
	b.Fan.Through = between(1e-3, 4e-3)
	switch random.IntN(4) {
	case 0:
		b.Sensors[recipe.Weight] = recipe.SensorSpec{Fitted: true, Stale: 5 * time.Second, Every: 500 * time.Millisecond,
			Noise: between(2, 10) * 1e-6, Step: 1e-6, Lag: 2 * time.Second, Drift: between(-2, 2) * 1e-6 / 3600}
	case 1:
		b.Sensors[recipe.AirOut] = heat(8)
		b.Fan.Through = between(0.3e-3, 1e-3)
		if random.IntN(2) == 0 {
			damp := recipe.SensorSpec{Fitted: true, Stale: 5 * time.Second, Every: time.Second, Noise: between(0.001, 0.004),
				Step: 0.0001, Lag: 8 * time.Second}
			b.Sensors[recipe.AirInRH], b.Sensors[recipe.AirOutRH] = damp, damp
		}
	default:
		b.Sensors[recipe.Surface] = heat(20)
	}
	// The vapour that so little air leaves is not what is tested here.
	b.Sensors[recipe.Vapour] = recipe.SensorSpec{}
	return b
}

// runDrying runs a cycle, and goes on with the fan until the liner is truly dry.
func runDrying(p *controller.Program, b *Bench, seed uint64, liquid string) dried {
	d := dried{seed: seed, liquid: liquid}
	var s controller.State
	var in controller.Inputs
	var out controller.Outputs
	type guess struct{ at, low, high time.Duration }
	var guesses []guess
	began, wet := time.Duration(-1), 0.0
	for ; in.Now < 60*time.Hour; in.Now += campaignTick {
		in.Readings, _ = b.Read(in.Now)
		in.Command = controller.Command{}
		if s.Cycle == controller.Idle && in.Now >= 2*time.Second && p.ReadsDry(&s) == 0 {
			in.Command = controller.Command{Order: controller.Start, Looked: true}
		}
		was := s
		s, out = p.Step(s, in)
		in.DriveFailed = b.Drive(in.Now, out.Levels) != nil
		if began < 0 && s.Cycle == controller.Running && p.Kind(s.Stage) == recipe.Dry {
			began, wet = in.Now, b.Truth().Liner
		}
		if s.Cycle.Ended() || s.Cycle == controller.Held {
			d.evidence, d.took, d.cause = s.Drying.Evidence, s.Drying.Took, s.Cause
			break
		}
		if began < 0 || in.Now%time.Second != 0 {
			continue
		}
		if left := b.Truth().Liner / wet; d.truly == 0 && left <= isDry {
			d.truly = in.Now - began
		}
		if (in.Now-began)%(2*time.Minute) < time.Second && was.Stage == s.Stage {
			if l, ok := p.Left(&s); ok && !l.Never {
				minutes := func(x float64) time.Duration { return time.Duration(x * float64(time.Minute)) }
				at := in.Now - began
				guesses = append(guesses, guess{at, at + minutes(l.Low), at + minutes(l.High)})
			}
		}
	}
	d.left = b.Truth().Liner / wet
	for d.truly == 0 && in.Now < 80*time.Hour {
		in.Now += campaignTick
		_, _ = b.Read(in.Now)
		_ = b.Drive(in.Now, controller.Levels{Fan: 1})
		if b.Truth().Liner/wet <= isDry {
			d.truly = in.Now - began
		}
	}
	// Minutes are shown to the minute: half of one is no miss. What is dry already has nothing left.
	const rounded = 30 * time.Second
	for _, g := range guesses {
		d.inside[1]++
		if end := max(d.truly, g.at); g.low-rounded <= end && end <= g.high+rounded {
			d.inside[0]++
		}
	}
	return d
}
