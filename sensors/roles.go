package sensors

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// ErrRoles: sensors do not stand where they stood when the bench was set up.
var ErrRoles = errors.New("roles changed?")

// Role is a sensor's place on the bench and the serial number of the chip that answers for it; "" for a chip without
// one.
type Role struct {
	Name   string // as in the bench file: air-in, air-out
	Serial string
}

// CheckRoles compares the chips that answer now with those that were stored. Two sensors of one kind that have changed
// places read perfectly well, and a drying that takes outlet for inlet ends at the wrong time; behind a multiplexer one
// chip may also answer in two places. Everything that is not as stored is an error that wraps ErrRoles and names what
// changed. Chips without a serial number, and roles that one of the two does not have, cannot be compared and pass.
func CheckRoles(stored, found []Role) error {
	var said []string
	place := map[string]string{} // of each serial, as stored
	for _, r := range stored {
		if r.Serial != "" {
			place[r.Serial] = r.Name
		}
	}
	before := map[string]string{} // of each role, as stored
	for _, r := range stored {
		before[r.Name] = r.Serial
	}
	seen := map[string]string{}
	for _, r := range found {
		if r.Serial == "" {
			continue
		}
		if other, twice := seen[r.Serial]; twice {
			said = append(said, fmt.Sprintf("one chip, serial number %s, answers as %s and as %s: two sensors share an address", r.Serial, other, r.Name))
			continue
		}
		seen[r.Serial] = r.Name
		was, known := place[r.Serial]
		switch {
		case known && was != r.Name:
			said = append(said, fmt.Sprintf("the chip with serial number %s was %s and now answers as %s", r.Serial, was, r.Name))
		case !known && before[r.Name] != "":
			said = append(said, fmt.Sprintf("%s was serial number %s and is now %s", r.Name, before[r.Name], r.Serial))
		}
	}
	if said == nil {
		return nil
	}
	return fmt.Errorf("%w %s. Put the sensors back, or store the new places if this was meant", ErrRoles, strings.Join(said, "; "))
}

// Swap suspects from their behaviour that two air sensors have changed places, for chips that have no serial number.
// While liquid dries off, air leaves the cell colder and damper than it came, whatever the liquid does; the other way
// round for minutes on end is not physics, it is wiring.
type Swap struct {
	Least float64       // a wrong difference smaller than this is noise, in the unit of the difference
	For   time.Duration // wrong for so long before it is suspicious: minutes, since a cold cell warms and may mislead for a while

	wrong bool
	since time.Duration
}

// Judge takes a difference whose sign must be positive while liquid evaporates (temperature in less out; humidity out
// less in), whether liquid surely evaporates now, and the time. It returns true once the sign has been wrong
// throughout For. A difference within Least neither excuses nor accuses; a NaN is no difference.
func (s *Swap) Judge(difference float64, evaporating bool, at time.Duration) bool {
	switch {
	case !evaporating, difference >= s.Least:
		s.wrong = false
	case math.IsNaN(difference):
	case !s.wrong && difference <= -s.Least && difference < 0:
		s.wrong, s.since = true, at
	}
	return s.wrong && at-s.since >= s.For
}
