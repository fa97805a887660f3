package simbench

import (
	"strings"

	"fullery/recipe/liquid"
)

// charge is an amount of liquid: m³ of each component. Volumes are taken as additive.
type charge [numParts]float64

// total returns m³.
func (c *charge) total() float64 { return c[water] + c[isopropanol] + c[ethanol] }

// add puts v m³ of a liquid of the given make-up (fractions by volume) into c.
func (c *charge) add(mix *charge, v float64) {
	for i := range c {
		c[i] += v * mix[i]
	}
}

// give moves v m³ of c, at most all of it, to another store.
func (c *charge) give(to *charge, v float64) {
	all := c.total()
	if v <= 0 || all <= 0 {
		return
	}
	share := v / all
	if all-v < trace { // the last trace goes along: a share of a share would never end
		share = 1
	}
	for i := range c {
		d := c[i] * share
		c[i] -= d
		to[i] += d
	}
}

// makeup returns the fractions by volume of a liquid by its name in a recipe. A little detergent does not change how
// water dries here, and a name that nobody knows behaves as water.
func makeup(name string) charge {
	l, err := liquid.Parse(name)
	if err != nil || l.Alcohol == 0 {
		return charge{water: 1}
	}
	mix := charge{water: 1 - l.Alcohol}
	if strings.HasPrefix(name, "ethanol") {
		mix[ethanol] = l.Alcohol
	} else {
		mix[isopropanol] = l.Alcohol
	}
	return mix
}

const (
	padDepth   = 2e-3 // m of liquid that a pad holds before it drips; assumed
	ontoDisk   = 0.5  // share of dripping and rinsing liquid that meets the liner's opening; assumed
	padsGive   = 0.05 // 1/s, share of their liquid that pressed pads give to a dry liner; assumed
	spinRate   = 0.2  // 1/s at spinSpeed, at which liquid above what is kept leaves the liner; assumed
	spinSpeed  = 5.0  // revolutions per second: 300 rpm, a drive's own speed
	floatLeast = 0.05 // share of a tank below which its float falls; assumed
)

// wets moves the liquid of one span of s seconds: pumps to pads and disk, pads to liner, liner to tray.
func (b *Bench) wets(s float64) {
	if b.pumped > 0 {
		b.pads.add(&b.liquid, b.pumped)
		b.pumped = 0
	}
	// Full pads drip; what the pump gives then goes on to the disk.
	if over := b.pads.total() - b.padHold; over > 0 {
		b.drip(&b.pads, over)
	}
	if b.rinsed > 0 {
		var stream charge
		stream.add(&b.rinse, b.rinsed)
		b.rinsed = 0
		b.drip(&stream, stream.total())
	}
	turns := b.hub / spinSpeed
	for i := range b.faces {
		f := &b.faces[i]
		// Pressed pads wet the liner the sooner the drier it is.
		if c, room := b.contact, f.holds-f.liquid.total(); c > 0 && room > trace {
			b.pads.give(&f.liquid, min(b.pads.total()*padsGive*s*c*room/b.linerHold, room))
		}
		// Spinning drives off only what the fibres do not hold, with the square of the speed as the force does.
		if over := f.liquid.total() - f.keeps; over > 0 {
			f.liquid.give(&b.tray, over*min(spinRate*turns*turns*s, 1))
		}
	}
}

// drip lets v m³ fall from a store: part of it onto the liner, which mixes and runs over when it is full, the rest
// into the tray.
func (b *Bench) drip(from *charge, v float64) {
	b.soak(from, v*ontoDisk)
	from.give(&b.tray, v*(1-ontoDisk))
}
