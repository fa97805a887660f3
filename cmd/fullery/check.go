package main

import (
	"errors"
	"fmt"
	"io"

	"fullery/controller"
	"fullery/recipe"
	"fullery/recipe/drying"

	"github.com/spf13/cobra"
)

func newCheck() *cobra.Command {
	var bench string
	var asJSON bool
	c := &cobra.Command{
		Use:   "check FILE…",
		Short: "Check recipes and bench files: syntax, sense, and whether a recipe fits the bench",
		Args:  wants(1, 1000, "the files to check"),
		RunE: func(c *cobra.Command, files []string) error {
			return check(c, files, bench, asJSON)
		},
	}
	c.Flags().StringVar(&bench, "bench", "", "bench file that recipes are checked for (default: the shipped simulated one)")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return c
}

type problemJSON struct {
	Line    int    `json:"line"`
	Column  int    `json:"column"`
	Said    string `json:"said"`
	Hint    string `json:"hint,omitempty"`
	Warning bool   `json:"warning,omitempty"`
}

type checkedJSON struct {
	File     string        `json:"file"`
	Kind     string        `json:"kind"`
	OK       bool          `json:"ok"`
	Bench    string        `json:"bench,omitempty"`
	Problems []problemJSON `json:"problems"`
	Notes    []string      `json:"notes,omitempty"` // evidence of dryness that the bench senses and cannot use
	problems recipe.Problems
}

func check(c *cobra.Command, files []string, benchName string, asJSON bool) error {
	bench, err := readBench(benchName)
	if err != nil {
		return err
	}
	out := struct {
		Files []checkedJSON `json:"files"`
	}{}
	status := statusDone
	for _, name := range files {
		one, err := checkFile(name, bench)
		if err != nil {
			status = statusUsage
			fmt.Fprintln(c.ErrOrStderr(), err)
			continue
		}
		if !one.OK && status == statusDone {
			status = statusNo
		}
		out.Files = append(out.Files, one)
	}
	if asJSON {
		err = writeJSON(c.OutOrStdout(), out)
	} else {
		printChecked(c.OutOrStdout(), out.Files)
	}
	if status != statusDone {
		return errors.Join(withStatus(status, nil), err)
	}
	return err
}

// checkFile checks one file as what it is.
func checkFile(name string, bench recipe.Bench) (checkedJSON, error) {
	file, data, err := readText(name, "recipe")
	if err != nil {
		if file, data, err = readOther(name, err); err != nil {
			return checkedJSON{}, err
		}
	}
	one := checkedJSON{File: file, Kind: recipe.KindOf(data)}
	if one.Kind == "bench" {
		_, one.problems = recipe.ReadBench(file, data)
	} else {
		var r recipe.Recipe
		if r, one.problems = recipe.Read(file, data); len(one.problems.Errors()) == 0 {
			one.Bench = bench.Name
			one.problems = append(one.problems, controller.Fit(r, bench)...).Sorted()
			if p, err := controller.Compile(r, bench); err == nil {
				one.Notes = blindEvidence(p, drying.Belief{})
			}
		}
	}
	one.OK = len(one.problems.Errors()) == 0
	one.Problems = []problemJSON{}
	for _, p := range one.problems {
		one.Problems = append(one.Problems, problemJSON{p.Place.Line, p.Place.Column, p.Said, p.Hint, p.Warning})
	}
	return one, nil
}

// readOther looks for a shipped bench file where no shipped recipe has the name; the error stays the recipe's.
func readOther(name string, was error) (string, []byte, error) {
	file, data, err := readText(name, "bench")
	if err != nil {
		return name, nil, was
	}
	return file, data, nil
}

func printChecked(w io.Writer, files []checkedJSON) {
	for _, one := range files {
		for _, p := range one.problems {
			fmt.Fprintln(w, p)
		}
		switch {
		case !one.OK:
		case one.Kind == "bench":
			fmt.Fprintf(w, "%s: a bench file, in order\n", one.File)
		default:
			fmt.Fprintf(w, "%s: a recipe, in order, and bench %q can run it\n", one.File, one.Bench)
			for _, note := range one.Notes {
				fmt.Fprintln(w, wrap(note, planWidth, "  "))
			}
		}
	}
}
