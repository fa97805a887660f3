// Crosscheck sets this project's physics beside reference libraries that others wrote, at random points.
//
// The points and our values are made here; a reference program in another language is given the points alone and
// answers with its own values, so that it cannot lean on ours. The script beside this file installs the libraries and
// starts it. Exit status: 0 all within their bounds; 1 a bound is broken, or a reference did not answer; 2 wrong usage;
// 77 nothing is broken but some comparisons were skipped, because their reference is missing.
package main

import (
	"bufio"
	"flag"
	"fmt"
	"os"
	"time"
)

// comparisons are in the order in which they are printed.
var comparisons = []comparison{
	saturation97, saturation95, latent, liquidWater, activities, // against iapws and NumPy
	saturationAir, outletHumidity, wetBulb, // against psychrolib
	dryings, fits, // against SciPy
}

const (
	broken  = 1
	usage   = 2
	skipped = 77
)

func main() {
	if len(os.Args) == 2 && os.Args[1] == "minutes" {
		if err := serveMinutes(os.Stdin, bufio.NewWriter(os.Stdout)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(broken)
		}
		return
	}
	seed := flag.Uint64("seed", 1, "of the random points")
	folder := flag.String("references", "testdata/crosscheck", "`folder` of the reference programs")
	python := flag.String("python", "", "Python that has iapws, NumPy and SciPy; without it their comparisons are skipped")
	node := flag.String("node", "", "Node.js that finds psychrolib; without it its comparisons are skipped")
	only := flag.String("only", "", "`name` of the one comparison to make, as \"wet-bulb\"; all when empty")
	flag.Parse()
	if flag.NArg() > 0 {
		flag.Usage()
		os.Exit(usage)
	}
	os.Exit(all(*seed, *only, references{folder: *folder, python: *python, node: *node}))
}

// all makes the comparisons, prints one line for each figure compared, and returns the exit status.
func all(seed uint64, only string, refs references) int {
	status, made := 0, 0
	fmt.Printf("seed %d\n%-58s %6s %12s %12s\n", seed, "what, against what", "points", "worst", "bound")
	for i, c := range comparisons {
		if only != "" && only != c.name {
			continue
		}
		made++
		began := time.Now()
		program := refs.command(c.reference, c.name)
		if program == nil {
			fmt.Printf("SKIPPED: %s: %s IS NOT INSTALLED, NOTHING WAS COMPARED\n", c.name, c.reference)
			if status == 0 {
				status = skipped
			}
			continue
		}
		results, err := c.run(seed, uint64(i), program)
		if err != nil {
			fmt.Printf("%-58s BROKEN: %v\n", c.name, err)
			status = broken
			continue
		}
		for _, r := range results {
			fmt.Println(r)
			if r.broken() {
				status = broken
			}
		}
		fmt.Printf("    %s (%.1f s)\n", c.why, time.Since(began).Seconds())
	}
	if made == 0 {
		fmt.Fprintf(os.Stderr, "there is no comparison %q\n", only)
		return usage
	}
	return status
}
