package sensors

import "errors"

// Why a chip gave no value. A driver wraps one of these with what it knows (which chip, where, what came), so that
// whoever reads it can tell a bus that failed from a chip whose answer must not be believed. There is never a number
// beside such an error.
var (
	ErrNoAnswer  = errors.New("no answer")            // not acknowledged, timed out, or the bus itself failed
	ErrNotReady  = errors.New("not ready")            // the chip answers, but never finished converting
	ErrChecksum  = errors.New("wrong checksum")       // the answer was damaged on its way
	ErrSaturated = errors.New("saturated")            // at an end of the converter's range: the true value may lie beyond
	ErrRange     = errors.New("out of range")         // a value that the sensor cannot honestly give
	ErrStuck     = errors.New("stuck")                // the same answer for longer than a live sensor gives it
	ErrForeign   = errors.New("another kind of chip") // something else answers at this address
)

// Disbelieved tells whether an error means that the chip answered and its answer is refused, and not that the chip could
// not be read.
func Disbelieved(err error) bool {
	for _, refused := range []error{ErrSaturated, ErrRange, ErrStuck, ErrForeign} {
		if errors.Is(err, refused) {
			return true
		}
	}
	return false
}
