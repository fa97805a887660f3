// Package endpoint tells when a drying liner is dry, on which evidence, and how long it will yet take.
//
// Four kinds of evidence can be had, each a signal that is nothing on the dry disk and fades as the liner dries:
//
//	weighed   how much heavier than the dry disk the cartridge is
//	surface   how much colder than the air the jacket is
//	air       how much colder, and after water how much moister, the air leaving is than the air entering
//	drag      how much sooner the coasting hub stops than it did with the dry disk
//
// Weight and drag go with the liquid that is left; surface and air go with the rate at which it leaves. What a rate
// has summed up to so far is the liquid that has gone, and what its tail will yet sum up to is the liquid that is left:
// the share of the one in both needs no calibration, only the zero and the fall of the signal itself. The model of
// package drying says beforehand what a sensor will be able to see. While the liner dries it gives a second opinion of
// what is left, by the height of the signal alone, and the minutes left.
//
// A liner counts as dry when the best guess is that about 1 % is left and when, with every sensor as wrong as it may
// be, no more than 2 % are. A Plan says beforehand which evidence can show that; one that cannot is not used.
//
// Everything is pure: Plan is immutable, State is a comparable plain value, time and readings are arguments. Units are
// SI: kelvins, kilograms, seconds, shares of one.
package endpoint

import "math"

// Evidence is what a "dry" rests on.
type Evidence uint8

// The kinds of evidence, best first; the clock comes last, because it proves nothing.
const (
	NoEvidence Evidence = iota
	ByWeight            // back to the dry weight
	BySurface           // the jacket is as warm as the air again
	ByAir               // the air leaving is again like the air entering
	ByDrag              // the hub coasts as freely as with the dry disk
	ByClock             // only the clock: unproven
)

var names = [...]string{"", "weighed", "surface", "air", "drag", "timed"}

// String returns the word for the evidence.
func (e Evidence) String() string {
	if int(e) < len(names) {
		return names[e]
	}
	return "unknown evidence"
}

// Proven tells whether the evidence is more than the clock.
func (e Evidence) Proven() bool { return e > NoEvidence && e < ByClock }

// numKinds is how many kinds are seen by sensors; kind i is Evidence(i+1).
const numKinds = int(ByClock) - 1

// kinds lists them, best first.
func kinds() [numKinds]Evidence { return [...]Evidence{ByWeight, BySurface, ByAir, ByDrag} }

// rate tells whether the signal goes with the rate of drying, and not with what is left.
func (e Evidence) rate() bool { return e == BySurface || e == ByAir }

// The rule for dryness, as shares of what the liner kept.
const (
	guess = 0.013 // what may be left by the best guess
	most  = 0.02  // what may be left with every sensor as wrong as it may be
)

const (
	wrongBy = 3.0 // so many standard deviations wrong a sensor may be
	// Factors for what one jacket sensor or one duct cannot see: faces that end at different times, liquid in a corner. The
	// drying campaign of the simulated bench sets them. Water ends fast, and its last face then shows little; an alcohol
	// ends with the water that it took up, slowly and on both faces.
	unseenWater, unseenMixed = 1.8, 1.35
	// A signal that vanishes faster than any liner dries is a sensor that came off, or a cartridge lifted off its scale. A
	// rate must have summed up, while it fell, a quarter of what the model has it sum up then. A weight must not fall, within
	// the time in which it is smoothed, by three times what the model has it fall, a fiftieth of its largest, and six
	// standard deviations of one reading.
	leastFall, mostHaste, mostDrop, mostNoise = 0.25, 3.0, 0.02, 6.0
	// faintest is the most that a sensor may be off, as a share of what 1 % of the liquid shows, for a signal that cannot be
	// told from nothing to be dryness.
	faintest = 0.4
	heaviest = 50e-6 // kg above the dry weight that never count as dry, however much the liner kept
)

// spans are the times of the rule, s.
type spans struct {
	smoothing float64 // time constant in which a signal is smoothed
	lasting   float64 // for which the rule must hold without a break
	reading   float64 // of reading the dry disk, beyond which its zero gets no better
	settles   float64 // share of the expected time in which the disk takes the temperature that drying gives it
	widths    float64 // standard deviations below the estimate before which no evidence is believed
	elapsed   float64 // the longest that is counted: nobody looks on after that
}

var usual = spans{smoothing: 10, lasting: 15, reading: 20, settles: 0.05, widths: 4, elapsed: 30 * 24 * 3600}

// inWarmth is for warmed air: as the heater is regulated, the air and with it every signal go up and down within a minute
// or so, which must be smoothed out.
func (s spans) inWarmth() spans {
	s.smoothing, s.lasting = 15, 45
	return s
}

// Reading is for how many seconds the dry disk is best read before it is wetted.
func (p *Plan) Reading() float64 { return p.spans.reading }

// Coarse returns the plan with every span of the rule a second long and one evidence alone visible, if it is fitted, for
// tests that explore states second by second.
func (p *Plan) Coarse(only Evidence) *Plan {
	q := *p
	q.spans = spans{smoothing: 1, lasting: 1, reading: 1, widths: 1e3, elapsed: 1}
	for i := range q.Sights {
		s := &q.Sights[i]
		s.Visible = s.Fitted && s.Evidence == only
		s.noise = math.Inf(1) // a weight may fall within a second here
	}
	return &q
}

// Reading is what is read at one moment. NaN stands for what is not read or not to be trusted.
type Reading struct {
	AirIn, AirInRH   float64 // K, relative 0 to 1: the air entering, before any heater
	Air              float64 // K, of the air at the cartridge; where it is NaN, AirIn counts
	AirOut, AirOutRH float64 // K, relative: the air leaving
	Surface          float64 // K, of the jacket
	Weight           float64 // kg, of cartridge and holder
	Coast            float64 // s that the hub takes to coast down
}
