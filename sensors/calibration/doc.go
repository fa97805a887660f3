// Package calibration turns known masses and measured volumes into what a load cell and a pump really do, with the
// uncertainty of it, and refuses points that cannot be used. It is pure: readings and dates come in as arguments.
//
// Masses are in kg, forces in N, pressures in Pa, areas in m², volumes in m³. Counts are what the converter gives.
package calibration
