//go:build !linux

package controller

// NewKernelClock starts a clock at zero; here it is the RealClock.
func NewKernelClock() Clock { return NewRealClock() }
