// Package sensors judges raw readings and takes single spikes out of them before anything is decided on them. It is
// pure: values and times come in as arguments, so the simulated and the real bench use the same code.
package sensors
