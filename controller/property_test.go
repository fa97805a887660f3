package controller

import (
	"math"
	"testing"
	"time"

	"fullery/recipe"

	"pgregory.net/rapid"
)

// drawRecipe draws a recipe that the test bench can run.
func drawRecipe(t *rapid.T) recipe.Recipe {
	r := testRecipe(rapid.SampledFrom([]string{"water-detergent", "isopropanol-91", "ethanol-70"}).Draw(t, "liquid"))
	all := r.Stages
	r.Stages = nil
	n := rapid.IntRange(1, 5).Draw(t, "stages")
	for range n {
		s := all[rapid.IntRange(0, 4).Draw(t, "stage")]
		s.For = time.Duration(rapid.IntRange(1, 20).Draw(t, "for")) * time.Second
		s.Reverse = time.Duration(rapid.IntRange(0, 5).Draw(t, "reverse")) * time.Second
		s.Fan = rapid.SampledFrom([]float64{0, 0.5, 1}).Draw(t, "fan")
		r.Stages = append(r.Stages, s)
	}
	dry := all[5]
	dry.AtMost = time.Duration(rapid.IntRange(1, 60).Draw(t, "at most")) * time.Minute
	r.Stages = append(r.Stages, dry)
	r.Repeat = rapid.IntRange(1, 3).Draw(t, "repeat")
	r.Limits.Liquid = rapid.Float64Range(0.1, 60).Draw(t, "limit") * mL
	return r
}

// drawTwist draws something wrong, or nothing.
func drawTwist(t *rapid.T) func(*Inputs) {
	s := recipe.Sensor(rapid.IntRange(0, int(recipe.NumSensors)-1).Draw(t, "sensor"))
	x := rapid.SampledFrom([]float64{0, 1, -1, 0.3, 280, 330, 1e9, math.NaN(), math.Inf(1)}).Draw(t, "value")
	switch rapid.IntRange(0, 9).Draw(t, "kind of trouble") {
	case 0:
		return func(in *Inputs) { in.Readings[s].Value = x }
	case 1:
		return func(in *Inputs) { in.Readings[s].Quality = Quality(rapid.IntRange(0, 3).Draw(t, "quality")) }
	case 2:
		return func(in *Inputs) { in.Readings[s].Age = time.Minute }
	case 3:
		return func(in *Inputs) { in.RecordFailing = true }
	case 4:
		return func(in *Inputs) { in.DriveFailed = true }
	default:
		return nil
	}
}

// TestInvariantsHold: random recipes, random orders, random troubles and random clocks keep every invariant.
func TestInvariantsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := Compile(drawRecipe(t), testBench())
		if err != nil {
			t.Skip("this bench cannot run the recipe that was drawn:", err)
		}
		u := newPuppet(p)
		u.tick()
		u.order(Start)
		for range rapid.IntRange(1, 40).Draw(t, "phases") {
			u.twist = drawTwist(t)
			c := Command{Order: Order(rapid.IntRange(0, int(numOrders)-1).Draw(t, "order")), Looked: rapid.Bool().Draw(t, "looked")}
			dt := time.Duration(rapid.SampledFrom([]int{0, 1, 49, 50, 60, 249, 251, 5000}).Draw(t, "dt")) * time.Millisecond
			for i := range rapid.IntRange(1, 400).Draw(t, "ticks") {
				before := u.s
				if i > 0 {
					c, dt = Command{}, p.timing.tick
				}
				u.step(dt, c)
				if said := (edge{p, before, u.in, u.s, u.out}).broken(); said != "" {
					t.Fatal(said)
				}
			}
		}
	})
}

// FuzzStep: no inputs, however mangled, break an invariant or make Step panic.
func FuzzStep(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6, 7, 8}, uint8(1))
	f.Add([]byte{0, 0, 0, 0, 9, 9, 200, 255, 17, 33, 2, 1}, uint8(0))
	f.Fuzz(func(t *testing.T, script []byte, liquid uint8) {
		name := []string{"water-detergent", "isopropanol-91"}[liquid%2]
		p := mustCompile(t, testRecipe(name), testBench())
		u := newPuppet(p)
		u.tick()
		u.order(Start)
		for i := 0; i+3 < len(script); i += 4 {
			order, sensor, how, ticks := script[i], script[i+1], script[i+2], script[i+3]
			u.twist = func(in *Inputs) {
				r := &in.Readings[int(sensor)%len(in.Readings)]
				r.Quality = Quality(how % 5)
				r.Value *= float64(int8(how)) / 16
				r.Age = time.Duration(how) * 20 * time.Millisecond
			}
			c := Command{Order: Order(order % 10), Looked: order > 127}
			for range int(ticks) + 1 {
				before := u.s
				u.step(p.timing.tick, c)
				if said := (edge{p, before, u.in, u.s, u.out}).broken(); said != "" {
					t.Fatal(said)
				}
				c = Command{}
			}
		}
	})
}

// TestQuietStepAllocatesNothing, and the step that trips a guard does not either.
func TestStepAllocatesNothing(t *testing.T) {
	u := newPuppet(mustCompile(t, testRecipe("water-detergent"), testBench()))
	u.toStage(t, recipe.Scrub)
	for _, lid := range []float64{1, 0} {
		in := u.in
		in.Readings[recipe.Lid].Value = lid
		s := u.s
		if n := testing.AllocsPerRun(100, func() { u.p.Step(s, in) }); n != 0 {
			t.Errorf("lid %g: %g allocations", lid, n)
		}
	}
}

// BenchmarkStep is the quiet path: a scrub in which nothing happens.
func BenchmarkStep(b *testing.B) {
	u := newPuppet(mustCompile(b, testRecipe("water-detergent"), testBench()))
	u.toStage(b, recipe.Scrub)
	s, in := u.s, u.in
	b.ReportAllocs()
	for b.Loop() {
		in.Now = s.Last + u.p.timing.tick
		next, _ := u.p.Step(s, in)
		_ = next
	}
}
