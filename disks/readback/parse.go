package readback

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// mostText is the longest text that is taken for a format, in bytes.
const mostText = 8192

// String returns the format as Parse reads it: "90 mm 80x2x18x512", "77x2x26x256, first track 26x128",
// "80x2x10x512, sectors from 0".
func (f Format) String() string {
	var b strings.Builder
	if f.Media != 0 {
		fmt.Fprintf(&b, "%d mm ", f.Media)
	}
	fmt.Fprintf(&b, "%dx%dx%dx%d", f.Cylinders, f.Heads, f.Sectors, f.Bytes)
	for _, t := range f.Other {
		if t.Cylinder == 0 && t.Head == 0 {
			fmt.Fprintf(&b, ", first track %dx%d", t.Sectors, t.Bytes)
		} else {
			fmt.Fprintf(&b, ", track %d/%d %dx%d", t.Cylinder, t.Head, t.Sectors, t.Bytes)
		}
	}
	if f.Shift != 0 {
		fmt.Fprintf(&b, ", sectors from %d", f.First())
	}
	return b.String()
}

// Parse reads a format: cylinders x heads x sectors x bytes, with the size of the cartridge before it if that is known,
// and after it, separated by commas, what is unusual: "first track 26x128", "track 0/1 26x256" (cylinder/head),
// "sectors from 0". The names of Formats are such texts. Upper case, × and * for x, and more spaces are taken. The error
// is one sentence that says how to write it.
func Parse(text string) (Format, error) {
	if len(text) > mostText {
		return Format{}, fmt.Errorf("a format of %d characters is not read; write it like 80x2x18x512", len(text))
	}
	// People write the cross in three ways, and a label has no case.
	plain := strings.NewReplacer("×", "x", "*", "x").Replace(strings.ToLower(text))
	parts := strings.Split(plain, ",")
	f, err := parseGeometry(parts[0])
	if err != nil {
		return Format{}, fmt.Errorf("%q is not a format: %w", text, err)
	}
	for _, part := range parts[1:] {
		if err := f.parseExtra(strings.Fields(part)); err != nil {
			return Format{}, fmt.Errorf("%q is not a format: %w", text, err)
		}
	}
	// Written in any order, kept in the order of the disk. A stable sort, so that Validate sees a track that is there
	// twice beside itself.
	slices.SortStableFunc(f.Other, func(a, b Track) int {
		return f.track(a.Cylinder, a.Head) - f.track(b.Cylinder, b.Head)
	})
	if err := f.Validate(); err != nil {
		return Format{}, fmt.Errorf("%q is not a format: %w", text, err)
	}
	return f, nil
}

// parseGeometry reads "90 mm 80x2x18x512", with or without the size of the cartridge, and with spaces around the x.
func parseGeometry(text string) (Format, error) {
	var f Format
	// No two numbers of a geometry stand beside each other with only a space between, so that all spaces can go.
	text = strings.Join(strings.Fields(text), "")
	if size, rest, ok := strings.Cut(text, "mm"); ok {
		n, ok := number(size)
		if !ok {
			return f, fmt.Errorf("%q is not the size of a cartridge; give 90 mm, 130 mm or 200 mm", size+" mm")
		}
		f.Media, text = Media(n), rest
	}
	n, ok := numbers(text, 4)
	switch {
	case ok:
		f.Cylinders, f.Heads, f.Sectors, f.Bytes = n[0], n[1], n[2], n[3]
		return f, nil
	case text == "" && f.Media != 0 && len(namesFor(f.Media)) > 0:
		return f, fmt.Errorf("several have that size; say which: %s", strings.Join(namesFor(f.Media), "; "))
	}
	return f, errors.New("write cylinders x heads x sectors x bytes, like 80x2x18x512")
}

// parseExtra reads one of the parts behind the geometry, already split at its spaces.
func (f *Format) parseExtra(words []string) error {
	// Each of the parts has three words; whatever else is there falls through to the one message that shows all three.
	said := strings.Join(words, " ")
	switch {
	case len(words) == 3 && words[0] == "sectors" && words[1] == "from":
		if first, ok := number(words[2]); ok {
			f.Shift = first - 1
			return nil
		}
	case len(words) == 3 && words[0] == "first" && words[1] == "track":
		if n, ok := numbers(words[2], 2); ok {
			f.Other = append(f.Other, Track{0, 0, n[0], n[1]})
			return nil
		}
	case len(words) == 3 && words[0] == "track":
		c, h, _ := strings.Cut(words[1], "/")
		cylinder, ok1 := number(c)
		head, ok2 := number(h)
		if n, ok := numbers(words[2], 2); ok && ok1 && ok2 {
			f.Other = append(f.Other, Track{cylinder, head, n[0], n[1]})
			return nil
		}
	}
	return fmt.Errorf("%q is not understood; write \"first track 26x128\", \"track 0/1 26x256\" or \"sectors from 0\"", said)
}

// numbers reads n whole numbers with an x between them.
func numbers(text string, n int) ([]int, bool) {
	parts := strings.Split(text, "x")
	if len(parts) != n {
		return nil, false
	}
	read := make([]int, n)
	for i, p := range parts {
		var ok bool
		if read[i], ok = number(p); !ok {
			return nil, false
		}
	}
	return read, true
}

// number reads a whole number of at most six digits, without a sign.
func number(text string) (int, bool) {
	// Six digits fit into the int of any board and are far beyond what Validate lets pass.
	if len(text) == 0 || len(text) > 6 || text[0] == '+' || text[0] == '-' {
		return 0, false
	}
	n, err := strconv.Atoi(text)
	return n, err == nil
}
