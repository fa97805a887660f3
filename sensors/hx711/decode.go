package hx711

import (
	"fmt"

	"fullery/sensors"
)

// Reading is one sample.
type Reading struct {
	Code      int32 // counts, −8388607 to 8388606
	NearLimit bool  // within 1 % of an end of the converter's range
}

// The ends of the converter's range, and what counts as near them. One per cent: common practice, no source.
const (
	highest   = 1<<23 - 1
	lowest    = -1 << 23
	nearLimit = 1 << 23 / 100
)

// Decode turns 24 bits, two's complement, into counts. At either end of the range the true value may lie beyond:
// sensors.ErrSaturated, with an empty Reading.
func Decode(raw uint32) (Reading, error) {
	if raw > 1<<bits-1 {
		return Reading{}, fmt.Errorf("%w: %X is more than 24 bits", sensors.ErrRange, raw)
	}
	const advice = "the cell is overloaded, or a wire of the bridge is broken or swapped"
	code := int32(raw<<8) >> 8
	switch code {
	case highest:
		return Reading{}, fmt.Errorf("%w high (7FFFFF): %s", sensors.ErrSaturated, advice)
	case lowest:
		return Reading{}, fmt.Errorf("%w low (800000): %s", sensors.ErrSaturated, advice)
	}
	return Reading{Code: code, NearLimit: code >= highest-nearLimit || code <= lowest+nearLimit}, nil
}
