package endpoint

import (
	"fmt"
	"math"
	"slices"
)

// Replayed is what the end point made of a trace.
type Replayed struct {
	By      Evidence // what the liner was called dry on; NoEvidence: it never was
	Seconds float64  // when that was, or when the trace ended
	Moments []Moment // one for each row of the drying until then
	Reason  string   // why it never was called dry; "" when it was
	Notes   []string // a sentence each
}

// Moment is what was thought after one row.
type Moment struct {
	Seconds float64
	Left    Left
	Share   float64 // of the liquid, left by the best guess of the evidence at work; NaN while nothing shows it
	By      Evidence
}

// Replay puts a trace through the end point row by row, as a controller would have done, and stops where it is dry. The
// zero is the mean of all readings of the dry disk. After a gap one row alone never ends the drying.
func (p *Plan) Replay(t *Trace) Replayed {
	var s State
	for i := range t.dry() {
		p.Zero(&s, t.dry()[i].reading(), p.spans.reading/float64(t.first)) // so short that each counts alike
	}
	var r Replayed
	for i := range t.wet() {
		row := &t.wet()[i]
		dt := row.v[colTime] - r.Seconds
		r.Seconds = row.v[colTime]
		p.forgetEnded(&r, t, &s, r.Seconds)
		p.Step(&s, row.reading(), dt)
		if t.gapBefore(dt) {
			s.Pause()
		}
		r.Moments = append(r.Moments, Moment{r.Seconds, p.Left(&s), p.guess(&s), s.By})
		if r.By = p.calls(&s); r.By != NoEvidence {
			break
		}
	}
	if r.By == NoEvidence {
		r.Reason = p.why(&s, &r)
	}
	r.Notes = append(r.Notes, p.unlike(&s, &r)...)
	return r
}

// calls is the one place where a trace may be called dry. It tells on what the drying ends now, by the rule of a
// controller: on evidence, or after the clock's time where nothing shows anything.
func (p *Plan) calls(s *State) Evidence {
	by, dry := p.Dry(s)
	switch {
	case dry:
		return by
	case !s.By.Proven() && !p.Expected.Never && s.Elapsed >= p.ByClock():
		return ByClock
	}
	return NoEvidence
}

// guess is for people: the rule itself also looks at how wrong the sensors may be. It returns the share of the liquid
// that is left by the evidence at work.
func (p *Plan) guess(s *State) float64 {
	if !s.By.Proven() {
		return math.NaN()
	}
	best, _ := p.share(s, s.By)
	if s.By.rate() && best == 1 {
		return math.NaN() // it has not fallen yet: nothing is known
	}
	return min(best, 1)
}

// forgetEnded stands for a controller's guard against stale readings, which would have ended the cycle: here the rest
// of the trace may still say something. It takes away the evidence of a sensor that falls silent for good, so that the
// next best is listened to.
func (p *Plan) forgetEnded(r *Replayed, t *Trace, s *State, now float64) {
	for i, e := range kinds() {
		from := signalOf[i].from
		if e == ByAir && p.heat < 1 {
			from = dampSignal.from
		}
		if !s.Zeroed(e) || !t.ended(from, now) {
			continue
		}
		s.Forget(e)
		r.Notes = append(r.Notes, fmt.Sprintf("%s: its readings end before %.1f min, so that it was given up.", e, now/60))
	}
}

// ended tells whether one of the columns was read before, and is not any more.
func (t *Trace) ended(from columns, now float64) bool {
	for c := colTime + 1; c < numColumns; c++ {
		if from.has(c) && (t.last[c] < t.first || now-t.rows[t.last[c]].v[colTime] > longGap) {
			return true
		}
	}
	return false
}

// why says in a clause why a trace was never called dry.
func (p *Plan) why(s *State, r *Replayed) string {
	minutes := s.Elapsed / 60
	if p.Expected.Never {
		return "by the estimate it does not get dry in this air: " + p.Expected.Reason
	}
	if !s.By.Proven() {
		return fmt.Sprintf("nothing in it shows the liner wet and dry again, and by the clock alone it would have gone on to %.0f min; it "+
			"ends after %.1f min", p.ByClock()/60, minutes)
	}
	if share := r.Moments[len(r.Moments)-1].Share; !math.IsNaN(share) {
		return fmt.Sprintf("it ends after %.1f min with about %.2g %% of the liquid left, by %s", minutes, share*100, s.By)
	}
	return fmt.Sprintf("it ends after %.1f min, before %s could show how much is left", minutes, s.By)
}

// unlike says of the evidence that was counted on why it was not listened to.
func (p *Plan) unlike(s *State, r *Replayed) (notes []string) {
	for i, sight := range p.Sights {
		track := &s.Tracks[i]
		listened := slices.ContainsFunc(r.Moments, func(m Moment) bool { return m.By == sight.Evidence })
		switch {
		case track.Lost:
			notes = append(notes, fmt.Sprintf("%s: its signal vanished faster than a liner dries out, as if its sensor came off; it was not "+
				"believed any more.", sight.Evidence))
		case sight.Evidence == p.Best() && track.Read > 0 && !listened:
			notes = append(notes, fmt.Sprintf("%s: it showed %s at the most, where %s were expected of a wet liner: too little to tell dry "+
				"from wet.", sight.Evidence, sight.say(track.Most), sight.say(sight.Peak)))
		}
	}
	return notes
}

// Signal is what one kind of evidence showed through a trace, less its zero.
type Signal struct {
	Evidence Evidence
	Zeroed   bool // it was read on the dry disk; otherwise Values are as measured
	Damp     bool // air: the moisture is in it
	Seconds  []float64
	Values   []float64 // kg, K, K, 1/s; NaN in gaps
}

// Signals returns what every kind of evidence in the trace showed, of the dry disk as well, best kind first.
func (p *Plan) Signals(t *Trace) (list []Signal) {
	for i, e := range kinds() {
		if !t.Has(e) {
			continue
		}
		sig := Signal{Evidence: e, Damp: e == ByAir && p.heat < 1}
		// The plan keeps a zero only of what it listens to; here everything is shown.
		zero := t.seen(signalOf[i]).mean
		if sig.Damp {
			zero = p.heat*zero + (1-p.heat)*t.seen(dampSignal).mean
		}
		if sig.Zeroed = !math.IsNaN(zero); !sig.Zeroed {
			zero = 0
		}
		for k := range t.rows {
			r := &t.rows[k]
			if r.fresh&(signalOf[i].from) == 0 {
				continue
			}
			if k > t.first && t.gapBefore(r.v[colTime]-t.rows[k-1].v[colTime]) {
				sig.Seconds, sig.Values = append(sig.Seconds, r.v[colTime]), append(sig.Values, math.NaN())
			}
			reading := r.reading()
			sig.Seconds = append(sig.Seconds, r.v[colTime])
			sig.Values = append(sig.Values, p.signals(&reading)[i]-zero)
		}
		list = append(list, sig)
	}
	return list
}

// SayInFile is Say for a trace, where a sensor that is not fitted is one that is not in the file.
func (s Sight) SayInFile() string {
	if !s.Fitted {
		return fmt.Sprintf("%s: not in the file.", s.Evidence)
	}
	return s.Say()
}
