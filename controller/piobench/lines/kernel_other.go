//go:build !linux

package lines

import (
	"errors"
	"time"
)

// System returns a kernel that refuses: the lines of a board are reached through Linux only. The root is not used.
func System(root string) Kernel { return system{} }

// system stands in where there is no such kernel, so that everything above builds and can be looked at anywhere.
type system struct{}

var errNotLinux = errors.New("the lines of a board can be reached on Linux only: run this on the bench's own computer")

// Nodes refuses.
func (system) Nodes() ([]string, error) { return nil, errNotLinux }

// Open refuses.
func (system) Open(string) (Device, error) { return nil, errNotLinux }

// Now is always 0: no edge is stamped here.
func (system) Now() time.Duration { return 0 }
