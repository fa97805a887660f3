// Package controller runs a cycle: it decides, twenty times a second, the level of every actuator of a bench.
package controller
