package drying

import (
	"fmt"
	"math"
)

// Evidence is what a logged "dry" rests on.
type Evidence string

// The evidences, best first.
const (
	ByWeight  Evidence = "weighed" // back to the dry weight
	BySurface Evidence = "surface" // the jacket is as warm as the air again
	ByAir     Evidence = "air"     // the air leaving is again like the air entering
	ByDrag    Evidence = "drag"    // the hub coasts freely
	ByClock   Evidence = "timed"   // only the clock
)

// Bound is what a logged time says of the true one.
type Bound uint8

// Exact: the liner got dry then. AtLeast: it was still damp then. AtMost: it was found dry then, and may have been so
// for long.
const (
	Exact Bound = iota
	AtLeast
	AtMost
)

// Log is one drying that was done, on a bench or by hand.
type Log struct {
	Case              // Kept only if the disk was weighed before and after, else 0. Film as the bench file states it.
	Name     string   // what the person knows it by, for the report: "disk 12, round 1"
	Minutes  float64  // above 0, to a week
	Evidence Evidence // with ByClock and Exact the log says nothing of the true time, and is listed but not used
	Bound    Bound
}

// How well each evidence sees the moment of dryness, as a standard deviation of the logarithm of the time: assumed.
var sharpness = map[Evidence]float64{ByWeight: 0.05, BySurface: 0.08, ByAir: 0.10, ByDrag: 0.15, ByClock: 0.10}

// keptJitter is how much what one liner keeps differs from the next, and from what a scale tells, as a standard
// deviation of the logarithm: assumed.
const keptJitter = 0.05

// check says what is wrong with the log, in one sentence that begins with its name.
func (l Log) check(i int) error {
	var err error
	_, known := sharpness[l.Evidence]
	switch {
	case !known:
		err = fmt.Errorf("evidence %q is not known; give weighed, surface, air, drag or timed", string(l.Evidence))
	case !(l.Minutes > 0 && l.Minutes <= 7*24*60):
		err = fmt.Errorf("a drying of %.4g min cannot be used; give more than 0 min and at most a week", l.Minutes)
	case l.Bound > AtMost:
		err = fmt.Errorf("what its time means is not known; give exact, at least or at most")
	case l.Kept != 0:
		err = l.Case.Check()
	default:
		err = l.checkAround()
	}
	if err != nil {
		return fmt.Errorf("%s: %w", l.title(i), err)
	}
	return nil
}

func (l Log) title(i int) string {
	if l.Name != "" {
		return l.Name
	}
	return fmt.Sprintf("log %d", i+1)
}

// says is false for a time that the clock alone ended: nobody looked whether the liner was dry.
func (l Log) says() bool { return l.Evidence != ByClock || l.Bound != Exact || l.Kept > 0 }

// clocked is true when the log's time, and not only its weighing, says something.
func (l Log) clocked() bool { return l.Evidence != ByClock || l.Bound != Exact }

// width returns the standard deviation of the logarithm of the logged time around the model.
func (l Log) width(jitter float64) float64 {
	if l.Kept > 0 {
		// What this liner kept is known, so that much of the jitter is gone.
		jitter = math.Sqrt(max(jitter*jitter-keptJitter*keptJitter, 0))
	}
	return math.Hypot(sharpness[l.Evidence], jitter)
}

// miss returns by how many standard deviations the logged time lies above what was expected. A bound that is kept has
// none.
func (l Log) miss(expected, jitter float64) float64 {
	z := math.Log(l.Minutes/expected) / l.width(jitter)
	switch l.Bound {
	case AtLeast:
		return max(z, 0)
	case AtMost:
		return min(z, 0)
	}
	return z
}
