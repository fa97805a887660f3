package sensors

import (
	"errors"
	"fmt"
	"testing"
)

func TestDisbelieved(t *testing.T) {
	for _, c := range []struct {
		err  error
		want bool
	}{
		{nil, false},
		{errors.New("anything else"), false},
		{ErrNoAnswer, false},
		{ErrNotReady, false},
		{ErrChecksum, false},
		{ErrSaturated, true},
		{ErrRange, true},
		{ErrStuck, true},
		{fmt.Errorf("chip at 0x44: %w", ErrForeign), true},
	} {
		if got := Disbelieved(c.err); got != c.want {
			t.Errorf("%v: %v, want %v", c.err, got, c.want)
		}
	}
}
