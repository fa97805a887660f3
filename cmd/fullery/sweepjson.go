package main

import (
	"math"

	"fullery/controller/sweep"
)

// timesJSON: a figure is null where a draw that was cut short stands.
type timesJSON struct {
	Median *float64 `json:"median"`
	Low    *float64 `json:"low"`
	High   *float64 `json:"high"`
}

// candidateJSON: what is null is left as the recipe has it; warm_c is null for air that is not warmed as well.
// peak_percent_lfl is null where nothing burns. beaten_by is null for what nothing beats, and for what completed nowhere.
type candidateJSON struct {
	Number       int       `json:"number"`
	AsRecipe     bool      `json:"as_recipe"`
	Strength     *float64  `json:"strength_percent"`
	Scrub        *float64  `json:"scrub_s"`
	Fan          *float64  `json:"fan_percent"`
	Warm         *float64  `json:"warm_c"`
	SpinOut      *float64  `json:"spin_out_s"`
	Minutes      timesJSON `json:"minutes"`
	LiquidML     float64   `json:"liquid_ml"`
	Peak         *float64  `json:"peak_percent_lfl"`
	WarmestC     float64   `json:"warmest_c"`
	RubbingM     float64   `json:"rubbing_m"`
	Damp         int       `json:"damp"`
	CutShort     int       `json:"cut_short"`
	CutShortBy   string    `json:"cut_short_by,omitempty"`
	Unproven     int       `json:"unproven"`
	NotDominated bool      `json:"not_dominated"`
	BeatenBy     *int      `json:"beaten_by"`
}

type sweepJSON struct {
	Recipe      string          `json:"recipe"`
	Title       string          `json:"title"`
	Bench       string          `json:"bench"`
	Simulated   bool            `json:"simulated"`
	Liquid      string          `json:"liquid"`
	Rinse       string          `json:"rinse,omitempty"`
	Draws       int             `json:"draws"`
	Seed        uint64          `json:"seed"`
	Choices     int             `json:"choices"`
	Cycles      int             `json:"cycles"`
	CyclesRun   int             `json:"cycles_run"`
	Interrupted bool            `json:"interrupted"`
	Basis       string          `json:"basis"`
	Fit         *int64          `json:"fit"`
	KeptML      spreadJSON      `json:"kept_ml"`
	Exposure    spreadJSON      `json:"exposure"`
	Candidates  []candidateJSON `json:"candidates"`
	Skipped     []leftOutJSON   `json:"skipped"`
	Notes       []string        `json:"notes"`
}

// json is the answer for programs: every finished choice, beaten or not.
func (s *sweeping) json() sweepJSON {
	f := s.found()
	kept, exposure, _ := s.dries()
	out := sweepJSON{Recipe: s.recipe.Name, Title: s.recipe.Title, Bench: s.bench.Name, Simulated: s.bench.Simulated,
		Liquid: s.recipe.Liquid, Rinse: s.recipe.Rinse, Draws: s.flags.draws, Seed: s.flags.seed, Choices: len(s.candidates),
		Cycles: s.cycles(), CyclesRun: s.ran, Interrupted: s.finished < len(s.candidates), Basis: s.basis(),
		KeptML: spreadOf(kept, 1e6, 1e-4), Exposure: spreadOf(exposure, 1, 1e-4), Candidates: []candidateJSON{},
		Skipped: s.leftOut(), Notes: s.notes(f)}
	if s.known != nil {
		out.Fit = &s.known.Number
	}
	front := map[int]bool{}
	for _, i := range f.front {
		front[i] = true
	}
	for _, i := range f.all {
		c := s.candidateJSON(i, f.burns)
		c.NotDominated = front[i]
		if by, ok := f.beaten[i]; ok {
			c.BeatenBy = &by
		}
		out.Candidates = append(out.Candidates, c)
	}
	return out
}

// candidateJSON has the digits of the file's rows, so that both say the same.
func (s *sweeping) candidateJSON(i int, burns bool) candidateJSON {
	x := s.results[i]
	value := func(a sweep.Axis) *float64 {
		if v, ok := choiceNumber(a, x.Choice[a]); ok {
			return rounded(v, 1e-3)
		}
		return nil
	}
	f := x.Figures
	c := candidateJSON{Number: i, AsRecipe: i == 0, Strength: value(sweep.Strength), Scrub: value(sweep.Scrub), Fan: value(sweep.Fan),
		Warm: value(sweep.Warm), SpinOut: value(sweep.SpinOut),
		Minutes:  timesJSON{rounded(f.Minutes.Median, 1e-4), rounded(f.Minutes.Low, 1e-4), rounded(f.Minutes.High, 1e-4)},
		LiquidML: roundTo(f.Liquid*1e6, 1e-4), WarmestC: roundTo(celsiusOf(f.Warmest), 1e-3), RubbingM: roundTo(f.Slide, 1e-3),
		Damp: f.Damp, CutShort: f.CutShort, CutShortBy: f.Cause, Unproven: f.Unproven}
	if burns {
		c.Peak = rounded(math.Max(f.Peak, 0)*100, 1e-3)
	}
	return c
}
