package main

import (
	"math"

	"fullery/recipe/drying"
	"fullery/recipe/forecast"
	"fullery/recipe/liquid"
)

type spreadJSON struct {
	Median float64 `json:"median"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

type planStageJSON struct {
	Do          string   `json:"do"`
	Pass        int      `json:"pass"`
	PlannedS    float64  `json:"planned_s"`
	AtMostS     float64  `json:"at_most_s"`
	LiquidML    float64  `json:"liquid_ml"`
	Evidence    string   `json:"evidence,omitempty"`
	DuctPercent *float64 `json:"duct_percent_lfl,omitempty"`
}

// planDryJSON: minutes is null when it never gets dry.
type planDryJSON struct {
	Minutes  *spreadJSON `json:"minutes"`
	Evidence string      `json:"evidence"`
	Blushing bool        `json:"blushing"`
	Basis    string      `json:"basis"`
	Notes    []string    `json:"notes"`
}

type ductJSON struct {
	PeakPercent float64          `json:"peak_percent_lfl"`
	AtS         float64          `json:"at_s"`
	Stage       string           `json:"stage"`
	WarnPercent float64          `json:"warn_percent_lfl"`
	StopPercent float64          `json:"stop_percent_lfl"`
	LFLPercent  float64          `json:"lfl_percent_by_volume"`
	LFLSource   string           `json:"lfl_source"`
	Curve       []ductSampleJSON `json:"curve"`
}

type ductSampleJSON struct {
	S       float64 `json:"t_s"`
	Percent float64 `json:"percent_lfl"`
}

type roomSampleJSON struct {
	S   float64 `json:"t_s"`
	PPM float64 `json:"ppm"`
}

// curvePoints is how many points of a curve are printed, at most.
const curvePoints = 120

type limitJSON struct {
	Name     string  `json:"name"`
	PPM      float64 `json:"ppm"`
	Averaged string  `json:"averaged"`
	Source   string  `json:"source"`
}

type breathedJSON struct {
	PeakPPM    float64 `json:"peak_ppm"`
	QuarterPPM float64 `json:"mean_15min_ppm"`
	DayPPM     float64 `json:"mean_8h_ppm"`
}

type workDayJSON struct {
	Cycles int `json:"cycles"`
	breathedJSON
}

// roomJSON has the figures of one cycle, and in workday those of as many as go into eight hours.
type roomJSON struct {
	breathedJSON
	WorkDay    workDayJSON      `json:"workday"`
	VolumeM3   float64          `json:"volume_m3"`
	Changes    float64          `json:"air_changes_per_h"`
	ReferenceC float64          `json:"reference_c"`
	PerPPM     float64          `json:"mg_m3_per_ppm"`
	Limits     []limitJSON      `json:"limits"`
	Curve      []roomSampleJSON `json:"curve"`
}

// spillJSON: airing_min is null in a sealed room.
type spillJSON struct {
	PPM        float64  `json:"ppm"`
	Percent    float64  `json:"percent_lfl"`
	LiquidML   float64  `json:"liquid_ml"`
	ReferenceC float64  `json:"reference_c"`
	AiringMin  *float64 `json:"airing_min"`
}

// neededJSON: null where nothing reaches the figure.
type neededJSON struct {
	DuctPercent float64  `json:"duct_below_percent_lfl"`
	ThroughLS   *float64 `json:"through_l_s"`
	RoomPPM     float64  `json:"room_below_ppm"`
	Changes     *float64 `json:"air_changes_per_h"`
}

// flowJSON: dry_min is null when it never gets dry.
type flowJSON struct {
	ThroughLS float64  `json:"through_l_s"`
	DryMin    *float64 `json:"dry_min"`
	Percent   float64  `json:"duct_percent_lfl"`
	Evidence  string   `json:"evidence,omitempty"`
	Front     bool     `json:"not_dominated"`
}

type planJSON struct {
	Recipe      string          `json:"recipe"`
	Title       string          `json:"title"`
	Bench       string          `json:"bench"`
	Liquid      string          `json:"liquid"`
	Rinse       string          `json:"rinse,omitempty"`
	Flammable   bool            `json:"flammable"`
	TotalMin    spreadJSON      `json:"total_min"`
	AtMostMin   float64         `json:"at_most_min"`
	LiquidML    float64         `json:"liquid_ml"`
	LimitML     float64         `json:"limit_ml"`
	Stages      []planStageJSON `json:"stages"`
	Dry         *planDryJSON    `json:"dry"`
	Duct        *ductJSON       `json:"duct"`
	Room        *roomJSON       `json:"room"`
	Spill       *spillJSON      `json:"spill"`
	Needed      *neededJSON     `json:"needed,omitempty"`
	Flows       []flowJSON      `json:"flows,omitempty"`
	Heater      string          `json:"heater,omitempty"`
	Assumptions []string        `json:"assumptions,omitempty"`
	Cautions    []string        `json:"cautions"`
	Warnings    []string        `json:"warnings"`
}

func (p *plan) json() planJSON {
	r := p.program.Recipe()
	out := planJSON{Recipe: r.Name, Title: r.Title, Bench: p.program.Bench().Name, Liquid: r.Liquid, Rinse: r.Rinse,
		Flammable: p.program.Flammable(), TotalMin: tenths(p.f.Total), AtMostMin: tidy(p.most().Minutes(), 0.1),
		LiquidML: tidy(p.dose(), 1e-3), LimitML: tidy(r.Limits.Liquid*1e6, 1e-3), Cautions: cautions(r.Liquid, r.Rinse),
		Warnings: append([]string{}, p.warnings...)}
	for i, s := range p.stages {
		f := p.f.Stages[i]
		stage := planStageJSON{Do: s.Do.String(), Pass: s.Pass, PlannedS: tidy(f.Seconds.Median, 1), AtMostS: s.AtMost.Seconds(),
			LiquidML: s.Liquid * 1e6, Evidence: s.Evidence.String()}
		if p.f.Vapour != nil {
			stage.DuctPercent = rounded(f.OfLimit*100, 0.1)
		}
		out.Stages = append(out.Stages, stage)
	}
	if d := p.f.Dry; d != nil {
		out.Dry = &planDryJSON{Evidence: p.evidence(), Blushing: d.Blushing, Basis: d.Basis, Notes: append([]string{}, d.Notes...)}
		if !d.Never {
			minutes := tenths(d.Minutes)
			out.Dry.Minutes = &minutes
		}
	}
	if v := p.f.Vapour; v != nil {
		p.vapourJSON(&out, v)
	}
	return out
}

func (p *plan) vapourJSON(out *planJSON, v *forecast.Vapour) {
	out.Duct = &ductJSON{PeakPercent: tidy(v.Duct.OfLimit*100, 0.1), AtS: tidy(v.Duct.At, 1), Stage: p.program.StageName(v.Duct.Stage),
		WarnPercent: forecast.WarnAt * 100, StopPercent: forecast.StopAt * 100, LFLPercent: tidy(v.Limit.Fraction*100, 0.1),
		LFLSource: dated(v.Limit.Source, v.Limit.Date)}
	for _, s := range forecast.Thin(v.Duct.Curve, curvePoints) {
		out.Duct.Curve = append(out.Duct.Curve, ductSampleJSON{tidy(s.Seconds, 0.1), tidy(s.Value*100, 0.01)})
	}
	r := v.Room
	out.Room = &roomJSON{breathedJSON: breathed(r.Cycle), WorkDay: workDayJSON{r.Cycles, breathed(r.WorkDay)}, VolumeM3: r.Box.Volume,
		Changes: tidy(r.Box.Changes*3600, 0.01), ReferenceC: tidy(r.Kelvin-273.15, 0.1), PerPPM: tidy(r.Milligram, 1e-3)}
	for _, e := range r.Limits {
		out.Room.Limits = append(out.Room.Limits, limitJSON{e.Name, e.PPM, e.Averaged, dated(e.Source, e.Date)})
	}
	for _, s := range forecast.Thin(r.Curve, curvePoints) {
		out.Room.Curve = append(out.Room.Curve, roomSampleJSON{tidy(s.Seconds, 0.1), tidy(s.Value, 0.01)})
	}
	s := v.Spill
	out.Spill = &spillJSON{PPM: tidy(s.PPM, 1), Percent: tidy(s.OfLimit*100, 0.1), LiquidML: tidy(s.Liquid*1e6, 1),
		ReferenceC: tidy(s.Kelvin-273.15, 0.1), AiringMin: rounded(s.Airing/60, 1)}
	n := v.Need
	out.Needed = &neededJSON{DuctPercent: tidy(n.Duct*100, 0.1), RoomPPM: n.PPM}
	if n.ThroughOK {
		out.Needed.ThroughLS = rounded(upwards(n.Through*1e3, 0.1), 0.1)
	}
	if n.ChangesOK {
		out.Needed.Changes = rounded(upwards(n.Changes*3600, 0.01), 0.01)
	}
	for _, f := range v.Flows {
		out.Flows = append(out.Flows, flowJSON{tidy(f.Through*1e3, 0.01), rounded(f.Minutes, 0.1), tidy(f.OfLimit*100, 0.1), f.Rests, f.Front})
	}
	out.Heater, out.Assumptions = v.Heater, v.Assumptions
}

func breathed(b forecast.Breathed) breathedJSON {
	return breathedJSON{tidy(b.Peak, 0.1), tidy(b.Quarter, 0.1), tidy(b.Day, 0.1)}
}

func tenths(s drying.Spread) spreadJSON {
	return spreadJSON{tidy(s.Median, 0.1), tidy(s.Low, 0.1), tidy(s.High, 0.1)}
}

// rounded is tidy, or nil for what is infinite.
func rounded(x, step float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	y := tidy(x, step)
	return &y
}

// upwards rounds what is needed to the next step above, so that what is printed is enough.
func upwards(x, step float64) float64 { return math.Ceil(x/step-1e-6) * step }

func dated(source, date string) string {
	if date == "" {
		return source
	}
	return source + ", " + date
}

// exposureWords lists published figures: "NIOSH REL 400 (working day)".
func exposureWords(e liquid.Exposure) string {
	return e.Name + " " + tenth(e.PPM) + " (" + e.Averaged + ")"
}
