package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"fullery/controller"
	"fullery/controller/simbench"
	"fullery/recipe"

	"github.com/spf13/cobra"
)

func newGuards() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "guards",
		Short: "Show the guard table, and the faults that a simulated bench can be told to have",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if asJSON {
				return writeJSON(c.OutOrStdout(), guardsJSON())
			}
			return printGuards(c.OutOrStdout())
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return c
}

// writeJSON prints a value as indented JSON. It has no NaN: what is not known is null or left out.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

type guardJSON struct {
	ID        string   `json:"id"`
	Stages    []string `json:"stages"`
	Response  string   `json:"response"`
	Said      string   `json:"said"`
	DebounceS float64  `json:"debounce_s"`
	Look      bool     `json:"look"`
}

type faultJSON struct {
	ID     string `json:"id"`
	Trips  string `json:"trips"`
	Stages string `json:"stages"`
	Said   string `json:"said"`
}

type guardsOut struct {
	Guards []guardJSON `json:"guards"`
	Faults []faultJSON `json:"faults"`
}

func guardsJSON() guardsOut {
	var out guardsOut
	for _, row := range controller.Guards() {
		g := guardJSON{ID: row.Guard.String(), Response: row.Response.String(), Said: row.Said,
			DebounceS: row.Debounce.Seconds(), Look: row.Look}
		for _, k := range row.Stages {
			g.Stages = append(g.Stages, k.String())
		}
		out.Guards = append(out.Guards, g)
	}
	for _, f := range simbench.Faults() {
		out.Faults = append(out.Faults, faultJSON{f.ID, f.Trips.String(), f.Where, f.Said})
	}
	return out
}

func printGuards(w io.Writer) error {
	fmt.Fprintln(w, "Guards, most urgent first. A reading that is needed and is stale, failed or impossible trips a guard too.")
	for _, row := range guardsJSON().Guards {
		when := fmt.Sprintf("after %.2g s in %s", row.DebounceS, strings.Join(row.Stages, ", "))
		switch {
		case row.ID == controller.CutShort.String():
			when = "when the record holds a cycle without an end"
		case len(row.Stages) == int(recipe.Dry): // the last of the kinds
			when = fmt.Sprintf("after %.2g s in every stage", row.DebounceS)
		}
		fmt.Fprintf(w, "\n%-20s %-6s %s\n%s\n", row.ID, row.Response, when, wrap(row.Said, 76, "    "))
	}
	fmt.Fprint(w, "\nFaults for a simulated bench: run --fault ID@STAGE+TIME\n\n")
	for _, f := range guardsJSON().Faults {
		trips := "trips " + f.Trips
		if f.Trips == "none" {
			trips = "trips nothing"
		}
		fmt.Fprintf(w, "%-20s %s\n%s\n", f.ID, trips, wrap(f.Said+" (in: "+f.Stages+")", 76, "    "))
	}
	return nil
}

// wrap breaks text into lines of at most width characters, each with an indent.
func wrap(text string, width int, indent string) string {
	var lines []string
	line := indent
	for _, word := range strings.Fields(text) {
		if len([]rune(line))+1+len([]rune(word)) > width && line != indent {
			lines = append(lines, line)
			line = indent
		}
		if line != indent {
			line += " "
		}
		line += word
	}
	return strings.Join(append(lines, line), "\n")
}
