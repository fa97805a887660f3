package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"fullery/cmd/fullery/draw"
	"fullery/controller"
	"fullery/controller/piobench"
	"fullery/recipe"
	"fullery/sensors/calibration"

	"github.com/spf13/cobra"
)

func newPadsBalance() *cobra.Command {
	var name, path string
	var times int
	var asJSON bool
	c := &cobra.Command{
		Use:   "balance FILE",
		Short: "Show how hard both pads press, against a recipe's window, and which is to be moved",
		Long: "Presses the pads to the disk, standing still, and shows both pressures twice a second against the window of the\n" +
			"recipe until ctrl-c, with what to do. An open lid or a pressed emergency stop takes the pads away at once.",
		Args: wants(1, 1, "one bench file"),
		RunE: func(c *cobra.Command, args []string) error {
			return padsBalance(c, args[0], name, path, times, asJSON)
		},
	}
	c.Flags().StringVar(&name, "recipe", "", "recipe whose window counts (default: the shipped one)")
	c.Flags().StringVar(&path, "record", "", "record file (default: fullery.db in the user's data folder)")
	c.Flags().IntVar(&times, "times", 0, "end after so many times (default: until ctrl-c)")
	c.Flags().BoolVar(&asJSON, "json", false, "print one line of JSON each time")
	return c
}

// pressedJSON is how the pads press.
type pressedJSON struct {
	FrontKPa *float64 `json:"front_kpa"` // null when not read
	BackKPa  *float64 `json:"back_kpa"`
	LowKPa   float64  `json:"low_kpa"`
	HighKPa  float64  `json:"high_kpa"`
	Good     bool     `json:"good"`
	Said     string   `json:"said"`
	Do       []string `json:"do"`
}

func padsBalance(c *cobra.Command, file, name, path string, times int, asJSON bool) (err error) {
	ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM)
	defer stop()
	b, err := readBench(file)
	if err != nil {
		return err
	}
	r, err := readRecipe(name)
	if err != nil {
		return err
	}
	if r.Pads.Pressure == 0 {
		return said(statusUsage, "%s presses nothing: give a recipe that scrubs", r.Name)
	}
	bench, v, done, err := takeBoard(b, piobench.System("/"), true, func() string {
		stop()
		return fmt.Sprintf("Bench %s: the pads are taken away.", b.Name)
	})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	if err := useCalibrations(ctx, b, bench, path); err != nil {
		return err
	}
	out, redraw := c.OutOrStdout(), !asJSON && terminal(c)
	for n := 1; times == 0 || n <= times; n++ {
		var last controller.Readings
		for began := time.Now(); time.Since(began) < 500*time.Millisecond && ctx.Err() == nil; time.Sleep(50 * time.Millisecond) {
			if last, err = bench.Read(0); err != nil {
				return err
			}
			if err := bench.Drive(time.Since(began), controller.Levels{Press: closedAndFree(&last)}); err != nil {
				return err
			}
			v.Beat()
		}
		if ctx.Err() != nil {
			return nil
		}
		said := pressing(b, r, &last)
		if asJSON {
			err = json.NewEncoder(out).Encode(said)
		} else {
			printPressing(out, r, said, redraw && n > 1)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// closedAndFree tells whether the pads may be pressed: lid closed and emergency stop released, both read just now.
func closedAndFree(r *controller.Readings) bool {
	well := func(s recipe.Sensor) bool { return r[s].Quality == controller.Good && r[s].Value == 1 }
	return well(recipe.Lid) && well(recipe.EStop)
}

// pressing is how the pads press now.
func pressing(b recipe.Bench, r recipe.Recipe, last *controller.Readings) pressedJSON {
	out := pressedJSON{LowKPa: r.Pads.Pressure * (1 - r.Pads.Within) / 1e3, HighKPa: r.Pads.Pressure * (1 + r.Pads.Within) / 1e3, Do: []string{}}
	if !closedAndFree(last) {
		out.Said = "The lid is open or the emergency stop is pressed: the pads are away from the disk."
		return out
	}
	front, back := last[recipe.PadFront], last[recipe.PadBack]
	for _, x := range []struct {
		to *(*float64)
		r  controller.Reading
	}{{&out.FrontKPa, front}, {&out.BackKPa, back}} {
		if x.r.Quality == controller.Good {
			kPa := x.r.Value / b.Pads.Area / 1e3
			*x.to = &kPa
		}
	}
	if out.FrontKPa == nil || out.BackKPa == nil {
		out.Said = "A pad's force is not read: look with fullery bench watch."
		return out
	}
	bal, err := calibration.Window{Area: b.Pads.Area, Want: r.Pads.Pressure, Within: r.Pads.Within, Share: r.Pads.Balance}.Balance(front.Value, back.Value)
	if err != nil {
		out.Said = err.Error()
		return out
	}
	out.Good, out.Said, out.Do = bal.Good, bal.Verdict, append(out.Do, bal.Do...)
	return out
}

// printPressing draws both pads as a cycle shows them, with what to do below.
func printPressing(out io.Writer, r recipe.Recipe, p pressedJSON, again bool) {
	lines := []string{}
	if p.FrontKPa != nil && p.BackKPa != nil {
		drawn := draw.Pads{Front: *p.FrontKPa * 1e3, Back: *p.BackKPa * 1e3, Least: p.LowKPa * 1e3, Most: p.HighKPa * 1e3, Balance: r.Pads.Balance}
		for _, l := range drawn.Draw(80) {
			lines = append(lines, l.String())
		}
	}
	lines = append(lines, p.Said)
	lines = append(lines, p.Do...)
	if again {
		fmt.Fprint(out, "\x1b[H\x1b[J")
	}
	fmt.Fprintln(out, strings.Join(lines, "\n"))
}
