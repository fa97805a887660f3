package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"fullery/recipe"

	"github.com/spf13/cobra"
)

func newBenchWiring() *cobra.Command {
	var plot string
	var force, asJSON bool
	c := &cobra.Command{
		Use:   "wiring FILE",
		Short: "Print the wiring of a bench as a table, and draw it: pins, lines, chips, and how each wire rests",
		Long: "Prints every wire of a bench file: its pin, line or channel, at which level it is on, what holds it, and how it is\n" +
			"with the power off, while the board starts, while nothing runs, and after a crash. Nothing is driven or read.",
		Example: "  fullery bench wiring board\n  fullery bench wiring my-bench.toml --plot wiring.svg",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return said(statusUsage, "fullery bench wiring wants one bench file, or the name of one that ships: board")
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			return benchWiring(c, args[0], plot, force, asJSON)
		},
	}
	c.Flags().StringVar(&plot, "plot", "", "draw the wiring into this file, as in wiring.svg")
	c.Flags().BoolVar(&force, "force", false, "let --plot replace a file that is there already")
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON")
	return c
}

// benchWiring prints the table; the drawing is written first, so that a table that says where it is never lies.
func benchWiring(c *cobra.Command, name, plot string, force, asJSON bool) error {
	if err := toBeDrawn(plot, force); err != nil {
		return err
	}
	b, err := readBench(name)
	if err != nil {
		return err
	}
	if b.Simulated {
		return said(statusUsage, "%s is a simulated bench and has no wires: give a bench file with kind = \"board\"", b.Name)
	}
	table := wiringTable{b, recipe.Wiring(b)}
	if plot != "" {
		if err := writeWhole(plot, table.picture().SVG(), force); err != nil {
			return bad(err)
		}
	}
	if asJSON {
		return writeJSON(c.OutOrStdout(), table.json())
	}
	table.print(c.OutOrStdout())
	if plot != "" {
		fmt.Fprintf(c.OutOrStdout(), "\nThe wiring is drawn in %s.\n", plot)
	}
	return nil
}

// wiringTable is the wiring of a bench, to be printed.
type wiringTable struct {
	bench recipe.Bench
	wires []recipe.Wire
}

// notes are told below every wiring, printed, drawn or as JSON: what the table cannot know.
func (t wiringTable) notes() []string {
	notes := []string{
		"Pins, pulls and addresses are from memory: compare them with the manual of your board before you solder.",
		"The colours sort the low-voltage wires of this table. Mains wiring has colours of its own by local rules, and is work for " +
			"someone who is qualified.",
		"After a crash no program can promise off, and no resistor can against a wire that is still driven: an emergency stop that " +
			"cuts the loads' supply by itself does.",
	}
	if t.bench.Board.Header == "" {
		notes[0] = "Which pins the lines come out at is not known for this board. Addresses are from memory: compare them before you solder."
	}
	return notes
}

// print writes the wires first, then how they rest, then what to mind: in the order in which a bench is built.
func (t wiringTable) print(w io.Writer) {
	fmt.Fprintf(w, "%s (bench %s), on the lines of %s\n", t.bench.Title, t.bench.Name, t.bench.Board.Chip)
	group := ""
	rows := [][]string{{"", "pin", "line or chip", "way", "active", "held", "colour"}}
	for _, wire := range t.wires {
		if name := wire.Group.String(); name != group {
			group = name
			rows = append(rows, []string{name})
		}
		rows = append(rows, []string{"  " + wire.Role, pinWords(wire), whereWords(wire), wayWords(wire), cmp.Or(wire.Active, "–"),
			cmp.Or(wire.Pull, "–"), wire.Use.Colour()})
	}
	printColumns(w, rows)
	fmt.Fprintln(w, "\norange switches a load, blue is read, grey carries data. Tag every wire with its name.")
	t.printStates(w)
	t.printWarnings(w)
	fmt.Fprintln(w)
	for _, note := range t.notes() {
		fmt.Fprintln(w, wrap(note, planWidth, ""))
	}
}

// pinWords is the pin of the header. A dash stands for none: a wire of a chip begins at the chip.
func pinWords(w recipe.Wire) string {
	if w.Pin == 0 {
		return "–"
	}
	return fmt.Sprint(w.Pin)
}

// whereWords tells where the wire begins: a line, a channel of the hardware PWM at a line, a chip on a bus.
func whereWords(w recipe.Wire) string {
	switch {
	case w.Address != 0:
		words := fmt.Sprintf("%s 0x%02x on %s", w.Chip, w.Address, w.Bus)
		if w.Channel >= 0 {
			words += fmt.Sprintf(", channel %d", w.Channel)
		}
		return words
	case w.Line.Name == "" && w.Line.Offset < 0:
		return "see the board's manual"
	}
	words := w.Line.String()
	if w.Line.Name == "" && w.Pin > 0 {
		words = fmt.Sprintf("GPIO%d", w.Line.Offset)
	}
	if w.PWM != "" {
		words += fmt.Sprintf(", %s channel %d", w.PWM, w.Channel)
	}
	if w.Chip != "" {
		words += ", " + w.Chip
	}
	return words
}

// wayWords tells who drives the wire, seen from the board.
func wayWords(w recipe.Wire) string {
	switch {
	case w.Both:
		return "both"
	case w.Out:
		return "out"
	}
	return "in"
}

// printColumns prints rows in columns. A row of one word is a heading.
func printColumns(w io.Writer, rows [][]string) {
	var widths []int
	for _, row := range rows {
		for i, cell := range row {
			if len(widths) <= i {
				widths = append(widths, 0)
			}
			if len(row) > 1 {
				widths[i] = max(widths[i], len([]rune(cell)))
			}
		}
	}
	for _, row := range rows {
		line := ""
		for i, cell := range row {
			line += cell + strings.Repeat(" ", max(0, widths[i]-len([]rune(cell)))+2)
		}
		fmt.Fprintln(w, strings.TrimRight(line, " "))
	}
}

// printStates prints how each wire is, with a letter for why: the reasons are long and few, the wires many.
func (t wiringTable) printStates(w io.Writer) {
	var why []recipe.WireState
	cell := func(s recipe.WireState) string {
		i := slices.Index(why, s)
		if i < 0 {
			i, why = len(why), append(why, s)
		}
		return s.Is + " " + letter(i)
	}
	rows := [][]string{{"", "power off", "board starts", "nothing runs", "after a crash"}}
	for _, wire := range t.wires {
		rows = append(rows, []string{"  " + wire.Role, cell(wire.PowerOff), cell(wire.Boot), cell(wire.Idle), cell(wire.Crash)})
	}
	fmt.Fprintln(w)
	printColumns(w, rows)
	fmt.Fprintln(w)
	for i, s := range why {
		fmt.Fprintln(w, hanging(letter(i)+"  ", s.Is+": "+s.Why+"."))
	}
}

// letter counts a, b … z, aa, ab …
func letter(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return letter(i/26-1) + letter(i%26)
}

// hanging wraps a text behind a mark, its further lines below the first word.
func hanging(mark, text string) string {
	wrapped := wrap(text, planWidth, strings.Repeat(" ", len([]rune(mark))))
	return mark + strings.TrimLeft(wrapped, " ")
}

// printWarnings prints each warning once, with the wires that it is for.
func (t wiringTable) printWarnings(w io.Writer) {
	var texts []string
	of := map[string][]string{}
	for _, wire := range t.wires {
		for _, text := range wire.Warnings {
			if of[text] == nil {
				texts = append(texts, text)
			}
			of[text] = append(of[text], wire.Role)
		}
	}
	if len(texts) > 0 {
		fmt.Fprintln(w, "\nMind:")
	}
	for _, text := range texts {
		fmt.Fprintln(w, hanging("- ", strings.Join(of[text], ", ")+": "+text+"."))
	}
}
