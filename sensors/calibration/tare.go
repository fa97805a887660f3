package calibration

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Tare is what a cell read when somebody said that this is to count as nothing: a pad's own weight, a cartridge holder. It
// is made when it is asked for and at no other time, least of all at the start of a program, where it would hide what
// lies on the cell. It is kept with its date and applied from then on.
type Tare struct {
	Reading
	When time.Time
	By   string // who asked
}

// Set tells whether there is a tare; the zero value is none.
func (t Tare) Set() bool { return t.N > 0 }

// Tared is a reading from which a tare has been taken. It is made by Tare.Apply only and is of another type than Counts, so
// that no tare can be taken off twice.
type Tared struct {
	raw  Counts
	tare Tare
}

// Apply takes the tare off a raw reading.
func (t Tare) Apply(raw Counts) Tared { return Tared{raw, t} }

// large is the share of the span above which a tare is questioned.
const large = 0.1

// NewTare makes a tare of a reading. question is not empty when the cell carries more than a tenth of its span: the person
// has to answer it before the tare is kept, since a loaded cell that reads 0 is how a pad comes to press too hard.
func NewTare(c Cell, at Reading, when time.Time, by string) (t Tare, question string, err error) {
	if err := at.check(); err != nil {
		return Tare{}, "", fmt.Errorf("no tare: %w", err)
	}
	force, _, err := c.Force(at.Counts)
	if err != nil {
		return Tare{}, "", fmt.Errorf("no tare: %w", err)
	}
	if math.Abs(force) > large*c.Span {
		question = fmt.Sprintf("the cell carries %.3g N, %.0f %% of what it was calibrated for: is that really to count as nothing?",
			force, 100*math.Abs(force)/c.Span)
	}
	return Tare{Reading: at, When: when, By: by}, question, nil
}

// Net returns the force (N) above the tare with its standard uncertainty. It refuses what Force refuses: the cell carries
// the tare as well.
func (c Cell) Net(of Tared) (force, uncertainty float64, err error) {
	if !of.tare.Set() {
		return math.NaN(), math.NaN(), errors.New("there is no tare: ask for one with the cell empty")
	}
	if _, _, err := c.Force(of.raw); err != nil {
		return math.NaN(), math.NaN(), err
	}
	force = float64(of.raw-of.tare.Counts) / c.Gain
	variance := c.Residual*c.Residual + of.tare.variance() + force*force*c.GainSE*c.GainSE
	return force, math.Sqrt(variance) / math.Abs(c.Gain), nil
}
