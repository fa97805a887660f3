package main

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"

	"fullery/controller/sweep"
	"fullery/recipe"
	"fullery/recipe/liquid"
	"fullery/recipe/quantity"
)

// mostDraws bounds what a slip of the keyboard can ask for.
const mostDraws = 1000

// check refuses what cannot be asked for, before anything is read or run.
func (f sweepFlags) check() error {
	switch {
	case f.draws < 1 || f.draws > mostDraws:
		return fmt.Errorf("--draws %d cannot be used; give 1 to %d", f.draws, mostDraws)
	case f.resume && f.out == "":
		return fmt.Errorf("--resume goes on with a file: name it with --out")
	}
	if _, err := os.Lstat(f.plot); f.plot != "" && !f.force && err == nil {
		return fmt.Errorf("%s is there already: name another file, or add --force to replace it", f.plot)
	}
	return nil
}

// choose makes the candidates of what was asked and of what is usual.
func (s *sweeping) choose() error {
	grid := sweep.Usual(s.recipe, s.bench)
	for a := range sweep.NumAxes {
		list, err := s.list(a)
		if err != nil {
			return err
		}
		if list != nil {
			grid[a] = list
		}
	}
	var err error
	if s.choices, err = grid.Choices(s.recipe); err != nil {
		return err
	}
	s.candidates, s.skipped = sweep.Candidates(s.recipe, s.bench, s.draws.Belief, s.choices)
	if len(s.candidates) == 1 {
		why := "it leaves nothing to change; name what to try, as in --fan \"75 %, 100 %\""
		if len(s.skipped) > 0 {
			why = s.skipped[0].Reason
		}
		return fmt.Errorf("there is no choice but the recipe as it is: %s", why)
	}
	s.results, s.done = make([]sweep.Result, len(s.candidates)), make([]bool, len(s.candidates))
	s.order = spread(len(s.candidates), s.flags.seed)
	return nil
}

// spread is the order in which candidates are run: the recipe as it is first, then mixed, so that a sweep that is
// interrupted has tried something of everything.
func spread(n int, seed uint64) []int {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	rest := order[1:]
	rand.New(rand.NewPCG(seed, uint64(n))).Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
	return order
}

// list reads the values for one axis; nil when none were given.
func (s *sweeping) list(a sweep.Axis) ([]float64, error) {
	text := s.flags.lists[a]
	if text == "" && !s.flags.given[a] {
		return nil, nil
	}
	if err := a.Has(s.recipe); err != nil {
		return nil, fmt.Errorf("--%s: %w; leave it out", a, err)
	}
	var list []float64
	for _, item := range strings.Split(text, ",") {
		if item = strings.TrimSpace(item); item == "" {
			return nil, fmt.Errorf("--%s %q has an empty place; write values with commas between them, as in %q", a, text, example(a))
		}
		v, err := valueOf(a, item)
		if err != nil {
			return nil, fmt.Errorf("--%s: %w", a, err)
		}
		if err := a.Check(v); err != nil {
			return nil, fmt.Errorf("--%w", err)
		}
		list = append(list, v)
	}
	return list, nil
}

// valueOf reads one value. A strength may be a bare number, as in the name of the liquid.
func valueOf(a sweep.Axis, item string) (float64, error) {
	switch a {
	case sweep.Strength:
		if n, err := strconv.Atoi(item); err == nil {
			return float64(n) / 100, nil
		}
		return quantity.Share.Parse(item)
	case sweep.Warm:
		if item == "no" {
			return 0, nil
		}
		v, err := quantity.Temperature.Parse(item)
		if err != nil {
			err = fmt.Errorf("%w, or \"no\"", err)
		}
		return v, err
	case sweep.Fan:
		return quantity.Share.Parse(item)
	default:
		return quantity.Duration.Parse(item)
	}
}

// example is a list as it is typed, for messages.
func example(a sweep.Axis) string {
	return [sweep.NumAxes]string{sweep.Strength: "70 %, 91 %", sweep.Scrub: "60 s, 90 s", sweep.Fan: "75 %, 100 %",
		sweep.Warm: "no, 35 °C", sweep.SpinOut: "20 s, 40 s"}[a]
}

// driesOf is the liquid that is last on the disk.
func driesOf(r recipe.Recipe) (liquid.Liquid, error) {
	return liquid.Parse(cmp.Or(r.Rinse, r.Liquid, "water"))
}
