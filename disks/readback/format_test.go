package readback

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func mustParse(t *testing.T, text string) Format {
	t.Helper()
	f, err := Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// drawFormat draws a small or a usual disk, now and then with tracks of another density and other numbers of sectors.
func drawFormat(t *rapid.T) Format {
	f := Format{
		Media:     rapid.SampledFrom([]Media{0, MM90, MM130, MM200}).Draw(t, "media"),
		Cylinders: rapid.SampledFrom([]int{1, 2, 3, 5, 40, 77, 80}).Draw(t, "cylinders"),
		Heads:     rapid.IntRange(1, 2).Draw(t, "heads"),
		Sectors:   rapid.SampledFrom([]int{1, 2, 5, 8, 9, 10, 11, 15, 16, 18, 26, 36}).Draw(t, "sectors"),
		Bytes:     rapid.SampledFrom([]int{128, 256, 512, 1024}).Draw(t, "bytes"),
		Shift:     rapid.SampledFrom([]int{0, 0, 0, -1, 64}).Draw(t, "shift"),
	}
	tracks := rapid.SliceOfNDistinct(rapid.IntRange(0, f.Tracks()-1), 0, min(3, f.Tracks()), rapid.ID[int]).Draw(t, "other tracks")
	slices.Sort(tracks)
	for _, i := range tracks {
		f.Other = append(f.Other, Track{i / f.Heads, i % f.Heads, rapid.IntRange(1, 40).Draw(t, "n"),
			rapid.SampledFrom([]int{128, 256, 512, 1024}).Draw(t, "b")})
	}
	return f
}

// Sizes of flat images, from the products of cylinders, heads, sectors and bytes; 77x2x26x256 with a first track of 26
// sectors of 128 bytes has 26·128 less than without.
func TestSizes(t *testing.T) {
	for _, c := range []struct {
		text        string
		total, size int
	}{
		{"200 mm 77x1x26x128", 2002, 256256},
		{"200 mm 77x2x26x256", 4004, 1025024},
		{"200 mm 77x2x26x256, first track 26x128", 4004, 1025024 - 3328},
		{"200 mm 77x2x8x1024", 1232, 1261568},
		{"130 mm 40x1x16x128", 640, 81920},
		{"130 mm 40x2x9x512", 720, 368640},
		{"130 mm 40x2x16x256", 1280, 327680},
		{"130 mm 80x2x15x512", 2400, 1228800},
		{"130 mm 80x2x16x256", 2560, 655360},
		{"90 mm 80x2x9x512", 1440, 737280},
		{"90 mm 80x2x10x512", 1600, 819200},
		{"90 mm 80x2x11x512", 1760, 901120},
		{"90 mm 80x2x18x512", 2880, 1474560},
		{"90 mm 80x2x36x512", 5760, 2949120},
	} {
		f := mustParse(t, c.text)
		if f.Total() != c.total || f.Size() != c.size {
			t.Errorf("%s has %d sectors and %d bytes, want %d and %d", c.text, f.Total(), f.Size(), c.total, c.size)
		}
		if n, ok := Known(f); !ok || n.Name() != c.text {
			t.Errorf("%s is not a named format", c.text)
		}
	}
}

// Every format that follows a standard fits onto a track of that standard, with a quarter to two fifths of it left for
// gaps and addresses. The densities, in flux transitions per radian, are those in the titles of the standards (the
// catalogues of ECMA and ISO); a bit of MFM takes one transition at most, a bit of two-frequency recording two. That
// 7 958, 15 916 and 31 831 ftprad are 1, 2 and 4 Mbyte on 160 tracks stands in the history of ECMA-147.
func TestFormatsFitTheirDensity(t *testing.T) {
	for megabytes, ftprad := range map[float64]float64{1: 7958, 2: 15916, 4: 31831} {
		if got := ftprad * 2 * math.Pi / 8 * 160 / 1e6; math.Abs(got/megabytes-1) > 1e-3 {
			t.Errorf("%g ftprad is %g Mbyte, want %g", ftprad, got, megabytes)
		}
	}
	ftprad := map[string]float64{"5654": 13262, "7065": 13262, "6596": 7958, "7487": 7958, "8378": 7958, "8630": 13262,
		"8860": 7958, "9529": 15916, "10994": 31831, "ECMA-59": 13262}
	checked := 0
	for _, n := range Formats() {
		for number, density := range ftprad {
			if !strings.Contains(n.Source, number) {
				continue
			}
			bits := density * 2 * math.Pi
			if strings.Contains(n.Source, "two-frequency") {
				bits /= 2
			}
			checked++
			if share := float64(n.Sectors*n.Bytes*8) / bits; share < 0.6 || share > 0.75 {
				t.Errorf("%s fills %.0f %% of a track of %s", n.Name(), 100*share, n.Source)
			}
			for _, o := range n.Other {
				if share := float64(o.Sectors*o.Bytes*8) / (density * math.Pi); share < 0.6 || share > 0.75 {
					t.Errorf("%s fills %.0f %% of its first track, two-frequency", n.Name(), 100*share)
				}
			}
		}
	}
	if checked != 13 {
		t.Errorf("%d formats follow a standard, want 13", checked)
	}
}

func TestNamedFormats(t *testing.T) {
	seen := map[string]bool{}
	for _, n := range Formats() {
		if err := n.Validate(); err != nil {
			t.Errorf("%s: %v", n.Name(), err)
		}
		if seen[n.Name()] {
			t.Errorf("%s is there twice", n.Name())
		}
		seen[n.Name()] = true
		if n.Media == 0 || !strings.Contains(n.Source, "from memory") {
			t.Errorf("%s: size %d, source %q", n.Name(), n.Media, n.Source)
		}
		if got := mustParse(t, n.Name()); !got.Equal(n.Format) {
			t.Errorf("%s is read as %s", n.Name(), got)
		}
	}
	list := Formats()
	list[4].Other[0].Sectors = 1
	if Formats()[4].Other[0].Sectors == 1 {
		t.Error("the list is not the caller's own")
	}
	if _, ok := Known(mustParse(t, "80x2x18x512")); ok {
		t.Error("a format without a size of the cartridge is known")
	}
}

func TestParse(t *testing.T) {
	for text, want := range map[string]string{
		"80x2x18x512":                      "80x2x18x512",
		" 80 X 2 × 18 * 512 ":              "80x2x18x512",
		"90mm 80x2x9x512":                  "90 mm 80x2x9x512",
		"90 MM80x2x9x512, Sectors  FROM 0": "90 mm 80x2x9x512, sectors from 0",
		"80x2x9x512,sectors from 65":       "80x2x9x512, sectors from 65",
		"77x2x26x256,track 0/0 26x128":     "77x2x26x256, first track 26x128",
		"3x2x4x256, track 2/1 1x128, first track 2x128,track 0/1 3x128": "3x2x4x256, first track 2x128, track 0/1 3x128, track 2/1 1x128",
	} {
		if f, err := Parse(text); err != nil || f.String() != want {
			t.Errorf("%q is read as %q, %v; want %q", text, f, err, want)
		}
	}
	for text, want := range map[string]string{
		"":                             `"" is not a format: write cylinders x heads x sectors x bytes, like 80x2x18x512`,
		"80x2x18":                      "write cylinders x heads",
		"80x2x18x512x1":                "write cylinders x heads",
		"80x2x18x+512":                 "write cylinders x heads",
		"80x2x18x5121111":              "write cylinders x heads",
		"90 mm":                        "several have that size; say which: 90 mm 80x1x9x512; 90 mm 80x2x8x512; ",
		"91 mm":                        "write cylinders x heads",
		"mm 80x2x9x512":                `" mm" is not the size of a cartridge; give 90 mm, 130 mm or 200 mm`,
		"91 mm 80x2x18x512":            "a cartridge of 91 mm is not known; give 90 mm, 130 mm or 200 mm",
		"0x2x18x512":                   "a format cannot have 0 cylinders; give 1 to 1023",
		"1024x2x18x512":                "a format cannot have 1024 cylinders",
		"80x3x18x512":                  "a format cannot have 3 heads; give 1 or 2",
		"80x2x0x512":                   "a track cannot have 0 sectors numbered from 1; give 1 to 255",
		"80x2x256x128":                 "a track cannot have 256 sectors numbered from 1",
		"80x2x18x500":                  "a sector cannot have 500 bytes; give 128, 256, 512",
		"80x2x18x64":                   "a sector cannot have 64 bytes",
		"80x2x18x16384":                "a sector cannot have 16384 bytes",
		"1023x2x255x8192":              "1023x2x255x8192 would be 4274012160 bytes, more than any flexible disk",
		"80x2x9x512, from 0":           `"from 0" is not understood; write "first track 26x128", "track 0/1 26x256" or "sectors from 0"`,
		"80x2x9x512,":                  `"" is not understood`,
		"80x2x9x512, sectors from 256": "sectors cannot be numbered from 256; give 0 to 255",
		"80x2x9x512, sectors from 250": "a track cannot have 9 sectors numbered from 250; give 1 to 6",
		"80x2x9x512, track 80/0 9x256": "track 80/0 is not on a disk of 80 cylinders and 2 heads",
		"80x2x9x512, track 0 9x256":    `"track 0 9x256" is not understood`,
		"80x2x9x512, track 1/0 9x256, track 1/0 9x128":       "track 1/0 is given twice",
		"80x2x9x512, first track 9x100":                      "track 0/0: a sector cannot have 100 bytes",
		strings.Repeat("80x2x9x512, track 1/0 9x256, ", 400): "a format of 11600 characters is not read",
	} {
		if f, err := Parse(text); err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%q: %v, %v\nwant %s", text, f, err, want)
		}
	}
}

func TestAnyFormatIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFormat(t)
		if got, err := Parse(f.String()); err != nil || !got.Equal(f) {
			t.Fatalf("%s is read as %s, %v", f, got, err)
		}
	})
}

// Walking over a disk track by track, sector by sector, is the plain meaning of an image's order; LBA, At and Span must
// agree with it everywhere, and refuse whatever is beside the disk.
func TestAddresses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawFormat(t)
		lba, offset := 0, 0
		for c := range f.Cylinders {
			for h := range f.Heads {
				sectors, size := f.TrackAt(c, h)
				for s := range sectors {
					a := Address{c, h, f.First() + s}
					got, err := f.LBA(a)
					back, err2 := f.At(lba)
					from, to, err3 := f.Span(lba)
					if got != lba || back != a || from != offset || to != offset+size || err != nil || err2 != nil || err3 != nil {
						t.Fatalf("%s in %s: lba %d, address %v, bytes %d to %d (%v, %v, %v); want %d, %d to %d",
							a, f, got, back, from, to, err, err2, err3, lba, offset, offset+size)
					}
					lba, offset = lba+1, offset+size
				}
				for _, s := range []int{f.First() - 1, f.First() + sectors, -1} {
					if _, err := f.LBA(Address{c, h, s}); err == nil {
						t.Fatalf("sector %d of track %d/%d is on %s", s, c, h, f)
					}
				}
			}
		}
		if f.Total() != lba || f.Size() != offset || f.Size() != int(f.size64()) {
			t.Fatalf("%s has %d sectors and %d bytes, want %d and %d", f, f.Total(), f.Size(), lba, offset)
		}
		for _, a := range []Address{{-1, 0, 1}, {f.Cylinders, 0, 1}, {0, -1, 1}, {0, f.Heads, 1}} {
			if _, err := f.LBA(a); err == nil {
				t.Fatalf("%s is on %s", a, f)
			}
		}
		for _, lba := range []int{-1, f.Total()} {
			if _, _, err := f.Span(lba); err == nil {
				t.Fatalf("sector %d is on %s", lba, f)
			}
		}
	})
}

func TestAddressesAreTold(t *testing.T) {
	one, two := mustParse(t, "40x1x9x512, sectors from 0"), mustParse(t, "80x2x18x512, first track 9x512")
	for _, c := range []struct {
		f    Format
		a    Address
		want string
	}{
		{one, Address{40, 0, 0}, "cylinder 40 cannot be: 40x1x9x512, sectors from 0 has the cylinders 0 to 39"},
		{one, Address{0, 1, 0}, "head 1 cannot be: 40x1x9x512, sectors from 0 has only head 0"},
		{one, Address{0, 0, 9}, "sector 9 cannot be: 40x1x9x512, sectors from 0 has the sectors 0 to 8 on track 0/0"},
		{two, Address{0, 2, 1}, "head 2 cannot be: 80x2x18x512, first track 9x512 has the heads 0 and 1"},
		{two, Address{0, 0, 10}, "has the sectors 1 to 9 on track 0/0"},
		{two, Address{0, 1, 0}, "has the sectors 1 to 18 on track 0/1"},
	} {
		if _, err := c.f.LBA(c.a); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v\nwant %s", c.a, err, c.want)
		}
	}
	if _, err := one.At(360); fmt.Sprint(err) != "there is no sector 360: 40x1x9x512, sectors from 0 has 360, counted from 0" {
		t.Error(err)
	}
}

func TestCheckImage(t *testing.T) {
	f := mustParse(t, "90 mm 80x2x18x512")
	for size, want := range map[int64]string{
		1474560: "<nil>",
		1474048: "the image has 1474048 bytes and 90 mm 80x2x18x512 has 1474560: 512 too few; " +
			"no named format has this size: give the disk's own format, or read the image again",
		737280: "the image has 737280 bytes and 90 mm 80x2x18x512 has 1474560: 737280 too few; " +
			"this size would fit 130 mm 80x2x9x512; or 90 mm 80x2x9x512",
		2949120: "1474560 too many; this size would fit 90 mm 80x2x36x512",
		0:       "the image has 0 bytes",
	} {
		if got := fmt.Sprint(CheckImage(f, size)); !strings.Contains(got, want) {
			t.Errorf("%d: %s\nwant %s", size, got, want)
		}
	}
	for _, n := range Formats() {
		if fit := Fitting(int64(n.Size())); !slices.ContainsFunc(fit, func(m Named) bool { return m.Name() == n.Name() }) {
			t.Errorf("an image of %s does not fit it", n.Name())
		}
	}
}
