package readback

import (
	"fmt"
	"slices"
	"strings"
)

// Named is a format that many disks have. Its name is the text of its format: "90 mm 80x2x18x512".
type Named struct {
	Format
	// Source is the standard that it follows, and how sure that is.
	Source string
}

// What is known of where a geometry comes from. Titles of the standards with their number of tracks were seen in public
// catalogues; their clauses were not, so that the sectors of a track are from memory everywhere.
const (
	tracksSeen = "tracks as in the standard's title; sectors from memory"
	fromMemory = "from memory"
	noStandard = "no standard known; in common use, from memory"
)

// formats are the named ones, by size of the cartridge, then by size of the image. Where a format stands in the title of
// its standard only as a number of tracks, the arithmetic of its size is checked against tables in the tests.
var formats = []Named{
	// 200 mm, two-frequency recording on one side (ISO 5654, title seen) and on both.
	{plain(MM200, 77, 1, 26, 128), "ISO 5654 (ECMA-54), two-frequency, one side; " + fromMemory},
	{plain(MM200, 77, 1, 15, 256), noStandard},
	{plain(MM200, 77, 1, 8, 512), noStandard},
	{plain(MM200, 77, 2, 26, 128), "ECMA-59, two-frequency, both sides; " + fromMemory},
	// 200 mm, MFM on both sides: the first track is two-frequency on head 0, so that any drive can read the label.
	{mixed(MM200, 77, 2, 26, 256, 26, 128), "ISO 7065 (ECMA-69), MFM, both sides; " + fromMemory},
	{plain(MM200, 77, 2, 26, 256), noStandard},
	{plain(MM200, 77, 2, 15, 512), noStandard},
	{plain(MM200, 77, 2, 8, 1024), noStandard},

	// 130 mm.
	{plain(MM130, 40, 1, 16, 128), "ISO 6596 (ECMA-66), two-frequency, one side; " + fromMemory},
	{plain(MM130, 40, 1, 8, 512), noStandard},
	{plain(MM130, 40, 1, 9, 512), noStandard},
	{mixed(MM130, 40, 2, 16, 256, 16, 128), "ISO 7487-2 (ECMA-70), MFM, track format A; " + fromMemory},
	{plain(MM130, 40, 2, 16, 256), noStandard},
	{plain(MM130, 40, 2, 8, 512), noStandard},
	{plain(MM130, 40, 2, 9, 512), "ISO 7487-3, MFM, track format B; " + fromMemory},
	{plain(MM130, 40, 2, 10, 512), noStandard},
	{mixed(MM130, 80, 2, 16, 256, 16, 128), "ISO 8378-2 (ECMA-78), MFM, track format A; " + fromMemory},
	{plain(MM130, 80, 2, 16, 256), noStandard},
	{plain(MM130, 80, 2, 5, 1024), noStandard},
	{plain(MM130, 80, 2, 9, 512), "ISO 8378-3, MFM, track format B; " + fromMemory},
	{plain(MM130, 80, 2, 10, 512), noStandard},
	{mixed(MM130, 77, 2, 26, 256, 26, 128), "ISO 8630-2 (ECMA-99), MFM, track format A; " + tracksSeen},
	{plain(MM130, 80, 2, 15, 512), "ISO 8630-3 (ECMA-99), MFM, track format B; " + tracksSeen},
	{plain(MM130, 77, 2, 8, 1024), noStandard},

	// 90 mm.
	{plain(MM90, 80, 1, 9, 512), noStandard},
	{plain(MM90, 80, 2, 8, 512), noStandard},
	{plain(MM90, 80, 2, 9, 512), "ISO 8860 (ECMA-100), MFM, 7 958 ftprad; " + tracksSeen},
	{plain(MM90, 80, 2, 10, 512), noStandard},
	{plain(MM90, 80, 2, 5, 1024), noStandard},
	{plain(MM90, 80, 2, 11, 512), noStandard},
	{plain(MM90, 80, 2, 15, 512), noStandard},
	{plain(MM90, 77, 2, 8, 1024), noStandard},
	{plain(MM90, 80, 2, 18, 512), "ISO/IEC 9529 (ECMA-125), MFM, 15 916 ftprad; " + tracksSeen},
	{plain(MM90, 80, 2, 22, 512), noStandard},
	{plain(MM90, 80, 2, 36, 512), "ISO/IEC 10994 (ECMA-147), MFM, 31 831 ftprad; " + tracksSeen},
}

// plain is a format all of whose tracks are alike, with sectors numbered from 1, as the standards have them.
func plain(m Media, cylinders, heads, sectors, bytes int) Format {
	return Format{Media: m, Cylinders: cylinders, Heads: heads, Sectors: sectors, Bytes: bytes}
}

// mixed is a format whose first track, cylinder 0 under head 0, is of another density.
func mixed(m Media, cylinders, heads, sectors, bytes, firstSectors, firstBytes int) Format {
	f := plain(m, cylinders, heads, sectors, bytes)
	f.Other = []Track{{0, 0, firstSectors, firstBytes}}
	return f
}

// Name returns what the format is called: the text that Parse reads.
func (n Named) Name() string { return n.String() }

// Formats returns the named formats, by size of the cartridge. The list is the caller's own.
func Formats() []Named {
	// A deep copy: the tracks that differ are a slice of their own, and the list is shared by the whole program.
	list := slices.Clone(formats)
	for i := range list {
		list[i].Other = slices.Clone(list[i].Other)
	}
	return list
}

// Known returns the named format that is equal to f, for its source. Without a size of the cartridge there is none.
func Known(f Format) (Named, bool) {
	// The list has some thirty entries and is asked for once a command: no index is worth its lines.
	for _, n := range Formats() {
		if n.Equal(f) {
			return n, true
		}
	}
	return Named{}, false
}

// Fitting returns the named formats whose image has that many bytes.
func Fitting(size int64) []Named {
	return slices.DeleteFunc(Formats(), func(n Named) bool { return int64(n.Size()) != size })
}

// namesFor lists the names of the formats of one size of cartridge, for a message.
func namesFor(m Media) []string {
	var names []string
	for _, n := range formats {
		if n.Media == m {
			names = append(names, n.Name())
		}
	}
	return names
}

// CheckImage says in one sentence why an image of that many bytes is not one of this format: both sizes, how much is
// missing or too much, and which named formats have that size. Nil when it fits.
func CheckImage(f Format, size int64) error {
	want := int64(f.Size())
	if size == want {
		return nil
	}
	// How much is missing says what happened: a whole number of tracks is a reading that was cut short, an odd number of
	// bytes a file that was damaged or is of another kind.
	amount := fmt.Sprintf("%d too many", size-want)
	if size < want {
		amount = fmt.Sprintf("%d too few", want-size)
	}
	said := fmt.Sprintf("the image has %d bytes and %s has %d: %s", size, f, want, amount)
	var names []string
	for _, n := range Fitting(size) {
		names = append(names, n.Name())
	}
	if len(names) == 0 {
		return fmt.Errorf("%s; no named format has this size: give the disk's own format, or read the image again", said)
	}
	return fmt.Errorf("%s; this size would fit %s", said, strings.Join(names, "; or "))
}
