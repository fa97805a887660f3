package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"fullery/controller"
	"fullery/disks/record"
	"fullery/recipe"
)

type stageJSON struct {
	Do       string  `json:"do"`
	PlannedS float64 `json:"planned_s"`
	ActualS  float64 `json:"actual_s"`
	Ended    string  `json:"ended"`
}

type trippedJSON struct {
	ID       string  `json:"id"`
	AtS      float64 `json:"at_s"`
	Stage    string  `json:"stage"`
	Response string  `json:"response"`
	Said     string  `json:"said"`
}

type padsJSON struct {
	FrontKPa *float64 `json:"front_kpa"`
	BackKPa  *float64 `json:"back_kpa"`
}

type dryJSON struct {
	Minutes  *float64 `json:"minutes"`
	Evidence string   `json:"evidence"`
	// Interrupted: the cycle was held meanwhile, so minutes is not the whole drying.
	Interrupted bool `json:"interrupted,omitempty"`
}

// runJSON is the summary of a cycle. What was not measured is null.
type runJSON struct {
	Cycle     int64         `json:"cycle"`
	Recipe    string        `json:"recipe"`
	Liquid    string        `json:"liquid"`
	Rinse     string        `json:"rinse,omitempty"`
	Bench     string        `json:"bench"`
	Simulated bool          `json:"simulated"`
	Disk      string        `json:"disk"`
	State     string        `json:"state"`
	Reason    string        `json:"reason"`
	Stages    []stageJSON   `json:"stages"`
	LiquidML  float64       `json:"liquid_ml"`
	Pads      padsJSON      `json:"pads"`
	Dry       dryJSON       `json:"dry"`
	Guards    []trippedJSON `json:"guards"`
	Record    string        `json:"record"`
	Continues int64         `json:"continues,omitempty"`
	Attention string        `json:"attention,omitempty"`
	Lost      int           `json:"record_lost"`
}

// report prints what came of the cycle, and returns the exit status as an error.
func (j *job) report(out io.Writer, u *controller.Summary) error {
	sum := j.summarise(u)
	var err error
	if j.flags.json {
		err = writeJSON(out, sum)
	} else {
		j.printSummary(out, u, sum)
	}
	switch {
	case u.Final.Cycle == controller.Complete, u.Final.Cycle == controller.Stopped && j.ends():
		return err
	case u.ByGuard():
		return errors.Join(withStatus(statusGuard, nil), err)
	default:
		return errors.Join(withStatus(statusNo, nil), err)
	}
}

// ends tells whether all that was asked was to end a cycle that was cut short.
func (j *job) ends() bool { return j.cut != nil && record.Choice(j.flags.cut) == record.ToEnd }

func (j *job) summarise(u *controller.Summary) runJSON {
	r := j.program.Recipe()
	front, back := u.Pressure()
	sum := runJSON{
		Cycle: j.cycle.Number(), Recipe: r.Name, Liquid: r.Liquid, Rinse: r.Rinse, Bench: j.bench.Name,
		Simulated: j.bench.Simulated, Disk: j.flags.disk, State: u.Final.Cycle.String(), Reason: strings.TrimSpace(u.Reason() + j.unattended),
		LiquidML: tidy((u.Final.Dosed-j.start.Dosed)*1e6, 1e-3), Pads: padsJSON{tidied(pressureKPa(front)), tidied(pressureKPa(back))},
		Stages: []stageJSON{}, Guards: []trippedJSON{}, Record: j.record.Path(), Lost: j.cycle.Health().Lost,
	}
	if j.cut != nil {
		sum.Continues = j.cut.Number
	}
	sum.Attention = j.remains(u)
	if d := u.Final.Drying; d.Took > 0 {
		minutes := tidy(d.Took.Minutes(), 0.01)
		sum.Dry = dryJSON{&minutes, d.Evidence.String(), d.Broken}
	}
	for i, s := range u.Stages {
		if i < int(j.start.Stage) {
			s.Ended = controller.BeforeCut
		}
		sum.Stages = append(sum.Stages, stageJSON{s.Do.String(), s.Planned.Seconds(), tidy(s.Actual.Seconds(), 0.01), s.Ended.String()})
	}
	for _, g := range u.Guards {
		sum.Guards = append(sum.Guards, trippedJSON{g.Guard.String(), tidy(g.At.Seconds(), 0.01), u.Stages[g.Stage].Do.String(),
			g.Response.String(), g.Said})
	}
	return sum
}

// printSummary prints the summary for a person.
func (j *job) printSummary(w io.Writer, u *controller.Summary, sum runJSON) {
	fmt.Fprintf(w, "\nCycle %d: %s\n", sum.Cycle, sum.State)
	if sum.Reason != "" {
		fmt.Fprintln(w, wrap(sum.Reason, 96, "  "))
	}
	fmt.Fprintf(w, "  Recipe   %s on bench %q%s%s\n", sum.Recipe, sum.Bench, simulatedWord(sum.Simulated), diskWord(sum.Disk))
	if most := j.program.Recipe().Limits.Liquid; most > 0 {
		fmt.Fprintf(w, "  Liquid   %s of %s allowed\n", recipe.SayMillilitres(u.Final.Dosed), recipe.SayMillilitres(most))
	}
	if sum.Pads.FrontKPa != nil {
		low, high := j.program.PressureWindow()
		fmt.Fprintf(w, "  Pads     front %.2f kPa, back %.2f kPa, window %s to %s\n", *sum.Pads.FrontKPa, *sum.Pads.BackKPa,
			recipe.SayPressure(low), recipe.SayPressure(high))
	}
	if sum.Dry.Minutes != nil {
		fmt.Fprintf(w, "  Dry      after %.1f min, evidence: %s%s\n", *sum.Dry.Minutes, evidenceWords(sum.Dry.Evidence),
			brokenWord(sum.Dry.Interrupted))
	} else {
		fmt.Fprintln(w, "  Dry      not shown to be dry")
	}
	if sum.Attention != "" {
		fmt.Fprintln(w, wrap("Attention: "+sum.Attention, 96, "  "))
	}
	fmt.Fprintf(w, "  Record   %s, cycle %d%s\n", sum.Record, sum.Cycle, lostWord(sum.Lost))
	fmt.Fprintf(w, "\n  %-18s %9s %9s   ended\n", "stage", "planned", "actual")
	for i, s := range sum.Stages {
		fmt.Fprintf(w, "  %-18s %9s %9s   %s\n", j.program.StageName(i), clockOf(s.PlannedS), clockOf(math.Round(s.ActualS)), s.Ended)
	}
	if len(sum.Guards) == 0 {
		fmt.Fprintln(w, "\n  No guard tripped.")
		return
	}
	fmt.Fprintln(w, "\n  Guards that tripped:")
	for _, g := range sum.Guards {
		fmt.Fprintf(w, "  %s  %s in %s (%s)\n%s\n", clockOf(g.AtS), g.ID, g.Stage, g.Response, wrap(g.Said, 96, "      "))
	}
}

// remains says what the end of the program leaves to the person.
func (j *job) remains(u *controller.Summary) string {
	if !j.program.Flammable() || u.Final.Cycle == controller.Complete {
		return ""
	}
	return "the fan is off now, and disk and pads may still be wet with something that burns. Keep sparks and flames away " +
		"and the room aired until both are dry."
}

func clock(d time.Duration) string { return recipe.SayTime(d.Round(time.Second)) }

func simulatedWord(simulated bool) string {
	if simulated {
		return " (simulated: nothing here was measured)"
	}
	return ""
}

func diskWord(disk string) string {
	if disk == "" {
		return ""
	}
	return ", disk " + disk
}

func brokenWord(broken bool) string {
	if broken {
		return "; held meanwhile, so not the whole drying"
	}
	return ""
}

func lostWord(lost int) string {
	if lost == 0 {
		return ""
	}
	return fmt.Sprintf(" (incomplete: %d entries were lost)", lost)
}

// pressureKPa is a mean pressure in kPa, or nil when there was none.
func pressureKPa(pascal float64) *float64 {
	if pascal == 0 {
		return nil
	}
	kPa := pascal / 1e3
	return &kPa
}

// tidy rounds a number to a step, so that JSON does not pretend to digits that mean nothing.
func tidy(x, step float64) float64 {
	n := float64(int64(x/step + 0.5))
	return float64(int64(n*step*1e6+0.5)) / 1e6
}

func tidied(x *float64) *float64 {
	if x == nil {
		return nil
	}
	y := tidy(*x, 0.001)
	return &y
}
