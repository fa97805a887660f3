package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/disks/batch"

	"github.com/spf13/cobra"
)

// sheetFlags are those of batch sheet.
type sheetFlags struct {
	table string
	force bool
	json  bool
}

func newBatchSheet() *cobra.Command {
	var f sheetFlags
	c := &cobra.Command{
		Use:   "sheet FILE",
		Short: "Print the run sheet of a deal: one line a disk, in the order of work, with boxes to tick",
		Long: "Prints the run sheet of a deal, 80 characters wide: one line a disk, in an order of work that favours no method, with\n" +
			"boxes to tick. The drive's heads are cleaned before every reading, or one disk's dirt becomes the next one's fault.\n\n" +
			"FILE is what batch deal --out wrote (or its --json printed), or - for the standard input. The same deal always gives\n" +
			"the same sheet. --table also writes a table with the disks and their blocks: fill in its column after, leave out\n" +
			"what was not read again, and fullery compare takes it.",
		Example: "  fullery batch sheet deal.json\n  fullery batch sheet deal.json --table results.csv",
		Args:    wants(1, 1, "the file of a deal, or - for the standard input"),
		RunE:    func(c *cobra.Command, args []string) error { return batchSheet(c, args[0], f) },
	}
	flags := c.Flags()
	flags.StringVar(&f.table, "table", "", "write a CSV table to fill in into this file, as in results.csv")
	flags.BoolVar(&f.force, "force", false, "let --table replace a file that is there already")
	flags.BoolVar(&f.json, "json", false, "print as JSON")
	return c
}

func batchSheet(c *cobra.Command, file string, f sheetFlags) error {
	if err := toBeDrawn(f.table, f.force); err != nil {
		return err
	}
	var dealt batch.Dealt
	err := withTable(c, file, func(name string, from io.Reader) (err error) {
		dealt, err = readDeal(name, from)
		return err
	})
	if err != nil {
		return err
	}
	var written error
	if f.table != "" {
		written = writeWhole(f.table, []byte(tableToFill(dealt)), f.force)
	}
	if f.json {
		err = writeJSON(c.OutOrStdout(), dealt.Sheet())
	} else {
		printSheet(c.OutOrStdout(), tableName(file), dealt)
		if f.table != "" && written == nil {
			fmt.Fprintf(c.ErrOrStderr(), "The table to fill in is %s.\n", draw.Clean(f.table))
		}
	}
	return errors.Join(bad(written), err)
}

// tableToFill is the table for compare, in the order of work, with nothing after. Texts stand in quotation marks: without
// them a label that begins with # would be a comment. A disk that was placed and not dealt has nobody to be exchanged with:
// its block holds its own method only.
func tableToFill(d batch.Dealt) string {
	quoted := func(text string) string { return `"` + strings.ReplaceAll(text, `"`, `""`) + `"` }
	var b strings.Builder
	b.WriteString("disk,method,before,after,block\n")
	for _, l := range d.Sheet() {
		block := fmt.Sprint(l.Block)
		if l.Block == 0 {
			block = "only " + l.Method
		}
		fmt.Fprintf(&b, "%s,%s,%d,,%s\n", quoted(l.Disk), quoted(l.Method), l.Missing, quoted(block))
	}
	return b.String()
}

// mostDeal is the size of a file that is read as a deal, in bytes: some times what the most disks need.
const mostDeal = 16 << 20

// readDeal reads a deal that was kept, and refuses one that does not agree with itself: somebody may have moved a disk by
// hand, and the sheet would then tell another deal than the comparison.
func readDeal(name string, from io.Reader) (d batch.Dealt, err error) {
	data, err := io.ReadAll(io.LimitReader(from, mostDeal+1))
	if err != nil {
		return d, fmt.Errorf("cannot read %s: %w", name, plain(err))
	}
	if len(data) > mostDeal {
		return d, fmt.Errorf("%s is larger than 16 MiB, which is no deal; give what batch deal --out wrote", name)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if err := json.Unmarshal(data, &d); err != nil {
		return d, notDeal(name, data, err)
	}
	if err := checkDeal(d); err != nil {
		return d, fmt.Errorf("%s: %w; deal again, or give what batch deal --out wrote", name, err)
	}
	return d, nil
}

// notDeal says where a text stops being a deal.
func notDeal(name string, data []byte, err error) error {
	at, what := int64(0), "this is not JSON"
	if s := (*json.SyntaxError)(nil); errors.As(err, &s) {
		at = s.Offset
	}
	if t := (*json.UnmarshalTypeError)(nil); errors.As(err, &t) {
		at, what = t.Offset, fmt.Sprintf("%q cannot be a %s", t.Field, t.Value)
		if t.Field == "" {
			what = "this is JSON, but no deal"
		}
	}
	line := 1 + bytes.Count(data[:min(max(at-1, 0), int64(len(data)))], []byte("\n"))
	return fmt.Errorf("%s:%d: %s; give what batch deal --out wrote", name, line, what)
}

// checkDeal returns what contradicts itself in a deal.
func checkDeal(d batch.Dealt) error {
	if len(d.Groups) < 2 || len(d.Disks) == 0 {
		return fmt.Errorf("there is no deal in it")
	}
	groups := map[string]bool{}
	for _, g := range d.Groups {
		if strings.TrimSpace(g.Name) == "" || draw.Clean(g.Name) != g.Name || groups[g.Name] {
			return fmt.Errorf("the group %q has no name of its own", g.Name)
		}
		groups[g.Name] = true
	}
	of := map[string]string{}
	for _, disk := range d.Disks {
		_, twice := of[disk.Name]
		switch {
		case strings.TrimSpace(disk.Name) == "" || draw.Clean(disk.Name) != disk.Name:
			return fmt.Errorf("a disk has no name, or one with characters that cannot be seen (%q)", disk.Name)
		case twice:
			return fmt.Errorf("the disk %q is there twice", disk.Name)
		case !groups[disk.Group]:
			return fmt.Errorf("the disk %q is in the group %q, which is not there", disk.Name, disk.Group)
		case disk.Missing < 0 || disk.Missing > batch.MaxMissing:
			return fmt.Errorf("the disk %q cannot have %d sectors missing", disk.Name, disk.Missing)
		case disk.Block < 0 || disk.Block > len(d.Disks):
			return fmt.Errorf("the disk %q cannot be in block %d", disk.Name, disk.Block)
		}
		of[disk.Name] = disk.Group
	}
	return checkGroups(d, of)
}

// checkGroups returns whether the lists of the groups and the list of the disks tell different deals.
func checkGroups(d batch.Dealt, of map[string]string) error {
	listed := 0
	for _, g := range d.Groups {
		for _, name := range g.Disks {
			if of[name] != g.Name {
				return fmt.Errorf("the disk %q is in the list of %q, but not among the disks with that group", name, g.Name)
			}
		}
		sorted := slices.Sorted(slices.Values(g.Disks))
		listed += len(slices.Compact(sorted))
	}
	if listed != len(of) {
		return fmt.Errorf("the groups list %d of its %d disks", listed, len(of))
	}
	return nil
}
