package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"fullery/cmd/fullery/draw"
	"fullery/disks/readback"

	"github.com/charmbracelet/colorprofile"
	"github.com/charmbracelet/x/term"
	"github.com/spf13/cobra"
)

// mapFlags are those of read map.
type mapFlags struct {
	format, plot       string
	force, json, ascii bool
	width              int
}

// newReadMap draws: the shape of a loss says more than its size. A scratch takes one track, mould a band, a dirty head one side.
func newReadMap() *cobra.Command {
	var f mapFlags
	c := &cobra.Command{
		Use:   "map BEFORE.csv [AFTER.csv]",
		Short: "Draw where sectors were not read, one table, or one before against one after",
		Long: "Draws a disk as mirrored bars: cylinders from left to right, head 0 upwards, head 1 downwards, the height is how many\n" +
			"sectors were not read. Of two tables the bars are split into still missing (full), newly lost (hatched) and\n" +
			"regained (hollow). What was not tried is marked beside the axis and adds no height.",
		Example: "  fullery read map round-0.csv round-1.csv --format 80x2x18x512\n" +
			"  fullery read map round-0.csv --format 80x2x18x512 --plot disk-7.svg",
		Args: wants(1, 2, "one table, or one before and one after"),
		RunE: func(c *cobra.Command, args []string) error { return readMap(c, args, f) },
	}
	formatFlag(c, &f.format)
	c.Flags().StringVar(&f.plot, "plot", "", "draw into this file too, as in disk-7.svg or disk-7.png")
	c.Flags().BoolVar(&f.force, "force", false, "let --plot replace a file that is there already")
	c.Flags().BoolVar(&f.json, "json", false, "print the counts of every track as JSON instead of the drawing")
	c.Flags().IntVar(&f.width, "width", 0, "cells that the drawing may use (default: the terminal's, else 80)")
	c.Flags().BoolVar(&f.ascii, "ascii", false, "draw with characters of ASCII only (default: where the terminal's locale is not UTF-8)")
	return c
}

// plotKind is how a picture is written, by the end of its file's name.
func plotKind(path string) (string, error) {
	kind := strings.ToLower(filepath.Ext(path))
	if path != "" && kind != ".svg" && kind != ".png" {
		return "", said(statusUsage, "--plot %s: name a file that ends in .svg or .png", onScreen(path))
	}
	return kind, nil
}

// readMap writes the picture first, so that a screen that says where it is never lies.
func readMap(c *cobra.Command, paths []string, f mapFlags) error {
	kind, err := plotKind(f.plot)
	if err != nil {
		return err
	}
	if err := toBeDrawn(f.plot, f.force); err != nil {
		return err
	}
	// Zero is not given, but somebody may write it.
	if c.Flags().Changed("width") && (f.width < 10 || f.width > 1000) {
		return said(statusUsage, "--width %d: give 10 to 1000 cells", f.width)
	}
	m, err := mapOf(paths, f.format)
	if err != nil {
		return err
	}
	picture := m.mirror()
	if f.plot != "" {
		data := picture.SVG()
		if kind == ".png" {
			if data, err = picture.PNG(); err != nil {
				return bad(err)
			}
		}
		if err := writeWhole(f.plot, data, f.force); err != nil {
			return bad(err)
		}
	}
	out := c.OutOrStdout()
	if f.json {
		return writeJSON(out, m.json())
	}
	s := screenOf(out, f)
	lines := picture.Draw(s.width, s.height, s.strokes)
	if s.terminal {
		fmt.Fprintln(out, draw.ANSI(lines, s.colours))
	} else {
		fmt.Fprint(out, draw.Text(lines))
	}
	if f.plot != "" {
		fmt.Fprintf(out, "\nThe map is drawn in %s.\n", onScreen(f.plot))
	}
	return nil
}

// mapOf reads one or two tables.
func mapOf(paths []string, format string) (*diskMap, error) {
	f, err := formatOf(format)
	if err != nil {
		return nil, err
	}
	m := &diskMap{format: f, paths: paths}
	for _, path := range paths {
		t, _, err := readTable(path, f)
		if err != nil {
			return nil, err
		}
		m.tables = append(m.tables, t)
	}
	if len(m.tables) == 2 {
		if m.change, err = readback.Compare(m.tables[0], m.tables[1]); err != nil {
			return nil, withStatus(statusNo, err)
		}
	}
	return m, nil
}

// screen is what a drawing is shown on.
type screen struct {
	width, height int
	strokes       draw.Strokes
	terminal      bool
	colours       draw.Colours // of a terminal
}

// screenOf looks at where the drawing goes. What is no terminal gets 80 cells, bare characters, and block elements among
// them: a file knows no locale.
func screenOf(out io.Writer, f mapFlags) screen {
	s := screen{width: 80, height: 24}
	file, ok := out.(*os.File)
	if s.terminal = ok && term.IsTerminal(file.Fd()); s.terminal {
		if w, h, err := term.GetSize(file.Fd()); err == nil && w > 0 && h > 0 {
			s.width, s.height = w, h-2 // the line that was typed, and the prompt
		}
		switch profile := colorprofile.Detect(file, os.Environ()); {
		case profile >= colorprofile.ANSI256:
			s.colours = draw.FullColour
		case profile == colorprofile.ANSI:
			s.colours = draw.Sixteen
		}
		if !saysUTF8(os.Getenv) {
			s.strokes = draw.ASCII
		}
	}
	if f.width > 0 {
		s.width = f.width
	}
	if f.ascii {
		s.strokes = draw.ASCII
	}
	return s
}

// saysUTF8 tells whether the locale's characters are UTF-8; the first of the three that is set decides.
func saysUTF8(getenv func(string) string) bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if value := strings.ToLower(getenv(name)); value != "" {
			return strings.Contains(value, "utf-8") || strings.Contains(value, "utf8")
		}
	}
	return false
}
