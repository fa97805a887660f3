package endpoint

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"fullery/recipe/drying"
	"fullery/recipe/liquid"
)

// traceSignal is a signal that a row of a trace gives, with the columns it comes from.
type traceSignal struct {
	from columns
	of   func(v *[numColumns]float64) float64
}

// signalOf are the four kinds, best first; the air here by its temperature alone. Their zeros are taken off later.
var signalOf = [numKinds]traceSignal{
	{setOf(colWeight), func(v *[numColumns]float64) float64 { return v[colWeight] }},
	{setOf(colInC, colSurface), func(v *[numColumns]float64) float64 { return v[colInC] - v[colSurface] }},
	{setOf(colInC, colOutC), func(v *[numColumns]float64) float64 { return v[colInC] - v[colOutC] }},
	{setOf(colCoast), func(v *[numColumns]float64) float64 { return 1 / v[colCoast] }},
}

// dampSignal is how much moister the air leaves than it came, in kelvins.
var dampSignal = traceSignal{setOf(colInC, colInRH, colOutC, colOutRH), func(v *[numColumns]float64) float64 {
	return moisture(v[colOutRH], v[colOutC], 0) - moisture(v[colInRH], v[colInC], 0)
}}

// seenDry is what the rows before the drying tell of a signal.
type seenDry struct {
	count     int     // readings of the dry disk
	mean      float64 // NaN without one
	deviation float64
	every     float64 // s between readings, of the drying where there are two
	wet       int     // readings while it dried
}

// seen looks at the dry disk through one signal. The deviation is that of the signal, not of each sensor: what two
// sensors in the same air do together cancels in their difference.
func (t *Trace) seen(sig traceSignal) (d seenDry) {
	counts := func(r *traceRow) bool { return r.fresh&sig.from != 0 && !math.IsNaN(sig.of(&r.v)) }
	sum, square := 0.0, 0.0
	for i := range t.rows {
		switch r := &t.rows[i]; {
		case !counts(r):
		case i >= t.first:
			d.wet++
		default:
			// Welford's way, which does not lose a small deviation beside a large mean.
			d.count++
			off := sig.of(&r.v) - sum
			sum += off / float64(d.count)
			square += off * (sig.of(&r.v) - sum)
		}
	}
	d.mean, d.every = sum, t.spacing(sig.from, counts)
	if d.count == 0 {
		d.mean = math.NaN()
	}
	if d.count > 1 {
		d.deviation = math.Sqrt(square / float64(d.count-1))
	}
	return d
}

// fewest is how many readings of the dry disk tell a sensor's noise.
const fewest = 5

// usualCoast is the standard deviation of one coast as a share of it, where it was not found out: assumed.
const usualCoast = 0.03

// off returns the variance of a signal's end less its zero: both are means of readings, the zero of all on the dry
// disk. usual is the deviation to take where too few were read, step what a reading is rounded to; taken tells which of
// the two it was.
func (d *seenDry) off(usual, step float64) (variance float64, taken bool) {
	averaged := min(d.every/(2*smoothingUsual), 1)
	if d.every == 0 {
		averaged = 1
	}
	deviation := usual
	if taken = d.count < fewest || d.deviation == 0 && step == 0; !taken {
		// So few readings may have lain close together by chance: their deviation is known within 1/√(2(n−1)) of it.
		deviation = d.deviation * (1 + 1/math.Sqrt(2*float64(d.count-1)))
	}
	variance = deviation * deviation * (1/float64(max(d.count, 1)) + averaged)
	if !taken && d.deviation < step/2 {
		variance += 2 * step * step / 12 // noise below the rounding does not average it out; a step/√12 is its deviation
	}
	return variance, taken
}

// smoothingUsual is the time constant in which a signal is smoothed, s.
var smoothingUsual = usual.smoothing

// sense makes a Sense of it. A plan will average the noise over zero and end alike, over 20 s; the noise is stated so
// that what it then finds is what this file gives.
func (d *seenDry) sense(usualNoise, step float64) (s Sense, taken bool) {
	variance, taken := d.off(usualNoise, step)
	every := d.every
	if every == 0 {
		every = 2 * smoothingUsual
	}
	averaged := min(every/(2*smoothingUsual), 1)
	return Sense{Fitted: d.wet > 0, Noise: math.Sqrt(variance / (2 * averaged)), Every: every}, taken
}

// PlanTrace makes a plan for the drying that a trace is of. How well each kind was sensed is told by the rows of the
// dry disk: the standard deviation of their signals; with fewer than five a usual one is taken, and said in the notes.
// Drag is judged by how much sooner the wet hub stopped at first. The error is one sentence that says what is wrong
// with the case.
func PlanTrace(b drying.Belief, c drying.Case, t *Trace) (p *Plan, notes []string, err error) {
	senses, seen, usual := t.senses(c)
	if p, err = New(b, c, senses); err != nil {
		return nil, nil, err
	}
	if !p.Expected.Never {
		p.hedge(b, c)
		p.dragOf(t, seen[ByDrag-1])
	}
	return p, append(t.zeroNotes(seen, usual), t.airNotes()...), nil
}

// near is by how much the air's humidity may be off, relative.
const near = 0.05

// hedge takes the most that a tail may stand for: how much liquid is left for each share of a rate's sum hangs on how
// much the liner keeps, and after an alcohol on whether water is left behind, so on the air. What is not known of a bench
// must not make a tail look shorter than it is.
func (p *Plan) hedge(b drying.Belief, c drying.Case) {
	kept := b.Kept(c.Liquid)
	more := kept.High / kept.Median
	c.Film *= b.Exposure().Median
	if c.Kept == 0 {
		c.Kept = kept.Median
	}
	for _, k := range []float64{c.Kept, c.Kept * more} {
		for _, h := range []float64{c.Humidity - near, c.Humidity, c.Humidity + near} {
			o := c
			o.Kept, o.Humidity = k, min(max(h, 0), 1)
			if other, err := shapeOf(o); err == nil {
				p.ratio = max(p.ratio, other.ratio)
			}
		}
	}
}

// senses returns how well each kind is sensed, what the dry disk showed, and the kinds for which a usual noise was taken.
func (t *Trace) senses(c drying.Case) (s Senses, seen [numKinds]seenDry, usual []string) {
	for i, sig := range signalOf {
		seen[i] = t.seen(sig)
	}
	noises := [numKinds]float64{usualWeight, math.Sqrt2 * usualHeat, math.Sqrt2 * usualHeat, 0}
	steps := [numKinds]float64{t.step[colWeight], math.Hypot(t.step[colInC], t.step[colSurface]),
		math.Hypot(t.step[colInC], t.step[colOutC]), 0}
	for i, e := range kinds() {
		if e == ByDrag {
			s[i].Fitted = seen[i].wet > 0
			continue
		}
		var taken bool
		if s[i], taken = seen[i].sense(noises[i], steps[i]); taken && s[i].Fitted && seen[i].count > 0 {
			usual = append(usual, e.String())
		}
	}
	s[ByAir-1].Heat = 1
	damp := t.seen(dampSignal)
	if s[ByAir-1].Fitted && damp.wet > 0 && c.Liquid.Alcohol == 0 && (damp.count > 0 || seen[ByAir-1].count == 0) {
		perShare := moisture(1, c.Air, c.Pressure)
		other, _ := damp.sense(math.Sqrt2*usualHumidity*perShare, math.Hypot(t.step[colInRH], t.step[colOutRH])*perShare)
		s[ByAir-1] = Joined(s[ByAir-1], other)
	}
	return s, seen, usual
}

// dragOf judges drag by the trace itself, because no model tells how a wet liner brakes a hub: by how much the first
// coasts of the wet disk were shorter, how well those of the dry disk repeat, and what bearings wander by.
func (p *Plan) dragOf(t *Trace, d seenDry) {
	s := &p.Sights[ByDrag-1]
	if !s.Fitted || d.count == 0 {
		return
	}
	var first []float64
	for i := range t.wet() {
		if r := &t.wet()[i]; r.fresh.has(colCoast) && len(first) < 3 {
			first = append(first, 1/r.v[colCoast]-d.mean)
		}
	}
	variance, _ := d.off(usualCoast*d.mean, t.step[colCoast]*d.mean*d.mean)
	s.Peak = max(median(first), 0)
	s.AtLimit = most * s.Peak
	s.Error = math.Hypot(math.Sqrt(variance), wander[ByDrag-1]*d.mean) // bearings alone let a hub coast for 1/mean
	s.Visible = s.Error <= visibleBelow*most/2*s.Peak
}

// zeroNotes says what the dry rows were good for.
func (t *Trace) zeroNotes(seen [numKinds]seenDry, usual []string) (notes []string) {
	if t.first == 0 {
		return []string{"No row is before t_s 0: the dry disk was not read, nothing can be zeroed, and only the clock is left. Log a " +
			"minute or more of the dry disk in the same air first."}
	}
	if len(usual) > 0 {
		notes = append(notes, fmt.Sprintf("Fewer than %d readings of the dry disk, or all alike, do not tell how steady a sensor is; a usual "+
			"noise was taken for %s (assumed).", fewest, strings.Join(usual, ", ")))
	}
	for i, e := range kinds() {
		if seen[i].wet > 0 && seen[i].count == 0 {
			notes = append(notes, fmt.Sprintf("%s: not read on the dry disk, so that it has no zero and cannot be used.", e))
		}
	}
	return notes
}

// airNotes says when the dry disk was read in other air.
func (t *Trace) airNotes() (notes []string) {
	k, humidity := t.Air()
	dryK, dryHumidity := median(t.fresh(t.dry(), colInC)), median(t.fresh(t.dry(), colInRH))
	if math.Abs(dryK-k) > 2 || math.Abs(dryHumidity-humidity) > 0.1 {
		notes = append(notes, fmt.Sprintf("The dry disk was read in other air (%.1f °C, %.0f %%) than it dried in (%.1f °C, %.0f %%, by the "+
			"medians): the zeros may be off.", dryK-zeroC, dryHumidity*100, k-zeroC, humidity*100))
	}
	return notes
}

// Kept is the weighing before and after that pins what a liner keeps, from the trace itself. It returns the volume in
// m³ that a scale shows the liner to have kept: the largest of the first three readings of the wet disk less those of
// the dry one; 0 where it was not weighed, or nothing heavier than what counts as dry was seen.
func (t *Trace) Kept(l liquid.Liquid) float64 {
	dry := t.fresh(t.dry(), colWeight)
	first := t.fresh(t.wet(), colWeight) // the largest of three: once a minute, an alcohol is half gone by the third
	if len(first) == 0 {
		return 0
	}
	heavier := slices.Max(first[:min(len(first), 3)]) - median(dry)
	if !(heavier > heaviest) {
		return 0
	}
	k, _ := t.Air()
	if math.IsNaN(k) {
		k = zeroC + 20
	}
	return heavier / liquid.Density(l.Composition(), k)
}

// Through returns the flow through the cell, in m³/s, with which the air would have left as much colder as the trace
// shows, the film being as the case has it; false where the case's own flow is right within a factor of two, or nothing
// can be told. How much the air shows hangs on flow over film, and a logger records neither.
func (t *Trace) Through(b drying.Belief, c drying.Case) (flow float64, ok bool) {
	seen := t.seen(signalOf[ByAir-1])
	shown := t.coldestOut() - seen.mean
	if c.Kept == 0 {
		c.Kept = b.Kept(c.Liquid).Median
	}
	c.Film *= b.Exposure().Median
	modelled := func(flow float64) float64 {
		c.Flow = flow
		s, err := shapeOf(c)
		if err != nil {
			return 0
		}
		return s.outlet[0]
	}
	expected := modelled(c.Flow)
	unclear := seen.count < fewest || !(shown > 5*seen.deviation && shown > 5*wander[ByAir-1])
	if unclear || expected == 0 || shown > expected/2 && shown < expected*2 {
		return 0, false
	}
	low, high := math.Log(1e-5), math.Log(0.1) // more air is less cold, so that it can be found by halving
	for range 16 {
		if mid := (low + high) / 2; modelled(math.Exp(mid)) > shown {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Exp(low), true
}

// coldestOut returns by how much the air left colder than it came at the most, averaged over three readings; NaN without.
func (t *Trace) coldestOut() float64 {
	most, last := math.NaN(), [3]float64{math.NaN(), math.NaN(), math.NaN()}
	for i := range t.wet() {
		now := signalOf[ByAir-1].of(&t.wet()[i].v)
		if math.IsNaN(now) {
			continue
		}
		last = [3]float64{last[1], last[2], now}
		if three := (last[0] + last[1] + last[2]) / 3; three > most || math.IsNaN(most) {
			most = three
		}
	}
	return most
}
