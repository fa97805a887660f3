package drying

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// bench is an invented bench whose figures a fit is to find.
type bench struct {
	exposure float64
	kept     map[string]float64 // m³
	jitter   float64            // of each logged time, drawn by the seed
	seed     uint64
}

// logs dries each of the liquids in turn, count times in all, in air that differs a little from time to time.
func (b bench) logs(t testing.TB, count int, names ...string) (out []Log) {
	t.Helper()
	r := rand.New(rand.NewPCG(b.seed, 7))
	for i := range count {
		c := shipped(t, names[i%len(names)])
		c.Humidity = 0.35 + 0.2*r.Float64()
		c.Air += 4*r.Float64() - 2
		real := c
		real.Film *= b.exposure
		real.Kept = b.kept[c.Liquid.Name]
		c.Kept = 0
		minutes := mustRun(t, real, Options{}).Minutes * math.Exp(b.jitter*r.NormFloat64())
		out = append(out, Log{Case: c, Minutes: minutes, Evidence: BySurface})
	}
	return out
}

func mustFit(t testing.TB, prior Belief, logs []Log) (Belief, Report) {
	t.Helper()
	b, r, err := Fit(prior, logs)
	if err != nil {
		t.Fatal(err)
	}
	return b, r
}

var odd = bench{exposure: 0.7, kept: map[string]float64{"water": 2.6e-6, "isopropanol-99": 2.2e-6}, jitter: 0.1, seed: 1}

func TestFitLearnsTheTimes(t *testing.T) {
	b, r := mustFit(t, Prior(), odd.logs(t, 12, "water", "isopropanol-99"))
	for name, kept := range odd.kept {
		c := shipped(t, name)
		c.Kept = 0
		before, _ := Estimate(Prior(), c, Options{})
		after, err := Estimate(b, c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		real := shipped(t, name)
		real.Kept, real.Film = kept, 0.3*odd.exposure
		near(t, name, after.Minutes.Median, mustRun(t, real, Options{}).Minutes, 0.07)
		if a, b := after.Minutes.High/after.Minutes.Low, before.Minutes.High/before.Minutes.Low; a > 1.5 || a > 0.8*b {
			t.Errorf("%s: high to low is %.2f after the fit, %.2f before", name, a, b)
		}
	}
	if r.Used != 12 || r.Outliers != 0 || r.Freedom != 12 || len(r.Residuals) != 12 {
		t.Errorf("%+v", r)
	}
	if len(r.Figures) != 3 || r.Figures[0].Liquid != "" || r.Figures[0].Narrowed >= 1 {
		t.Errorf("%+v", r.Figures)
	}
	if !strings.Contains(strings.Join(r.Notes, " "), "No log was weighed") {
		t.Errorf("notes %q do not say that a weighing is missing", r.Notes)
	}
}

func TestWeighingTellsTheTwoApart(t *testing.T) {
	logs := odd.logs(t, 8, "water")
	blind, _ := mustFit(t, Prior(), logs)
	weighed := slices.Clone(logs)
	weighed[3].Kept = odd.kept["water"]
	weighed[3].Evidence = ByWeight
	seeing, r := mustFit(t, Prior(), weighed)
	water := logs[0].Liquid
	near(t, "kept", seeing.Kept(water).Median, odd.kept["water"], 0.04)
	near(t, "exposure", seeing.Exposure().Median, odd.exposure, 0.1)
	if a, b := seeing.Exposure(), blind.Exposure(); a.High/a.Low > 0.9*b.High/b.Low {
		t.Errorf("exposure %v with a weighing, %v without", a, b)
	}
	if r.Freedom != 9 {
		t.Errorf("%d degrees of freedom, want 8 times and 1 weight", r.Freedom)
	}
}

func TestOutlierIsLeftOut(t *testing.T) {
	logs := odd.logs(t, 9, "water", "isopropanol-99")
	clean, _ := mustFit(t, Prior(), slices.Delete(slices.Clone(logs), 4, 5))
	logs[4].Minutes *= 10
	logs[4].Name = "disk 4"
	got, r := mustFit(t, Prior(), logs)
	if r.Outliers != 1 || !r.Residuals[4].Outlier || r.Residuals[4].Sigmas < 10 || r.Residuals[4].Name != "disk 4" {
		t.Errorf("%+v", r.Residuals[4])
	}
	for i := range got.Mean {
		if math.Abs(got.Mean[i]-clean.Mean[i]) > 1e-3 {
			t.Errorf("figure %d is %.4f, without the outlier %.4f", i, got.Mean[i], clean.Mean[i])
		}
	}
}

// Each disk was weighed and kept something else: its own time must be held against its own volume, and what the liner
// is taken to keep must come from the scale even where the times say nothing of it.
func TestEveryDiskWeighed(t *testing.T) {
	var logs []Log
	for _, kept := range []float64{2.8e-6, 3.0e-6, 3.2e-6, 2.9e-6, 3.1e-6} {
		b := odd
		b.kept, b.jitter = map[string]float64{"water": kept}, 0
		l := b.logs(t, 1, "water")[0]
		l.Kept = kept
		logs = append(logs, l)
	}
	b, r := mustFit(t, Prior(), logs)
	near(t, "kept", b.Kept(logs[0].Liquid).Median, 3e-6, 0.02)
	near(t, "exposure", b.Exposure().Median, odd.exposure, 0.05)
	for i, x := range r.Residuals {
		if z := math.Log(x.Logged/x.Expected) / logs[i].width(defaultJitter); math.Abs(z) > 0.5 {
			t.Errorf("log %d is %.2f standard deviations off in time", i+1, z)
		}
	}
	near(t, "width of a weighed log", Log{Case: Case{Kept: 1e-6}, Evidence: ByAir}.width(0.1), math.Sqrt(0.0175), 1e-12)
}

// One time in five that is thirty times too long must not take the other four with it, and two logs of a bench ten
// times less exposed than its file says must not be called a contradiction.
func TestFirstFitIsRobust(t *testing.T) {
	logs := odd.logs(t, 5, "water")
	logs[2].Minutes *= 30
	if _, r := mustFit(t, Prior(), logs); r.Outliers != 1 || !r.Residuals[2].Outlier {
		t.Errorf("%+v", r.Residuals)
	}
	far := bench{exposure: 0.1, kept: map[string]float64{"water": 2e-6}, jitter: 0.02, seed: 3}
	if _, r := mustFit(t, Prior(), far.logs(t, 2, "water")); r.Outliers != 0 {
		t.Errorf("%+v", r.Residuals)
	}
}

// Three assumed standard deviations are nothing unusual on a bench that dries unevenly.
func TestUnevenBenchHasNoOutliers(t *testing.T) {
	count := 0
	for seed := range uint64(6) {
		uneven := bench{exposure: 1, kept: map[string]float64{"water": 2e-6}, jitter: 0.3, seed: seed + 1}
		_, r := mustFit(t, Prior(), uneven.logs(t, 12, "water"))
		count += r.Outliers
	}
	if count > 4 {
		t.Errorf("%d of 72 logs were left out", count)
	}
}

// A bench far from the prior is no contradiction: its logs agree with one another.
func TestFarBenchIsLearned(t *testing.T) {
	far := bench{exposure: 0.2, kept: map[string]float64{"water": 3e-6}, jitter: 0.05, seed: 3}
	b, r := mustFit(t, Prior(), far.logs(t, 6, "water"))
	c := shipped(t, "water")
	c.Kept = 0
	e, err := Estimate(b, c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	real := shipped(t, "water")
	real.Kept, real.Film = 3e-6, 0.06
	near(t, "minutes", e.Minutes.Median, mustRun(t, real, Options{}).Minutes, 0.1)
	if r.Outliers != 0 {
		t.Errorf("%d of its logs were left out", r.Outliers)
	}
}

func TestBounds(t *testing.T) {
	c := shipped(t, "water")
	c.Kept = 0
	bound := func(minutes float64, b Bound) Log { return Log{Case: c, Minutes: minutes, Evidence: ByClock, Bound: b} }
	before, _ := Estimate(Prior(), c, Options{})
	kept, r := mustFit(t, Prior(), []Log{bound(20, AtLeast), bound(200, AtMost)})
	if e := kept.Exposure(); math.Abs(e.Median-1) > 1e-6 {
		t.Errorf("bounds that are kept moved the exposure to %v", e)
	}
	if r.Freedom != 0 || r.Used != 2 {
		t.Errorf("%+v", r)
	}
	for _, x := range []struct {
		logs []Log
		up   bool
	}{
		{[]Log{bound(90, AtLeast), bound(100, AtLeast)}, true},
		{[]Log{bound(30, AtMost), bound(25, AtMost)}, false},
	} {
		b, _ := mustFit(t, Prior(), x.logs)
		after, _ := Estimate(b, c, Options{})
		if (after.Minutes.Median > 1.2*before.Minutes.Median) != x.up || (after.Minutes.Median < before.Minutes.Median/1.2) == x.up {
			t.Errorf("%v: %.1f min, before %.1f", x.logs[0].Bound, after.Minutes.Median, before.Minutes.Median)
		}
	}
}

func TestClockAloneIsListedButNotUsed(t *testing.T) {
	logs := odd.logs(t, 4, "water")
	plain, _ := mustFit(t, Prior(), logs)
	c := logs[0]
	c.Evidence, c.Minutes = ByClock, 600
	got, r := mustFit(t, Prior(), append(logs, c))
	if r.Residuals[4].Unused == "" || r.Used != 4 || math.Abs(got.Mean[0]-plain.Mean[0]) > 1e-9 {
		t.Errorf("%+v", r.Residuals[4])
	}
}

func TestFitOnAFitGoesOn(t *testing.T) {
	logs := odd.logs(t, 10, "water", "isopropanol-99")
	whole, _ := mustFit(t, Prior(), logs)
	half, _ := mustFit(t, Prior(), logs[:5])
	both, _ := mustFit(t, half, logs[5:])
	for _, name := range []string{"water", "isopropanol-99"} {
		c := shipped(t, name)
		c.Kept = 0
		a, _ := Estimate(whole, c, Options{})
		b, _ := Estimate(both, c, Options{})
		near(t, name+" in two goes", b.Minutes.Median, a.Minutes.Median, 0.02)
	}
}

// Over many benches drawn from the prior, 80 % of the intervals must hold the true figures, and the next drying.
func TestIntervalsHoldWhatTheyPromise(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 9))
	const benches = 60
	figures, next, all := 0, 0, 0
	for i := range benches {
		draw := func(width float64) float64 { return math.Exp(width * r.NormFloat64()) }
		b := bench{draw(exposureWidth), map[string]float64{"water": DefaultKept * draw(keptWidth)},
			math.Hypot(defaultJitter, sharpness[BySurface]), uint64(i)}
		post, _, err := Fit(Prior(), b.logs(t, 3, "water"))
		if err != nil {
			t.Fatal(err)
		}
		c := shipped(t, "water")
		for _, f := range []struct {
			spread Spread
			truth  float64
		}{{post.Exposure(), b.exposure}, {post.Kept(c.Liquid), b.kept["water"]}} {
			all++
			if f.truth > f.spread.Low && f.truth < f.spread.High {
				figures++
			}
		}
		c.Kept = 0
		e, _ := Estimate(post, c, Options{})
		c.Kept, c.Film = b.kept["water"], c.Film*b.exposure
		if m := mustRun(t, c, Options{}).Minutes * draw(defaultJitter); m > e.Minutes.Low && m < e.Minutes.High {
			next++
		}
	}
	t.Logf("figures %d of %d, next drying %d of %d", figures, all, next, benches)
	// Three standard deviations of a binomial: 80 % ± 11 % of 120 and ± 15.5 % of 60.
	if share := float64(figures) / float64(all); share < 0.69 || share > 0.91 {
		t.Errorf("%.0f %% of the figures' intervals hold the truth, want 80 %%", 100*share)
	}
	if share := float64(next) / benches; share < 0.645 || share > 0.955 {
		t.Errorf("%.0f %% of the next dryings lie in their interval, want 80 %%", 100*share)
	}
}

func TestFitRefuses(t *testing.T) {
	good := odd.logs(t, 6, "water")
	with := func(change func([]Log)) []Log {
		logs := slices.Clone(good)
		change(logs)
		return logs
	}
	for _, x := range []struct {
		says string
		logs []Log
	}{
		{"nothing was logged yet", nil},
		{"one log cannot tell", good[:1]},
		{"every log was ended by the clock alone", with(func(l []Log) {
			for i := range l {
				l[i].Evidence = ByClock
			}
		})},
		{"only one of 2 logs says when a liner got dry, the other was ended by the clock alone", []Log{good[0],
			{Case: good[0].Case, Minutes: 40, Evidence: ByClock}}},
		{"only one of 6 logs says", with(func(l []Log) {
			for i := range l[1:] {
				l[i].Evidence = ByClock
			}
		})},
		{"the logs contradict one another: log 2 took 200 min", with(func(l []Log) { l[0].Minutes, l[1].Minutes = 10, 200 })[:2]},
		{"the logs contradict one another", with(func(l []Log) {
			for i := range l[:3] {
				l[i].Minutes = []float64{3, 2000, 9}[i]
			}
		})},
		{"disk 9: relative humidity of 150 %", with(func(l []Log) { l[2].Humidity, l[2].Name = 1.5, "disk 9" })},
		{"log 2: evidence \"smell\" is not known", with(func(l []Log) { l[1].Evidence = "smell" })},
		{"log 1: a drying of -3 min", with(func(l []Log) { l[0].Minutes = -3 })},
		{"log 1: a drying of NaN min", with(func(l []Log) { l[0].Minutes = math.NaN() })},
		{"log 4: liquid kept in the liner of 5 L", with(func(l []Log) { l[3].Kept = 5e-3 })},
		{"log 4: what its time means is not known", with(func(l []Log) { l[3].Bound = 9 })},
	} {
		prior := Belief{Jitter: 0.11}
		b, _, err := Fit(prior, x.logs)
		if err == nil || !strings.Contains(err.Error(), x.says) || strings.Contains(err.Error(), "\n") {
			t.Errorf("got %v, want one sentence with %q", err, x.says)
		}
		if b.Mean != nil || b.Jitter != 0.11 {
			t.Errorf("%s: the prior did not come back as it was: %+v", x.says, b)
		}
	}
}

func TestNotesSayWhatAPersonShouldKnow(t *testing.T) {
	wild := bench{exposure: 1, kept: map[string]float64{"water": 2e-6}, jitter: 0.3, seed: 4}.logs(t, 12, "water")
	b, r := mustFit(t, Prior(), wild)
	if r.Outliers > 0 || r.ChiSquare/float64(r.Freedom) < 1.5 || !strings.Contains(strings.Join(r.Notes, " "), "the intervals were widened") {
		t.Errorf("chi square %.1f of %d, notes %q", r.ChiSquare, r.Freedom, r.Notes)
	}
	if b.Jitter < 1.2*defaultJitter {
		t.Errorf("the next drying is taken to scatter by %.3f", b.Jitter)
	}
	calm, _ := mustFit(t, Prior(), bench{exposure: 1, kept: map[string]float64{"water": 2e-6}, seed: 4}.logs(t, 12, "water"))
	if a, c := b.Exposure(), calm.Exposure(); a.High/a.Low < 1.1*c.High/c.Low {
		t.Errorf("logs that scatter left the exposure as sure (%v) as logs that do not (%v)", a, c)
	}
	far := odd.logs(t, 9, "water")
	far[2].Minutes *= 8
	further := slices.Clone(far)
	further[5].Minutes /= 9
	for says, logs := range map[string][]Log{
		"1 of 9 logs lies far from the fit, more than three standard deviations, and was left out: check its time":    far,
		"2 of 9 logs lie far from the fit, more than three standard deviations, and were left out: check their times": further,
		"Every time is only a bound": {{Case: far[0].Case, Minutes: 5, Evidence: ByDrag, Bound: AtLeast}, {Case: far[0].Case, Minutes: 500, Evidence: ByDrag, Bound: AtMost}},
	} {
		if _, r := mustFit(t, Prior(), logs); !strings.Contains(strings.Join(r.Notes, " "), says) {
			t.Errorf("notes %q, want %q", r.Notes, says)
		}
	}
}

func BenchmarkFit(b *testing.B) {
	logs := odd.logs(b, 20, "water", "isopropanol-99")
	for b.Loop() {
		if _, _, err := Fit(Prior(), logs); err != nil {
			b.Fatal(err)
		}
	}
}
