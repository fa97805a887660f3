// Package lines finds, claims, drives and watches what the kernel offers a bench on its board: lines of a GPIO chip
// through the character device, channels of the hardware PWM through sysfs, and I2C adapters by name.
//
// The GPIO part is code of our own on golang.org/x/sys/unix, because of what the lines of periph.io/x/host/v3 v3.8.5 do
// (seen on real chip drivers): reading an output back turns it into an input, and the first Out drives low before it
// drives what was asked, so that a load which is on at logic low would be switched on for a moment at every start.
// Here an output is claimed by one request that carries the inactive value, and nothing in Kernel can change the
// direction of a line that is held.
//
// Polarity lives in one layer only, the kernel's ACTIVE_LOW flag of the request. So "active" is a 1 everywhere above it,
// the zero value is off for both polarities, and a person who looks with the usual tools sees the same as we do.
//
// After a program's end a line stays as it was or turns into an input, depending on chip and kernel. Close switches off
// first; after a kill only another process, or the pull resistor on the wire, can.
package lines
