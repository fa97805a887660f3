package endpoint

import "math"

// State is what has been seen of one drying. It is comparable; the zero value is a disk of which nothing was seen.
type State struct {
	Tracks  [numKinds]Track
	Elapsed float64  // s of drying
	Since   float64  // s for which the rule for dryness has held, up to what it must
	Faint   float64  // s for which the signal could not be told from nothing, up to what it must
	By      Evidence // what it holds on, or would: the best evidence that is at work
}

// Track is what has been seen through one kind of evidence. Signals are in its unit: kg, K, K, 1/s.
type Track struct {
	Zero    float64 // signal of the dry disk
	Read    float64 // s over which Zero was averaged, up to reading; 0: it has no zero
	Now     float64 // signal less Zero, smoothed
	Most    float64 // the largest Now
	Sum     float64 // a rate's: of Now over time, in its unit times seconds
	Began   float64 // Sum when Now began to fall for good: at Most/√2
	Marks   [marks]Mark
	Started bool // Now follows the signal
	Lost    bool // it did what no drying does: its sensor came off
}

// Mark is where a falling signal was a while ago: the last ones at every √2 of it.
type Mark struct{ At, Sum float64 }

const (
	marks   = 3
	between = math.Sqrt2 // from mark to mark
)

// signals returns the signal of every kind, NaN for what is not read.
func (p *Plan) signals(r *Reading) (s [numKinds]float64) {
	in := r.Air
	if in != in {
		in = r.AirIn
	}
	s[ByWeight-1] = r.Weight
	s[BySurface-1] = in - r.Surface
	s[ByAir-1] = in - r.AirOut
	if p.heat < 1 {
		damp := moisture(r.AirOutRH, r.AirOut, 0) - moisture(r.AirInRH, r.AirIn, 0)
		s[ByAir-1] = p.heat*s[ByAir-1] + (1-p.heat)*damp
	}
	s[ByDrag-1] = math.NaN()
	if r.Coast > 0 {
		s[ByDrag-1] = 1 / r.Coast
	}
	return s
}

// impossible is beyond every signal, in any unit. Such a reading, and NaN, is none.
const impossible = 1e6

func usable(x float64) bool { return math.Abs(x) < impossible }

// Zero takes a reading of the dry disk, dt seconds after the one before, into the zeros of what is visible. It is for the
// time before anything is wetted.
func (p *Plan) Zero(s *State, r Reading, dt float64) {
	if !(dt > 1e-3) {
		dt = 1e-3
	}
	for i, x := range p.signals(&r) {
		t := &s.Tracks[i]
		if !usable(x) || !p.Sights[i].Visible {
			continue
		}
		t.Read = min(t.Read+dt, p.spans.reading)
		t.Zero += (x - t.Zero) * min(dt/t.Read, 1)
	}
}

// Forget takes the zero of a kind of evidence away: it cannot be trusted.
func (s *State) Forget(e Evidence) {
	if !e.Proven() {
		return
	}
	s.Tracks[e-1] = Track{}
	if s.By == e {
		s.By, s.Since, s.Faint = NoEvidence, 0, 0
	}
}

// Zeroed tells whether a kind of evidence has its zero.
func (s *State) Zeroed(e Evidence) bool { return e.Proven() && s.Tracks[e-1].Read > 0 }

// Begin makes ready for the drying of a disk whose zeros are kept.
func (s *State) Begin() {
	next := State{}
	for i, t := range s.Tracks {
		next.Tracks[i] = Track{Zero: t.Zero, Read: t.Read}
	}
	*s = next
}

// Pause breaks the rule's holding: the drying stood still for a while. The disk has warmed meanwhile, so that a rate seems to
// have stopped: it must show the liner wet once more before its fading means anything.
func (s *State) Pause() {
	s.Since, s.Faint = 0, 0
	for i, e := range kinds() {
		if t := &s.Tracks[i]; e.rate() {
			t.Started, t.Most, t.Began, t.Marks = false, 0, 0, [marks]Mark{}
		}
	}
}

// Step takes a reading of the drying disk, dt seconds of drying after the one before. Without a span it is not taken.
func (p *Plan) Step(s *State, r Reading, dt float64) {
	if !(dt > 0) {
		return
	}
	dt = min(dt, p.spans.elapsed)
	s.Elapsed = min(s.Elapsed+dt, p.spans.elapsed)
	settling := s.Elapsed < p.spans.settles*p.Expected.Minutes.Median*60
	var read [numKinds]bool
	for i, x := range p.signals(&r) {
		t, e := &s.Tracks[i], kinds()[i]
		if t.Read == 0 || t.Lost || !usable(x) {
			continue
		}
		read[i] = true
		if !e.rate() && t.Most > 0 && p.lifted(t, x-t.Zero, dt, p.Sights[i].noise) {
			t.Lost = true
			continue
		}
		t.follow(x-t.Zero, dt, settling, e.rate(), p.spans.smoothing)
	}
	s.By = p.atWork(s)
	if s.By.rate() && (p.holds(s) || p.faint(s)) && p.snatched(&s.Tracks[s.By-1], wrongBy*p.Sights[s.By-1].Error) {
		s.Tracks[s.By-1].Lost = true
		s.By = p.atWork(s)
	}
	if !s.By.Proven() {
		s.Since, s.Faint = 0, 0
		return
	}
	if !read[s.By-1] {
		dt = 0 // what is not read makes nothing last longer
	}
	s.Since = countWhile(p.holds(s), s.Since, dt, p.spans.lasting)
	s.Faint = countWhile(p.faint(s), s.Faint, dt, p.fades())
}

// countWhile counts a span up to a cap while something is so, and forgets it when it is not.
func countWhile(so bool, span, dt, most float64) float64 {
	if !so {
		return 0
	}
	return min(span+dt, most)
}

// faint tells whether a signal that goes with the rate can no longer be told from nothing, though 1 % of the liquid would
// show by the model's shape. It is for water alone: an alcohol's tail depends on what water came into it. In warmed air,
// whose heat goes astray, the signal stands still at some offset in the end, and its fall is never seen to go on.
func (p *Plan) faint(s *State) bool {
	t, off := &s.Tracks[s.By-1], wrongBy*p.Sights[s.By-1].Error
	return s.By.rate() && !p.mixed && t.Now <= off && off <= faintest*p.atGuess(t) && s.Elapsed >= p.shortest()
}

// atGuess is what a rate shows, by the model's shape, with 1 % of the liquid left.
func (p *Plan) atGuess(t *Track) float64 { return t.Most * p.shape.liner[2] / p.shape.liner[0] }

// fades is for how many seconds a signal must be faint: a twentieth of the expected time, and some rounds of the rule.
func (p *Plan) fades() float64 {
	return max(4*p.spans.lasting, 0.05*p.Expected.Minutes.Median*60)
}

// follow takes one value of a signal less its zero. While the disk settles, cold from the spin-out in warmed air, the
// signal's largest is not yet what the wet liner makes it.
func (t *Track) follow(x, dt float64, settling, rate bool, smoothing float64) {
	before := t.Now
	if !t.Started {
		t.Started, before, t.Now = true, x, x
	}
	t.Now += (x - t.Now) * min(dt/smoothing, 1)
	if !rate {
		t.Most = max(t.Most, t.Now)
		return
	}
	t.Sum += max((before+t.Now)/2, 0) * dt
	if settling || t.Now >= t.Most {
		t.Most, t.Began, t.Marks = t.Now, 0, [marks]Mark{}
		return
	}
	t.mark()
}

// lifted tells whether a signal that goes with the liquid falls as no liner dries. x is what was just read less the zero, dt
// the s since the reading before, noise the standard deviation of one reading.
func (p *Plan) lifted(t *Track, x, dt, noise float64) bool {
	left := min(t.Now/t.Most, 1)
	part := (dt + p.spans.smoothing) / (p.Expected.Minutes.Median * 60)
	falls := left - p.shape.leftWhen(p.shape.content(left)+part)
	return t.Now-x > t.Most*(mostHaste*falls+mostDrop)+mostNoise*noise
}

// snatched tells whether a signal that goes with the rate fell as no liner dries, now that dryness would be believed: since
// it began to fall for good, or over the last marks that stand well above off, what the sensor may be wrong by.
func (p *Plan) snatched(t *Track, off float64) bool {
	oldest := Mark{t.Most / between, t.Began}
	for _, m := range t.Marks {
		if m.At > 3*off {
			oldest = m
		}
	}
	tooFast := func(from Mark) bool {
		had, has := p.shape.summedAt(from.At/t.Most), p.shape.summedAt(t.Now/t.Most)
		smoothed := p.spans.smoothing * (from.At - t.Now) // what the smoothing alone sums up, were the fall a leap
		return (t.Sum-from.Sum-smoothed)*has < leastFall*(has-had)*t.Sum
	}
	return t.Began > 0 && (tooFast(Mark{t.Most / between, t.Began}) || tooFast(oldest))
}

// mark notes where a falling signal is, at every √2 of it, and forgets when it rises.
func (t *Track) mark() {
	newest := t.Marks[0].At
	switch {
	case t.Began > 0 && t.Now > t.Most*0.8: // it had not begun to fall for good
		t.Began, t.Marks = 0, [marks]Mark{}
	case newest > 0 && t.Now > newest*between:
		t.Marks = [marks]Mark{}
	case t.Now <= 0: // a mark at nothing would measure nothing
	case newest > 0 && t.Now <= newest/between, newest == 0 && t.Now <= t.Most/between:
		t.Marks = [marks]Mark{{t.Now, t.Sum}, t.Marks[0], t.Marks[1]}
		if t.Began == 0 {
			t.Began = t.Sum
		}
	}
}

// fall returns the time constant in s with which the signal falls, by how much was summed up while it fell: of the spans
// since the marks the slowest, because a second face that dries later makes the fall slower, and so does the water that an
// alcohol leaves behind. It is infinite before the signal has fallen enough.
func (t *Track) fall() float64 {
	slowest := 0.0
	for _, m := range t.Marks {
		if m.At >= between*t.Now && m.At > 0 {
			slowest = max(slowest, (t.Sum-m.Sum)/(m.At-t.Now))
		}
	}
	if slowest == 0 {
		return math.Inf(1)
	}
	return slowest
}

// shown tells whether the signal was so large, while the liner was wet, that the sensor can see its last 2 % in it:
// otherwise its fading proves nothing. What the plan foresaw may have been another bench.
func (p *Plan) shown(t *Track, s *Sight) bool {
	atGuess := most / 2 * t.Most
	if s.Evidence.rate() {
		atGuess = p.atGuess(t)
	}
	return s.Error <= shownBelow*atGuess && t.Most >= wetAtLeast*s.Peak
}

// shownBelow is visibleBelow for what was really shown, wetAtLeast the share of the expected peak that a wet liner must
// show.
const (
	shownBelow = 0.35
	wetAtLeast = 0.2
)

// atWork returns the best evidence that was found visible, has its zero, and has shown the liner wet; the clock when
// there is none.
func (p *Plan) atWork(s *State) Evidence {
	for i := range s.Tracks {
		t, sight := &s.Tracks[i], &p.Sights[i]
		if sight.Visible && t.Read > 0 && !t.Lost && p.shown(t, sight) {
			return sight.Evidence
		}
	}
	return ByClock
}

// holds tells whether the evidence at work fulfils the rule for dryness now.
func (p *Plan) holds(s *State) bool {
	best, worst := p.share(s, s.By)
	if s.By == ByWeight && s.Tracks[0].Now > heaviest {
		return false
	}
	return best <= guess && worst <= most && s.Elapsed >= p.shortest()
}

// share returns the share of the liquid that is left by an evidence: the best guess, and what it may be at worst.
func (p *Plan) share(s *State, e Evidence) (best, worst float64) {
	t, off := &s.Tracks[e-1], wrongBy*p.Sights[e-1].Error
	now := max(t.Now, 0)
	if !e.rate() {
		return now / t.Most, (now + off) / t.Most
	}
	tau := t.fall()
	return p.rateShare(t, now, tau), p.unseen() * p.rateShare(t, now+off, tau)
}

// rateShare is the share that a rate says is left, if it reads now and falls with the time constant tau: the mean, of
// shares that are wrong by factors, of what its own sum and tail say and of what the model's shape has at that height.
// The two are wrong for different reasons.
func (p *Plan) rateShare(t *Track, now, tau float64) float64 {
	if math.IsInf(tau, 1) {
		return 1
	}
	own := p.ratio * now * tau / (t.Sum + now*tau)
	return math.Sqrt(own * p.shape.leftAt(now/t.Most))
}

// Dry tells whether the liner is dry, and on which evidence. Nothing is called dry by the clock: that is the caller's
// word, and it is none.
func (p *Plan) Dry(s *State) (Evidence, bool) {
	return s.By, s.By.Proven() && (s.Since >= p.spans.lasting || s.Faint >= p.fades())
}

// DryBelow returns the signal below which the evidence at work will hold, as far as can be told now, in its unit; NaN when
// only the clock is at work. For a rate it moves with what has been summed up and how fast it falls.
func (p *Plan) DryBelow(s *State) float64 {
	if !s.By.Proven() {
		return math.NaN()
	}
	t, off := &s.Tracks[s.By-1], wrongBy*p.Sights[s.By-1].Error
	if !s.By.rate() {
		below := min(guess*t.Most, most*t.Most-off)
		if s.By == ByWeight {
			below = min(below, heaviest)
		}
		return below
	}
	tau := t.fall()
	if math.IsInf(tau, 1) {
		return p.atGuess(t)
	}
	low, high := 0.0, t.Most
	for range 20 {
		mid := (low + high) / 2
		if p.rateShare(t, mid, tau) <= guess && p.unseen()*p.rateShare(t, mid+off, tau) <= most {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// Nothing tells whether the dry disk was never read.
func (s *State) Nothing() bool {
	for i := range s.Tracks {
		if s.Tracks[i].Read > 0 {
			return false
		}
	}
	return true
}
