// Package piobench is the real bench: GPIO lines, hardware PWM, and chips on I²C buses, as a bench file declares them.
//
// What a level of the controller becomes on a wire is a pure function of time (shape.go). Lines are set at every tick.
// Whatever has to wait for a bus is done beside the loop, by one goroutine a bus (sampler.go): a bus that takes a second for
// each transfer makes readings old, and old readings trip guards, but it never holds up a tick. Outputs on a bus chip are
// the exception that the wiring has to answer for: they wait for their bus, and a bus that fails is a drive that fails.
//
// No output is ever read back through a call that could turn it into an input. Every output is claimed off. Close leaves
// every output off and says so where it cannot.
package piobench
