package main

import (
	"cmp"
	"fmt"
	"slices"

	"fullery/cmd/fullery/draw"
	"fullery/recipe/forecast"
	"fullery/recipe/liquid"
)

// picture draws the vapour of the cycle through time.
func (p *plan) picture() ([]byte, error) {
	r, v := p.program.Recipe(), p.f.Vapour
	if v == nil {
		return nil, fmt.Errorf("%s uses nothing that burns, so that there is no vapour to draw; for the curve of its drying: "+
			"fullery dry estimate --liquid %s --plot FILE.svg", r.Name, cmp.Or(r.Rinse, r.Liquid, "water"))
	}
	plot := draw.VapourPlot{Title: fmt.Sprintf("%s, bench %s: computed vapour", r.Title, p.program.Bench().Name),
		Subtitle: fmt.Sprintf("%.3g L/s through the duct at full fan, %s. Computed, not measured. The safety data sheet of your "+
			"product, local rules and qualified people come first.", p.program.Bench().Fan.Through*1e3, roomWords(v.Room.Box)),
		Duct: p.ductPanel(v), Room: roomPanel(v)}
	for i, s := range p.f.Stages {
		minutes := s.Seconds.Median / 60
		plot.Stages = append(plot.Stages, draw.VapourStage{Name: p.program.StageName(i), Minutes: minutes})
		plot.Cycle += minutes
	}
	return plot.SVG(), nil
}

func (p *plan) ductPanel(v *forecast.Vapour) draw.VapourPanel {
	panel := draw.VapourPanel{Unit: "% of the limit", Across: "time of the cycle / min", Least: forecast.StopAt * 110,
		Head: fmt.Sprintf("Duct: at most %.0f %% of the lower flammable limit, %s in %s", v.Duct.OfLimit*100,
			afterWords(v.Duct.At/60), p.program.StageName(v.Duct.Stage)),
		Levels: []draw.Level{{Value: forecast.WarnAt * 100, Words: fmt.Sprintf("%.0f %%: worth a warning", forecast.WarnAt*100)},
			{Value: forecast.StopAt * 100, Words: fmt.Sprintf("%.0f %%: where to stop", forecast.StopAt*100)}}}
	panel.Minutes, panel.Values = drawn(v.Duct.Curve, 100)
	return panel
}

func afterWords(minutes float64) string {
	if minutes < 0.05 {
		return "at the very start,"
	}
	return fmt.Sprintf("after %.1f min", minutes)
}

func roomPanel(v *forecast.Vapour) draw.VapourPanel {
	r := v.Room
	panel := draw.VapourPanel{Unit: "ppm", Across: "time of the cycle and the hour after / min", Levels: exposureLevels(r.Limits),
		Head: fmt.Sprintf("Room: one cycle into clean air makes at most %.0f ppm, and %.0f ppm as a 15 minute mean", r.Cycle.Peak, r.Cycle.Quarter)}
	if r.Cycles > 1 {
		panel.Head += fmt.Sprintf("; %d without a pause in 8 h make at most %.0f ppm", r.Cycles, r.WorkDay.Peak)
	}
	if len(panel.Levels) > 0 {
		panel.Least = panel.Levels[0].Value * 1.3
	}
	panel.Minutes, panel.Values = drawn(r.Curve, 1)
	return panel
}

// exposureLevels are the published figures, one line for all of the same height.
func exposureLevels(limits []liquid.Exposure) (levels []draw.Level) {
	limits = slices.Clone(limits)
	slices.SortStableFunc(limits, func(a, b liquid.Exposure) int { return cmp.Compare(a.PPM, b.PPM) })
	for _, e := range limits {
		words := e.Name + " (" + e.Averaged + ")"
		if n := len(levels); n > 0 && levels[n-1].Value == e.PPM {
			levels[n-1].Words += ", " + words
			continue
		}
		levels = append(levels, draw.Level{Value: e.PPM, Words: tenth(e.PPM) + " ppm: " + words})
	}
	return levels
}

// drawnPoints is how many points of a curve are drawn; more would only make the file large.
const drawnPoints = 300

// drawn is a curve as the picture takes it: minutes, and so many times the value.
func drawn(curve []forecast.Sample, times float64) (minutes, values []float64) {
	for _, s := range forecast.Thin(curve, drawnPoints) {
		minutes, values = append(minutes, s.Seconds/60), append(values, s.Value*times)
	}
	return minutes, values
}
