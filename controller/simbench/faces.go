package simbench

import "math"

const (
	linerMost   = 1.3   // what the liner takes up at most, of what it keeps after a spin-out; assumed
	pressWeight = 0.3   // power with which a face's share of the liquid follows its pad's force; assumed
	pressLeast  = 0.05  // share of the force asked that even a pad which never touches counts for: liquid creeps; assumed
	faceHeat    = 2.5   // J/K of one face: its liner, half the disk, the inside of the jacket; assumed
	trace       = 1e-15 // m³ that count as none: a share of a share would never end
)

// face is the liner on one side of the disk, with the side of the disk and of the jacket that it lies against.
type face struct {
	liquid charge
	temp   float64 // K
	keeps  float64 // m³ after a spin-out
	holds  float64 // m³ at most
	share  float64 // of the liquid that reaches the liner
	film   float64 // W/K to the jacket's air at full stirring
	giving giving
}

// The faces of the liner. The front is the one that the jacket's sensor sits on.
const (
	front = iota
	back
	numFaces
)

// newFaces shares out what the liner keeps and how exposed it is. The film of a bench file reaches from the liner to the
// cell's air; the jacket's openings are a part of its resistance, the faces' own films are the rest.
func (b *Bench) newFaces() {
	sim := &b.spec.Sim
	pull := [numFaces]float64{front: gripped(sim.Front), back: gripped(sim.Back)}
	differ := min(max(sim.Uneven, 0), 1) / 2
	lean := [numFaces]float64{front: 1 + differ, back: 1 - differ}
	b.linerHold = max(linerMost*sim.Kept, 1e-9)
	for i := range b.faces {
		f := &b.faces[i]
		f.temp = b.spec.Room.Air
		f.share = pull[i] / (pull[front] + pull[back])
		f.keeps = f.share * sim.Kept
		f.holds = f.share * b.linerHold
		f.film = lean[i] * sim.Film / (1 - openingsPart) / numFaces
	}
}

// gripped tells how much liquid a face takes up under a pad that presses with this share of the force asked for: a pad
// that presses harder drives more of it into the fibres, but a liner is soon full.
func gripped(force float64) float64 { return math.Pow(max(force, pressLeast), pressWeight) }

// liner returns the liquid in both faces.
func (b *Bench) liner() (all charge) {
	for i := range all {
		all[i] = b.faces[front].liquid[i] + b.faces[back].liquid[i]
	}
	return all
}

// soak lets both faces take v m³ of a store, each its share. What a face does not hold runs into the tray.
func (b *Bench) soak(from *charge, v float64) {
	for i := range b.faces {
		f := &b.faces[i]
		from.give(&f.liquid, v*f.share)
		f.liquid.give(&b.tray, f.liquid.total()-f.holds)
	}
}

// weighs works out how full the liner is: what drags on the hub, at every step of the motors.
func (b *Bench) weighs() {
	b.full = (b.faces[front].liquid.total() + b.faces[back].liquid.total()) / b.linerHold
}
