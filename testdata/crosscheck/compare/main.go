// Crosscheck of the comparison of methods: random cases, our result beside that of a reference program in Python on SciPy,
// which is given the disks alone. Prints the worst difference of every figure. Exit status: 0 all within their bounds; 1 a
// bound is broken, or the reference did not answer.
package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"

	"fullery/disks/compare"
)

// kinds are the sorts of cases: each is drawn from one method or two, with blocks or without, and asks for other figures.
var kinds = []string{"one method", "one deal, equal starts", "blocks of two, equal starts", "three blocks", "one deal, unlike starts", "blocks of two, unlike starts"}

// figures are what both sides answer, in this order, with what they may differ by; a figure that a case does not have is
// -1e9 on both sides.
var figures = []struct {
	name  string
	bound float64
}{
	{"p", 1e-9}, {"estimate", 1e-7}, {"low end", 1e-7}, {"high end", 1e-7}, {"p of unlike starts", 1e-9}, {"slope on start", 1e-9},
	{"detectable, noncentral t of SciPy, relative", 0.03},
}

const none = -1e9

// given is a case as the reference reads it.
type given struct {
	Kind string `json:"kind"`
	Rows []row  `json:"rows"`
}

type row struct {
	Block  string `json:"block"`
	Method string `json:"method"`
	Before int    `json:"before"`
	After  int    `json:"after"`
}

func main() {
	seed := flag.Uint64("seed", 1, "of the random cases")
	cases := flag.Int("cases", 1000, "how many")
	python := flag.String("python", "python3", "Python with SciPy")
	reference := flag.String("reference", "testdata/crosscheck/compare/reference.py", "the reference program")
	flag.Parse()
	if err := run(*seed, *cases, *python, *reference); err != nil {
		fmt.Fprintln(os.Stderr, "crosscheck of compare:", err)
		os.Exit(1)
	}
}

func run(seed uint64, cases int, python, reference string) error {
	random := rand.New(rand.NewPCG(seed, 6))
	var all []given
	var ours [][]float64
	for i := range cases {
		g := draw(random, kinds[i%len(kinds)])
		answer, err := answer(g)
		if err != nil {
			return err
		}
		all, ours = append(all, g), append(ours, answer)
	}
	theirs, err := ask(python, reference, all)
	if err != nil {
		return err
	}
	return report(seed, all, ours, theirs)
}

// draw makes the disks of a case. Changes are drawn wide, so that few are tied, and odd cases narrow, so that many are.
func draw(random *rand.Rand, kind string) given {
	g := given{Kind: kind}
	wide := 500
	if random.IntN(3) == 0 {
		wide = 12
	}
	add := func(block int, method string) {
		before := 1000
		if kind == kinds[4] || kind == kinds[5] {
			before = 600 + random.IntN(400)
		}
		g.Rows = append(g.Rows, row{fmt.Sprint(block), method, before, before - random.IntN(wide) + wide/3})
	}
	switch kind {
	case kinds[0]:
		for range 1 + random.IntN(14) {
			add(0, "a")
		}
	case kinds[1], kinds[4]:
		for range 4 + random.IntN(4) {
			add(0, "a")
		}
		for range 4 + random.IntN(4) {
			add(0, "b")
		}
	case kinds[2], kinds[5]:
		for block := range 6 + random.IntN(6) {
			add(block, "a")
			add(block, "b")
		}
	default:
		for block := range 3 {
			for range 1 + random.IntN(3) {
				add(block, "a")
			}
			for range 1 + random.IntN(3) {
				add(block, "b")
			}
		}
	}
	return g
}

// answer is our result.
func answer(g given) ([]float64, error) {
	var rows []compare.Row
	for i, r := range g.Rows {
		rows = append(rows, compare.Row{Disk: fmt.Sprint(i), Block: r.Block, Method: r.Method, Before: r.Before, After: r.After})
	}
	result, err := compare.Compare(rows, compare.Options{})
	if err != nil {
		return nil, err
	}
	if g.Kind == kinds[0] {
		m := result.Methods[0]
		low, high := ends(m.Interval)
		return []float64{m.P, m.Shift, low, high, none, none, none}, nil
	}
	p := result.Pairs[0]
	low, high := ends(p.Interval)
	out := []float64{p.P, *p.Difference, low, high, p.StartP, p.Slope, none}
	if p.Detectable != nil {
		out[6] = *p.Detectable
	}
	if !p.Exact {
		return nil, fmt.Errorf("a case of %d disks was drawn, not counted", len(rows))
	}
	return out, nil
}

func ends(interval *[2]float64) (low, high float64) {
	if interval == nil {
		return none, none
	}
	return interval[0], interval[1]
}

// ask gives the reference one case a line and reads one list of numbers a line.
func ask(python, reference string, all []given) (answers [][]float64, err error) {
	var in, out bytes.Buffer
	for _, g := range all {
		if err := json.NewEncoder(&in).Encode(g); err != nil {
			return nil, err
		}
	}
	command := exec.Command(python, reference)
	command.Stdin, command.Stdout, command.Stderr = &in, &out, os.Stderr
	if err := command.Run(); err != nil {
		return nil, fmt.Errorf("the reference program failed: %w", err)
	}
	for decoder := json.NewDecoder(&out); ; {
		var answer []float64
		if err := decoder.Decode(&answer); err == io.EOF {
			break
		} else if err != nil || len(answer) != len(figures) {
			return nil, fmt.Errorf("the reference program answered %v (%v)", answer, err)
		}
		answers = append(answers, answer)
	}
	if len(answers) != len(all) {
		return nil, fmt.Errorf("the reference program answered %d of %d cases", len(answers), len(all))
	}
	return answers, nil
}

// report prints the worst difference of each figure by kind.
func report(seed uint64, all []given, ours, theirs [][]float64) error {
	fmt.Printf("seed %d, %d cases\n%-30s %-45s %6s %10s %8s\n", seed, len(all), "cases", "figure", "points", "worst", "bound")
	broken := 0
	for _, kind := range kinds {
		for f, figure := range figures {
			worst, at, points := 0.0, -1, 0
			for i, g := range all {
				x, y := ours[i][f], theirs[i][f]
				if g.Kind != kind || x == none && y == none {
					continue
				}
				points++
				off := math.Abs(x - y)
				if f == len(figures)-1 {
					off /= math.Abs(y)
				}
				if !(off <= worst) {
					worst, at = off, i
				}
			}
			if points == 0 {
				continue
			}
			fmt.Printf("%-30s %-45s %6d %10.2g %8.2g\n", kind, figure.name, points, worst, figure.bound)
			if !(worst <= figure.bound) {
				broken++
				fmt.Printf("    BROKEN: ours %v, theirs %v of %+v\n", ours[at][f], theirs[at][f], all[at].Rows)
			}
		}
	}
	if broken > 0 {
		return fmt.Errorf("%d bounds are broken", broken)
	}
	return nil
}
