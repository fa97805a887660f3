package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"fullery/disks/readback"

	"github.com/spf13/cobra"
)

// joinFlags are those of read join.
type joinFlags struct {
	format, out string
	force, json bool
}

// newReadJoin brings readings together: each may have lost what another has.
func newReadJoin() *cobra.Command {
	var f joinFlags
	c := &cobra.Command{
		Use:   "join --format F --out DISK.img TABLE.csv=IMAGE.img …",
		Short: "Join the good sectors of several readings of one disk into one image",
		Long: "Takes each sector from the readings whose table calls it good. Copies that agree are taken; where they differ, more\n" +
			"than half of three or more must agree, otherwise the sector is disputed, listed, and never chosen. What has no\n" +
			"copy or is disputed is filled with words that say so.\n\n" +
			"Writes four files, all or none: the image, its table (disk.csv), from which reading each sector came\n" +
			"(disk.from.csv), and the SHA-256 of everything that went in and came out (disk.sha256).\n\n" +
			"Give every reading once, and never an image that was joined already: each counts as a witness of its own. A table\n" +
			"alone, without =IMAGE, tells what else was read but is in no image.\n\n" +
			"Exit status: 0 when no sector is disputed, 1 when some are (the files are written all the same) or a file has\n" +
			"mistakes (then nothing is written).",
		Example: "  fullery read join --format 80x2x18x512 --out disk-7.img round-0.csv=round-0.img round-1.csv=round-1.img",
		Args:    wants(1, 1000, "the readings to join, each as table.csv=image.img"),
		RunE:    func(c *cobra.Command, args []string) error { return readJoin(c, args, f) },
	}
	formatFlag(c, &f.format)
	c.Flags().StringVar(&f.out, "out", "", "the image to be written, as in disk-7.img")
	c.Flags().BoolVar(&f.force, "force", false, "replace files that are there already; never one that is joined")
	c.Flags().BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

// readJoin looks at the names first, then reads, joins and writes; a disputed sector is an answer of no, and the files are
// written all the same, because every other sector is worth having.
func readJoin(c *cobra.Command, args []string, f joinFlags) error {
	format, err := formatOf(f.format)
	if err != nil {
		return err
	}
	outs, err := joinOuts(f.out)
	if err != nil {
		return err
	}
	if err := mayWrite(outs.all(), f.force); err != nil {
		return bad(err)
	}
	readings, err := readReadings(args, format, outs)
	if err != nil {
		return err
	}
	x, err := joinReadings(readings)
	if err != nil {
		return err
	}
	x.outs = outs
	if err := x.write(f.force); err != nil {
		return bad(err)
	}
	if f.json {
		err = writeJSON(c.OutOrStdout(), x.json())
	} else {
		x.print(c.OutOrStdout())
	}
	if len(x.joined.Disputed) > 0 {
		return errors.Join(withStatus(statusNo, nil), err)
	}
	return err
}

// joinedFiles are the names of what a join writes.
type joinedFiles struct{ image, table, provenance, sums string }

// all lists them in the order in which they are written: the image last.
func (o joinedFiles) all() []string { return []string{o.provenance, o.table, o.sums, o.image} }

// joinOuts makes the names out of that of the image.
func joinOuts(image string) (joinedFiles, error) {
	if image == "" {
		return joinedFiles{}, said(statusUsage, "say where the joined image goes, as in --out disk-7.img")
	}
	base := stem(image)
	o := joinedFiles{image, base + tableEnd, base + provenanceEnd, base + sumsEnd}
	// Without regard to case: some file systems have none.
	end := strings.ToLower(filepath.Ext(image))
	if end == tableEnd || end == sumsEnd || filepath.Base(image) == end || strings.HasSuffix(image, string(filepath.Separator)) {
		return o, said(statusUsage, "--out %s: name an image, as in disk-7.img; its table will be disk-7.csv", onScreen(image))
	}
	dir, err := os.Stat(filepath.Dir(image))
	if err != nil || !dir.IsDir() {
		return o, said(statusUsage, "--out %s: there is no folder %s", onScreen(image), onScreen(filepath.Dir(image)))
	}
	return o, nil
}

// joining is a join with the files that it came from.
type joining struct {
	readings []reading
	joined   *readback.Joined
	outs     joinedFiles
	written  []fileSum // of the outputs, the image first
}

// joinReadings joins readings that were read from files.
func joinReadings(readings []reading) (*joining, error) {
	rounds := make([]readback.Round, len(readings))
	for i, r := range readings {
		rounds[i] = r.Round
	}
	joined, err := readback.Join(rounds)
	if err != nil {
		return nil, withStatus(statusUsage, err)
	}
	return &joining{readings: readings, joined: joined}, nil
}

// write writes the four files, all or none.
func (x *joining) write(force bool) error {
	var table, provenance bytes.Buffer
	if err := errors.Join(x.joined.Table.Write(&table), x.joined.WriteProvenance(&provenance)); err != nil {
		return err
	}
	// The sums cannot hold their own.
	x.written = []fileSum{sumOf(x.outs.image, x.joined.Image), sumOf(x.outs.table, table.Bytes()),
		sumOf(x.outs.provenance, provenance.Bytes())}
	data := map[string][]byte{x.outs.image: x.joined.Image, x.outs.table: table.Bytes(), x.outs.provenance: provenance.Bytes(),
		x.outs.sums: x.sums()}
	var files []outFile
	for _, path := range x.outs.all() {
		files = append(files, outFile{path, data[path]})
	}
	return writeSet(files, force, realSteps())
}

// sums is the text of what went in and came out, as sha256sum --check reads it from the folder in which it lies.
func (x *joining) sums() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# SHA-256 of what was joined and of what it was joined into; sha256sum --check looks whether it is still so\n")
	fmt.Fprintf(&b, "# format %s\n", x.joined.Table.Format())
	// Lines that begin with # are passed over by the usual tools; no name stands in them, which might break a line.
	for _, r := range x.readings {
		fmt.Fprintf(&b, "# reading %d\n", r.Number)
		x.sumLine(&b, r.table)
		if r.Image != nil {
			x.sumLine(&b, r.image)
		}
	}
	fmt.Fprintln(&b, "# joined: image, table, and from which reading each sector came")
	for _, s := range x.written {
		x.sumLine(&b, s)
	}
	return b.Bytes()
}

// sumLine writes one line. Names are from the folder of the sums, so that the folder can move as a whole; one that would
// break the line is written as coreutils writes it, with a backslash in front.
func (x *joining) sumLine(b *bytes.Buffer, s fileSum) {
	name := s.path
	if dir, err := filepath.Abs(filepath.Dir(x.outs.sums)); err == nil {
		if path, err := filepath.Abs(name); err == nil {
			name = path
			if near, err := filepath.Rel(dir, path); err == nil {
				name = near
			}
		}
	}
	escaped := strings.NewReplacer("\\", "\\\\", "\n", "\\n", "\r", "\\r").Replace(name)
	if escaped != name {
		b.WriteByte('\\')
	}
	fmt.Fprintf(b, "%s  %s\n", s.sha256, escaped)
}
