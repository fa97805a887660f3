package forecast

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

var someSpans = rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Span {
	return Span{Seconds: rapid.Float64Range(0, 4000).Draw(t, "seconds"), Vapour: rapid.Float64Range(0, 1e-5).Draw(t, "vapour")}
}), 1, 12)

func someBox(t *rapid.T) Box {
	return Box{Volume: rapid.Float64Range(1, 1000).Draw(t, "volume"),
		Changes: rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(1e-9, 0.03)).Draw(t, "changes")}
}

// euler follows the same room in small steps: a second way that shares nothing with the closed form.
func euler(b Box, spans []Span, tail, step float64) (share []float64) {
	c := 0.0
	for _, s := range append(append([]Span{}, spans...), Span{Seconds: tail}) {
		for range int(math.Round(s.Seconds / step)) {
			share = append(share, c)
			mid := c + step/2*(s.Vapour/b.Volume-b.Changes*c)
			c += step * (s.Vapour/b.Volume - b.Changes*mid)
		}
	}
	return append(share, c)
}

func TestAirAgainstSmallSteps(t *testing.T) {
	for _, b := range []Box{{30, hourly}, {30, 0}, {12, 10 * hourly}} {
		spans := []Span{{120, 3e-6}, {60, 0}, {900, 1e-6}, {300, 5e-6}, {30, 0}}
		a, want := b.Over(spans), euler(b, spans, 1200, 1)
		peak, worst := 0.0, 0.0
		for i, c := range want {
			peak = max(peak, c)
			sum := 0.0
			for j := i; j < i+900 && j+1 < len(want); j++ {
				sum += (want[j] + want[j+1]) / 2
			}
			worst = max(worst, sum/900)
		}
		near(t, "peak", a.Peak(), peak, 1e-4)
		near(t, "worst 15 minutes", a.WorstMean(900), worst, 1e-4)
	}
}

// What the air changes carry off and what is left is what came in.
func TestMassBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, spans := someBox(t), someSpans.Draw(t, "spans")
		came, over := 0.0, 0.0
		for _, s := range spans {
			came += s.Vapour * s.Seconds
			over += s.Seconds
		}
		left, integral := b.Over(spans).at(over)
		went := b.Changes * b.Volume * integral
		if got := left*b.Volume + went; math.Abs(got-came) > 1e-9*came+1e-15 {
			t.Fatalf("%g came, %g left or went", came, got)
		}
	})
}

func TestMeansAreOrdered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, spans := someBox(t), someSpans.Draw(t, "spans")
		a := b.Over(spans)
		short, long, peak := a.WorstMean(900), a.WorstMean(8*3600), a.Peak()
		if slack := 1 + 1e-9; long > short*slack+1e-18 || short > peak*slack+1e-18 {
			t.Fatalf("8 h %g, 15 min %g, peak %g", long, short, peak)
		}
		more := Box{b.Volume, b.Changes*1.5 + 1e-6}.Over(spans)
		if more.WorstMean(900) > short*(1+1e-9) || more.Peak() > peak*(1+1e-9) {
			t.Fatal("more air changes leave more in the air")
		}
		larger := Box{b.Volume * 2, b.Changes}.Over(spans)
		near2 := math.Abs(larger.WorstMean(900)*2 - short)
		if near2 > 1e-9*short+1e-18 {
			t.Fatal("twice the room is not half the share")
		}
	})
}

// No stretch that is looked at has a larger mean than the worst.
func TestWorstMeanIsWorst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, spans := someBox(t), someSpans.Draw(t, "spans")
		a, window := b.Over(spans), rapid.Float64Range(10, 20000).Draw(t, "window")
		worst := a.WorstMean(window)
		from := rapid.Float64Range(0, 50000).Draw(t, "from")
		_, before := a.at(from)
		_, after := a.at(from + window)
		if mean := (after - before) / window; mean > worst*(1+1e-7)+1e-15 {
			t.Fatalf("mean %g from %g s on is above the worst, %g", mean, from, worst)
		}
	})
}

// One source that stops: the worst stretch straddles its end, and c(t) = c(t + w) there has a closed form.
func TestWorstMeanClosedForm(t *testing.T) {
	b, long, w, g := Box{30, 2 * hourly}, 600.0, 900.0, 2e-6
	a := b.Over([]Span{{long, g}})
	// Rise 1 − e^(−at) meets fall (1 − e^(−aL))·e^(−a(t+w−L)).
	at := -math.Log(1/(1+(1-math.Exp(-b.Changes*long))*math.Exp(-b.Changes*(w-long)))) / b.Changes
	_, before := a.at(at)
	_, after := a.at(at + w)
	near(t, "mean", a.WorstMean(w), (after-before)/w, 1e-12)
	if head, _ := a.at(at + w); math.Abs(head-a.box.After(0, g, at)) > 1e-12 {
		t.Errorf("head %g and tail differ: the test's own closed form is wrong", head)
	}
}

func TestFadingSeries(t *testing.T) {
	for _, x := range []float64{0.00999999, 0.01} {
		one, two := fading(x)
		near(t, "one", one, -math.Expm1(-x)/x, 1e-14)
		near(t, "two", two, (1+math.Expm1(-x)/x)/x, 1e-12)
	}
	if one, two := fading(0); one != 1 || two != 0.5 {
		t.Errorf("at nothing %g, %g", one, two)
	}
}
