package drying

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"fullery/recipe/liquid"
)

// Report is how well a fit explains the logs.
type Report struct {
	Residuals []Residual // one for each log, in their order
	Figures   []Figure   // exposure first, then what the liner keeps of each liquid
	Outliers  int
	Used      int     // logs that bore on the fit
	ChiSquare float64 // of the used logs' times, and of weighings
	Freedom   int     // its degrees of freedom
	Notes     []string
}

// Residual is one log against the fit.
type Residual struct {
	Name     string
	Logged   float64 // min
	Expected float64 // min, by the fit
	Sigmas   float64 // logged above expected, in standard deviations of its logarithm; 0 for a bound that is kept
	Outlier  bool    // left out of the fit: more than three standard deviations away
	Unused   string  // why it was not used, if it was not for being an outlier
}

// Figure is one unknown, before the fit and after.
type Figure struct {
	Liquid        string // "" for the exposure
	Before, After Spread // a factor for the exposure, m³ kept for a liquid
	// Narrowed is how wide the interval is after the fit against before, on the logarithmic scale: 0.5 is half as wide.
	Narrowed float64
}

// The rule for logs that do not fit. A first fit all but lets go of the prior, so that logs are held against one another
// and not against what was believed; in it a residual counts by its square up to 1.345 standard deviations and beyond
// that only in proportion (Huber), so that a mistyped time cannot drag it along. What lies beyond 3 there is an outlier
// and left out of the fit proper, which is plain least squares with the prior. When that would be more than a third of
// the logs, they contradict one another. On a bench that scatters more than was assumed the 3 are of its own scatter.
const (
	huber    = 1.345
	outlying = 3.0
	letGo    = 10 // times as wide as it is: the prior in the first fit

	enough      = 6   // logs, before a bench's own scatter is known
	mostScatter = 3.0 // times what was assumed; beyond that the logs are wrong, not the bench
)

// fitting is a fit at work.
type fitting struct {
	logs   []Log
	prior  Belief
	root   [][]float64 // of the prior's covariance
	first  bool        // the first fit, that looks for outliers
	out    []bool      // logs left out
	kept   []int       // which figure each log's liquid is
	made   []liquid.Amounts
	option Options
	// known keeps, for each log, the minutes already computed: nudging what is kept of one liquid to see the slopes leaves
	// the logs of the others as they were, and a Run is what a fit spends its time on.
	known []map[[2]float64]float64
}

// Fit learns from logged dryings: the most probable figures given the prior and the logs (MAP), with their covariance
// from the curvature there. The error is one sentence that says what is missing or wrong; nothing is learned then.
//
// Every log costs a few runs an iteration; a hundred take a second or two.
func Fit(prior Belief, logs []Log) (Belief, Report, error) {
	usable := 0
	names := []string{}
	for i, l := range logs {
		if err := l.check(i); err != nil {
			return prior, Report{}, err
		}
		if l.says() {
			usable++
			names = append(names, l.Liquid.Name)
		}
	}
	if usable < 2 {
		return prior, Report{}, errors.New(tooFew(len(logs), usable))
	}
	f := fitting{logs: logs, prior: prior.with(names...), out: make([]bool, len(logs))}
	f.root, _ = cholesky(f.prior.Cov)
	for _, l := range logs {
		f.kept = append(f.kept, 1+max(slices.Index(f.prior.Liquids, l.Liquid.Name), 0))
		f.made = append(f.made, l.Liquid.Composition())
		f.known = append(f.known, map[[2]float64]float64{})
	}
	s, err := f.solve()
	if err != nil {
		return prior, Report{}, err
	}
	r := f.report(s.at)
	post := f.prior.with()
	post.Mean = s.at
	scale := 1.0
	if r.Freedom > 0 {
		// Logs that scatter more than was assumed must not look surer than they are, nor must the next drying.
		scale = max(1, r.ChiSquare/float64(r.Freedom))
		post.Jitter *= math.Sqrt(scale)
	}
	for i := range s.spread {
		for j := range s.spread {
			post.Cov[i][j] = scale * s.spread[i][j]
		}
	}
	r.Figures = figures(f.prior, post)
	r.Notes = f.notes(r, scale)
	return post, r, nil
}

func tooFew(all, usable int) string {
	switch {
	case all == 0:
		return "nothing was logged yet; log at least two dryings, best with one weighed"
	case usable == 0:
		return "every log was ended by the clock alone, which says nothing of when the liner got dry; log whether it was " +
			"still damp or already dry"
	case all == 1:
		return "one log cannot tell what the liner keeps from how exposed it is; log at least two dryings, best with one " +
			"weighed"
	case all == 2:
		return "only one of 2 logs says when a liner got dry, the other was ended by the clock alone; log at least two"
	}
	return fmt.Sprintf("only one of %d logs says when a liner got dry, the others were ended by the clock alone; log at "+
		"least two", all)
}

// solve looks for outliers, leaves them out, and fits.
func (f *fitting) solve() (solution, error) {
	// The model is smooth in the logarithms, but a Run is only as exact as its steps: nudge by a twentieth.
	q := problem{count: 2*len(f.logs) + len(f.prior.Mean), residuals: f.residuals, close: 1e-5,
		step: func(float64) float64 { return 0.05 }}
	at := f.prior.Mean
	f.first = true
	for range 4 {
		s, err := q.least(at)
		if err != nil {
			return s, fmt.Errorf("the logs cannot be fitted: %w", err)
		}
		at = s.at
		changed, err := f.sorts(at)
		if err != nil {
			return s, err
		}
		if !changed {
			break
		}
	}
	f.first = false
	s, err := q.least(at)
	if err != nil {
		return s, fmt.Errorf("the logs cannot be fitted: %w", err)
	}
	return s, nil
}

// sorts outliers from the other logs and tells whether any changed sides.
func (f *fitting) sorts(at []float64) (changed bool, err error) {
	count, worst, furthest := 0, 0, 0.0
	limit := outlying * f.scatter(at)
	for i, l := range f.logs {
		z := math.Abs(f.sigmas(i, at))
		far := l.says() && z > limit
		changed = changed || far != f.out[i]
		f.out[i] = far
		if far {
			count++
		}
		if far && z > furthest {
			worst, furthest = i, z
		}
	}
	if 3*count <= len(f.logs) {
		return changed, nil
	}
	l := f.logs[worst]
	return changed, fmt.Errorf("the logs contradict one another: %s took %.3g min where the others make about %.3g min "+
		"likely; check times, weights, liquids and air, and log more before fitting", l.title(worst), l.Minutes,
		f.minutes(worst, at))
}

// scatter returns how much more than assumed the logs scatter, robustly, by the median of what they miss by: on a bench
// that dries unevenly three assumed standard deviations are nothing unusual. It is 1 for fewer than enough logs.
func (f *fitting) scatter(at []float64) float64 {
	var z []float64
	for i, l := range f.logs {
		if l.clocked() && l.Bound == Exact {
			z = append(z, math.Abs(f.sigmas(i, at)))
		}
	}
	if len(z) < enough {
		return 1
	}
	slices.Sort(z)
	const normal = 1.4826 // makes the median of absolute values a standard deviation
	return min(max(1, normal*z[len(z)/2]), mostScatter)
}

// minutes returns what the model expects of a log at these figures.
func (f *fitting) minutes(i int, at []float64) float64 {
	c := f.logs[i].Case
	p := pair{exposure: at[0], kept: at[f.kept[i]]}
	if c.Kept > 0 {
		p.kept = math.Log(c.Kept)
	}
	key := [2]float64{p.exposure, p.kept}
	if m, ok := f.known[i][key]; ok {
		return m
	}
	m := run(p.at(c, 0, 0).filled(), f.made[i], f.option.filled()).Minutes
	f.known[i][key] = m
	return m
}

// sigmas returns how far a log is off: its time or, for one that was weighed, its weight, whichever is further.
func (f *fitting) sigmas(i int, at []float64) float64 {
	l, z := f.logs[i], 0.0
	if l.clocked() {
		z = l.miss(f.minutes(i, at), f.prior.Jitter)
	}
	if w := f.weight(i, at); math.Abs(w) > math.Abs(z) {
		return w
	}
	return z
}

// weight returns by how many standard deviations a weighed volume lies above what the liner is taken to keep.
func (f *fitting) weight(i int, at []float64) float64 {
	if l := f.logs[i]; l.Kept > 0 {
		return (math.Log(l.Kept) - at[f.kept[i]]) / keptJitter
	}
	return 0
}

// residuals fills in one residual for each log's time, one for each weighing, and those against the prior.
func (f *fitting) residuals(at, out []float64) {
	clear(out)
	for i, l := range f.logs {
		if f.out[i] {
			continue
		}
		if l.clocked() {
			out[2*i] = f.tamed(l.miss(f.minutes(i, at), f.prior.Jitter))
		}
		out[2*i+1] = f.tamed(f.weight(i, at))
	}
	away := make([]float64, len(at))
	for i := range at {
		away[i] = at[i] - f.prior.Mean[i]
		if f.first {
			away[i] /= letGo
		}
	}
	copy(out[2*len(f.logs):], forward(f.root, away))
}

// tamed returns what, squared, is the measure of a residual: in the first fit Huber's, else the square itself.
func (f *fitting) tamed(z float64) float64 {
	if !f.first || math.Abs(z) <= huber {
		return z
	}
	return math.Copysign(math.Sqrt(2*huber*math.Abs(z)-huber*huber), z)
}
