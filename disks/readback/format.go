package readback

import (
	"fmt"
	"slices"
)

// Media is the nominal size of a cartridge in millimetres, as the standards name it. Zero: not said.
type Media int

// The sizes of flexible disk cartridges.
const (
	MM90  Media = 90
	MM130 Media = 130
	MM200 Media = 200
)

// The bounds of what is taken for a flexible disk. A sector's number is one byte in its address field, and its length
// is 128 bytes doubled some times.
const (
	mostCylinders = 1023
	mostHeads     = 2
	mostNumber    = 255
	leastBytes    = 128
	mostBytes     = 8192
	// mostSize is far above the largest cartridge of the standards (about 21 Mbyte), and low enough that fifty images
	// of a mistyped format do not fill the memory.
	mostSize = 64 << 20
)

// Track is a track that differs from the others, as the first track of many formats does: it was written at the older,
// lower density so that any drive could read the label on it.
type Track struct {
	Cylinder, Head int // from 0
	Sectors        int // on this track
	Bytes          int // in each of its sectors
}

// Format is the geometry of a disk. Sectors are numbered from 1 unless Shift says otherwise.
type Format struct {
	Media     Media
	Cylinders int     // numbered from 0
	Heads     int     // 1 or 2, numbered from 0
	Sectors   int     // on each track
	Bytes     int     // in each sector: 128, 256, 512, …
	Shift     int     // the number of the first sector, less one: -1 where sectors are numbered from 0
	Other     []Track // tracks that differ, in the order of the disk, each at most once
}

// Address is the place of a sector: cylinder and head from 0, sector as its format numbers it.
type Address struct{ Cylinder, Head, Sector int }

// String returns "cylinder 3, head 0, sector 7".
func (a Address) String() string {
	return fmt.Sprintf("cylinder %d, head %d, sector %d", a.Cylinder, a.Head, a.Sector)
}

// Validate says in one sentence what no flexible disk can have; nil when the format can be used. Every other method of
// Format and every function that takes one expects a valid one or checks it.
func (f Format) Validate() error {
	switch {
	case f.Media != 0 && f.Media != MM90 && f.Media != MM130 && f.Media != MM200:
		return fmt.Errorf("a cartridge of %d mm is not known; give 90 mm, 130 mm or 200 mm", f.Media)
	case f.Cylinders < 1 || f.Cylinders > mostCylinders:
		return fmt.Errorf("a format cannot have %d cylinders; give 1 to %d", f.Cylinders, mostCylinders)
	case f.Heads < 1 || f.Heads > mostHeads:
		return fmt.Errorf("a format cannot have %d heads; give 1 or 2", f.Heads)
	case f.First() < 0 || f.First() > mostNumber:
		return fmt.Errorf("sectors cannot be numbered from %d; give 0 to %d", f.First(), mostNumber)
	}
	if err := f.checkTrack(f.Sectors, f.Bytes); err != nil {
		return err
	}
	// The tracks that differ are in order, so that start can stop at the first that lies behind, and each is there once.
	last := -1
	for _, t := range f.Other {
		if t.Cylinder < 0 || t.Cylinder >= f.Cylinders || t.Head < 0 || t.Head >= f.Heads {
			return fmt.Errorf("track %d/%d is not on a disk of %d cylinders and %d heads", t.Cylinder, t.Head, f.Cylinders, f.Heads)
		}
		if f.track(t.Cylinder, t.Head) <= last {
			return fmt.Errorf("track %d/%d is given twice, or after a later one", t.Cylinder, t.Head)
		}
		last = f.track(t.Cylinder, t.Head)
		if err := f.checkTrack(t.Sectors, t.Bytes); err != nil {
			return fmt.Errorf("track %d/%d: %w", t.Cylinder, t.Head, err)
		}
	}
	if n := f.size64(); n > mostSize {
		return fmt.Errorf("%s would be %d bytes, more than any flexible disk", f, n)
	}
	return nil
}

// size64 is Size before it is known to fit into the int of a 32-bit board.
func (f Format) size64() int64 {
	n := int64(f.Tracks()) * int64(f.Sectors) * int64(f.Bytes)
	for _, t := range f.Other {
		n += int64(t.Sectors)*int64(t.Bytes) - int64(f.Sectors)*int64(f.Bytes)
	}
	return n
}

// checkTrack looks at how many sectors a track has and how long they are.
func (f Format) checkTrack(sectors, bytes int) error {
	// The last sector's number must still fit into its byte.
	if most := mostNumber - f.First() + 1; sectors < 1 || sectors > most {
		return fmt.Errorf("a track cannot have %d sectors numbered from %d; give 1 to %d", sectors, f.First(), most)
	}
	if bytes < leastBytes || bytes > mostBytes || bytes&(bytes-1) != 0 {
		return fmt.Errorf("a sector cannot have %d bytes; give 128, 256, 512, 1024, 2048, 4096 or 8192", bytes)
	}
	return nil
}

// First returns the number of the first sector of a track.
func (f Format) First() int { return 1 + f.Shift }

// SameGeometry tells whether two formats have the same sectors at the same places; the size of the cartridge may differ
// or be unsaid. Their images and tables can then be compared and joined.
func (f Format) SameGeometry(g Format) bool {
	// An Other that says the same as the rest of the disk would be a difference here that is none; nobody writes that.
	return f.Cylinders == g.Cylinders && f.Heads == g.Heads && f.Sectors == g.Sectors && f.Bytes == g.Bytes &&
		f.Shift == g.Shift && slices.Equal(f.Other, g.Other)
}

// Equal tells whether two formats are the same in everything.
func (f Format) Equal(g Format) bool { return f.Media == g.Media && f.SameGeometry(g) }

// Tracks returns the number of tracks on all heads together.
func (f Format) Tracks() int { return f.Cylinders * f.Heads }

// track returns the place of a track in the order of an image.
func (f Format) track(cylinder, head int) int { return cylinder*f.Heads + head }

// TrackAt returns how many sectors a track has and how many bytes each of them has.
func (f Format) TrackAt(cylinder, head int) (sectors, bytes int) {
	for _, t := range f.Other {
		if t.Cylinder == cylinder && t.Head == head {
			return t.Sectors, t.Bytes
		}
	}
	return f.Sectors, f.Bytes
}

// start returns the number of sectors, and of bytes, in front of a track.
func (f Format) start(track int) (sectors, bytes int) {
	// As if all tracks were alike, then what the few others in front of it have more or less.
	sectors, bytes = track*f.Sectors, track*f.Sectors*f.Bytes
	for _, t := range f.Other {
		if f.track(t.Cylinder, t.Head) >= track {
			break
		}
		sectors += t.Sectors - f.Sectors
		bytes += t.Sectors*t.Bytes - f.Sectors*f.Bytes
	}
	return sectors, bytes
}

// Total returns the number of sectors that the format has.
func (f Format) Total() int {
	n, _ := f.start(f.Tracks())
	return n
}

// Size returns the size of a flat image in bytes.
func (f Format) Size() int {
	_, n := f.start(f.Tracks())
	return n
}

// LBA returns the logical block address of a sector: its place in the order of an image, from 0. The error says what the
// format has instead.
func (f Format) LBA(a Address) (int, error) {
	if err := f.checkCylinderHead(a.Cylinder, a.Head); err != nil {
		return 0, err
	}
	sectors, _ := f.TrackAt(a.Cylinder, a.Head)
	if a.Sector < f.First() || a.Sector >= f.First()+sectors {
		return 0, fmt.Errorf("sector %d cannot be: %s has the sectors %d to %d on track %d/%d",
			a.Sector, f, f.First(), f.First()+sectors-1, a.Cylinder, a.Head)
	}
	start, _ := f.start(f.track(a.Cylinder, a.Head))
	return start + a.Sector - f.First(), nil
}

// checkCylinderHead says which cylinders or heads the disk has instead. Heads get a sentence of their own, because a
// second head on a one-sided format is the likeliest mistake.
func (f Format) checkCylinderHead(cylinder, head int) error {
	if cylinder < 0 || cylinder >= f.Cylinders {
		return fmt.Errorf("cylinder %d cannot be: %s has the cylinders 0 to %d", cylinder, f, f.Cylinders-1)
	}
	if head < 0 || head >= f.Heads {
		if f.Heads == 1 {
			return fmt.Errorf("head %d cannot be: %s has only head 0", head, f)
		}
		return fmt.Errorf("head %d cannot be: %s has the heads 0 and 1", head, f)
	}
	return nil
}

// At returns the address of a logical block; the inverse of LBA. The error says how many sectors there are.
func (f Format) At(lba int) (Address, error) {
	if lba < 0 || lba >= f.Total() {
		return Address{}, fmt.Errorf("there is no sector %d: %s has %d, counted from 0", lba, f, f.Total())
	}
	track, start := f.trackOf(lba)
	return Address{track / f.Heads, track % f.Heads, lba - start + f.First()}, nil
}

// Span returns where the bytes of a sector lie in a flat image: image[from:to]. The error is that of At.
func (f Format) Span(lba int) (from, to int, err error) {
	a, err := f.At(lba)
	if err != nil {
		return 0, 0, err
	}
	_, size := f.TrackAt(a.Cylinder, a.Head)
	_, from = f.start(f.track(a.Cylinder, a.Head))
	from += (a.Sector - f.First()) * size
	return from, from + size, nil
}

// trackOf returns the track that a sector is on, and the first sector of that track.
func (f Format) trackOf(lba int) (track, start int) {
	// By halving, since a table of counts asks this for every sector.
	low, high := 0, f.Tracks()-1
	for low < high {
		middle := (low + high + 1) / 2
		if first, _ := f.start(middle); first <= lba {
			low = middle
		} else {
			high = middle - 1
		}
	}
	start, _ = f.start(low)
	return low, start
}
