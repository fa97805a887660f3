package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

	"fullery/cmd/fullery/draw"
	"fullery/disks/compare"

	"github.com/spf13/cobra"
)

// compareFlags are those of compare.
type compareFlags struct {
	plot       string
	seed       uint64
	difference float64
	force      bool
	json       bool
}

func newCompare() *cobra.Command {
	var f compareFlags
	c := &cobra.Command{
		Use:   "compare FILE.csv",
		Short: "Compare methods by what their disks missed before and after, and say what that can and cannot show",
		Long: "Sets disks before and after their cleaning beside each other, method by method: what can be said, what cannot, and\n" +
			"how many disks it would take. Nothing is changed.\n\n" +
			"FILE is CSV in UTF-8 with a header, or - for the standard input: disk,method,before,after and, where it is known,\n" +
			"block,regained,newly_lost,sectors, in any order, separated by commas, semicolons or tabs. before and after are\n" +
			"missing sectors; a disk counts once. block names the disks that were dealt among themselves (batch sheet --table\n" +
			"writes such a table); without it all were. Lines that begin with # are left out.\n\n" +
			"What is compared is only as fair as the deal: where a person chose which disk got which method, the figures are\n" +
			"no better than that choice. Where there are too many cases to count them, some are drawn, and --seed says which.\n\n" +
			"Exit status: 0 whatever the disks show, 2 when the file cannot be used.",
		Example: "  fullery compare results.csv\n" +
			"  fullery compare results.csv --difference 20 --plot slopes.svg",
		Args: wants(1, 1, "one CSV file, or - for the standard input"),
		RunE: func(c *cobra.Command, args []string) error { return compareFile(c, args[0], f) },
	}
	flags := c.Flags()
	flags.StringVar(&f.plot, "plot", "", "draw every disk's slope from before to after into this file, as in slopes.svg")
	flags.BoolVar(&f.force, "force", false, "let --plot replace a file that is there already")
	flags.Uint64Var(&f.seed, "seed", 1, "seed of what is drawn where there are too many cases to count")
	flags.Float64Var(&f.difference, "difference", 0, "missing sectors a disk that are worth knowing of: how many disks would show them\n"+
		"(default: as many as were seen)")
	flags.BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

// compared is a comparison and what it is of.
type compared struct {
	name   string // of the file, for a person
	rows   []compare.Row
	asked  float64 // the difference worth knowing; 0 for none
	result compare.Result
	drawn  string // the file of the picture, once it is there
}

// compareFile is the command: read, compare, draw, print. A picture that may not be written is refused before anything is
// read, and one that cannot be written does not keep the figures back.
func compareFile(c *cobra.Command, file string, f compareFlags) error {
	if c.Flags().Changed("difference") && !(f.difference > 0 && f.difference <= math.MaxInt32) {
		return said(statusUsage, "--difference %g cannot be used: give missing sectors a disk, as in --difference 20", f.difference)
	}
	if err := toBeDrawn(f.plot, f.force); err != nil {
		return err
	}
	k := &compared{name: tableName(file), asked: f.difference}
	err := withTable(c, file, func(name string, from io.Reader) (err error) {
		k.rows, err = compare.Read(name, from)
		return err
	})
	if err != nil {
		return err
	}
	if k.result, err = compare.Compare(k.rows, compare.Options{Seed: f.seed, Difference: f.difference}); err != nil {
		return said(statusUsage, "%s: %w", k.name, err)
	}
	var drawn error
	if f.plot != "" {
		if drawn = writeWhole(f.plot, k.picture().SVG(), f.force); drawn == nil {
			k.drawn = f.plot
		}
	}
	if f.json {
		err = writeJSON(c.OutOrStdout(), k.result)
	} else {
		k.print(c.OutOrStdout())
	}
	if drawn != nil {
		return bad(drawn)
	}
	return err
}

// tableName is what a file is called in front of a person.
func tableName(file string) string {
	if file == "-" {
		return stdinName
	}
	return draw.Clean(filepath.Base(file))
}

// withTable hands a table to whoever reads it: a file, or the standard input. What is wrong in it makes wrong usage, and no
// message moves a cursor.
func withTable(c *cobra.Command, file string, read func(name string, from io.Reader) error) error {
	if file == "-" {
		return asTable(read(stdinName, c.InOrStdin()))
	}
	from, err := os.Open(file)
	if os.IsNotExist(err) {
		return said(statusUsage, "there is no file %s", draw.Clean(file))
	}
	if err != nil {
		return said(statusUsage, "cannot read %s: %v", draw.Clean(file), plain(err))
	}
	defer from.Close()
	if info, err := from.Stat(); err == nil && info.IsDir() {
		return said(statusUsage, "%s is a folder: name a file in it", draw.Clean(file))
	}
	return asTable(read(file, from))
}

// asTable is what a reader said of a table, for a screen.
func asTable(err error) error {
	if err == nil {
		return nil
	}
	return said(statusUsage, "%s", draw.Clean(err.Error()))
}

// picture is the comparison as slopes; below it stands what they show.
func (k *compared) picture() draw.SlopesPlot {
	p := draw.SlopesPlot{Title: fmt.Sprintf("%s: missing sectors before and after", k.name), Notes: k.answer()}
	if n := len(k.rows); n > 1 {
		p.Subtitle = fmt.Sprintf("%d disks, a line each", n)
	}
	for _, m := range k.result.Methods {
		of := draw.SlopesMethod{Name: m.Name}
		for _, r := range k.rows {
			if r.Method == m.Name {
				of.Disks = append(of.Disks, draw.Slope{Disk: r.Disk, Before: r.Before, After: r.After})
			}
		}
		p.Methods = append(p.Methods, of)
	}
	return p
}
