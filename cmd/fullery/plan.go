package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"fullery/controller"
	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/drying"
	"fullery/recipe/endpoint"
	"fullery/recipe/forecast"
	"fullery/recipe/liquid"

	"github.com/spf13/cobra"
)

// planFlags are what a person may say about a plan.
type planFlags struct {
	bench, record, duct, room, plot string
	force, json                     bool
}

func newPlan() *cobra.Command {
	var f planFlags
	c := &cobra.Command{
		Use:   "plan RECIPE",
		Short: "Show what a recipe will do on a bench: stages, time, liquid, vapour, cautions; changes nothing",
		Long: "Show what a recipe will do on a bench: stages, time, liquid, vapour, cautions. Nothing is changed.\n" +
			"With --plot the vapour in the duct and in the room is drawn through time; a recipe that uses nothing that burns\n" +
			"has none, and is refused then.",
		Example: "  fullery plan isopropanol-91 --bench bench.toml\n" +
			"  fullery plan isopropanol-91 --plot vapour.svg",
		Args: wants(1, 1, "one recipe: a file, or a name from: fullery recipes"),
		RunE: func(c *cobra.Command, args []string) error { return showPlan(c, args[0], f) },
	}
	c.Flags().StringVar(&f.bench, "bench", "", "bench file (default: the shipped simulated one)")
	c.Flags().StringVar(&f.record, "record", "", "record whose logged drying times count (default: the usual one, if it is there)")
	c.Flags().StringVar(&f.duct, "duct", "10 %", "share of the lower flammable limit to stay below in the duct, 1 % to 25 %")
	c.Flags().StringVar(&f.room, "room", "", `vapour to stay below in the room, as in "200 ppm" (default: the lowest published figure)`)
	c.Flags().StringVar(&f.plot, "plot", "", "draw the vapour through time into this file, as in vapour.svg")
	c.Flags().BoolVar(&f.force, "force", false, "let --plot replace a file that is there already")
	c.Flags().BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

func showPlan(c *cobra.Command, name string, f planFlags) error {
	if err := toBeDrawn(f.plot, f.force); err != nil {
		return err
	}
	plan, err := makePlan(contextOf(c), name, f)
	if err != nil {
		return err
	}
	if f.plot != "" {
		picture, err := plan.picture()
		if err == nil {
			err = writeWhole(f.plot, picture, f.force)
		}
		if err != nil {
			return bad(err)
		}
	}
	if f.json {
		return writeJSON(c.OutOrStdout(), plan.json())
	}
	plan.print(c.OutOrStdout())
	if f.plot != "" {
		fmt.Fprintf(c.OutOrStdout(), "The vapour through time is drawn in %s.\n", f.plot)
	}
	return nil
}

// plan is a program with what is foreseen of it.
type plan struct {
	program  *controller.Program
	stages   []controller.StagePlan
	f        forecast.Forecast
	belief   drying.Belief
	warnings []string
}

func makePlan(ctx context.Context, name string, f planFlags) (*plan, error) {
	r, err := readRecipe(name)
	if err != nil {
		return nil, err
	}
	b, err := readBench(f.bench)
	if err != nil {
		return nil, err
	}
	ask := forecast.Ask{Recipe: r, Bench: b}
	if ask.Belief, err = learned(ctx, f.record, b); err != nil {
		return nil, err
	}
	if ask.Duct, err = figure("--duct", f.duct, "%", 100); err != nil {
		return nil, err
	}
	if ask.PPM, err = figure("--room", f.room, "ppm", 1); err != nil {
		return nil, err
	}
	p, err := controller.CompileKnowing(r, b, ask.Belief)
	if err != nil {
		return nil, withStatus(statusNo, err)
	}
	out := &plan{program: p, stages: p.Stages(), belief: ask.Belief}
	for _, s := range out.stages {
		if s.Do == recipe.Dry && s.Evidence == controller.ByClock {
			ask.ByClock = s.Planned
		}
	}
	if out.f, err = forecast.Of(ask); err != nil {
		return nil, withStatus(statusUsage, err)
	}
	for _, problem := range controller.Fit(r, b) {
		out.warnings = append(out.warnings, problem.String())
	}
	return out, nil
}

// learned is what the record has fitted for the bench. A plan changes nothing: it reads a record, but neither makes one
// nor brings one up to date; an older one holds no fit yet.
func learned(ctx context.Context, named string, b recipe.Bench) (drying.Belief, error) {
	path, err := recordToRead(named)
	if err != nil {
		return drying.Belief{}, err
	}
	rec, err := record.OpenReadOnly(ctx, path)
	if errors.Is(err, record.ErrMissing) || errors.Is(err, record.ErrOlder) {
		return drying.Prior(), nil
	}
	if err != nil {
		return drying.Belief{}, withStatus(statusUsage, err)
	}
	known, err := rec.LatestBelief(ctx, b.Name, b.Simulated)
	if err = errors.Join(err, rec.Close()); err != nil {
		return drying.Belief{}, withStatus(statusUsage, err)
	}
	return beliefOf(known), nil
}

// figure reads a number with its unit; nothing at all is 0.
func figure(flag, text, unit string, parts float64) (float64, error) {
	if text == "" {
		return 0, nil
	}
	digits, ok := strings.CutSuffix(strings.TrimSpace(text), unit)
	x, err := strconv.ParseFloat(strings.TrimSpace(digits), 64)
	if !ok || err != nil || !(x > 0) || math.IsInf(x, 0) {
		return 0, withStatus(statusUsage, fmt.Errorf("%s %q is not a figure above 0 with its unit; write it as in \"10 %s\"", flag, text, unit))
	}
	return x / parts, nil
}

// most is the longest that the cycle may take.
func (p *plan) most() (most time.Duration) {
	for _, s := range p.stages {
		most += s.AtMost
	}
	return min(most, p.program.Recipe().Limits.Time)
}

// dose is what the pumps give, mL.
func (p *plan) dose() (sum float64) {
	for _, s := range p.stages {
		sum += s.Liquid * 1e6
	}
	return sum
}

// evidence is what "dry" will rest on, "" where no stage ends when dry.
func (p *plan) evidence() string {
	for _, s := range p.stages {
		if e := s.Evidence.String(); e != "" {
			return e
		}
	}
	return ""
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

// clockOf writes seconds as h:mm:ss.
func clockOf(seconds float64) string {
	return recipe.SayTime(time.Duration(seconds * float64(time.Second)))
}

func evidenceWords(evidence string) string {
	switch evidence {
	case "surface":
		return "surface (the jacket's coldness gone to the last 2 %)"
	case "weighed":
		return "weighed (back to the dry weight to the last 2 %)"
	case "air":
		return "air (leaving as it came to the last 2 %)"
	case "timed":
		return "timed (only the clock: unproven)"
	default:
		return evidence
	}
}

// blind tells of each evidence that the bench senses and cannot use, with what would help.
func (p *plan) blind() (said []string) { return blindEvidence(p.program, p.belief) }

func blindEvidence(program *controller.Program, belief drying.Belief) (said []string) {
	bench, stages := program.Bench(), program.Recipe().Unrolled()
	for i, s := range program.Stages() {
		if s.Evidence == controller.NoEvidence || s.End == nil {
			continue
		}
		for _, sight := range s.End.Sights {
			if sight.Fitted && !sight.Visible {
				one := upper(sight.Say()) + " It is not used."
				if help := endpoint.HelpFor(belief, program.Recipe(), &bench, stages[i], sight.Evidence); help != "" {
					one += " " + upper(help) + "."
				}
				said = append(said, one)
			}
		}
	}
	return said
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
