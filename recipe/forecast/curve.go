package forecast

import (
	"math"
	"slices"

	"fullery/recipe/drying"
)

// Sample is one moment of a curve. What Value is stands where the curve is.
type Sample struct {
	Seconds float64 // from the start of the cycle
	Value   float64
}

// piece is a part of the cycle during which one drying gives off vapour.
type piece struct {
	start, long float64 // s: of the cycle
	from        float64 // s of the drying that are over when the piece begins
	of          drying.Case
	how         drying.Options
	beside      float64 // what comes from pads and tray while it dries, fraction of the lower flammable limit
}

// closely is the tolerance at which steps are short enough to be joined by straight lines.
const closely = 1e-6

// begins returns when a stage begins, s, once those before it are worked out.
func (c *cycle) begins(stage int) (sum float64) {
	for _, s := range c.stages[:stage] {
		sum += s.Seconds.Median
	}
	return sum
}

// duct follows the vapour in the duct through the cycle.
func (c *cycle) duct() (curve []Sample, err error) {
	for _, p := range c.pieces {
		p.how.Tolerance = closely
		r, err := drying.Run(p.of, p.how)
		if err != nil {
			return nil, err
		}
		curve = append(silent(curve, p.start), p.samples(r.Curve)...)
	}
	return silent(curve, c.begins(len(c.stages))), nil
}

// silent adds that nothing came since the last sample, up to a time. Both times come of computations of different
// closeness, so that less than a second between them means nothing.
func silent(curve []Sample, until float64) []Sample {
	since := 0.0
	if len(curve) > 0 {
		since = curve[len(curve)-1].Seconds
	}
	if until > since+1 || len(curve) == 0 && until > 0 {
		curve = append(curve, Sample{since, 0}, Sample{until, 0})
	}
	return curve
}

// samples returns the part of a drying that lies in the piece, its ends put in between two points.
func (p piece) samples(curve []drying.Point) (out []Sample) {
	for i := 1; i < len(curve); i++ {
		a, b := curve[i-1], curve[i]
		t0, t1 := max(a.Seconds, p.from), min(b.Seconds, p.from+p.long)
		if t1 <= t0 {
			continue
		}
		at := func(t float64) Sample {
			share := (t - a.Seconds) / (b.Seconds - a.Seconds)
			return Sample{p.start + min(t-p.from, p.long), a.OfLimit + share*(b.OfLimit-a.OfLimit) + p.beside}
		}
		if len(out) == 0 {
			out = append(out, at(t0))
		}
		out = append(out, at(t1))
	}
	return out
}

// hourAfter is how long the curve of the room goes on when the cycle is over.
const hourAfter = 3600.0

// curve is the air of the room in ppm. It bends at the start of every span; between, it is followed often enough.
func (a Air) curve() (out []Sample) {
	const often = 400
	end := a.start[len(a.start)-1] + hourAfter
	times := slices.Clone(a.start)
	for i := range often + 1 {
		times = append(times, end*float64(i)/often)
	}
	slices.Sort(times)
	for _, t := range slices.Compact(times) {
		share, _ := a.at(t)
		out = append(out, Sample{t, share * 1e6})
	}
	return out
}

// Thin returns a curve with at most so many samples, at least 3: those are left out first that bend it least. Ends and the
// largest value stay.
func Thin(curve []Sample, most int) []Sample {
	out := slices.Clone(curve)
	if len(out) == 0 {
		return out
	}
	long, high := out[len(out)-1].Seconds, 0.0
	for _, s := range out {
		high = max(high, s.Value)
	}
	// By the area of the triangle with both neighbours, after Visvalingam, in shares of the whole curve.
	bend := func(i int) float64 {
		if out[i].Value == high {
			return math.Inf(1)
		}
		a, b, c := out[i-1], out[i], out[i+1]
		return math.Abs((b.Seconds-a.Seconds)*(c.Value-a.Value)-(c.Seconds-a.Seconds)*(b.Value-a.Value)) / (long*high + 1e-300)
	}
	for len(out) > max(most, 3) {
		least, at := math.Inf(1), 1
		for i := 1; i < len(out)-1; i++ {
			if x := bend(i); x < least {
				least, at = x, i
			}
		}
		out = slices.Delete(out, at, at+1)
	}
	return out
}
