package main

import (
	"fmt"
	"math"
	"strconv"

	"fullery/controller/sweep"
	"fullery/recipe/drying"
)

// One finished candidate as a row of text, and back. What is shown later is read from the row, whether it was written
// today or is resumed from a file, so that both come to the same.

var rowNames = []string{"choice", "strength_percent", "scrub_s", "fan_percent", "warm_c", "spin_out_s", "min_median", "min_low",
	"min_high", "liquid_ml", "peak_percent_lfl", "warmest_c", "rubbing_m", "damp", "cut_short", "unproven", "cut_short_by"}

// choiceColumns is how many columns say what the choice is.
const choiceColumns = 1 + int(sweep.NumAxes)

// never stands for the time of a draw that did not complete.
const never = "never"

// encodeRow writes figures with more digits than are shown and fewer than would be noise.
func encodeRow(candidate int, c sweep.Choice, f sweep.Figures) []string {
	row := []string{strconv.Itoa(candidate)}
	for a := range sweep.NumAxes {
		row = append(row, choiceField(a, c[a]))
	}
	for _, m := range []float64{f.Minutes.Median, f.Minutes.Low, f.Minutes.High} {
		row = append(row, field(m, 1e-4))
	}
	row = append(row, field(f.Liquid*1e6, 1e-4), field(f.Peak*100, 1e-3), field(celsiusOf(f.Warmest), 1e-3), field(f.Slide, 1e-3))
	for _, n := range []int{f.Damp, f.CutShort, f.Unproven} {
		row = append(row, strconv.Itoa(n))
	}
	return append(row, f.Cause)
}

// choiceField is empty where the recipe is left as it is, and "no" for air that is not warmed.
func choiceField(a sweep.Axis, v float64) string {
	if x, ok := choiceNumber(a, v); ok {
		return field(x, 1e-3)
	}
	if v == sweep.AsRecipe {
		return ""
	}
	return a.Say(v)
}

// choiceNumber is a value in the unit of its column; there is none where it is left as it is, or not warmed.
func choiceNumber(a sweep.Axis, v float64) (x float64, ok bool) {
	switch {
	case v == sweep.AsRecipe || a == sweep.Warm && v == 0:
		return 0, false
	case a == sweep.Warm:
		return celsiusOf(v), true
	case a == sweep.Scrub || a == sweep.SpinOut:
		return v, true
	default:
		return v * 100, true
	}
}

// field writes a number without an exponent, as every program reads it.
func field(x, step float64) string {
	if math.IsInf(x, 1) {
		return never
	}
	return strconv.FormatFloat(roundTo(x, step), 'f', -1, 64)
}

// decodeRow reads the figures of a row of so many draws. The error names the column.
func decodeRow(row []string, draws int) (f sweep.Figures, err error) {
	at := choiceColumns
	number := func() (x float64) {
		if err == nil {
			x, err = readField(row[at])
			err = named(err, at)
		}
		at++
		return x
	}
	count := func() (n int) {
		if err == nil {
			n, err = strconv.Atoi(row[at])
			if err == nil && (n < 0 || n > draws) {
				err = fmt.Errorf("%d is not a number of %d draws", n, draws)
			}
			err = named(err, at)
		}
		at++
		return n
	}
	f.Draws = draws
	f.Minutes = drying.Spread{Median: number(), Low: number(), High: number()}
	f.Liquid, f.Peak, f.Warmest, f.Slide = number()/1e6, number()/100, number()+273.15, number()
	f.Damp, f.CutShort, f.Unproven = count(), count(), count()
	f.Cause = row[at]
	return f, err
}

// readField refuses what field never writes.
func readField(text string) (float64, error) {
	if text == never {
		return math.Inf(1), nil
	}
	x, err := strconv.ParseFloat(text, 64)
	if err == nil && (math.IsNaN(x) || math.IsInf(x, 0)) {
		err = fmt.Errorf("%q is no number", text)
	}
	return x, err
}

func named(err error, at int) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%s: %w", rowNames[at], err)
}
