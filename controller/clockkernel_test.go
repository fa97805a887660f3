//go:build linux

package controller

import (
	"context"
	"errors"
	"testing"
	"time"
)

// TestKernelClock: a wait is never shorter than asked, one that is past returns, and the end of the context is told.
func TestKernelClock(t *testing.T) {
	c := NewKernelClock()
	for _, d := range []time.Duration{-time.Second, 0, time.Microsecond, 3 * time.Millisecond, 130 * time.Millisecond} {
		until := c.Now() + d
		if err := c.Wait(context.Background(), until); err != nil || c.Now() < until {
			t.Errorf("%v: %v, woken %v too early", d, err, until-c.Now())
		}
	}
	ctx, cancel := context.WithCancelCause(context.Background())
	cancel(errTest)
	if err := c.Wait(ctx, c.Now()+time.Hour); !errors.Is(err, errTest) {
		t.Errorf("ended: %v", err)
	}
}
