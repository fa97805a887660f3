package main

import (
	"fmt"
	"math"

	"fullery/disks/readback"

	"github.com/spf13/cobra"
)

// newRead is all that is done with tables and images of what was read. None of it needs a bench, a drive or a record.
func newRead() *cobra.Command {
	c := &cobra.Command{
		Use:   "read",
		Short: "Check, draw and join tables of what was read from a disk",
		Long: "Works on tables of what came back from one reading of a disk, and on flat images.\n\n" +
			"A table is CSV with a header: cylinder,head,sector,state with the state good, bad, missing or untried; or, where\n" +
			"only counts are at hand, cylinder,head,missing. Rows may be in any order; one that is not there is untried.\n" +
			"A flat image is the bytes of all sectors by cylinder, head and sector number, with nothing between.\n\n" +
			"A format is cylinders x heads x sectors x bytes, as in 80x2x18x512, with what is unusual behind it:\n" +
			"\"77x2x26x256, first track 26x128\" or \"80x2x10x512, sectors from 0\".",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newReadCheck(), newReadMap(), newReadJoin())
	return c
}

// formatFlag adds the flag that every reading needs.
func formatFlag(c *cobra.Command, to *string) {
	c.Flags().StringVar(to, "format", "", "the disk's format: cylinders x heads x sectors x bytes, as in 80x2x18x512")
}

// formatOf reads the flag. Without it there is no address that means anything.
func formatOf(text string) (readback.Format, error) {
	if text == "" {
		return readback.Format{}, said(statusUsage, "say the disk's format, as in --format 80x2x18x512; fullery read check FILE tells which "+
			"ones fit a table")
	}
	f, err := readback.Parse(text)
	if err != nil {
		return f, said(statusUsage, "--format: %v", err)
	}
	return f, nil
}

// shareWords is a readable share in per cent. It is cut and never rounded up: 100.0 % means every sector.
func shareWords(c readback.Counts) string {
	// The little that is added keeps a whole per mille from falling below itself by the rounding of floats.
	share := math.Floor(c.Share()*1000+1e-9) / 10
	if share == 0 && c.Good > 0 {
		return "under 0.1 %"
	}
	return fmt.Sprintf("%.1f %%", share)
}

// countWords says what became of the sectors of a disk.
func countWords(c readback.Counts) string {
	return fmt.Sprintf("%d of %d sectors read, %s: %d bad, %d missing, %d untried", c.Good, c.Total(), shareWords(c), c.Bad, c.Missing,
		c.Untried)
}

// countsJSON is the same for a program.
type countsJSON struct {
	Sectors  int     `json:"sectors"` // that the format has: the sum of the four below
	Good     int     `json:"good"`
	Bad      int     `json:"bad"`
	Missing  int     `json:"missing"`
	Untried  int     `json:"untried"`
	Readable float64 `json:"readable_share"` // of all sectors, 0 to 1: what was not tried counts as not read
}

// countsOf rounds the share to what a disk of a million sectors could tell.
func countsOf(c readback.Counts) countsJSON {
	return countsJSON{c.Total(), c.Good, c.Bad, c.Missing, c.Untried, roundTo(c.Share(), 1e-6)}
}

// sectors says a number of them.
func sectors(n int) string {
	if n == 1 {
		return "1 sector"
	}
	return fmt.Sprintf("%d sectors", n)
}
