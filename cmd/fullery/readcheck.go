package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"fullery/disks/readback"

	"github.com/spf13/cobra"
)

// checkFlags are those of read check.
type checkFlags struct {
	format, image string
	json          bool
}

// newReadCheck is the first thing to do with a table from elsewhere: it changes nothing and says everything.
func newReadCheck() *cobra.Command {
	var f checkFlags
	c := &cobra.Command{
		Use:   "check FILE.csv",
		Short: "Check a table of what was read: its mistakes with their places, or its counts",
		Long: "Reads a table and says how many sectors came back, or every mistake with file:line:column. With --image the size of\n" +
			"a flat image is checked too. Without --format it is guessed, from the image's size if there is one, otherwise\n" +
			"from the rows; when several fit they are listed, and none is taken. Nothing is changed.\n\n" +
			"Exit status: 0 when all is in order, 1 when something is wrong with a file, 2 when the format must be said.",
		Example: "  fullery read check round-0.csv --format 80x2x18x512\n  fullery read check round-0.csv --image round-0.img",
		Args:    wants(1, 1, "one table"),
		RunE:    func(c *cobra.Command, args []string) error { return readCheck(c, args[0], f) },
	}
	formatFlag(c, &f.format)
	c.Flags().StringVar(&f.image, "image", "", "a flat image that goes with the table; only its size is looked at")
	c.Flags().BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

// checkedTable is what came of a check.
type checkedTable struct {
	file, image string
	imageSize   int64
	format      readback.Format
	guessed     string // what the format rests on; "" when it was said
	table       *readback.Table
	wrong       error // the table's mistakes
	imageWrong  error
}

// readCheck reads, says what came of it, and gives the answer as the exit status.
func readCheck(c *cobra.Command, path string, f checkFlags) error {
	data, err := readWhole(path, mostTable)
	if err != nil {
		return err
	}
	k := checkedTable{file: path, image: f.image}
	if f.image != "" {
		info, err := os.Stat(f.image)
		if err != nil {
			return notRead(f.image, err)
		}
		if !info.Mode().IsRegular() {
			return said(statusUsage, "%s is no plain file: an image is one", onScreen(f.image))
		}
		k.imageSize = info.Size() // all that a flat image can tell without its table
	}
	if err := k.read(data, f.format); err != nil {
		return err
	}
	if f.json {
		err = writeJSON(c.OutOrStdout(), k.json())
	} else {
		k.print(c.OutOrStdout())
	}
	if k.wrong != nil || k.imageWrong != nil {
		return errors.Join(withStatus(statusNo, nil), err)
	}
	return err
}

// read reads the table as the format that was said, or as what fits.
func (k *checkedTable) read(data []byte, format string) error {
	if format != "" {
		f, err := formatOf(format)
		if err != nil {
			return err
		}
		k.format = f
		k.table, k.wrong = parseTable(k.file, data, f)
		if k.image != "" {
			k.imageWrong = fits(k.image, f, k.imageSize)
		}
		return nil
	}
	// A size of nothing would stand for no image.
	if k.image != "" && k.imageSize == 0 {
		return said(statusNo, "%s is empty", onScreen(k.image))
	}
	g, err := guessFormat(k.file, data, k.imageSize)
	switch {
	case err != nil:
		return fmt.Errorf("%s: %w", onScreen(k.image), err)
	case len(g.fit) == 0: // its mistakes are told all the same: one row may be all that is wrong
		k.format, k.wrong = g.tried, g.wrong
	case g.table == nil:
		return g.ambiguous(k.file)
	default:
		k.table, k.format = g.table, g.fit[0]
	}
	k.guessed = g.from
	return nil
}

// print says it for a person.
func (k *checkedTable) print(w io.Writer) {
	as := k.format.String()
	if k.guessed != "" {
		as += ", a guess " + k.guessed
	}
	if k.wrong != nil {
		fmt.Fprintln(w, k.wrong)
		if k.guessed != "" {
			as = k.format.String() + ", because it fits none " + k.guessed
		}
		fmt.Fprintf(w, "%s was read as %s; nothing of it can be used until it is mended.\n", onScreen(k.file), as)
	} else {
		kind := "a table by sector"
		if k.table.ByTrack() {
			kind = "a table of counts by track"
		}
		fmt.Fprintf(w, "%s: %s of a disk of %s\n  %s\n", onScreen(k.file), kind, as, countWords(k.table.Total()))
		if known, ok := readback.Known(k.format); ok {
			fmt.Fprintf(w, "  The format: %s\n", known.Source)
		}
	}
	switch {
	case k.imageWrong != nil:
		fmt.Fprintln(w, k.imageWrong)
	case k.image != "":
		fmt.Fprintf(w, "%s: %d bytes, as the format has\n", onScreen(k.image), k.imageSize)
	}
}

// checkedTableJSON is the same for a program. Counts are null when the table has mistakes.
type checkedTableJSON struct {
	File         string        `json:"file"`
	OK           bool          `json:"ok"`
	Format       string        `json:"format"`
	Guessed      bool          `json:"guessed"`
	ByTrack      bool          `json:"by_track"`
	Counts       *countsJSON   `json:"counts"`
	Problems     []problemJSON `json:"problems"`
	Image        string        `json:"image,omitempty"`
	ImageBytes   int64         `json:"image_bytes,omitempty"`
	ImageProblem string        `json:"image_problem,omitempty"`
}

// json lists the mistakes one by one, as the check of a recipe does.
func (k *checkedTable) json() checkedTableJSON {
	out := checkedTableJSON{File: k.file, OK: k.wrong == nil && k.imageWrong == nil, Format: k.format.String(),
		Guessed: k.guessed != "", Problems: []problemJSON{}, Image: k.image, ImageBytes: k.imageSize}
	for _, p := range problemsIn(k.wrong) {
		out.Problems = append(out.Problems, problemJSON{p.Place.Line, p.Place.Column, p.Said, p.Hint, p.Warning})
	}
	if k.table != nil {
		counts := countsOf(k.table.Total())
		out.Counts, out.ByTrack = &counts, k.table.ByTrack()
	}
	if k.imageWrong != nil {
		out.ImageProblem = k.imageWrong.Error()
	}
	return out
}
