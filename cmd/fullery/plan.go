package main

import (
	"fmt"
	"io"
	"time"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipe/liquid"

	"github.com/spf13/cobra"
)

func newPlan() *cobra.Command {
	var bench string
	var asJSON bool
	c := &cobra.Command{
		Use:   "plan RECIPE",
		Short: "Show what a recipe will do on a bench: stages, time, liquid, cautions; changes nothing",
		Args:  wants(1, 1, "one recipe: a file, or a name from: fullery recipes"),
		RunE: func(c *cobra.Command, args []string) error {
			r, err := readRecipe(args[0])
			if err != nil {
				return err
			}
			b, err := readBench(bench)
			if err != nil {
				return err
			}
			p, err := controller.Compile(r, b)
			if err != nil {
				return withStatus(statusNo, err)
			}
			plan := planOf(p)
			if asJSON {
				return writeJSON(c.OutOrStdout(), plan)
			}
			printPlan(c.OutOrStdout(), plan)
			return nil
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file (default: the shipped simulated one)")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return c
}

type planStageJSON struct {
	Do       string  `json:"do"`
	Pass     int     `json:"pass"`
	PlannedS float64 `json:"planned_s"`
	AtMostS  float64 `json:"at_most_s"`
	LiquidML float64 `json:"liquid_ml"`
	Evidence string  `json:"evidence,omitempty"`
	name     string
}

type planJSON struct {
	Recipe    string          `json:"recipe"`
	Title     string          `json:"title"`
	Bench     string          `json:"bench"`
	Liquid    string          `json:"liquid"`
	Rinse     string          `json:"rinse,omitempty"`
	Flammable bool            `json:"flammable"`
	TotalMin  float64         `json:"total_min"`
	AtMostMin float64         `json:"at_most_min"`
	LiquidML  float64         `json:"liquid_ml"`
	LimitML   float64         `json:"limit_ml"`
	Stages    []planStageJSON `json:"stages"`
	Cautions  []string        `json:"cautions"`
	Warnings  []string        `json:"warnings"`
}

func planOf(p *controller.Program) planJSON {
	r := p.Recipe()
	out := planJSON{Recipe: r.Name, Title: r.Title, Bench: p.Bench().Name, Liquid: r.Liquid, Rinse: r.Rinse,
		Flammable: p.Flammable(), LimitML: r.Limits.Liquid * 1e6, Cautions: []string{}, Warnings: []string{}}
	var total, most time.Duration
	for i, s := range p.Stages() {
		total += s.Planned
		most += s.AtMost
		out.LiquidML += s.Liquid * 1e6
		out.Stages = append(out.Stages, planStageJSON{Do: s.Do.String(), Pass: s.Pass, PlannedS: s.Planned.Seconds(),
			AtMostS: s.AtMost.Seconds(), LiquidML: s.Liquid * 1e6, Evidence: s.Evidence.String(), name: p.StageName(i)})
	}
	out.TotalMin, out.AtMostMin = tidy(total.Minutes(), 0.1), tidy(min(most, r.Limits.Time).Minutes(), 0.1)
	for _, problem := range controller.Fit(r, p.Bench()) {
		out.Warnings = append(out.Warnings, problem.String())
	}
	out.Cautions = cautions(r.Liquid, r.Rinse)
	return out
}

// cautions lists what to know before using the liquids, each once.
func cautions(names ...string) []string {
	list, seen := []string{}, map[string]bool{}
	for _, name := range names {
		l, err := liquid.Parse(name)
		if err != nil {
			continue
		}
		for _, c := range l.Cautions {
			if !seen[c] {
				seen[c] = true
				list = append(list, c)
			}
		}
	}
	return list
}

func printPlan(w io.Writer, plan planJSON) {
	fmt.Fprintf(w, "%s (%s) on bench %q\n", plan.Title, plan.Recipe, plan.Bench)
	fmt.Fprintf(w, "About %.0f min, at the latest %.0f min; %.1f mL of at most %.1f mL.\n\n",
		plan.TotalMin, plan.AtMostMin, plan.LiquidML, plan.LimitML)
	for _, s := range plan.Stages {
		fmt.Fprintf(w, "  %-18s %9s   at most %9s", s.name, clockOf(s.PlannedS), clockOf(s.AtMostS))
		if s.LiquidML > 0 {
			fmt.Fprintf(w, "   %.1f mL", s.LiquidML)
		}
		if s.Evidence != "" {
			fmt.Fprintf(w, "   until dry by %s", evidenceWords(s.Evidence))
		}
		fmt.Fprintln(w)
	}
	fmt.Fprintln(w, "\nThe time until dry is common practice for this liquid (no source), not yet an estimate for this bench.")
	for _, c := range plan.Cautions {
		fmt.Fprintln(w, wrap("Caution: "+c, 96, ""))
	}
	for _, warn := range plan.Warnings {
		fmt.Fprintln(w, wrap(warn, 96, ""))
	}
}

// clockOf writes seconds as h:mm:ss.
func clockOf(seconds float64) string {
	return recipe.SayTime(time.Duration(seconds * float64(time.Second)))
}

func evidenceWords(evidence string) string {
	switch evidence {
	case "surface":
		return "surface (the jacket as warm as the air again)"
	case "timed":
		return "timed (only the clock: unproven)"
	default:
		return evidence
	}
}
