//go:build unix

package main

import "syscall"

// ownSession puts a child into a session of its own, so that signals of the owner's terminal do not reach it.
func ownSession() *syscall.SysProcAttr { return &syscall.SysProcAttr{Setsid: true} }
