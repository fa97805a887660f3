package calibration

import (
	"errors"
	"fmt"
	"math"
)

// overNoise is how many times larger than the noise the difference between the empty and the fully loaded cell must be.
const overNoise = 20

// usable refuses points that no line should be drawn through.
func usable(points []Point, rating Rating) error {
	masses := map[float64]bool{}
	for i, p := range points {
		if err := p.usable(rating); err != nil {
			return fmt.Errorf("point %d: %w", i+1, err)
		}
		masses[p.Mass] = true
	}
	// The sentences are ordered by what one has to mend first.
	switch {
	case len(masses) == 1 && masses[0]:
		return errors.New("the only mass is 0 g: put on at least two different known masses as well")
	case !masses[0]:
		return errors.New("the empty cell is missing: read it with 0 g too")
	case len(masses) < 3:
		return errors.New("two masses lie on a line whatever is wrong: put on at least one more, between them or above")
	}
	return nil
}

// usable refuses a point that is no reading of a known mass.
func (p Point) usable(rating Rating) error {
	switch {
	case !finite(p.Mass):
		return errors.New("the mass is no number")
	case p.Mass < 0:
		return fmt.Errorf("a mass of %s cannot be: type what is written on it", grams(p.Mass))
	case rating.Load > 0 && p.Mass > rating.Load:
		return fmt.Errorf("%s is more than the %s that the cell may bear: take it off", grams(p.Mass), grams(rating.Load))
	}
	if err := (Reading{p.Counts, p.SD, p.N}).check(); err != nil {
		return fmt.Errorf("at %s %w: look at the wires and read it again", grams(p.Mass), err)
	}
	// A mean of codes of which some stood at the end is short of the end, and wrong all the same.
	if reach := Counts(3 * p.SD); rating.Low < rating.High && (p.Counts-reach <= rating.Low || p.Counts+reach >= rating.High) {
		return fmt.Errorf("at %s the converter is at the end of its range (%.0f counts): less mass, a lower gain, or a wire is off", grams(p.Mass), float64(p.Counts))
	}
	return nil
}

// accept refuses a line that is no good.
func (c Cell) accept(points []Point, rating Rating) error {
	linear, scatter := rating.Linear, rating.Scatter
	if linear == 0 {
		linear = defaultLinear
	}
	if scatter == 0 {
		scatter = defaultScatter
	}
	// Written so that a figure that is no number is refused as well.
	span, noise := math.Abs(c.Gain)*c.Span, pooled(points)
	switch {
	case !(span > 0) || span < overNoise*noise:
		return fmt.Errorf("the masses change the reading by %.3g counts only, less than %d times its noise of %.3g: larger masses, or look at the wires",
			span, overNoise, noise)
	case !(c.Linearity <= linear):
		return fmt.Errorf("not linear: one mass lies %.1f %% of the span from the line, %.1f %% is allowed; was a mass mistyped, or does the cell touch something?",
			100*c.Linearity, 100*linear)
	case !(c.Hysteresis <= scatter):
		return fmt.Errorf("the same mass reads differently by %.1f %% of the span on the way up and down, %.1f %% is allowed: something rubs or slips",
			100*c.Hysteresis, 100*scatter)
	case !(c.Repeatability <= scatter):
		return fmt.Errorf("the same mass put on again reads differently by %.1f %% of the span, %.1f %% is allowed: set the masses down in the same place",
			100*c.Repeatability, 100*scatter)
	}
	return nil
}

// pooled returns the noise of a single code over all points; each point's scatter counts by how many codes it rests on. 0
// when every point is a single code, and then nothing is known of the noise.
func pooled(points []Point) float64 {
	var squares, df float64
	for _, p := range points {
		squares += p.SD * p.SD * float64(p.N-1)
		df += float64(p.N - 1)
	}
	if df == 0 {
		return 0
	}
	return math.Sqrt(squares / df)
}

// grams writes a mass as it is written on a weight.
func grams(kg float64) string { return fmt.Sprintf("%.6g g", 1000*kg) }
