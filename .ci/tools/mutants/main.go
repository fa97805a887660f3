// Command mutants tests the tests of one package. It makes many small faults in the package's code, each of which some
// test should notice: a condition that is always true, a statement that is left out, a plus that is a minus. A fault that
// no test notices is a survivor; survivors that are not on a list, with the reason why they cannot matter, fail the run.
//
// All faults are compiled into one test binary, each behind a switch that an environment variable turns, so that the
// package is compiled once and not once a fault. The tree is never changed: the compiler is shown other files in place
// of the package's by an overlay.
//
// Go measures coverage of statements only. The faults include "always true" and "never true" for every condition, for
// every operand of && and || where it decides, and for every case of a switch: when all of those are noticed, every
// branch was taken both ways by a test that cares.
//
//	mutants [-files a.go,b.go] [-except c.go] [-match REGEXP] [-skip REGEXP] [-allowed FILE] [-v] PACKAGE
package main

import (
	"flag"
	"fmt"
	"os"
	"os/signal"
	"regexp"
	"slices"
	"strings"
)

func main() {
	files := flag.String("files", "", "only these files of the package, with commas between")
	skip := flag.String("skip", "^$", "tests not to use: those that are too slow")
	list := flag.String("allowed", "", "the list of faults that may survive, each with its reason")
	except := flag.String("except", "", "none of these files")
	match := flag.String("match", "", "only faults whose line of the list matches this regular expression")
	workers := flag.Int("workers", 2, "test binaries that run at once")
	verbose := flag.Bool("v", false, "tell every fault and what became of it")
	flag.Parse()
	if flag.NArg() != 1 {
		flag.Usage()
		os.Exit(2)
	}
	dir, err := os.MkdirTemp("", "mutants")
	if err != nil {
		fail(err)
	}
	clean := func() { os.RemoveAll(dir) }
	stop := make(chan os.Signal, 1)
	signal.Notify(stop, os.Interrupt)
	go func() { <-stop; clean(); os.Exit(1) }()
	bad, err := run(dir, flag.Arg(0), choice{split(*files), split(*except), *skip, *match, *list, *workers, *verbose})
	clean()
	if err != nil {
		fail(err)
	}
	if bad {
		os.Exit(1)
	}
}

func split(list string) []string {
	return strings.FieldsFunc(list, func(r rune) bool { return r == ',' })
}

func fail(err error) {
	fmt.Fprintln(os.Stderr, "mutants:", err)
	os.Exit(1)
}

// choice is what the flags ask for.
type choice struct {
	files, except     []string
	skip, match, list string
	workers           int
	verbose           bool
}

// run makes the faults, tries them and reports; it tells whether something is not as the list says.
func run(dir, pkg string, c choice) (bad bool, err error) {
	wanted, err := regexp.Compile(c.match)
	if err != nil {
		return false, err
	}
	allowed, err := readAllowed(c.list)
	if err != nil {
		return false, err
	}
	m, err := mutate(pkg, c.files, c.except)
	if err != nil {
		return false, err
	}
	b, err := build(dir, pkg, m, c.skip)
	if err != nil {
		return false, err
	}
	if err := b.reach(len(m.faults)); err != nil {
		return false, err
	}
	faults := slices.DeleteFunc(slices.Clone(m.faults), func(f *fault) bool { return !wanted.MatchString(f.key) })
	b.try(faults, c.workers, c.verbose)
	return report(faults, allowed, len(c.files) == 0 && c.match == ""), nil
}
