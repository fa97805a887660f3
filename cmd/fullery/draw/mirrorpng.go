package draw

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"unicode/utf8"
)

// density is how many dots a pixel of the page has in each direction, so that letters and hatching are fine enough to
// print.
const density = 2

// inks are the colours of each look, those of the light page of the file of marks.
var inks = color.Palette{
	classPage:     color.RGBA{0xf7, 0xf7, 0xf5, 0xff},
	classGrid:     color.RGBA{0xd9, 0xdb, 0xdd, 0xff},
	classAxis:     color.RGBA{0x5c, 0x64, 0x6b, 0xff},
	classStill:    color.RGBA{0x8a, 0x92, 0x99, 0xff},
	classLost:     color.RGBA{0xd9, 0x73, 0x0d, 0xff},
	classRegained: color.RGBA{0x1f, 0x6f, 0xb2, 0xff},
	classUntried:  color.RGBA{0x5c, 0x64, 0x6b, 0xff},
	classHead:     color.RGBA{0x33, 0x38, 0x3d, 0xff},
	classWords:    color.RGBA{0x33, 0x38, 0x3d, 0xff},
	classQuiet:    color.RGBA{0x5c, 0x64, 0x6b, 0xff},
}

// PNG draws the picture as dots, at twice the density of the page and with a lettering of its own. The same picture
// always gives the same bytes. The error is that of the encoder.
func (m Mirror) PNG() ([]byte, error) {
	p := m.page()
	r := raster{image.NewPaletted(image.Rect(0, 0, pageWidth*density, inDots(p.high)), inks)}
	for _, s := range p.shapes {
		if s.words != "" {
			r.say(s)
		} else {
			r.rect(s)
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, r.to); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// inDots is a length on the page in dots.
func inDots(v float64) int { return int(math.Round(v * density)) }

// raster is a picture of dots being made.
type raster struct{ to *image.Paletted }

// set sets a dot, if it is in the picture.
func (r raster) set(x, y int, c class) {
	if (image.Point{X: x, Y: y}).In(r.to.Rect) {
		r.to.SetColorIndex(x, y, uint8(c))
	}
}

// rect fills a rectangle, hatches it, or draws its outline. It has at least one dot in each direction.
func (r raster) rect(s shape) {
	// Both edges are rounded, not the width, so that neighbours meet without a gap.
	left, top := inDots(s.x), inDots(s.y)
	right, bottom := max(inDots(s.x+s.w), left+1), max(inDots(s.y+s.h), top+1)
	for y := top; y < bottom; y++ {
		for x := left; x < right; x++ {
			edge := min(x-left, right-1-x, y-top, bottom-1-y) // dots from the nearest edge
			if inked(s.class, edge, x+y) {
				r.set(x, y, s.class)
			}
		}
	}
}

// inked tells whether a dot of a rectangle is drawn: stripes within a thin outline for what is lost, an outline for what
// came back.
func inked(c class, edge, diagonal int) bool {
	switch c {
	case classLost:
		return edge < 2 || diagonal%10 < 5
	case classRegained:
		return edge < 3
	}
	return true
}

// The cells of the lettering, in dots of a letter.
const (
	letterWide = 5
	letterStep = 6 // from one letter to the next
	letterBase = 7 // rows above the baseline
)

// say writes words with their baseline at y.
func (r raster) say(s shape) {
	size := density
	if s.class == classHead {
		size = density + 1
	}
	// All letters are as wide as each other, so that nothing must be measured.
	x, y := inDots(s.x), inDots(s.y)-letterBase*size
	long := (utf8.RuneCountInString(s.words)*letterStep - 1) * size
	switch s.anchor {
	case "middle":
		x -= long / 2
	case "end":
		x -= long
	}
	for _, letter := range s.words {
		for row, bits := range letterOf(letter) {
			for column := range letterWide {
				if bits>>(letterWide-1-column)&1 == 1 {
					r.dot(x+column*size, y+row*size, size, s.class)
				}
			}
		}
		x += letterStep * size
	}
}

// dot fills one dot of a letter.
func (r raster) dot(x, y, size int, c class) {
	for i := range size * size {
		r.set(x+i%size, y+i/size, c)
	}
}
