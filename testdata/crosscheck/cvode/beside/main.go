// Beside times drying.Run and a C program that solves the same equations with CVODE, in turns within one run.
//
// Both do the same twenty dryings at the same tolerance, each from nothing; where drying.Run follows one a second time,
// without the water that the liner takes up, so does the other. How far each is off is told by CVODE at a tolerance of
// 1e-10; because a tolerance is what is asked of a step, not what comes out, CVODE is timed at our error, too.
package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"time"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

const (
	zeroC     = 273.15
	tolerance = 3e-4
	rounds    = 9
	repeats   = 50 // of all cases in a round
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: beside PROGRAM, the one that was compiled from drying.c")
		os.Exit(2)
	}
	if err := compare(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// cases are five liquids in four states of the air, on a bench like the one that ships.
func cases() (all []drying.Case) {
	for _, name := range []string{"water", "isopropanol-99", "isopropanol-91", "isopropanol-70", "ethanol-96"} {
		l, err := liquid.Parse(name)
		if err != nil {
			panic(err) // the names are known
		}
		for _, air := range []struct{ celsius, humidity, warmC, flow float64 }{
			{21, 0.5, 0, 3e-3}, {18, 0.7, 0, 1e-3}, {25, 0.3, 0, 5e-3}, {21, 0.5, 36, 3e-3},
		} {
			c := drying.Case{Liquid: l, Kept: 2e-6, Air: zeroC + air.celsius, Humidity: air.humidity, Film: 0.3, Flow: air.flow,
				Until: drying.DefaultDry, Pressure: drying.Atmosphere}
			if air.warmC > 0 {
				c.Warm = zeroC + air.warmC
			}
			all = append(all, c)
		}
	}
	return all
}

func compare(program string) error {
	all := cases()
	ours, lines, err := written(all)
	if err != nil {
		return err
	}
	exact, _, err := solved(program, lines, 1e-10, 1)
	if err != nil {
		return err
	}
	matching, err := matched(program, lines, exact, furthest(ours, exact))
	if err != nil {
		return err
	}
	cvode := func(c *contender) ([]float64, float64, error) { return solved(program, lines, c.tolerance, repeats) }
	contenders := []*contender{
		{name: "drying.Run", tolerance: tolerance,
			round: func(*contender) ([]float64, float64, error) { took, err := timed(all); return ours, took, err }},
		{name: "CVODE, same tolerance", tolerance: tolerance, round: cvode},
		{name: "CVODE, same error", tolerance: matching, round: cvode},
	}
	for range rounds {
		for _, c := range contenders {
			minutes, took, err := c.round(c)
			if err != nil {
				return err
			}
			c.minutes, c.micros = minutes, append(c.micros, took)
		}
	}
	fmt.Printf("%d dryings, medians of %d rounds of %d repeats in turns\n", len(all), rounds, repeats)
	for _, c := range contenders {
		fmt.Printf("%-22s %7.1f µs an estimate (%.1f to %.1f), tolerance %-8.2g minutes off by at most %.4f %%, drying.Run takes %.2f\n",
			c.name, median(c.micros), slices.Min(c.micros), slices.Max(c.micros), c.tolerance,
			100*furthest(c.minutes, exact), median(contenders[0].micros)/median(c.micros))
	}
	return nil
}

// contender is one way of solving the cases. A round of it returns minutes, and microseconds for one estimate.
type contender struct {
	name      string
	tolerance float64
	round     func(*contender) ([]float64, float64, error)
	minutes   []float64
	micros    []float64
}

// matched returns the first of ever smaller tolerances at which CVODE is off by no more than we are.
func matched(program, lines string, exact []float64, most float64) (float64, error) {
	for t := tolerance; t > 1e-9; t *= 0.8 {
		minutes, _, err := solved(program, lines, t, 1)
		if err != nil {
			return 0, err
		}
		if furthest(minutes, exact) <= most {
			return t, nil
		}
	}
	return 0, fmt.Errorf("CVODE does not get as close as %g at any tolerance", most)
}

// written returns our minutes, and the cases as the C program reads them.
func written(all []drying.Case) (minutes []float64, lines string, err error) {
	var text strings.Builder
	for _, c := range all {
		r, err := drying.Run(c, drying.Options{})
		if err != nil {
			return nil, "", err
		}
		if r.Never {
			return nil, "", fmt.Errorf("a case that never dries cannot be timed: %s", r.Reason)
		}
		minutes = append(minutes, r.Minutes)
		twice := 0
		if r.WithoutUptake != r.Minutes {
			twice = 1
		}
		w := c.Liquid.Composition()
		fmt.Fprintln(&text, w[0], w[1], w[2], r.KeptMass, c.Air, c.Humidity, max(c.Air, c.Warm), c.Film, c.Flow, c.Until,
			c.Pressure, 0.3, 10, twice) // the defaults of Options
	}
	return minutes, text.String(), nil
}

func timed(all []drying.Case) (micros float64, err error) {
	began := time.Now()
	for range repeats {
		for _, c := range all {
			if _, err := drying.Run(c, drying.Options{Tolerance: tolerance}); err != nil {
				return 0, err
			}
		}
	}
	return float64(time.Since(began).Nanoseconds()) / 1e3 / repeats / float64(len(all)), nil
}

// solved has the C program do the cases, and returns their minutes and what one took by its own clock.
func solved(program, lines string, tolerance float64, repeats int) (minutes []float64, micros float64, err error) {
	command := exec.Command(program)
	command.Stdin = strings.NewReader(fmt.Sprintf("%g %d\n%s", tolerance, repeats, lines))
	var out bytes.Buffer
	command.Stdout, command.Stderr = &out, os.Stderr
	if err := command.Run(); err != nil {
		return nil, 0, fmt.Errorf("%s: %w", program, err)
	}
	for i, word := range strings.Fields(out.String()) {
		x, err := strconv.ParseFloat(word, 64)
		if err != nil {
			return nil, 0, err
		}
		if i == 0 {
			micros = x
			continue
		}
		minutes = append(minutes, x)
	}
	if len(minutes) != strings.Count(lines, "\n") {
		return nil, 0, fmt.Errorf("%s answered %d cases", program, len(minutes))
	}
	return minutes, micros, nil
}

func furthest(got, want []float64) (worst float64) {
	for i := range want {
		worst = max(worst, math.Abs(got[i]/want[i]-1)) // max keeps NaN
	}
	return worst
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}
