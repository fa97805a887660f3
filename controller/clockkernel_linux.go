package controller

import (
	"context"
	"syscall"
	"time"
)

// KernelClock is a RealClock that waits in the kernel. Go's own timers ask the kernel for whole milliseconds, so that the
// loop would come up to one late even on an idle machine. Waiting holds a thread, and the end of the context is seen when
// the wait is over, at the latest after kernelNap.
type KernelClock struct{ *RealClock }

// kernelNap bounds how long one sleep is deaf to the end of its context.
const kernelNap = 100 * time.Millisecond

// NewKernelClock starts a clock at zero.
func NewKernelClock() Clock { return KernelClock{NewRealClock()} }

// Wait blocks its thread until a moment of this clock, or until the context has ended.
func (c KernelClock) Wait(ctx context.Context, until time.Duration) error {
	for left := until - c.Now(); left > 0; left = until - c.Now() {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		nap := syscall.NsecToTimespec(int64(min(left, kernelNap)))
		if err := syscall.Nanosleep(&nap, nil); err != nil && err != syscall.EINTR {
			return c.RealClock.Wait(ctx, until)
		}
	}
	return nil
}
