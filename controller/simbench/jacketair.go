package simbench

const (
	openingsPart = 0.15  // of the resistance between liner and cell's air at full stirring: the jacket's openings; assumed
	openingsRest = 0.1   // exchange through them at rest, of that at full stirring; assumed
	jacketVolume = 12e-6 // m³ of air in a jacket of 90 mm with its disk: 1.5 mm all over; assumed
	cellVolume   = 1e-3  // m³ of air around the cartridge; assumed
	cellHeat     = 3.0   // J/K of that air and what it touches at once; assumed
	faceToFace   = 0.2   // W/K: 0.65 mm of air on 50 cm², the disk between hardly counts; assumed
	faceToWall   = 0.2   // W/K from the front face to the wall of the jacket that it lies on; assumed
	wallToAir    = 0.05  // W/K from that wall to the cell's air at full stirring: 80 % of the coldness reaches it; assumed
	wallToRoom   = 0.002 // W/K from that wall to the room, by what the cartridge rests on; assumed
	wallHeat     = 5.0   // J/K of that wall: with the conductances it lags 20 s behind; assumed
)

// warms moves the heat of one step of s seconds between the faces, the jacket's air, its front wall and the cell's air.
// films are the faces' conductances now, openings that of the jacket's openings, carry that of the through-flow, all in
// W/K; stir is the share of full stirring.
//
// One implicit step of five temperatures, each coupled to some others. The latent heat of the faces goes with their
// temperature too, and counts like a coupling. The unknowns are eliminated one by one: back face, cell, jacket's air,
// wall. Every coupling is positive, so that the air and a dry liner never leave the range of what surrounds them.
func (b *Bench) warms(s float64, films [numFaces]float64, openings, carry, stir float64) {
	f, k := &b.faces[front], &b.faces[back]
	toAir := wallToAir * stir
	storeF, storeB := f.capacity()/s, k.capacity()/s
	const inAir, wall, cell = jacketVolume * airRhoCp, wallHeat, cellHeat

	// Diagonals and right-hand sides.
	df := storeF + films[front] + faceToFace + faceToWall + f.giving.slope
	rf := storeF*f.temp + f.giving.slope*f.temp - f.giving.latent
	db := storeB + films[back] + faceToFace + k.giving.slope
	rb := storeB*k.temp + k.giving.slope*k.temp - k.giving.latent
	da := inAir/s + films[front] + films[back] + openings
	ra := inAir / s * b.insideT
	dc := cell/s + openings + carry + toAir
	rc := cell/s*b.cell + carry*b.air
	dw := wall/s + faceToWall + toAir + wallToRoom
	rw := wall/s*b.jacket + wallToRoom*b.spec.Room.Air

	// The back face: coupled to the front face and to the jacket's air.
	u, v := faceToFace/db, films[back]/db
	df -= u * faceToFace
	da -= v * films[back]
	fa := films[front] + u*films[back]
	rf += u * rb
	ra += v * rb
	// The cell: to the jacket's air and to the wall.
	p, q := openings/dc, toAir/dc
	da -= p * openings
	dw -= q * toAir
	aw := p * toAir
	ra += p * rc
	rw += q * rc
	// The jacket's air: to the front face and to the wall.
	m, n := fa/da, aw/da
	df -= m * fa
	dw -= n * aw
	fw := faceToWall + m*aw
	rf += m * ra
	rw += n * ra
	// The wall: to the front face.
	t := fw / dw
	df -= t * fw
	rf += t * rw

	f.temp = rf / df
	b.jacket = (rw + fw*f.temp) / dw
	b.insideT = (ra + fa*f.temp + aw*b.jacket) / da
	b.cell = (rc + openings*b.insideT + toAir*b.jacket) / dc
	k.temp = (rb + faceToFace*f.temp + films[back]*b.insideT) / db
}

// capacity returns the heat capacity of a face and its liquid, J/K.
func (f *face) capacity() float64 {
	c := faceHeat
	for i, v := range f.liquid {
		c += v * substances[i].warms
	}
	return c
}
