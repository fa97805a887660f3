package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"syscall"

	"fullery/controller"
	"fullery/controller/sweep"
	"fullery/disks/record"
	"fullery/recipe"
	"fullery/recipe/drying"

	"github.com/spf13/cobra"
)

// sweepFlags are what a person may say to sweep.
type sweepFlags struct {
	bench, record string
	lists         [sweep.NumAxes]string
	given         [sweep.NumAxes]bool // an empty list that was typed is a mistake, one that was not is the usual
	draws         int
	seed          uint64
	out, plot     string
	resume, force bool
	json          bool
}

const sweepHelp = `Try what may be changed of a recipe – fan, warmth, scrub time, spin-out time, strength of the alcohol – in whole
cycles on simulated benches, drawn from what was learned of the bench (see: fullery dry fit), and show the choices
that no other beats. Nothing is changed; no choice is called the best.

Less time, liquid, vapour in the duct, warmth, rubbing and fewer damp disks count as better, each for itself. How clean
a disk gets is not known to any simulation, so that scrub time and strength stay yours to choose: a choice is compared
only with others of the same scrub time and strength.

What is not named takes about three values around the recipe's own; one value leaves nothing to choose there. The
recipe as it is comes first, for comparison. Ctrl-c prints what there is so far; with --out it is kept, and --resume
goes on from there.`

// newSweep makes the command.
func newSweep() *cobra.Command {
	var f sweepFlags
	c := &cobra.Command{
		Use:   "sweep RECIPE",
		Short: "Try changes of a recipe on simulated benches and show the choices that no other beats; changes nothing",
		Long:  sweepHelp,
		Example: "  fullery sweep isopropanol-91\n" +
			"  fullery sweep water-detergent --warm \"no, 35 °C\" --fan \"100 %\" --scrub \"60 s, 90 s\" --draws 50\n" +
			"  fullery sweep my.toml --bench my-bench.toml --out tries.csv --plot tries.svg",
		Args: wants(1, 1, "one recipe: a file, or a name from: fullery recipes"),
		RunE: func(c *cobra.Command, args []string) error {
			for a := range sweep.NumAxes {
				f.given[a] = c.Flags().Changed(a.String())
			}
			return sweepRecipe(c, args[0], f)
		},
	}
	flags := c.Flags()
	flags.StringVar(&f.bench, "bench", "", "bench file (default: the shipped simulated one)")
	flags.StringVar(&f.record, "record", "", "record whose logged drying times count (default: the usual one, if it is there)")
	flags.StringVar(&f.lists[sweep.Fan], "fan", "", `fan of the dry stages, as in "75 %, 100 %"`)
	flags.StringVar(&f.lists[sweep.Warm], "warm", "", `air asked at the cartridge while it dries, as in "no, 35 °C"; only where nothing flammable is about`)
	flags.StringVar(&f.lists[sweep.Scrub], "scrub", "", `time of every scrub, as in "60 s, 90 s"`)
	flags.StringVar(&f.lists[sweep.SpinOut], "spin-out", "", `time of every spin-out, as in "20 s, 40 s"`)
	flags.StringVar(&f.lists[sweep.Strength], "strength", "", `strength of the alcohol by volume, as in "70 %, 91 %"`)
	flags.IntVar(&f.draws, "draws", 20, "simulated benches for every choice")
	flags.Uint64Var(&f.seed, "seed", 1, "the same seed draws the same benches")
	flags.StringVar(&f.out, "out", "", "write every finished choice into this new file, as in tries.csv")
	flags.BoolVar(&f.resume, "resume", false, "go on with what --out holds already")
	flags.StringVar(&f.plot, "plot", "", "draw the choices into this file, as in tries.svg")
	flags.BoolVar(&f.force, "force", false, "let --plot replace a file that is there already")
	flags.BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

// sweeping is one sweep: what was asked, and what has come of it so far.
type sweeping struct {
	flags      sweepFlags
	recipe     recipe.Recipe
	bench      recipe.Bench
	known      *record.Belief // nil: nothing was learned of the bench
	draws      sweep.Draws
	choices    []sweep.Choice
	candidates []sweep.Candidate
	skipped    []sweep.Skipped
	order      []int // in which the candidates are run

	results  []sweep.Result // one for each of candidates, as far as done
	done     []bool
	resumed  int // of them, candidates that a file had already
	finished int
	ran      int    // cycles, those of the file included
	drawn    string // the file of the picture, once it is there
}

// cycles is how many there are in all.
func (s *sweeping) cycles() int { return len(s.candidates) * s.flags.draws }

// sweepRecipe runs a sweep and shows what came of it, whichever way it ended.
func sweepRecipe(c *cobra.Command, name string, f sweepFlags) (err error) {
	s, err := askedSweep(contextOf(c), name, f)
	if err != nil {
		return err
	}
	file, err := s.openOut()
	if err != nil {
		return bad(err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	defer stop()
	context.AfterFunc(ctx, stop) // a second signal ends the program at once
	failed := s.run(ctx, runtime.GOMAXPROCS(0), file, newProgress(c.ErrOrStderr(), s))
	if err := s.show(c.OutOrStdout()); err != nil {
		return errors.Join(failed, err)
	}
	if failed != nil {
		return bad(failed)
	}
	return s.incomplete()
}

// show prints what there is, and draws it.
func (s *sweeping) show(w io.Writer) error {
	// The figures took a while: they are shown even where the picture cannot be written.
	var drawn error
	if s.flags.plot != "" && s.finished > 0 {
		if drawn = writeWhole(s.flags.plot, s.picture(), s.flags.force); drawn == nil {
			s.drawn = s.flags.plot
		}
	}
	if s.flags.json {
		return errors.Join(writeJSON(w, s.json()), bad(drawn))
	}
	s.print(w)
	return bad(drawn)
}

// incomplete is the answer of a sweep that was interrupted: no.
func (s *sweeping) incomplete() error {
	if s.finished == len(s.candidates) {
		return nil
	}
	way := "Nothing was kept; with --out FILE it could go on from here."
	if s.flags.out != "" {
		way = fmt.Sprintf("%s has them; the same command with --resume goes on from there.", s.flags.out)
	}
	return said(statusNo, "Interrupted after %d of %d cycles: %d of %d choices are finished. %s", s.ran, s.cycles(), s.finished,
		len(s.candidates), way)
}

// askedSweep reads what was asked. Everything that can be refused is refused here, before the first cycle.
func askedSweep(ctx context.Context, name string, f sweepFlags) (*sweeping, error) {
	s := &sweeping{flags: f}
	var err error
	if s.recipe, err = readRecipe(name); err != nil {
		return nil, err
	}
	if s.bench, err = readBench(f.bench); err != nil {
		return nil, err
	}
	if err := f.check(); err != nil {
		return nil, bad(err)
	}
	if s.known, s.bench.PadsAndBathHeld, err = benchSoFar(ctx, recordPath(f.record), s.bench); err != nil {
		return nil, bad(err)
	}
	s.draws = sweep.Draws{Belief: beliefOf(s.known), Seed: f.seed}
	if _, err := controller.CompileKnowing(s.recipe, s.bench, s.draws.Belief); err != nil {
		return nil, withStatus(statusNo, err)
	}
	if _, err := s.draws.Bench(s.bench, s.recipe, 0); err != nil {
		return nil, bad(err)
	}
	if err := s.choose(); err != nil {
		return nil, bad(err)
	}
	return s, nil
}

// benchSoFar is what the record knows of the bench: the fit, and whether pads and bath held anything that burns. A sweep
// changes nothing: it neither makes a record nor brings one up to date; an older one holds no fit yet.
func benchSoFar(ctx context.Context, path string, b recipe.Bench) (known *record.Belief, held string, err error) {
	rec, err := record.OpenReadOnly(ctx, path)
	if errors.Is(err, record.ErrMissing) || errors.Is(err, record.ErrOlder) {
		return nil, "", nil
	}
	if err != nil {
		return nil, "", err
	}
	defer func() { err = errors.Join(err, rec.Close()) }()
	if known, err = rec.LatestBelief(ctx, b.Name, b.Simulated); err != nil {
		return nil, "", err
	}
	last, err := rec.LastLiquid(ctx, b.Name)
	return known, last.Flammable, err
}

// dries is what is known of the liner: what it keeps, and how exposed it is.
func (s *sweeping) dries() (kept, exposure drying.Spread, name string) {
	l, err := driesOf(s.recipe)
	if err != nil {
		return kept, exposure, ""
	}
	return s.draws.Belief.Kept(l), s.draws.Belief.Exposure(), l.Title
}
