package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/disks/batch"

	"github.com/spf13/cobra"
)

// dealFlags are those of batch deal.
type dealFlags struct {
	methods string
	groups  int
	seed    uint64
	out     string
	force   bool
	json    bool
}

func newBatchDeal() *cobra.Command {
	var f dealFlags
	c := &cobra.Command{
		Use:   "deal FILE.csv",
		Short: "Deal disks to methods so that the groups start alike in mean and spread of missing sectors",
		Long: "Deals disks to methods so that the groups start alike in mean and spread of missing sectors. Up to 24 disks in 4\n" +
			"groups that is as a rule the best deal there is, and proved; where it is not, it says how much more alike one could\n" +
			"be at best. Among equally good deals chance chooses, by a seed: with the same disks, methods and seed the same deal\n" +
			"comes out again, in whatever order they are named.\n\n" +
			"FILE is CSV in UTF-8 with a header, or - for the standard input: disk,missing and, for disks that may get one method\n" +
			"only, only; in any order, separated by commas, semicolons or tabs. missing is the number of sectors that did not\n" +
			"come back before anything was done. Lines that begin with # are left out.\n\n" +
			"Keep the deal with --out: batch sheet makes the run sheet of it, and the table for compare.",
		Example: "  fullery batch deal disks.csv --methods isopropanol-91,water-detergent --out deal.json\n" +
			"  fullery batch deal disks.csv --groups 3 --seed 42",
		Args: wants(1, 1, "one CSV file, or - for the standard input"),
		RunE: func(c *cobra.Command, args []string) error { return batchDeal(c, args[0], f) },
	}
	flags := c.Flags()
	flags.StringVar(&f.methods, "methods", "", "names of the methods, with commas between them, as in isopropanol-91,by-hand")
	flags.IntVar(&f.groups, "groups", 0, "number of groups, when the methods have no names yet")
	flags.Uint64Var(&f.seed, "seed", 0, "seed of chance (default: one is drawn, and told)")
	flags.StringVar(&f.out, "out", "", "keep the deal in this file, as in deal.json")
	flags.BoolVar(&f.force, "force", false, "let --out replace a file that is there already")
	flags.BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

// names are the methods that the flags name.
func (f dealFlags) names(c *cobra.Command) ([]string, error) {
	named, numbered := c.Flags().Changed("methods"), c.Flags().Changed("groups")
	switch {
	case named == numbered:
		return nil, said(statusUsage, "say either which methods to deal to, as in --methods isopropanol-91,water-detergent, or how many "+
			"groups, as in --groups 2")
	case numbered && f.groups < 2:
		return nil, said(statusUsage, "--groups %d cannot be used: two groups are the fewest that can be compared", f.groups)
	case numbered && f.groups > batch.MaxMethods:
		return nil, said(statusUsage, "--groups %d cannot be used: %d are the most", f.groups, batch.MaxMethods)
	case numbered:
		return batch.Numbered(f.groups), nil
	}
	names := strings.Split(f.methods, ",")
	for i := range names {
		names[i] = strings.TrimSpace(names[i])
		if names[i] != draw.Clean(names[i]) {
			return nil, said(statusUsage, "--methods: there are characters in %q that cannot be seen: write the name anew", names[i])
		}
	}
	return names, nil
}

// dealing is a deal and how it came about.
type dealing struct {
	name  string // of the file, for a person
	dealt batch.Dealt
	drawn bool   // the seed was not given
	kept  string // the file that has the deal, once it is there
}

// mostSeed bounds a seed that is drawn: it is to be typed again.
const mostSeed = 1_000_000_000

func batchDeal(c *cobra.Command, file string, f dealFlags) error {
	methods, err := f.names(c)
	if err != nil {
		return err
	}
	if err := toBeDrawn(f.out, f.force); err != nil {
		return err
	}
	d := dealing{name: tableName(file), drawn: !c.Flags().Changed("seed")}
	disks, err := readDisks(c, file)
	if err != nil {
		return err
	}
	if d.drawn {
		f.seed = 1 + rand.Uint64N(mostSeed)
	}
	if d.dealt, err = batch.Deal(disks, methods, f.seed, batch.DefaultNodes); err != nil {
		return said(statusUsage, "%s: %s", d.name, draw.Clean(err.Error()))
	}
	var kept error
	if f.out != "" {
		if kept = d.keep(f.out, f.force); kept == nil {
			d.kept = f.out
		}
	}
	// What was dealt by chance is shown even where it cannot be kept: it would not come again by itself.
	if f.json {
		err = writeJSON(c.OutOrStdout(), d.dealt)
	} else {
		d.print(c.OutOrStdout())
	}
	return errors.Join(bad(kept), err)
}

// readDisks reads the table, and tells doubts on the error stream.
func readDisks(c *cobra.Command, file string) (disks []batch.Disk, err error) {
	err = withTable(c, file, func(name string, from io.Reader) error {
		read, doubts, err := batch.Read(name, from)
		for _, p := range doubts {
			fmt.Fprintln(c.ErrOrStderr(), draw.Clean(p.Error()))
		}
		disks = read
		return err
	})
	return disks, err
}

// keep writes the deal into a file.
func (d dealing) keep(path string, force bool) error {
	var text bytes.Buffer
	if err := writeJSON(&text, d.dealt); err != nil {
		return err
	}
	return writeWhole(path, text.Bytes(), force)
}

// print is the deal for a person.
func (d dealing) print(w io.Writer) {
	fmt.Fprintf(w, "%s: %s dealt to %s, seed %d\n\n", d.name, howMany(len(d.dealt.Disks), "disk"), howMany(len(d.dealt.Groups), "group"),
		d.dealt.Seed)
	rows := [][]string{{"group", "disks", "mean missing", "spread"}}
	for _, g := range d.dealt.Groups {
		spread := "–"
		if g.Spread != nil {
			spread = sectorsWord(*g.Spread)
		}
		rows = append(rows, []string{g.Name, fmt.Sprint(len(g.Disks)), sectorsWord(g.Mean), spread})
	}
	printFigures(w, 1, rows)
	fmt.Fprintln(w)
	for _, sentence := range d.alike() {
		fmt.Fprintln(w, wrap(draw.Clean(sentence), planWidth, ""))
	}
	for _, g := range d.dealt.Groups {
		fmt.Fprintf(w, "\n%s:\n%s\n", draw.Clean(g.Name), wrap(draw.Clean(strings.Join(g.Disks, ", ")), planWidth, "  "))
	}
	fmt.Fprintln(w)
	again := fmt.Sprintf("The same disks and groups with --seed %d are dealt the same again.", d.dealt.Seed)
	if d.drawn {
		again = "The seed was drawn. " + again
	}
	fmt.Fprintln(w, wrap(again, planWidth, ""))
	if d.kept != "" {
		fmt.Fprintf(w, "The deal is kept in %s; fullery batch sheet makes the run sheet of it.\n", draw.Clean(d.kept))
	} else {
		fmt.Fprintf(w, "The deal was not kept; add --seed %d --out deal.json to keep it for the run sheet.\n", d.dealt.Seed)
	}
}

// alike says how alike the groups are, and how alike they could be.
func (d dealing) alike() (sentences []string) {
	least, most := d.dealt.Groups[0].Mean, d.dealt.Groups[0].Mean
	for _, g := range d.dealt.Groups {
		least, most = min(least, g.Mean), max(most, g.Mean)
	}
	s := fmt.Sprintf("The means differ by %s sectors a disk at most, means and spreads together by %s (the imbalance).",
		thousandths(most-least), thousandths(d.dealt.Imbalance))
	switch {
	case d.dealt.Optimal && d.dealt.Uniform && d.dealt.Equal > 1:
		s += fmt.Sprintf(" No deal is more alike: proved. %.6g deals are as good, and chance chose among them.", d.dealt.Equal)
	case d.dealt.Optimal:
		s += " No deal is more alike: proved."
	default:
		s += fmt.Sprintf(" It is the best that was found; no deal can have less than %s.", thousandths(d.dealt.Bound))
	}
	sentences = append(sentences, s)
	placed := 0
	for _, disk := range d.dealt.Disks {
		if disk.Block == 0 {
			placed++
		}
	}
	if placed > 0 {
		sentences = append(sentences, fmt.Sprintf("%s could get one method only: placed and not dealt, and no evidence for or against it.",
			howMany(placed, "disk")))
	}
	return sentences
}

// thousandths writes what a deal is compared by with all its digits.
func thousandths(x float64) string { return fmt.Sprintf("%g", roundTo(x, 0.001)) }
