package drying

import (
	"fmt"
	"math"
)

// report holds the logs against figures. Freedom is the number of readings and nothing is taken off for the figures that
// were fitted: the prior counts as one reading of each.
func (f *fitting) report(at []float64) (r Report) {
	for i, l := range f.logs {
		x := Residual{Name: l.title(i), Logged: l.Minutes, Expected: f.minutes(i, at), Outlier: f.out[i]}
		switch {
		case !l.says():
			x.Unused = "ended by the clock alone"
		case x.Outlier:
			x.Sigmas = f.sigmas(i, at)
			r.Outliers++
		default:
			x.Sigmas = f.sigmas(i, at)
			r.Used++
			r.count(l, f.weight(i, at), l.miss(x.Expected, f.prior.Jitter))
		}
		r.Residuals = append(r.Residuals, x)
	}
	return r
}

// count adds what a log and its weighing miss by to the sum of squares. A bound that is kept is no reading.
func (r *Report) count(l Log, weight, miss float64) {
	if l.Kept > 0 {
		r.ChiSquare += weight * weight
		r.Freedom++
	}
	if l.clocked() && (l.Bound == Exact || miss != 0) {
		r.ChiSquare += miss * miss
		r.Freedom++
	}
}

// figures sets what was believed before beside what is believed after.
func figures(before, after Belief) (out []Figure) {
	for i := range after.Mean {
		b, a := math.Sqrt(before.Cov[i][i]), math.Sqrt(after.Cov[i][i])
		f := Figure{Before: spread(before.Mean[i], b), After: spread(after.Mean[i], a), Narrowed: a / b}
		if i > 0 {
			f.Liquid = after.Liquids[i-1]
		}
		out = append(out, f)
	}
	return out
}

// notes says what a person should know of the fit, one sentence each.
func (f *fitting) notes(r Report, scale float64) (out []string) {
	weighed, bounds := 0, 0
	for i, l := range f.logs {
		if l.Kept > 0 && !f.out[i] {
			weighed++
		}
		if l.clocked() && l.Bound != Exact {
			bounds++
		}
	}
	if r.Outliers == 1 {
		out = append(out, fmt.Sprintf("1 of %d logs lies far from the fit, more than three standard deviations, and was left out: "+
			"check its time, liquid and air.", len(f.logs)))
	} else if r.Outliers > 1 {
		out = append(out, fmt.Sprintf("%d of %d logs lie far from the fit, more than three standard deviations, and were left out: "+
			"check their times, liquids and air.", r.Outliers, len(f.logs)))
	}
	if weighed == 0 {
		out = append(out, "No log was weighed, so that more liquid and less exposure look alike: times are learned, the two "+
			"figures behind them hardly; weigh one disk dry, wet and dried to tell them apart.")
	}
	if bounds > 0 && bounds == r.Used {
		out = append(out, "Every time is only a bound; the fit moved no further than they force it to.")
	}
	if scale > 1.5 {
		out = append(out, fmt.Sprintf("The logs scatter %.2g times as much as was assumed; the intervals were widened to match.",
			math.Sqrt(scale)))
	}
	return out
}
