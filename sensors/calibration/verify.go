package calibration

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Finding is what a check with one known mass says of a calibration.
type Finding uint8

// The findings. The zero value is the careful one.
const (
	CannotTell Finding = iota // the deviation may be within the limit or not
	Holds                     // within the limit, whatever the uncertainty
	Drifted                   // beyond the limit, whatever the uncertainty
)

// String returns the word for the finding.
func (f Finding) String() string {
	switch f {
	case Holds:
		return "holds"
	case Drifted:
		return "drifted"
	}
	return "cannot tell"
}

// Verification is the check of a calibration with one mass.
type Verification struct {
	Finding     Finding
	Force       float64 // N, as the calibration has it
	Expected    float64 // N, the mass's weight
	Deviation   float64 // N, Force less Expected
	Uncertainty float64 // N, standard uncertainty of Deviation
	Interval    float64 // N, half the 95 % interval of Deviation, by Student's t
	Limit       float64 // N, what was allowed
}

// String says it in one sentence.
func (v Verification) String() string {
	said := fmt.Sprintf("%s: %.3g N where %.3g N rest, off by %+.2g ± %.2g N, %.2g N is allowed", v.Finding, v.Force, v.Expected, v.Deviation, v.Interval, v.Limit)
	switch v.Finding {
	case Drifted:
		said += "; calibrate again"
	case CannotTell:
		said += "; read longer, or calibrate with more points"
	}
	return said
}

const usualWithin = 0.02 // of the span; ours

// Verify checks a calibration with one known mass (kg) on the cell. A tare that is set is taken off first. within is the
// deviation allowed as a share of the span; 0 stands for 0.02. The three findings leave no room for luck: only what is
// within, or beyond, by more than the uncertainty is called so.
func Verify(c Cell, mass float64, on Reading, tare Tare, within float64) (Verification, error) {
	if within == 0 {
		within = usualWithin
	}
	switch {
	case !c.calibrated():
		return Verification{}, ErrUncalibrated
	case !(mass > 0) || !finite(mass):
		return Verification{}, errors.New("checking takes a mass above 0 g: the empty cell checks only its zero")
	case Weight(mass) > c.Span*(1+beyond):
		return Verification{}, fmt.Errorf("%s is more than the cell was calibrated for (%.3g N)", grams(mass), c.Span)
	case !(within > 0):
		return Verification{}, errors.New("the deviation that is allowed must be more than nothing")
	}
	if err := on.check(); err != nil {
		return Verification{}, err
	}
	// Not by Force or Net: a cell so far off that it seems to be beyond its span has drifted, and must be called so.
	force := (float64(on.Counts) - c.Zero) / c.Gain
	variance := c.line(force)
	if tare.Set() {
		force = float64(on.Counts-tare.Counts) / c.Gain
		variance = tare.variance() + force*force*c.GainSE*c.GainSE
	}
	variance += max(c.Residual*c.Residual, on.variance()) // a mean of many codes is still one setting down of one mass
	v := Verification{Force: force, Expected: Weight(mass), Limit: within * c.Span, Uncertainty: math.Sqrt(variance) / math.Abs(c.Gain)}
	v.Deviation = v.Force - v.Expected
	v.Interval = Student95(c.DF) * v.Uncertainty
	// A decision with guard bands: the uncertainty counts against either finding.
	switch off := math.Abs(v.Deviation); {
	case off+v.Interval <= v.Limit:
		v.Finding = Holds
	case off-v.Interval > v.Limit:
		v.Finding = Drifted
	}
	return v, nil
}

// Limits is how long, and how far from its zero, a calibration is trusted. What is zero takes its default.
type Limits struct {
	Age  time.Duration // 0: half a year (common practice, no source)
	Zero float64       // share of the span that the zero may move; 0: 0.05
}

const (
	usualAge  = 180 * 24 * time.Hour
	usualZero = 0.05
)

// Trust looks at a calibration before every cycle: when it was made, and what the cell reads now with nothing on it. It
// returns "" or one sentence. zero without readings (N 0) is not looked at: a bench whose pads always touch cannot be
// emptied. A tare that is set is what the zero is held against.
func Trust(c Cell, made, now time.Time, tare Tare, zero Reading, limits Limits) string {
	if limits.Age == 0 {
		limits.Age = usualAge
	}
	if limits.Zero == 0 {
		limits.Zero = usualZero
	}
	age := now.Sub(made)
	switch {
	case !c.calibrated():
		return ErrUncalibrated.Error()
	case made.IsZero() || now.IsZero():
		return "how old the calibration is cannot be told: set the clock, or calibrate again"
	case age < 0:
		return fmt.Sprintf("the calibration is dated %s, which is yet to come: set the clock", made.Format(time.DateOnly))
	case age > limits.Age:
		return fmt.Sprintf("the calibration is %.0f days old, %.0f are allowed: calibrate again, or check it with one mass",
			age.Hours()/24, limits.Age.Hours()/24)
	case zero.N == 0:
		return ""
	}
	if err := zero.check(); err != nil {
		return err.Error()
	}
	reference := c.Zero
	if tare.Set() {
		reference = float64(tare.Counts)
	}
	if moved := (float64(zero.Counts) - reference) / c.Gain; !(math.Abs(moved) <= limits.Zero*c.Span) {
		return fmt.Sprintf("the empty cell has moved by %+.2g N since, %.2g N is allowed: take off what lies on it, let it warm up, or calibrate again",
			moved, limits.Zero*c.Span)
	}
	return ""
}
