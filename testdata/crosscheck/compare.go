package main

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
)

// comparison is one thing that both we and a reference compute.
type comparison struct {
	name      string // by which the reference program knows it, too
	reference reference
	points    int
	why       string   // where the bound comes from
	figures   []figure // what is compared at each point
	// draw returns one random point; false when the draw is of no use and another is wanted.
	draw func(*rand.Rand) (point, bool)
}

// reference names the libraries that answer.
type reference string

const (
	pythonLibraries reference = "PYTHON WITH IAPWS, NUMPY AND SCIPY"
	psychrolib      reference = "PSYCHROLIB"
)

// point is what the reference is given, and what we make of it, one number for each figure.
type point struct{ given, ours []float64 }

// figure is one number that is compared.
type figure struct {
	name  string
	bound float64
	unit  string // "" for a relative difference; else the difference itself in that unit
}

func (f figure) difference(ours, theirs float64) float64 {
	d := math.Abs(ours - theirs)
	if f.unit == "" {
		d /= math.Abs(theirs)
	}
	if math.IsNaN(d) {
		return math.Inf(1)
	}
	return d
}

func (f figure) say(x float64) string {
	if f.unit == "" {
		return fmt.Sprintf("%.3g %%", 100*x)
	}
	return fmt.Sprintf("%.3g %s", x, f.unit)
}

// result is one figure over all points.
type result struct {
	of     figure
	points int
	worst  float64
	at     point
	place  int // of the figure in the point
	theirs float64
}

// broken is written so that not a number is broken.
func (r result) broken() bool { return !(r.worst <= r.of.bound) }

func (r result) String() string {
	line := fmt.Sprintf("%-58s %6d %12s %12s", r.of.name, r.points, r.of.say(r.worst), r.of.say(r.of.bound))
	if r.broken() {
		line += fmt.Sprintf("  BROKEN: ours %.8g, theirs %.8g at %.6g", r.at.ours[r.place], r.theirs, r.at.given)
	}
	return line
}

// run draws the points, asks the reference, and finds the worst difference of each figure.
func (c comparison) run(seed, stream uint64, program []string) ([]result, error) {
	points, err := c.drawn(seed, stream)
	if err != nil {
		return nil, err
	}
	theirs, err := ask(program, points, len(c.figures))
	if err != nil {
		return nil, err
	}
	var out []result
	for f, fig := range c.figures {
		r := result{of: fig, points: len(points), worst: -1, place: f}
		for i, p := range points {
			if d := fig.difference(p.ours[f], theirs[i][f]); d > r.worst {
				r.worst, r.at, r.theirs = d, p, theirs[i][f]
			}
		}
		out = append(out, r)
	}
	return out, nil
}

// drawn draws the points, each from a random source of its own, so that they are the same on any number of cores.
func (c comparison) drawn(seed, stream uint64) ([]point, error) {
	points, failures := make([]point, c.points), make([]error, c.points)
	spread(c.points, func(i int) {
		points[i], failures[i] = c.one(rand.New(rand.NewPCG(seed, stream<<32+uint64(i))))
	})
	return points, first(failures)
}

func (c comparison) one(random *rand.Rand) (point, error) {
	const tries = 100
	for range tries {
		if p, ok := c.draw(random); ok {
			return p, nil
		}
	}
	return point{}, fmt.Errorf("none of %d draws was of use", tries)
}

// first returns the first error that is one.
func first(failures []error) error {
	for _, err := range failures {
		if err != nil {
			return err
		}
	}
	return nil
}

// spread does so many things on all cores.
func spread(count int, do func(i int)) {
	var next atomic.Int64
	var done sync.WaitGroup
	for range runtime.NumCPU() {
		done.Go(func() {
			for i := int(next.Add(1)) - 1; i < count; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	done.Wait()
}

// ask gives the points to as many copies of the program as there are cores, and returns their answers in order.
func ask(program []string, points []point, figures int) ([][]float64, error) {
	copies := min(runtime.NumCPU(), len(points))
	answers, failures := make([][][]float64, copies), make([]error, copies)
	spread(copies, func(i int) {
		answers[i], failures[i] = askOne(program, points[i*len(points)/copies:(i+1)*len(points)/copies], figures)
	})
	var all [][]float64
	for _, some := range answers {
		all = append(all, some...)
	}
	return all, first(failures)
}

// askOne writes one line of numbers for each point to the program and reads one line of numbers for each from it.
func askOne(program []string, points []point, figures int) ([][]float64, error) {
	var in, out bytes.Buffer
	for _, p := range points {
		in.WriteString(join(p.given) + "\n")
	}
	command := exec.Command(program[0], program[1:]...)
	command.Stdin, command.Stdout, command.Stderr = &in, &out, os.Stderr
	if err := command.Run(); err != nil {
		return nil, fmt.Errorf("the reference program failed: %w", err)
	}
	var answers [][]float64
	for line := range strings.Lines(out.String()) {
		row, err := split(line)
		if err != nil || len(row) != figures {
			return nil, fmt.Errorf("the reference program answered %q where %d numbers were due", line, figures)
		}
		answers = append(answers, row)
	}
	if len(answers) != len(points) {
		return nil, fmt.Errorf("the reference program answered %d of %d points", len(answers), len(points))
	}
	return answers, nil
}

func join(numbers []float64) string {
	words := make([]string, len(numbers))
	for i, x := range numbers {
		words[i] = strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strings.Join(words, " ")
}

func split(line string) ([]float64, error) {
	var row []float64
	for _, word := range strings.Fields(line) {
		x, err := strconv.ParseFloat(word, 64)
		if err != nil {
			return nil, err
		}
		row = append(row, x)
	}
	return row, nil
}

// references says where the reference programs are and what runs them.
type references struct{ folder, python, node string }

// command returns the command line that answers a comparison, or nil where its reference is missing. The last argument
// is this program itself, for references that need our model inside a method of theirs.
func (r references) command(by reference, name string) []string {
	self, err := os.Executable()
	if err != nil {
		return nil
	}
	switch {
	case by == pythonLibraries && r.python != "":
		return []string{r.python, r.folder + "/reference.py", name, self}
	case by == psychrolib && r.node != "":
		return []string{r.node, r.folder + "/reference.js", name}
	}
	return nil
}

// between returns a number evenly from low to high, across one evenly in its logarithm.
func between(random *rand.Rand, low, high float64) float64 { return low + (high-low)*random.Float64() }

func across(random *rand.Rand, low, high float64) float64 {
	return math.Exp(between(random, math.Log(low), math.Log(high)))
}
