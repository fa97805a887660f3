package draw

// dots is a plot of braille cells: each holds two dots beside and four above each other (Unicode 16, chapter 21.1).
type dots struct {
	w, h int // cells
	bits []uint8
}

// newDots returns an empty plot of w by h cells, both above zero.
func newDots(w, h int) *dots { return &dots{w: w, h: h, bits: make([]uint8, w*h)} }

// dotBits is the bit of each dot in a braille character, by row and column of the dot.
var dotBits = [4][2]uint8{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

// set puts a dot; dots outside the plot are left out.
func (d *dots) set(x, y int) {
	if x < 0 || y < 0 || x >= d.w*2 || y >= d.h*4 {
		return
	}
	d.bits[y/4*d.w+x/2] |= dotBits[y%4][x%2]
}

// line joins two dots, one dot for every step of the longer way.
func (d *dots) line(x0, y0, x1, y1 int) {
	n := max(abs(x1-x0), abs(y1-y0), 1)
	for i := 0; i <= n; i++ {
		d.set(x0+(x1-x0)*i/n, y0+(y1-y0)*i/n)
	}
}

// row returns one row of cells.
func (d *dots) row(y int) []cell {
	cells := blank(d.w)
	for x := range cells {
		if b := d.bits[y*d.w+x]; b != 0 {
			cells[x] = cell{rune(0x2800 + int(b)), OnTrack}
		}
	}
	return cells
}

// abs is the size of a whole number; dots are never near the least one.
func abs(x int) int {
	if x < 0 {
		return -x
	}
	return x
}
