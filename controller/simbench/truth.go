package simbench

// Truth is what nobody can read off a real bench: volumes in m³, temperatures in K, forces in N, speeds in
// revolutions per second.
type Truth struct {
	Tank, RinseTank float64
	Pads            float64 // liquid in both pads, and on its way to them
	Liner           float64 // liquid in the liner, both faces: what must dry
	LinerFront      float64 // the front face's part of it
	LinerBack       float64 // the back face's
	Tray            float64 // liquid in the tray, and on its way there
	Evaporated      float64
	Gained          float64 // taken up by the liner from the air: moisture that condensed into it
	Lost            float64 // gone by a fault
	Leaked          float64 // come to the liner by a fault, from outside the tanks
	Left            float64 // of what the liner keeps after a spin-out; 0.01 is dry

	Front, Back         float64 // pad forces
	PadsSpeed, Hub, Fan float64
	Heat                float64 // W that the heater gives the air now
	AirIn, Air, Cell    float64 // air entering, at the cartridge, around it (and leaving)
	LinerTemp           float64 // mean of both faces
	FrontTemp, BackTemp float64
	Surface             float64 // jacket of the front face, where its sensor sits
	Vapour              float64 // of the lower flammable limit
	Humidity            float64 // of the cell's air, 0 to 1
}

// Truth returns how the bench really stands.
func (b *Bench) Truth() Truth {
	t := Truth{
		Tank: b.tank, RinseTank: b.rinseTank, Pads: b.pads.total() + b.pumped, LinerFront: b.faces[front].liquid.total(),
		LinerBack: b.faces[back].liquid.total(), Gained: b.gained,
		Tray: b.tray.total() + b.rinsed, Evaporated: b.gone.total(), Lost: b.lost, Leaked: b.leaked,
		Front: b.force(b.front), Back: b.force(b.back), PadsSpeed: b.padSpin, Hub: b.hub, Fan: b.fan,
		Heat: b.heat, AirIn: b.airIn(), Air: b.air, Cell: b.cell,
		FrontTemp: b.faces[front].temp, BackTemp: b.faces[back].temp,
		Surface: b.surface(), Vapour: b.flammable(), Humidity: b.humidity(),
	}
	t.Liner = t.LinerFront + t.LinerBack
	t.LinerTemp = (t.FrontTemp + t.BackTemp) / 2
	if b.spec.Sim.Kept > 0 {
		t.Left = t.Liner / b.spec.Sim.Kept
	}
	return t
}

// Liquid returns all liquid of the balance, m³: it never changes, whatever is done.
func (t Truth) Liquid() float64 {
	return t.Tank + t.RinseTank + t.Pads + t.Liner + t.Tray + t.Evaporated + t.Lost - t.Leaked - t.Gained
}

// force returns a pad's force in N for its share of the asked force.
func (b *Bench) force(share float64) float64 { return b.contact * b.asked * share }
