package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"
	"unicode/utf8"

	"fullery/controller"
	"fullery/controller/piobench"
	"fullery/recipe"

	"github.com/spf13/cobra"
)

func newBenchWatch() *cobra.Command {
	var asJSON bool
	var times int
	c := &cobra.Command{
		Use:   "watch FILE",
		Short: "Show what every sensor of a real bench reads, with its raw codes and its troubles",
		Long: "Claims the bench with every output off and shows what its sensors read, twice a second, until ctrl-c. A chip that\n" +
			"does not answer is shown with the reason and tried again. Nothing is switched on.",
		Args: wants(1, 1, "one bench file"),
		RunE: func(c *cobra.Command, args []string) error {
			return benchWatch(c, args[0], times, asJSON)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print one line of JSON each time")
	c.Flags().IntVar(&times, "times", 0, "end after so many times (default: until ctrl-c)")
	return c
}

// looked is one sensor as it is shown.
type looked struct {
	Sensor  string   `json:"sensor"`
	Value   *float64 `json:"value"` // null when not good
	Unit    string   `json:"unit"`
	AgeMS   int64    `json:"age_ms"`
	Quality string   `json:"quality"`
	Raw     *float64 `json:"raw"` // null for lines
	RawUnit string   `json:"raw_unit,omitempty"`
	Source  string   `json:"source,omitempty"`
	Reads   int      `json:"reads"`
	Fails   int      `json:"fails"`
	Trouble string   `json:"trouble,omitempty"`
}

// benchWatch shows the readings until the person has seen enough.
func benchWatch(c *cobra.Command, name string, times int, asJSON bool) (err error) {
	b, err := readBench(name)
	if err != nil {
		return err
	}
	bench, _, done, err := takeBoard(b, piobench.System("/"), true, restsOff(b))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	ctx, stop := signal.NotifyContext(contextOf(c), os.Interrupt, syscall.SIGTERM)
	defer stop()
	out := c.OutOrStdout()
	redraw := !asJSON && terminal(c)
	for n := 1; times == 0 || n <= times; n++ {
		if !passes(ctx, bench, 500*time.Millisecond) {
			return nil
		}
		list, err := look(b, bench)
		if err != nil {
			return err
		}
		switch {
		case asJSON:
			err = json.NewEncoder(out).Encode(list)
		default:
			if redraw && n > 1 {
				fmt.Fprintf(out, "\x1b[%dA\x1b[J", len(list)+1)
			}
			printLooks(out, list)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// restsOff answers who asks for everything off while nothing is on.
func restsOff(b recipe.Bench) func() string {
	return func() string { return fmt.Sprintf("Bench %s is only being looked at: every output is off.", b.Name) }
}

// passes reads and drives nothing for a while, as the loop would. It is false when the person has seen enough.
func passes(ctx context.Context, bench controller.Bench, d time.Duration) bool {
	for began := time.Now(); time.Since(began) < d; {
		if _, err := bench.Read(time.Since(began)); err != nil || bench.Drive(time.Since(began), controller.Levels{}) != nil {
			return false
		}
		select {
		case <-ctx.Done():
			return false
		case <-time.After(50 * time.Millisecond):
		}
	}
	return true
}

// look reads every sensor that is fitted.
func look(b recipe.Bench, bench *piobench.Bench) ([]looked, error) {
	r, err := bench.Read(0)
	if err != nil {
		return nil, err
	}
	chips := map[recipe.Sensor]piobench.Look{}
	for _, l := range bench.Looks() {
		chips[l.Sensor] = l
	}
	var list []looked
	for s := range recipe.NumSensors {
		if !b.Sensors[s].Fitted {
			continue
		}
		value, unit := shown(s, r[s].Value)
		x := looked{Sensor: s.String(), Unit: unit, AgeMS: r[s].Age.Milliseconds(), Quality: r[s].Quality.String()}
		if r[s].Quality == controller.Good {
			x.Value = &value
		}
		if l, ok := chips[s]; ok {
			x.Source, x.Reads, x.Fails, x.Trouble, x.RawUnit = l.Source, l.Reads, l.Fails, l.Trouble, l.RawName
			if l.Reads > 0 {
				x.Raw = &l.Raw
			}
		}
		list = append(list, x)
	}
	return list, nil
}

// shown is a value in the unit in which people are shown it.
func shown(s recipe.Sensor, v float64) (float64, string) {
	switch s {
	case recipe.PadFront, recipe.PadBack:
		return v, "N"
	case recipe.PadsSpeed, recipe.HubSpeed, recipe.FanSpeed:
		return v * 60, "rpm"
	case recipe.AirIn, recipe.Air, recipe.AirOut, recipe.Surface:
		return v - 273.15, "°C"
	case recipe.AirInRH, recipe.AirOutRH, recipe.Vapour:
		return v * 100, "%"
	case recipe.Weight:
		return v * 1e3, "g"
	}
	return v, ""
}

// printLooks prints one line a sensor.
func printLooks(out io.Writer, list []looked) {
	fmt.Fprintf(out, "%s %12s  %8s  %-12s %s\n", pad("sensor", 17), "value", "age", "quality", "raw, reads, troubles")
	for _, x := range list {
		value := "–"
		switch {
		case x.Value != nil && x.Unit == "":
			value = map[bool]string{true: "well", false: "trouble"}[*x.Value == 1]
		case x.Value != nil:
			value = fmt.Sprintf("%.2f %s", *x.Value, x.Unit)
		}
		more := ""
		if x.Raw != nil {
			more = fmt.Sprintf("%.0f %s, ", *x.Raw, x.RawUnit)
		}
		if x.Source != "" {
			more += fmt.Sprintf("%d read, %d failed", x.Reads, x.Fails)
		}
		if x.Trouble != "" {
			more += ": " + x.Trouble
		}
		fmt.Fprintln(out, strings.TrimRight(fmt.Sprintf("%s %s  %6d ms  %-12s %s", pad(x.Sensor, 17), padLeft(value, 12), x.AgeMS,
			x.Quality, more), " "))
	}
}

// padLeft fills a text with blanks in front, to a width in characters.
func padLeft(text string, width int) string {
	return strings.Repeat(" ", max(width-utf8.RuneCountInString(text), 0)) + text
}
