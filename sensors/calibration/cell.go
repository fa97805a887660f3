package calibration

import (
	"errors"
	"fmt"
	"math"

	"fullery/sensors"
)

// Gravity is the standard acceleration of free fall in m/s², exact by definition (3rd CGPM, 1901). The local one differs
// by up to a quarter of a per cent, which is less than a home-made pad can be set to.
const Gravity = 9.80665

// Weight returns the force (N) of a mass (kg) resting on a cell.
func Weight(mass float64) float64 { return mass * Gravity }

// Mass returns the mass (kg) whose weight is a force (N).
func Mass(force float64) float64 { return force / Gravity }

// Counts is what the converter of a cell gives: a raw code or a mean of raw codes, from which no tare has been taken.
type Counts float64

// Reading is a mean of raw codes.
type Reading struct {
	Counts Counts
	SD     float64 // of a single code; 0 when N is 1
	N      int     // codes in the mean
}

// check refuses what is no reading.
func (r Reading) check() error {
	switch {
	case !finite(float64(r.Counts)):
		return errors.New("the cell gave no number")
	case r.N < 1:
		return errors.New("the cell was not read")
	case !(r.SD >= 0) || math.IsInf(r.SD, 0):
		return errors.New("the scatter of the readings is no number")
	}
	return nil
}

// variance returns the variance of the mean, in counts².
func (r Reading) variance() float64 { return r.SD * r.SD / float64(max(r.N, 1)) }

// Cell is a calibrated load cell: a straight line of counts over force, and how well it is known. The zero value is not
// calibrated, and gives no force.
type Cell struct {
	Zero     float64 // counts with nothing on it
	Gain     float64 // counts for each newton; negative when the bridge is wired the other way round
	ZeroSE   float64 // standard uncertainty of Zero, counts
	GainSE   float64 // standard uncertainty of Gain, counts/N
	Cov      float64 // covariance of the two, counts²/N
	Residual float64 // standard deviation of the points about the line, counts
	DF       int     // degrees of freedom of Residual: points less two

	Linearity     float64 // largest distance of a mass's mean from the line, as a share of the span
	Hysteresis    float64 // largest difference of one mass put on rising and falling, as a share of the span
	Repeatability float64 // standard deviation of one mass put on again the same way, as a share of the span
	Repeats       int     // degrees of freedom of Repeatability; 0: no mass was put on twice the same way, and it is not known
	Span          float64 // N, largest force that was put on
}

// ErrUncalibrated: the cell has no calibration, and there is no force without one.
var ErrUncalibrated = errors.New("the cell is not calibrated: run fullery pads calibrate")

// beyond is how far past the calibrated span the line is still believed.
const beyond = 0.1

// Force returns the force on the cell (N) with its standard uncertainty, that of one more reading like those of the
// calibration. Beyond the calibrated span, by more than a tenth of it at either end, it refuses: a line says nothing of
// where nobody has been. There is no number beside an error.
func (c Cell) Force(raw Counts) (force, uncertainty float64, err error) {
	if !c.calibrated() {
		return math.NaN(), math.NaN(), ErrUncalibrated
	}
	force = (float64(raw) - c.Zero) / c.Gain
	if err := c.inside(force); err != nil {
		return math.NaN(), math.NaN(), err
	}
	return force, math.Sqrt(c.Residual*c.Residual+c.line(force)) / math.Abs(c.Gain), nil
}

// Pressure returns what Force does, on an area (m²), in Pa.
func (c Cell) Pressure(raw Counts, area float64) (pressure, uncertainty float64, err error) {
	if !(area > 0) || math.IsInf(area, 0) {
		return math.NaN(), math.NaN(), errors.New("the area of a pad must be more than nothing: write it in the bench file")
	}
	force, u, err := c.Force(raw)
	return force / area, u / area, err
}

// Reversed tells whether the counts fall as the force rises: usable, and worth knowing when a wire is changed.
func (c Cell) Reversed() bool { return c.Gain < 0 }

// Notes returns what a person should know of a calibration that was accepted, one sentence each.
func (c Cell) Notes() (said []string) {
	if c.Reversed() {
		said = append(said, "the counts fall as the force rises: the bridge is wired the other way round, which is allowed for")
	}
	if c.DF == 1 {
		said = append(said, "with only three points the uncertainty is itself hardly known: put the masses on rising and falling, twice")
	} else if c.Repeats == 0 {
		said = append(said, "no mass was put on twice the same way, so the repeatability is not known")
	}
	return said
}

func (c Cell) calibrated() bool {
	return c.Gain != 0 && finite(c.Gain) && finite(c.Zero) && c.Span > 0 && finite(c.Span)
}

// inside refuses a force that was never calibrated.
func (c Cell) inside(force float64) error {
	switch {
	case math.IsNaN(force):
		return fmt.Errorf("%w: no counts", sensors.ErrRange)
	case force > c.Span*(1+beyond):
		return fmt.Errorf("%w: about %.3g N, and the cell was calibrated to %.3g N: take load off, or calibrate with larger masses",
			sensors.ErrRange, force, c.Span)
	case force < -c.Span*beyond:
		return fmt.Errorf("%w: about %.3g N, less than nothing: look for a cell that is pulled, or calibrate again", sensors.ErrRange, force)
	}
	return nil
}

// line returns the variance of the line itself at a force, in counts².
func (c Cell) line(force float64) float64 {
	return max(c.ZeroSE*c.ZeroSE+force*force*c.GainSE*c.GainSE+2*force*c.Cov, 0)
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
