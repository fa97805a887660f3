package main

import (
	"fmt"
	"math"

	"fullery/recipe/endpoint"
)

// traceJSON is the answer. DryS is null when it never was called dry; then Reason says why.
type traceJSON struct {
	DryS      *float64     `json:"dry_s"`
	Evidence  string       `json:"evidence"`
	Reason    string       `json:"reason,omitempty"`
	Liquid    string       `json:"liquid"`
	Flow      string       `json:"flow"`
	Sights    []sightJSON  `json:"sights"`
	Estimates []momentJSON `json:"estimates"`
	Notes     []string     `json:"notes"`
}

// sightJSON is what one kind of evidence could see. Figures are in Unit, and null where it was not in the file.
type sightJSON struct {
	Evidence string   `json:"evidence"`
	InFile   bool     `json:"in_file"`
	Visible  bool     `json:"visible"`
	Unit     string   `json:"unit"`
	Peak     *float64 `json:"peak"`
	AtLimit  *float64 `json:"at_2_percent"`
	Error    *float64 `json:"error"`
	Says     string   `json:"says"`
}

// momentJSON is what was thought at one moment. LeftMin is null when it never gets dry, LeftShare while nothing shows it.
type momentJSON struct {
	TS        float64     `json:"t_s"`
	LeftMin   *spreadJSON `json:"left_min"`
	LeftShare *float64    `json:"left_share"`
	Evidence  string      `json:"evidence"`
}

// mostEstimates is how many estimates are printed at most.
const mostEstimates = 200

// json is the answer for a program. Figures are rounded to what they are worth.
func (t *traced) json() traceJSON {
	o := t.out
	out := traceJSON{Reason: o.Reason, Liquid: t.of.Liquid.Name, Flow: fmt.Sprintf("%.6g L/s", t.of.Flow*1e3), Notes: t.notes}
	if o.By != endpoint.NoEvidence {
		seconds := roundTo(o.Seconds, 1e-3)
		out.DryS, out.Evidence = &seconds, o.By.String()
	}
	for _, s := range t.plan.Sights {
		out.Sights = append(out.Sights, sightOf(s))
	}
	for _, m := range thinned(o.Moments, mostEstimates) {
		out.Estimates = append(out.Estimates, momentOf(m))
	}
	return out
}

// unitOf is the unit of a kind's signal on screens, and how many of it are one in SI.
func unitOf(e endpoint.Evidence) (unit string, per float64) {
	switch e {
	case endpoint.ByWeight:
		return "mg", 1e6
	case endpoint.ByDrag:
		return "1/s", 1
	default:
		return "K", 1
	}
}

// sightOf leaves the figures out where there was nothing to see with: a zero would look like a reading.
func sightOf(s endpoint.Sight) sightJSON {
	unit, per := unitOf(s.Evidence)
	out := sightJSON{Evidence: s.Evidence.String(), InFile: s.Fitted, Visible: s.Visible, Unit: unit, Says: s.SayInFile()}
	if s.Fitted {
		figure := func(x float64) *float64 { y := roundTo(x*per, 1e-4); return &y }
		out.Peak, out.AtLimit, out.Error = figure(s.Peak), figure(s.AtLimit), figure(s.Error)
	}
	return out
}

// momentOf is one estimate.
func momentOf(m endpoint.Moment) momentJSON {
	out := momentJSON{TS: roundTo(m.Seconds, 1e-3), Evidence: m.By.String()}
	if !m.Left.Never {
		minutes := spreadOf(m.Left.Spread, 1, 0.01)
		out.LeftMin = &minutes
	}
	if !math.IsNaN(m.Share) {
		share := roundTo(m.Share, 1e-4)
		out.LeftShare = &share
	}
	return out
}
