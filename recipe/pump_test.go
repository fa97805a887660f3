package recipe

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

var threePoints = Pump{Curve: []PumpPoint{{0.2, 2}, {0.6, 8}, {1, 12}}}

func TestDutyFor(t *testing.T) {
	for flow, want := range map[float64]float64{2: 0.2, 5: 0.4, 8: 0.6, 10: 0.8, 12: 1} {
		if got, ok := threePoints.DutyFor(flow); !ok || math.Abs(got-want) > 1e-12 {
			t.Errorf("a flow of %v needs %v, %v; want %v", flow, got, ok, want)
		}
	}
	for _, flow := range []float64{0, 1.999, 12.001, -1, math.Inf(1), math.NaN()} {
		if got, ok := threePoints.DutyFor(flow); ok || got != 0 {
			t.Errorf("a flow of %v, never measured, is given %v, %v", flow, got, ok)
		}
	}
	if _, ok := (Pump{}).DutyFor(1); ok {
		t.Error("no pump gives a flow")
	}
	if got, ok := (Pump{Curve: []PumpPoint{{0.5, 3}}}).DutyFor(3); !ok || got != 0.5 {
		t.Errorf("a single point gives %v, %v", got, ok)
	}
}

func TestFlowAt(t *testing.T) {
	for duty, want := range map[float64]float64{-1: 0, 0: 0, 0.1: 2, 0.2: 2, 0.4: 5, 0.6: 8, 0.8: 10, 1: 12, 1.5: 12} {
		if got := threePoints.FlowAt(duty); math.Abs(got-want) > 1e-12 {
			t.Errorf("a duty of %v gives %v, want %v", duty, got, want)
		}
	}
	if got := (Pump{}).FlowAt(0.5); got != 0 {
		t.Errorf("no pump gives %v", got)
	}
}

func TestRange(t *testing.T) {
	if least, most := threePoints.Range(); least != 2 || most != 12 {
		t.Errorf("range %v to %v", least, most)
	}
	if least, most := (Pump{}).Range(); least != 0 || most != 0 {
		t.Errorf("no pump: %v to %v", least, most)
	}
}

// The two directions of a curve undo each other within its range.
func TestCurveThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p Pump
		duty, flow := 0.0, 0.0
		for range rapid.IntRange(2, 6).Draw(t, "points") {
			duty += rapid.Float64Range(0.01, 0.15).Draw(t, "duty")
			flow += rapid.Float64Range(0.01, 9).Draw(t, "flow")
			p.Curve = append(p.Curve, PumpPoint{duty, flow})
		}
		least, most := p.Range()
		want := least + (most-least)*rapid.Float64Range(0, 1).Draw(t, "asked")
		d, ok := p.DutyFor(min(want, most))
		if got := p.FlowAt(d); !ok || math.Abs(got-want) > 1e-9 {
			t.Fatalf("asked %v, duty %v (%v), given %v", want, d, ok, got)
		}
	})
}
